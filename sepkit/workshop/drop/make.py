"""sepkit job: a job file in, a folder with everything for the drop out, whole or not at all.

In: a job file and a target. Out: the job folder: prints/, screens/, sheet.html, job.json. Prints whose art, settings
and recipes have not changed since the folder was made are taken over; when nothing has changed it is left alone.
A folder that the same job file made may be replaced as long as nobody else has put or changed a file in it.
"""

from __future__ import annotations

import hashlib
import json
import re
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

from sepkit.colorimetry.names import colour_word, colours_called
from sepkit.errors import ChecksFailedError, WriteError
from sepkit.files.folders.parts import finding_record
from sepkit.model import Finding
from sepkit.places import PLACES
from sepkit.press.curing import cure_findings
from sepkit.press.fit import FitItem, fit_findings, platen_findings
from sepkit.units import parse_hex
from sepkit.workshop.drop.load import load_job
from sepkit.workshop.drop.prints import JobPrint, art_size_mm, job_prints, make_job_prints

if TYPE_CHECKING:
    from sepkit.jobs import Job
    from sepkit.model import Progress
    from sepkit.workshop.drop.plan import JobPlan
    from sepkit.workshop.drop.recipes import CupRecipe

SCHEMA = "sepkit.job/1"
RECORD = "job.json"


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
    path: Path, target: Path, *, force: bool, anyway: bool = False, progress: Progress | None = None
) -> MadeJob:
    """Make or bring up to date the folder of a job.

    ``anyway`` goes on when the checks found errors. Raises DataFileError, ArtworkError, ChecksFailedError (with all
    findings in ``findings``) or WriteError; then ``target`` is as it was.
    """
    from sepkit.files.folders.write import new_folder

    job = load_job(path)
    prints = job_prints(job, recipes=fingerprint())
    digest = job_digest(job, prints)
    old = _old_record(target)
    if old is not None and old.get("digest") == digest and _changed_files(target, old) == []:
        return MadeJob(target, old, unchanged=True, prints_made=0, prints_kept=len(prints))
    _may_replace(target, old, path, force=force)
    findings = check_job(job)
    worst = [finding for finding in findings if finding.level == "error"]
    if worst and not anyway:
        raise JobChecksError(findings, where=path.name)
    kept = {str(entry["digest"]): str(entry["folder"]) for entry in (old or {}).get("prints", [])}
    with new_folder(target, force=force or old is not None) as folder:
        taken = make_job_prints(job, prints, folder, old=target if old else None, kept=kept, progress=progress)
        record = _write_rest(job, prints, folder, findings, path, digest, progress)
    return MadeJob(target, record, unchanged=False, prints_made=len(prints) - taken, prints_kept=taken)


class JobChecksError(ChecksFailedError):
    """The job was read, and the checks found errors in it."""

    def __init__(self, findings: Sequence[Finding], *, where: str) -> None:
        self.findings = tuple(findings)
        worst = [finding for finding in findings if finding.level == "error"]
        more = f"; and {len(worst) - 1} more" if len(worst) > 1 else ""
        super().__init__(worst[0].text + more, where=where, hint=worst[0].hint)


def check_job(job: Job) -> list[Finding]:
    """Return what stands in the way of a job before anything is made: sizes, openings, cloth, ink and heat."""
    from sepkit.files.shelf.recipes import find_garment
    from sepkit.press.jobs import GangRules

    wearers = {line.garment: (line, find_garment(line.garment)) for line in job.garments}
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


def _write_rest(
    job: Job,
    prints: Sequence[JobPrint],
    folder: Path,
    findings: list[Finding],
    path: Path,
    digest: str,
    progress: Progress | None,
) -> dict[str, Any]:
    from sepkit.sheets.html import html_page
    from sepkit.sheets.job_sheet import job_sheet
    from sepkit.workshop.drop.facts import read_facts
    from sepkit.workshop.drop.plan import plan_job
    from sepkit.workshop.drop.screens import write_job_screens
    from sepkit.workshop.drop.sheet import job_content

    _tell(progress, "screens, order, ink and blanks")
    facts = read_facts(prints, folder)
    plan = plan_job(job, facts)
    recipes, doses = _recipes(plan)
    _tell(progress, "films of screens")
    drawings, films = write_job_screens(plan, folder, progress=progress)
    everything = [*findings, *plan.findings, *doses, *_print_findings(plan)]
    content = job_content(plan, recipes=recipes, screens=drawings, films=films, findings=everything)
    (folder / "sheet.html").write_text(html_page(job_sheet(content)), encoding="utf-8")
    record = job_record(plan, recipes, everything) | {
        "job_file": str(path.resolve()),
        "digest": digest,
        "prints": [{"name": one.label, "folder": one.folder, "digest": one.digest} for one in prints],
    }
    record["files"] = _files(folder)
    (folder / RECORD).write_text(json.dumps(record, indent=1, ensure_ascii=False) + "\n", encoding="utf-8")
    return record


def job_record(plan: JobPlan, recipes: dict[str, CupRecipe], findings: Sequence[Finding]) -> dict[str, Any]:
    """Return job.json without digests and files."""
    tally, written = plan.order.tally, plan.order.as_written
    return {
        "schema": SCHEMA,
        "title": plan.job.title,
        "screens": [
            {
                "number": s.number,
                "frame": s.screen.name,
                "inks": s.ink_family,
                "mesh": {"threads_per_cm": s.mesh.threads_per_cm, "thread_um": s.mesh.thread_um},
                "images": [
                    {
                        "name": p.item.name,
                        "x_mm": round(p.x_mm, 2),
                        "y_mm": round(p.y_mm, 2),
                        "width_mm": round(p.width_mm, 2),
                        "height_mm": round(p.height_mm, 2),
                        "rotation": p.rotation,
                        "end": p.end,
                        "blade_mm": p.blade_mm,
                    }
                    for p in s.placed
                ],
            }
            for s in plan.gang.screens
        ],
        "screens_one_each": sum(len(s.placed) for s in plan.gang.screens),
        "screens_proven": plan.gang.proven,
        "order": {
            "proven": plan.order.exact,
            "minutes": round(tally.minutes, 1),
            "minutes_as_written": round(written.minutes, 1),
            "washups": tally.washups,
            "washups_as_written": written.washups,
            "blades_washed": tally.blade_washes,
            "blades_washed_as_written": written.blade_washes,
            "frames": tally.mounts + tally.turns,
            "frames_as_written": written.mounts + written.turns,
            "reloads": tally.reloads,
            "steps": [
                {
                    "print": s.run.print_name,
                    "garment": s.run.garment,
                    "pieces": s.run.pieces,
                    "before": list(s.changes),
                    "within": [{"pull": at + 1, "change": text} for at, text in s.tally.within],
                    "pulls": [
                        {
                            "screen": p.screen,
                            "end": p.end,
                            "open": p.image,
                            "taped": list(p.taped),
                            "ink": p.ink,
                            "blade_mm": p.blade_mm,
                            "coats": p.coats,
                            "flash_after": p.flash_after,
                        }
                        for p in s.run.pulls
                    ],
                }
                for s in plan.order.steps
            ],
        },
        "ink": [
            {
                "name": n.ink,
                "stage_g": round(n.stage_g, 1),
                "used_g": round(n.used_g, 1),
                "back_g": round(n.back_g, 1),
                "from_shelf_g": round(n.on_shelf_g, 1),
                "to_mix_g": round(n.to_mix_g, 1),
                "recipe": [list(part) for part in recipes[n.ink].parts] if n.ink in recipes else None,
                "parts": [{"what": p.what, "formula": p.formula, "mass_g": round(p.mass_g, 2)} for p in n.parts],
            }
            for n in plan.needs
        ],
        "blanks": [
            {
                "garment": b.garment,
                "size": b.size,
                "ordered": b.ordered,
                "spares": b.spares,
                "tests": b.tests,
                "buy": b.buy,
                "loss": round(b.loss, 4),
                "chance": round(b.chance, 4),
            }
            for b in plan.blanks
        ],
        "minutes": {"all": round(plan.minutes_sum, 1), "parts": {p.what: round(p.amount, 1) for p in plan.minutes}},
        "cost": {
            "currency": plan.job.money.currency,
            "per_garment": round(plan.costs.per_garment, 2),
            "fixed": round(plan.costs.fixed_sum, 2),
            "each": round(plan.costs.each_sum, 2),
            "break_even": plan.costs.break_even,
        },
        "findings": [finding_record(finding) for finding in findings],
    }


def _recipes(plan: JobPlan) -> tuple[dict[str, CupRecipe], list[Finding]]:
    from sepkit.workshop.drop.recipes import cup_recipe, shelf_for_recipes

    mixed = [need for need in plan.needs if need.custom and need.to_mix_g > 0]
    shelf = shelf_for_recipes(plan.job.ink_kind) if mixed else None
    if shelf is None:
        return {}, []
    recipes = {
        need.ink: cup_recipe(need.ink, need.to_mix_g, shelf=shelf, scale_step_g=plan.job.scale_step_g) for need in mixed
    }
    findings = [
        Finding(
            "small-dose",
            "warn",
            f"{colours_called(name)}: a dose is too small for a scale of {plan.job.scale_step_g:g} g",
            "make a let-down of the strong ink first, or more of the ink, or use a finer scale",
        )
        for name, recipe in recipes.items()
        if not recipe.fine
    ]
    findings += [
        Finding(
            "colour-out-of-reach",
            "warn",
            f"{colours_called(name)}: the nearest blend of the shelf is ΔE00 {recipe.de00:.1f} away",
            "add an ink to the shelf, or accept the shift",
        )
        for name, recipe in recipes.items()
        if recipe.de00 > 3.0 and not _is_black(name)
    ]
    return recipes, findings


def _is_black(ink: str) -> bool:
    """Tell whether an ink named by a colour is black: the shelf's black is what a printer takes, however far it is."""
    return ink.startswith("#") and colour_word(parse_hex(ink)) == "black"


def _as_keys(hint: str) -> str:
    """Return a hint with the options of `sepkit separate` as the keys of a job file that do the same.

    >>> _as_keys("if it is only background: --background drop leaves it open")
    'if it is only background: background = "drop" leaves it open'
    >>> _as_keys('--inks "#ffffff" leaves it open')
    'inks = "#ffffff" leaves it open'
    """
    return re.sub(r'--(background|soft|inks) "?([^\s"]+)"?', r'\1 = "\2"', hint)


def _print_findings(plan: JobPlan) -> list[Finding]:
    """Return what was found in each print, with the print's name before it."""
    # Heads are those of the job's press, which may differ from the shelf's: the order tells of reloads.
    return [
        Finding(
            finding.code, finding.level, f"{facts.print.label}: {colours_called(finding.text)}", _as_keys(finding.hint)
        )
        for facts in plan.prints
        for finding in facts.findings
        if finding.code != "more-screens-than-heads"
    ]


def _old_record(target: Path) -> dict[str, Any] | None:
    file = target / RECORD
    if target.is_symlink() or file.is_symlink() or not file.is_file():
        return None
    try:
        record = json.loads(file.read_text(encoding="utf-8"))
    except (OSError, ValueError):
        return None
    return record if isinstance(record, dict) and record.get("schema") == SCHEMA else None


def _may_replace(target: Path, old: dict[str, Any] | None, path: Path, *, force: bool) -> None:
    from sepkit.files.folders.write import check_writable

    if old is None or force:
        check_writable(target, force=force)
        return
    if old.get("job_file") != str(path.resolve()):
        raise WriteError("holds another job", where=str(target), hint="give another folder with -o, or --force")
    changed = _changed_files(target, old)
    if changed:
        raise WriteError(
            f"{changed[0]} is not as sepkit left it",
            where=str(target),
            hint="move your own files out, or --force to lose them",
        )
    check_writable(target, force=True)


def _files(folder: Path) -> dict[str, list[int]]:
    """Return every file below a folder with its size and time."""
    out = {}
    for file in sorted(folder.rglob("*")):
        if file.is_file():
            facts = file.stat()
            out[file.relative_to(folder).as_posix()] = [facts.st_size, facts.st_mtime_ns]
    return out


def _changed_files(folder: Path, record: dict[str, Any]) -> list[str]:
    """Return files that were changed, removed or added since the record was written."""
    now = _files(folder)
    now.pop(RECORD, None)
    then = record.get("files", {})
    return [name for name in dict.fromkeys([*then, *now]) if then.get(name) != now.get(name)]


def _tell(progress: Progress | None, stage: str) -> None:
    if progress is not None:
        progress.step(stage, 0, 1)
