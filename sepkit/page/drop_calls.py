"""The job desk: a job file checked, and made into its folder, as ``sepkit job`` does; its numbers, card and gang.

In: the working folder, the names of job file and folder. Out: plain values of job.json, pictures by name.
"""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

from sepkit.page import asked

if TYPE_CHECKING:
    from sepkit.model import Progress
    from sepkit.page.asked import Body
    from sepkit.workshop.page.values import Values

TOLD = ("title", "screens", "screens_one_each", "order", "ink", "blanks", "spares", "minutes", "cost")
"""Of job.json."""


def make(folder: Path, body: Body, progress: Progress) -> Values:
    """Make the folder of a job, or bring it up to date; return what it came to."""
    from sepkit.workshop.drop.make import make_job

    target = folder / asked.plain_name(body, "folder")
    made = make_job(folder / asked.plain_name(body, "file"), target, force=False, progress=progress)
    return told(folder, target.name, made.record) | {
        "unchanged": made.unchanged,
        "prints_made": made.prints_made,
        "prints_kept": made.prints_kept,
    }


def check(folder: Path, body: Body, _: Progress) -> Values:
    """Return what stands in the way of a job before anything is made."""
    from sepkit.workshop.drop.load import load_job
    from sepkit.workshop.drop.make import check_job
    from sepkit.workshop.page.values import findings_told

    findings = check_job(load_job(folder / asked.plain_name(body, "file")))
    return {"findings": findings_told(findings)}


def plan(folder: Path, body: Body, _: Progress) -> Values:
    """Return what the job comes to over the prints that stand in its folder; else which are to be made first."""
    from sepkit.workshop.drop.folder import read_job_folder
    from sepkit.workshop.drop.replan import planned_over

    name = asked.plain_name(body, "folder")
    found = planned_over(folder / asked.plain_name(body, "file"), folder / name)
    if found.record is None:
        return {"missing": list(found.missing)}
    now, old = told(folder, name, found.record), read_job_folder(folder / name)
    return now | {"missing": [], "same": old is not None and told(folder, name, old.record) == now}


def told(folder: Path, name: str, record: Any) -> Values:
    """Return what the page shows of a job's record."""
    from sepkit.workshop.page.made import made_folders

    pictures = next((one.pictures for one in made_folders(folder) if one.name == name), ())
    gang = [picture for picture in pictures if picture.startswith("screens/")]
    findings = [
        {"word": one["level"], "text": one["text"], "hint": one["hint"], "more": one.get("more", "")}
        for one in record["findings"]
    ]
    return {key: record[key] for key in TOLD} | {"folder": name, "gang": gang, "findings": findings}
