"""sepkit job: a job file in, a folder with everything for the drop out, whole or not at all.

In: a job file and a target. Out: the job folder: prints/, screens/, sheet.html, job.json. Prints whose art, settings
and recipes have not changed since the folder was made are taken over; when nothing has changed it is left alone.
What may be replaced is told in ``folder``.
"""

from __future__ import annotations

import hashlib
import shutil
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

from sepkit.errors import ChecksFailedError
from sepkit.places import PLACES
from sepkit.press.curing import cure_findings
from sepkit.press.fit import FitItem, fit_findings, platen_findings
from sepkit.workshop.drop.folder import check_target, read_job_folder, write_record
from sepkit.workshop.drop.forms import FORM, form_digest, keep_forms
from sepkit.workshop.drop.load import load_job
from sepkit.workshop.drop.prints import JobPrint, art_size_mm, job_prints, made_as, make_job_prints
from sepkit.workshop.drop.record import job_record

if TYPE_CHECKING:
    from sepkit.files.jobfile.asked import Told
    from sepkit.jobs import Job
    from sepkit.model import Finding, Progress
    from sepkit.workshop.drop.ways import WaysOut


@dataclass(frozen=True, slots=True, eq=False)
class MadeJob:
    """A job folder as it stands."""

    folder: Path
    record: dict[str, Any]
    unchanged: bool
    """Nothing had to be made."""
    prints_made: int
    prints_kept: int


def make_job(
    path: Path,
    target: Path,
    *,
    force: bool,
    anyway: bool = False,
    check_discs: bool = False,
    told: Sequence[Told] = (),
    progress: Progress | None = None,
) -> MadeJob:
    """Make or bring up to date the folder of a job; keys that were ``told`` beside its file win.

    ``anyway`` goes on when the checks found errors; with ``check_discs`` films carry check discs beside each print.
    Raises DataFileError, ArtworkError, ChecksFailedError (with all findings in ``findings``) or WriteError; then
    ``target`` is as it was.
    """
    from sepkit.files.folders.write import new_folder

    job = load_job(path, told=told)
    prints = job_prints(job, recipes=fingerprint(), check_discs=check_discs)
    digest = job_digest(job, prints)
    old = read_job_folder(target)
    if old is not None and old.is_up_to_date(digest):
        return MadeJob(target, old.record, unchanged=True, prints_made=0, prints_kept=len(prints))
    check_target(target, old, path, force=force)
    findings = check_job(job)
    if not anyway:
        refuse_errors(findings, where=path.name)
    stood, kept = (None, {}) if old is None else (old.folder, dict(old.prints))
    with new_folder(target, force=force or old is not None) as folder:
        taken = make_job_prints(job, prints, folder, old=stood, kept=kept, progress=progress)
        asked = {one.label: one.digest for one in prints}
        prints, ways = made_for_heads(job, prints, folder, progress=progress)
        planned = _write_plan(job, prints, ways, folder, findings, progress)
        made_of = {
            "job_file": str(path.resolve()),
            "digest": digest,
            "prints": [_made_row(one, asked[one.label]) for one in prints],
        }
        forms = {"forms": {FORM: form_digest(folder / FORM)}}
        if target.is_dir():
            keep_forms(target, folder, {} if old is None else old.record.get("forms", {}))
        record = write_record(folder, planned | made_of | forms)
    return MadeJob(target, record, unchanged=False, prints_made=len(prints) - taken, prints_kept=taken)


def _made_row(one: JobPrint, asked: str) -> dict[str, str]:
    """Return what job.json says of a print's folder; ``asked`` is its digest before it was made otherwise."""
    row = {"name": one.label, "folder": one.folder, "digest": one.digest}
    return row if asked == one.digest else {**row, "asked": asked}


def made_for_heads(
    job: Job, prints: Sequence[JobPrint], folder: Path, *, progress: Progress | None = None
) -> tuple[tuple[JobPrint, ...], tuple[WaysOut, ...]]:
    """Make those prints in ``folder`` anew whose screens the heads do not hold, for the way that each is carried out.

    Returns all prints as they stand now, and the ways out of those that were changed.
    """
    from sepkit.workshop.drop.blanks import blank_plan
    from sepkit.workshop.drop.facts import read_facts
    from sepkit.workshop.drop.plan import pieces_printed
    from sepkit.workshop.drop.ways import made_otherwise, ways_out

    blanks = blank_plan(job).lines
    out, ways, again = [], [], []
    for facts in read_facts(prints, folder):
        pieces = pieces_printed(facts, blanks)
        changed = made_otherwise(job, facts, pieces) if pieces else None
        if changed is None:
            out.append(facts.print)
            continue
        told = ways_out(job, facts, pieces)
        ways += [] if told is None else [told]
        again.append(made_as(job, changed, recipes=fingerprint()))
        out.append(again[-1])
        shutil.rmtree(facts.folder)
    if again:
        make_job_prints(job, again, folder, old=None, kept={}, progress=progress)
    return tuple(out), tuple(ways)


class JobChecksError(ChecksFailedError):
    """The job was read, and the checks found errors in it."""

    def __init__(self, findings: Sequence[Finding], *, where: str) -> None:
        self.findings = tuple(findings)
        worst = [finding for finding in findings if finding.level == "error"]
        more = f"; and {len(worst) - 1} more" if len(worst) > 1 else ""
        super().__init__(worst[0].text + more, where=where, hint=worst[0].hint)


def refuse_errors(findings: Sequence[Finding], *, where: str) -> None:
    """Raise JobChecksError when there is an error among the findings."""
    if any(finding.level == "error" for finding in findings):
        raise JobChecksError(findings, where=where)


def check_job(job: Job) -> list[Finding]:
    """Return what stands in the way of a job before anything is made: sizes, openings, cloth, ink and heat."""
    from sepkit.files.shelf.shelf import Shelf
    from sepkit.press.jobs import GangRules

    shelf = Shelf()
    wearers = {line.garment: (line, shelf.garment(line.garment)) for line in job.garments}
    findings: list[Finding] = []
    for one in job.prints:
        width, height = art_size_mm(one)
        item = FitItem(one.name, PLACES[one.placement], width, height, one.may_turn_90, one.sizes)
        findings += fit_findings(
            item,
            [wearers[name] for name in one.garments],
            press=job.press,
            screens=job.screens,
            rules=GangRules(),
        )
    findings += platen_findings(job.press, wearers.values())
    findings += cure_findings(job.ink_kind, job.heat_press, list(wearers.values()))
    return findings


def fingerprint() -> str:
    """Return a digest of the shelf and of sepkit itself: what is made depends on both."""
    import sepkit
    from sepkit.files.shelf.folders import ink_folders, recipe_folders

    digest = hashlib.sha256()
    code = Path(sepkit.__file__).resolve().parent
    files = [file for folder in recipe_folders() for file in folder.glob("*.toml")]
    files += [file for folder in ink_folders() for file in folder.glob("*.toml")]
    for file in [*sorted(files), *sorted(code.rglob("*.py"))]:
        digest.update(file.name.encode())
        digest.update(file.read_bytes())
    return digest.hexdigest()


def job_digest(job: Job, prints: Sequence[JobPrint]) -> str:
    """Return a digest of all that shapes the job folder."""
    return hashlib.sha256(repr((job, [one.digest for one in prints])).encode()).hexdigest()


def _write_plan(
    job: Job,
    prints: Sequence[JobPrint],
    ways: Sequence[WaysOut],
    folder: Path,
    findings: Sequence[Finding],
    progress: Progress | None,
) -> dict[str, Any]:
    """Plan from the prints that stand in ``folder``, write screens/ and sheet.html; return what job.json says of it."""
    from sepkit.sheets.html import html_page
    from sepkit.sheets.job_sheet import job_sheet
    from sepkit.sheets.press_cards import press_sheet
    from sepkit.workshop.drop.actuals import run_form
    from sepkit.workshop.drop.facts import read_facts
    from sepkit.workshop.drop.findings import print_findings, recipe_findings
    from sepkit.workshop.drop.plan import plan_job
    from sepkit.workshop.drop.recipes import cup_recipes
    from sepkit.workshop.drop.screens import write_job_screens
    from sepkit.workshop.drop.sheet import job_content

    _tell(progress, "screens, order, ink and blanks")
    plan = plan_job(job, read_facts(prints, folder), ways=ways)
    recipes = cup_recipes(plan.needs, kind=job.ink_kind, scale_step_g=job.scale_step_g)
    _tell(progress, "films of screens")
    screens = write_job_screens(plan, folder, progress=progress)
    doses = recipe_findings(recipes, scale_step_g=job.scale_step_g)
    everything = [*findings, *plan.findings, *doses, *print_findings(plan.prints)]
    content = job_content(plan, recipes=recipes, screens=screens, findings=everything)
    (folder / "sheet.html").write_text(html_page(press_sheet(content)), encoding="utf-8")
    (folder / FORM).write_text(run_form(plan), encoding="utf-8")
    (folder / "appendix.html").write_text(html_page(job_sheet(content)), encoding="utf-8")
    return job_record(plan, recipes, everything)


def _tell(progress: Progress | None, stage: str) -> None:
    if progress is not None:
        progress.step(stage, 0, 1)
