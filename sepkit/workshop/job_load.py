"""A job file with the names that files/ cannot know: placements and size curves. Starter text and key list too."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

from sepkit.files.jobfile import JobNames, read_job
from sepkit.files.jobfile_keys import explained
from sepkit.press.placements import PLACEMENTS
from sepkit.press.spares import CURVES, shared_out

if TYPE_CHECKING:
    from sepkit.jobs import GarmentLine, Job

NAMES = JobNames(tuple(PLACEMENTS), CURVES)


def load_job(path: Path) -> Job:
    """Return the job of a file, expected pieces shared out over sizes. Raises JobProblemsError, JobFileError."""
    job = read_job(path, names=NAMES)
    return replace(job, garments=tuple(_with_sizes(line) for line in job.garments))


def explain_job() -> list[str]:
    """Return every key of a job file with what it takes."""
    choices = {("print", "placement"): tuple(PLACEMENTS), ("garment", "curve"): tuple(CURVES)}
    return explained(choices)


def starter_job() -> str:
    """Return a commented job file to start from."""
    from sepkit.files.recipes import recipes_folder

    return (recipes_folder() / "jobs" / "starter.toml").read_text(encoding="utf-8")


def _with_sizes(line: GarmentLine) -> GarmentLine:
    if line.sizes or not line.expected:
        return line
    from sepkit.files.recipes import find_garment

    chart = find_garment(line.garment).half_chest_mm
    curve = {size: share for size, share in CURVES[line.curve].items() if not chart or size in chart}
    return replace(line, sizes={s: n for s, n in shared_out(line.expected, curve or CURVES[line.curve]).items() if n})
