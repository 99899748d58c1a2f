"""What really happened: a form of each plan to fill in, and the shop's own figures from all that were.

In: a JobPlan; a job file and its filled form. Out: run.csv; the rows of all runs kept in runs.csv of the person's own
folder (SEPKIT_RECIPES), or beside the job file where there is none; what changed by a run.
"""

from __future__ import annotations

import hashlib
import os
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING

from sepkit.errors import DataFileError, Problem
from sepkit.files.run_csv import read_run_csv, run_csv
from sepkit.files.shelf.folders import OWN_FOLDER_VARIABLE
from sepkit.jobs import Figure, RunRow, ShopFigures
from sepkit.press.figures import shop_figures

if TYPE_CHECKING:
    from sepkit.jobs import Job
    from sepkit.workshop.drop.plan import JobPlan

LOG = "runs.csv"


@dataclass(frozen=True, slots=True)
class Changed:
    """One figure before and after a run."""

    what: str
    before: Figure | None
    after: Figure


def run_form(plan: JobPlan) -> str:
    """Return run.csv of a plan: a line for each print and size, each round, each ink."""
    pace = 1.0 if plan.job.shop.pace is None else plan.job.shop.pace.value
    rows: list[RunRow] = []
    for step in plan.order.steps:
        run = step.run
        wanted = next(one.sizes for one in plan.job.prints if one.name == run.print_name)
        stage = f", stage {run.stage}" if run.stages > 1 else ""
        about = (run.print_name + stage, run.garment, run.placement)
        minutes = step.tally.minutes * pace + run.pieces * run.minutes_per_piece
        rows += [
            RunRow("", "print", *about, line.size, line.buy)
            for line in plan.blanks
            if line.garment == run.garment and line.buy and (not wanted or line.size in wanted)
        ]
        rows.append(RunRow("", "round", *about, "", round(minutes, 1), factor=round(pace, 4)))
    rows += [
        RunRow("", "ink", need.ink, "", "", "", round(need.used_g, 1), factor=round(plan.job.ink_factor, 4))
        for need in plan.needs
    ]
    mark = hashlib.sha256(repr(rows).encode()).hexdigest()[:8]
    return run_csv([replace(row, run=f"{plan.job.title} {mark}") for row in rows])


def with_shop(job: Job) -> Job:
    """Return the job with the shop's own figures where the job says nothing itself."""
    log = log_of(job.folder)
    if not log.is_file():
        return job
    figures = shop_figures(read_run_csv(log))
    own = {place: round(found.value, 5) for place, found in figures.losses.items()}
    losses = own | job.spoilage.loss_by_placement
    told = replace(job, shop=figures, spoilage=replace(job.spoilage, loss_by_placement=losses))
    if figures.ink_factor is None or job.ink_factor != 1.0:
        return told
    return replace(told, ink_factor=round(figures.ink_factor.value, 4))


def log_of(job_folder: Path) -> Path:
    """Return where the runs of this shop are kept."""
    own = os.environ.get(OWN_FOLDER_VARIABLE, "").strip()
    return (Path(own).expanduser() if own else job_folder) / LOG


def record_run(job: Job, form: Path) -> tuple[Path, tuple[Changed, ...]]:
    """Keep a filled form with the other runs; return where, and what figures it changed.

    A form that was recorded before is replaced. Raises DataFileError for a form of another job or with nothing in it,
    WriteError when the disk refuses.
    """
    from sepkit.files.folders.write import replace_file

    rows = read_run_csv(form)
    if not all(row.run.rpartition(" ")[0] == job.title for row in rows):
        other = next(row.run.rpartition(" ")[0] for row in rows if row.run.rpartition(" ")[0] != job.title)
        raise DataFileError(Problem(f'is of "{other}"', f'give the form of "{job.title}"'), where=form.name)
    if all(row.actual is None for row in rows):
        raise DataFileError(Problem("is not filled in", 'write into the column "actual"'), where=form.name)
    log = log_of(job.folder)
    kept = read_run_csv(log) if log.is_file() else ()
    runs = {row.run for row in rows}
    everything = [*(row for row in kept if row.run not in runs), *rows]
    before, after = shop_figures(kept), shop_figures(everything)
    with replace_file(log) as part:
        part.write_text(run_csv(everything), encoding="utf-8")
    return log, _changed(before, after)


def _changed(before: ShopFigures, after: ShopFigures) -> tuple[Changed, ...]:
    out = [Changed(place, before.losses.get(place), found) for place, found in after.losses.items()]
    if after.ink_factor is not None:
        out.append(Changed("ink", before.ink_factor, after.ink_factor))
    if after.pace is not None:
        out.append(Changed("minutes", before.pace, after.pace))
    return tuple(one for one in out if one.before != one.after)
