"""A job file with the names that files/ cannot know: placements and size curves. Starter text and key list too."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

from sepkit.files.jobfile.jobfile import read_job
from sepkit.files.jobfile.keys import explained
from sepkit.files.jobfile.source import JobNames
from sepkit.files.shelf.folders import recipes_folder
from sepkit.files.shelf.shelf import Shelf
from sepkit.places import PLACES
from sepkit.press.spares import CURVES, blended_curve, shared_out
from sepkit.workshop.drop.actuals import with_shop

if TYPE_CHECKING:
    from sepkit.files.jobfile.asked import Told
    from sepkit.jobs import GarmentLine, Job

NAMES = JobNames(tuple(PLACES), CURVES)


def load_job(path: Path, *, shelf: Shelf | None = None, told: Sequence[Told] = ()) -> Job:
    """Return the job of a file, expected pieces shared out over sizes; names are looked up on ``shelf``.

    Keys that were ``told`` beside the file win. Raises DataFileError for a broken job file or a broken file of the
    shelf, UsageError for a told key that the job does not have.
    """
    shelf = shelf or Shelf()
    job = read_job(path, names=NAMES, shelf=shelf, told=told)
    return with_shop(replace(job, garments=tuple(_with_sizes(line, shelf) for line in job.garments)))


def explain_job() -> list[str]:
    """Return every key of a job file with what it takes."""
    choices = {("print", "placement"): tuple(PLACES), ("garment", "curve"): tuple(CURVES)}
    return explained(choices)


def starter_job() -> str:
    """Return a commented job file to start from."""
    return (recipes_folder() / "jobs" / "starter.toml").read_text(encoding="utf-8")


def _with_sizes(line: GarmentLine, shelf: Shelf) -> GarmentLine:
    """Return the line with what is still expected shared out: by the curve, and by the orders that are in."""
    rest = line.expected - sum(line.sizes.values())
    if rest <= 0:
        return line
    chart = list(shelf.garment(line.garment).half_chest_mm)
    curve = {size: share for size, share in CURVES[line.curve].items() if not chart or size in chart}
    curve = curve or CURVES[line.curve]
    more = shared_out(rest, blended_curve(line.sizes, curve) if line.sizes else curve)
    sizes = {size: line.sizes.get(size, 0) + more.get(size, 0) for size in dict.fromkeys([*line.sizes, *more])}
    rank = {size: nth for nth, size in enumerate(chart)}
    ordered = sorted(sizes.items(), key=lambda item: rank.get(item[0], len(rank)))
    return replace(line, sizes={size: count for size, count in ordered if count})
