"""Screens of a job on disk: the films that go on each frame, whole or in tiles, and a drawing of it.

In: a JobPlan. Out: screens/ below the job's folder.
"""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from sepkit.workshop.job_facts import film_settings
from sepkit.workshop.screen_films import ScreenImage, sheet_of, write_screen_films

if TYPE_CHECKING:
    from sepkit.model import Progress
    from sepkit.workshop.job_plan import JobPlan


def write_screens(
    plan: JobPlan, folder: Path, *, progress: Progress | None = None
) -> tuple[list[tuple[bytes, str]], list[tuple[str, str]]]:
    """Write screens/ below ``folder``; return (PNG, caption) of the drawings and (file, what it holds) of the films."""
    job = plan.job
    images = {
        image.name: ScreenImage(
            image.plate.printed, image.plate.tone, image.plate.halftone, facts.width_mm, facts.height_mm,
            film_settings(job, image.plate),
        )
        for facts in plan.prints for image in facts.images
    }  # fmt: skip
    films = write_screen_films(
        folder / "screens", plan.gang.screens, images, sheet=sheet_of(job.film), title=job.title, progress=progress
    )
    listed = []
    for film, screen in zip(films, plan.gang.screens, strict=True):
        names = "; ".join(placed.item.name for placed in screen.placed)
        tiles = f", in {film.tiles} tiles" if film.tiles > 1 else ""
        size = f"{film.width_mm:.0f} x {film.height_mm:.0f} mm{tiles}"
        listed.append((film.path.relative_to(folder).as_posix(), f"screen {screen.number}, {size}: {names}"))
    return [], listed
