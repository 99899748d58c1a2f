"""A job planned anew over the prints that stand in its folder: other orders, prices, places in an instant, no films.

In: a job file and the folder that was made of it. Out: what job.json would say of the plan, or which prints would have
to be made first. Nothing is written.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

from sepkit.press.staging import WayOut
from sepkit.workshop.drop.facts import read_facts
from sepkit.workshop.drop.findings import print_findings, recipe_findings
from sepkit.workshop.drop.folder import read_job_folder
from sepkit.workshop.drop.load import load_job
from sepkit.workshop.drop.make import check_job, fingerprint
from sepkit.workshop.drop.plan import pieces_printed, plan_job
from sepkit.workshop.drop.prints import job_prints
from sepkit.workshop.drop.recipes import cup_recipes
from sepkit.workshop.drop.record import job_record
from sepkit.workshop.drop.ways import WaysOut, made_otherwise


@dataclass(frozen=True, slots=True, eq=False)
class Replanned:
    """A plan over prints that stand, or what is missing for one."""

    record: dict[str, Any] | None
    missing: tuple[str, ...] = ()
    """Prints whose films were made otherwise, or not yet, by their labels."""


def planned_over(path: Path, target: Path) -> Replanned:
    """Return the plan of a job over the prints in its folder.

    A print that was made otherwise for the heads stands for the one that was asked, while its orders stay. Raises
    DataFileError for a broken job file, ChecksFailedError where an image fits no screen, WriteError for a damaged print
    folder.
    """
    job = load_job(path)
    prints = job_prints(job, recipes=fingerprint())
    old = read_job_folder(target)
    rows = [] if old is None else old.record.get("prints", [])
    stand = {str(row.get("asked", row["digest"])): str(row["folder"]) for row in rows}
    missing = tuple(one.label for one in prints if one.digest not in stand)
    if old is None or missing:
        return Replanned(None, missing or tuple(one.label for one in prints))
    facts = read_facts([replace(one, folder=stand[one.digest]) for one in prints], old.folder)
    taken = {str(row["asked"]) for row in rows if "asked" in row}
    ways = [WaysOut(**{**one, "ways": tuple(WayOut(**way) for way in one["ways"])}) for one in old.record["ways"]]
    plan = plan_job(job, facts, ways=ways)
    ordered = {(row["garment"], row["size"], row["ordered"]) for row in old.record["blanks"]}
    changed = {line.garment for line in plan.blanks if (line.garment, line.size, line.ordered) not in ordered}
    missing = tuple(
        one.label
        for one, fact in zip(prints, facts, strict=True)
        if (
            any(line.garment in changed for line, _ in one.wearers)  # its way goes by the pieces
            if one.digest in taken
            else made_otherwise(job, fact, pieces_printed(fact, plan.blanks)) is not None
        )
    )
    if missing:
        return Replanned(None, missing)
    recipes = cup_recipes(plan.needs, kind=job.ink_kind, scale_step_g=job.scale_step_g)
    doses = recipe_findings(recipes, scale_step_g=job.scale_step_g)
    everything = [*check_job(job), *plan.findings, *doses, *print_findings(plan.prints)]
    return Replanned(job_record(plan, recipes, everything))
