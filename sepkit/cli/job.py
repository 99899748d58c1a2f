"""sepkit job: everything for a drop from one job file."""

from __future__ import annotations

import json
from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from sepkit.cli.common import TerminalProgress
from sepkit.cli.show import findings_json, say, say_shop, show_findings
from sepkit.errors import DataFileError, SepkitError, UsageError
from sepkit.jobs import SPARES_RULES

if TYPE_CHECKING:
    from sepkit.files.jobfile.asked import Told
    from sepkit.workshop.drop.make import MadeJob


@click.command()
@click.argument("job_file", metavar="[JOB.toml]", required=False, type=click.Path(path_type=Path))
@click.option(
    "-o", "--out", type=click.Path(path_type=Path), help="Folder to make [default: named after the job file]."
)
@click.option(
    "--new", "new", type=click.Path(path_type=Path), help="Write a commented job file to start from, and stop."
)
@click.option("--explain", is_flag=True, help="Print every key of a job file with unit, range and default.")
@click.option(
    "--record",
    "form",
    metavar="RUN.csv",
    type=click.Path(path_type=Path),
    help="Count what really happened, from the job's run.csv filled in; the next plan uses it.",
)
@click.option(
    "--spares",
    type=click.Choice(SPARES_RULES),
    help="Blanks beyond the orders [default: as the job says].",
)
@click.option(
    "--screens-apart", is_flag=True, help="Burn films of their own for each cloth, where one could serve several."
)
@click.option(
    "--set",
    "told",
    multiple=True,
    metavar="KEY=VALUE",
    help="Any key of the job file, for this run: press.heads=4, print.back.screens=3.",
)
@click.option("--check", "check_only", is_flag=True, help="Only check the job; make nothing.")
@click.option("--anyway", is_flag=True, help="Make it although the checks found errors.")
@click.option(
    "--check-discs",
    is_flag=True,
    help="Rows of 3 mm discs beside each print on the films, by which `sepkit inspect` tells register.",
)
@click.option("--force", is_flag=True, help="Replace a folder that holds another job or changed files.")
@click.option("--json", "as_json", is_flag=True, help="Print one JSON object.")
@click.option("--quiet", is_flag=True, help="Print only the paths.")
def job(
    job_file: Path | None,
    out: Path | None,
    new: Path | None,
    explain: bool,
    form: Path | None,
    check_only: bool,
    as_json: bool,
    quiet: bool,
    **given: Any,
) -> int:
    """Make everything for the drop in JOB.toml: prints, screens, films, ink, blanks, order, sheet.

    What has not changed since the folder was made is not made again.

    \b
    Examples:
      sepkit job --new drop.toml
      sepkit job --explain
      sepkit job drop.toml --check
      sepkit job drop.toml -o drop
      sepkit job drop.toml --check --set press.platens=6 --spares safe
      sepkit job drop.toml --record run.csv
    """
    if explain:
        from sepkit.workshop.drop.load import explain_job

        click.echo("\n".join(explain_job()))
        return 0
    if new is not None:
        return _write_new(new, force=given["force"])
    if job_file is None:
        raise UsageError("no job file", where="sepkit job", hint="give JOB.toml, or --new drop.toml to start one")
    if form is not None:
        return _record(job_file, form, hush=quiet or as_json, as_json=as_json)
    told = _told_keys(given)
    say_shop(quiet=quiet or as_json)
    if check_only:
        return _check(job_file, told, hush=quiet or as_json, as_json=as_json)
    how = {key: bool(given[key]) for key in ("anyway", "force", "check_discs")}
    return _make(job_file, out or Path(job_file.stem), told, how, as_json=as_json, quiet=quiet)


def _told_keys(given: Mapping[str, Any]) -> tuple[Told, ...]:
    """Return the keys of the job file that were told as options."""
    from sepkit.files.jobfile.asked import told_keys

    apart = ["screens_apart=true"] if given["screens_apart"] else []
    spares = [f"spoilage.spares={given['spares']}"] if given["spares"] else []
    return told_keys([*given["told"], *apart, *spares])


def _write_new(path: Path, *, force: bool) -> int:
    from sepkit.files.folders.write import replace_file
    from sepkit.workshop.drop.load import starter_job

    with replace_file(path, force=force) as part:
        part.write_text(starter_job(), encoding="utf-8")
    click.echo(str(path))
    return 0


def _make(
    job_file: Path, target: Path, told: Sequence[Told], how: Mapping[str, bool], *, as_json: bool, quiet: bool
) -> int:
    from sepkit.workshop.drop.make import make_job

    hush = quiet or as_json
    progress = TerminalProgress(quiet=hush)
    with _failures_told(progress, hush=hush, as_json=as_json):
        made = make_job(
            job_file,
            target,
            force=how["force"],
            anyway=how["anyway"],
            check_discs=how["check_discs"],
            told=told,
            progress=progress,
        )
    _show(made, hush=hush)
    if as_json:
        facts = {"unchanged": made.unchanged, "prints_made": made.prints_made, "prints_kept": made.prints_kept}
        click.echo(json.dumps({"schema": 1, "ok": True, "folder": str(made.folder), **facts, "job": made.record}))
    else:
        click.echo(str(made.folder / "sheet.html") if not quiet else str(made.folder))
    return 0


def _record(job_file: Path, form: Path, *, hush: bool, as_json: bool) -> int:
    from dataclasses import asdict

    from sepkit.workshop.drop.actuals import record_run
    from sepkit.workshop.drop.load import load_job

    with _failures_told(TerminalProgress(quiet=True), hush=hush, as_json=as_json):
        log, changed = record_run(load_job(job_file), form)
    for one in changed:
        number = ".2f" if one.what in ("ink", "minutes") else ".1%"
        was = "common practice" if one.before is None else format(one.before.value, number)
        now, low, high = (format(value, number) for value in (one.after.value, one.after.low, one.after.high))
        runs = "1 run" if one.after.runs == 1 else f"{one.after.runs} runs"
        say(f"  {one.what}: {was} -> {now} ({low} to {high}, {runs})", quiet=hush)
    if as_json:
        click.echo(json.dumps({"schema": 1, "ok": True, "log": str(log), "changed": [asdict(one) for one in changed]}))
    else:
        click.echo(str(log))
    return 0


def _check(job_file: Path, told: Sequence[Told], *, hush: bool, as_json: bool) -> int:
    from sepkit.workshop.drop.load import load_job
    from sepkit.workshop.drop.make import check_job, refuse_errors

    with _failures_told(TerminalProgress(quiet=True), hush=hush, as_json=as_json):
        findings = check_job(load_job(job_file, told=told))
        refuse_errors(findings, where=job_file.name)
    show_findings(findings, quiet=hush)
    if not findings:
        say("nothing stood out", quiet=hush)
    if as_json:
        click.echo(json.dumps({"schema": 1, "ok": True, "findings": findings_json(findings)}))
    return 0


@contextmanager
def _failures_told(progress: TerminalProgress, *, hush: bool, as_json: bool) -> Iterator[None]:
    """Tell what the job file or its checks say against the job, to programs too; the error goes on its way."""
    from sepkit.workshop.drop.make import JobChecksError

    try:
        yield
    except DataFileError as error:
        progress.end()
        if as_json:
            problems = [{"line": p.line, "key": p.key, "text": p.text, "hint": p.hint} for p in error.problems]
            _echo_failure(error, file=error.file, problems=problems)
        raise
    except JobChecksError as error:
        progress.end()
        show_findings(error.findings, quiet=hush)
        if as_json:
            _echo_failure(error, findings=findings_json(error.findings))
        raise
    finally:
        progress.end()


def _echo_failure(error: SepkitError, **more: Any) -> None:
    click.echo(json.dumps({"schema": 1, "ok": False, "error": str(error), **more}))


def _show(made: MadeJob, *, hush: bool) -> None:
    record = made.record
    if made.unchanged:
        say(f"{record['title']}: nothing has changed", quiet=hush)
        return
    order, minutes = record["order"], record["minutes"]["all"]
    from sepkit.colorimetry.names import colours_called
    from sepkit.sheets.words import counted

    prints, screens = counted(made.prints_made, "print"), counted(len(record["screens"]), "screen")
    say(f"{record['title']}: {prints} made, {made.prints_kept} kept", quiet=hush)
    say(f"  {screens}, {record['screens_one_each']} with one for each film", quiet=hush)
    washes = order["washups"] + order["blades_washed"]
    written = order["washups_as_written"] + order["blades_washed_as_written"]
    say(
        f"  {washes} screens and blades to wash, {written} in the order as written; changing over "
        f"{order['minutes']:.0f} min, {order['minutes_as_written']:.0f} as written",
        quiet=hush,
    )
    for ink in record["ink"]:
        say(
            f"  {colours_called(ink['name'])}: stage {ink['stage_g']:.0f} g, {ink['back_g']:.0f} g of it comes back",
            quiet=hush,
        )
    buy = sum(line["buy"] for line in record["blanks"])
    say(f"  {buy} blanks for {sum(line['ordered'] for line in record['blanks'])} orders", quiet=hush)
    say(
        f"  {minutes / 60:.1f} hours alone, {record['cost']['per_garment']:.2f} {record['cost']['currency']} a garment",
        quiet=hush,
    )
    serious = [f for f in record["findings"] if f["level"] != "note"]
    if serious:
        say(f"  {counted(len(serious), 'thing')} to know first, on the sheet", quiet=hush)
