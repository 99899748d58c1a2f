"""Screens of a job on disk: the films that go on each frame, whole or in tiles, and a drawing of it.

In: a JobPlan. Out: screens/ below the job's folder; what the sheet shows of them.
"""

from __future__ import annotations

import io
from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from PIL import Image

from sepkit.preview.screen_drawing import draw_step
from sepkit.workshop.drop.plan import gang_rules
from sepkit.workshop.gang.gang import ItemArt, ScreenOutput, drawn_screen, write_screens
from sepkit.workshop.gang.screen_films import sheet_of

if TYPE_CHECKING:
    from sepkit.model import Progress
    from sepkit.workshop.drop.plan import JobPlan


@dataclass(frozen=True, slots=True)
class ScreenPictures:
    """What sheets show of the screens."""

    drawings: tuple[tuple[bytes, str], ...]
    """(PNG, caption) of each screen."""
    films: tuple[tuple[str, str], ...]
    """(file, what it holds)."""
    at_press: Mapping[tuple[int, str], bytes]
    """PNG of the frame as it stands at the press, by screen and open image."""


def write_job_screens(plan: JobPlan, folder: Path, *, progress: Progress | None = None) -> ScreenPictures:
    """Write screens/ below ``folder``; return what the sheets show of it."""
    job = plan.job
    art = {
        image.name: ItemArt(image.plate, facts.width_mm, facts.height_mm, facts.making)
        for facts in plan.prints
        for image in facts.images
    }
    output = ScreenOutput(
        gang_rules(job),
        {name: ink.srgb for name, ink in plan.inks.items()},
        sheet=sheet_of(job.film),
        dpi=job.film.dpi,
        title=job.title,
        order=tuple(dict.fromkeys(pull.image for step in plan.order.steps for pull in step.run.pulls)),
    )
    drawings, films, at_press = [], [], {}
    for one in write_screens(folder / "screens", plan.gang.screens, art, output, progress=progress):
        number = one.plan.number
        caption = f"screen {number}: large as the film lies on it, small as it stands at the press, step by step"
        drawings.append((_small_png(one.drawing), caption))
        drawn = drawn_screen(one.plan, one.steps, art, output)
        for step in drawn.steps:
            at_press[number, step.open] = _few_colours(Image.fromarray(draw_step(drawn, step)))
        if one.film is not None:
            tiles = f", in {one.film.tiles} tiles" if one.film.tiles > 1 else ""
            size = f"{one.film.width_mm:.0f} x {one.film.height_mm:.0f} mm{tiles}"
            names = "; ".join(placed.item.name for placed in one.plan.placed)
            films.append((one.film.path.relative_to(folder).as_posix(), f"screen {number}, {size}: {names}"))
    return ScreenPictures(tuple(drawings), tuple(films), at_press)


def _small_png(path: Path) -> bytes:
    """Return a drawing with few colours: a sheet holds several."""
    with Image.open(path) as image:
        return _few_colours(image)


def _few_colours(image: Image.Image) -> bytes:
    few = image.convert("RGB").quantize(64, method=Image.Quantize.MEDIANCUT, dither=Image.Dither.NONE)
    data = io.BytesIO()
    few.save(data, "PNG", optimize=True)
    return data.getvalue()
