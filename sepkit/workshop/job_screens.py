"""Screens of a job on disk: a drawing of each frame and the films that go on it."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from sepkit.model import Progress
    from sepkit.workshop.job_plan import JobPlan


def write_screens(
    plan: JobPlan, folder: Path, *, progress: Progress | None = None
) -> tuple[list[tuple[bytes, str]], list[tuple[str, str]]]:
    """Write screens/ below ``folder``; return (PNG, caption) of the drawings and (file, what it holds) of the films."""
    return [], []
