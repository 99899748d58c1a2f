"""sepkit gang: several prints on one screen."""

from __future__ import annotations

import json
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from sepkit.cli.common import LengthParam, Number, TerminalProgress
from sepkit.cli.show import say, show_findings
from sepkit.errors import ChecksFailedError, UsageError

if TYPE_CHECKING:
    from sepkit.press.gang.plan import GangPlan
    from sepkit.press.sheet import Sheet
    from sepkit.workshop.gang.gang import ScreenOutput, WrittenScreen
    from sepkit.workshop.gang.inputs import GangInput

OF_ANY = ("job_file", "out", "sheet", "roll", "force", "as_json", "quiet")
"""What may be told beside a job file."""
LENGTH = LengthParam(least_mm=0, most_mm=1000)


@click.command()
@click.argument("job_file", metavar="[JOB.toml]", required=False, type=click.Path(path_type=Path))
@click.option(
    "--screen",
    "screens",
    multiple=True,
    metavar="WxH[:MESH][:COUNT]",
    help="A frame by its inside size, as 400x500mm or large=533x737mm:55-64:2.",
)
@click.option(
    "--print",
    "prints",
    multiple=True,
    metavar="NAME=WxH[:INK][:MESH]",
    help="A print by its size, as back=320x380mm:white, or NAME=FOLDER for a print folder.",
)
@click.option("--sideways", multiple=True, metavar="NAME", help="This print may be loaded sideways, as a sleeve can.")
@click.option("--lane", "lane_mm", type=LENGTH, default="50mm", show_default=True, help="Tape lane between prints.")
@click.option("--edge", "edge_mm", type=LENGTH, default="60mm", show_default=True, help="Kept free at the sides.")
@click.option(
    "--ends", "ends_mm", type=LENGTH, default="80mm", show_default=True, help="Kept free for ink at the ends."
)
@click.option(
    "--blade", "blades", type=LENGTH, multiple=True, help="A blade you own; give it once for each [default: any width]."
)
@click.option(
    "--platen",
    metavar="WxH",
    help="Platen under the frame's middle: prints stay on it, and a print that "
    "it does not reach is used with the frame turned.",
)
@click.option("--sheet", metavar="SIZE", help="Film sheet, as A3+ or 329x483mm; larger films become tiles.")
@click.option("--roll", metavar="WIDTH", help="Roll of film by its width, as 432mm or 17in.")
@click.option("--film-dpi", type=Number(150, 2880), default=720.0, show_default=True, help="Film resolution.")
@click.option(
    "-o", "--out", type=click.Path(path_type=Path), help="Folder for drawings and films [default: only tell]."
)
@click.option("--force", is_flag=True, help="Replace a folder that this command made.")
@click.option("--json", "as_json", is_flag=True, help="Print one JSON object.")
@click.option("--quiet", is_flag=True, help="Print only the paths.")
@click.pass_context
def gang(ctx: click.Context, /, job_file: Path | None, out: Path | None, **given: Any) -> None:
    """Place prints on as few screens as mesh and ink allow: of JOB.toml, or of --screen and --print.

    \b
    Examples:
      sepkit gang --screen 400x500mm --print chest=90x80mm:white --print label=60x50mm:white
      sepkit gang --screen 533x737mm --platen 400x560mm --print back=320x380mm --print chest=90x80mm
      sepkit gang drop.toml -o screens
    """
    if job_file is not None:
        _refuse(ctx)
    hush = given["quiet"] or given["as_json"]
    progress = TerminalProgress(quiet=hush)
    try:
        made = _input(job_file, given, progress)
        _show(made.plan, hush=hush)
        written = _written(made, out, given, progress) if out is not None else []
    finally:
        progress.end()
    _tell(made, written, out, as_json=given["as_json"], quiet=given["quiet"])
    if made.plan.left_out:
        worst = next(finding for finding in made.plan.findings if finding.level == "error")
        raise ChecksFailedError(worst.text, where="gang", hint=worst.hint)


def _input(job_file: Path | None, given: dict[str, Any], progress: TerminalProgress) -> GangInput:
    from sepkit.workshop.gang.inputs import gang_of_job, gang_of_texts

    if job_file is not None:
        return gang_of_job(job_file, sheet=_sheet(given), progress=progress)
    if not given["screens"] or not given["prints"]:
        lacks = "--screen" if not given["screens"] else "--print"
        raise UsageError(
            f"no {lacks}", where="gang", hint="give a job file, or --screen 400x500mm --print back=320x380mm:white"
        )
    return gang_of_texts(given["screens"], given["prints"], sideways=given["sideways"], output=_output(given))


def _refuse(ctx: click.Context) -> None:
    """Refuse what a job file says itself."""
    for parameter in ctx.command.params:
        told = ctx.get_parameter_source(parameter.name or "") is click.core.ParameterSource.COMMANDLINE
        if told and parameter.name not in OF_ANY:
            raise UsageError(
                f"both a job file and {parameter.opts[0]}",
                where="gang",
                hint="the job file says that itself: change it there, or give --screen and --print without a job file",
            )


def _output(given: dict[str, Any]) -> ScreenOutput:
    from sepkit.jobs import Blade
    from sepkit.press.gang.layout import PLATEN_EDGE_MM
    from sepkit.press.jobs import GangRules
    from sepkit.units import parse_size_mm
    from sepkit.workshop.gang.gang import ScreenOutput

    platen = (None, None) if given["platen"] is None else parse_size_mm(given["platen"], what="--platen")
    rules = GangRules(
        lane_mm=given["lane_mm"],
        edge_mm=given["edge_mm"],
        ends_mm=given["ends_mm"],
        blades=tuple(Blade(width) for width in given["blades"]),
        platen_width_mm=platen[0],
        platen_reach_mm=None if platen[1] is None else platen[1] - PLATEN_EDGE_MM,
    )
    return ScreenOutput(rules, {}, _sheet(given), given["film_dpi"])


def _sheet(given: dict[str, Any]) -> Sheet | None:
    from sepkit.press.sheet import parse_roll, parse_sheet

    if given["sheet"] and given["roll"]:
        raise UsageError("both --sheet and --roll", where="film", hint="give one of them")
    if given["sheet"]:
        return parse_sheet(given["sheet"])
    return parse_roll(given["roll"]) if given["roll"] else None


def _written(made: GangInput, out: Path, given: dict[str, Any], progress: TerminalProgress) -> list[WrittenScreen]:
    from sepkit.files.folders.write import new_folder
    from sepkit.workshop.gang.gang import RECORD, gang_record, write_screens

    with new_folder(out, force=given["force"]) as folder:
        written = write_screens(folder, made.plan.screens, made.art, made.output, progress=progress)
        record = gang_record(made.plan, written)
        (folder / RECORD).write_text(json.dumps(record, indent=1, ensure_ascii=False) + "\n", encoding="utf-8")
    return written


def _show(plan: GangPlan, *, hush: bool) -> None:
    from sepkit.colorimetry.names import colours_called
    from sepkit.press.tape import tape_steps
    from sepkit.sheets.words import counted
    from sepkit.workshop.gang.gang import frame_words

    count = sum(len(screen.placed) for screen in plan.screens)
    proof = "no plan has fewer" if plan.proven else "fewer may be possible"
    screens = counted(len(plan.screens), "screen")
    say(f"{count} prints on {screens} ({proof}); {plan.saved} saved against one for each print", quiet=hush)
    for screen in plan.screens:
        ink = f", {colours_called(screen.ink_family)}" if screen.ink_family else ""
        say(f"screen {screen.number}: {frame_words(screen.screen)}, mesh {screen.mesh}{ink}", quiet=hush)
        for p in screen.placed:
            turned = f", art turned {p.rotation} degrees on the film" if p.rotation else ""
            say(
                f"  {p.item.name}: {p.x_mm:.1f} mm from the left, {p.y_mm:.1f} mm from end A, end {p.end} to the clamp"
                f"{turned}",
                quiet=hush,
            )
        for step in tape_steps(screen) if len(screen.placed) > 1 else ():
            say(f"    {step.number}. {step.open.item.name}: {'; '.join(step.words)}", quiet=hush)
    show_findings(plan.findings, quiet=hush)


def _tell(made: GangInput, written: list[WrittenScreen], out: Path | None, *, as_json: bool, quiet: bool) -> None:
    if as_json:
        from sepkit.workshop.gang.gang import gang_record

        ok = not made.plan.left_out
        where = {} if out is None else {"folder": str(out)}
        click.echo(json.dumps({"ok": ok, **where, **gang_record(made.plan, written)}))
        return
    if out is None:
        return
    if quiet:
        click.echo(str(out))
        return
    for one in written:
        click.echo(str(out / one.drawing.name))
        if one.film is not None:
            click.echo(str(out / one.film.path.name))
