"""What a photograph should show, from a print folder: films with their check discs, and predicted colours of stacks.

In: a PrintFolder. Out: a Subject.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from sepkit.film.check_discs import AROUND_MM, disc_marks
from sepkit.film.page import FilmPage, Mark
from sepkit.film.raster import page_rows
from sepkit.preview.stack import stack_colours
from sepkit.reading.subject import PX_PER_MM, Subject

if TYPE_CHECKING:
    from sepkit.files.folders.print_folder import PrintFolder
    from sepkit.model import U8, Bool

MARGIN_MM = 6.0
"""Cloth around art without check discs that a photograph is read on."""
FINER = 4
"""Marks are drawn this many times finer than planes, and averaged."""


def subject_of_folder(kept: PrintFolder) -> Subject:
    """Return what a photograph of a print should show."""
    plates, discs = kept.plates, kept.record.film.discs
    margin = AROUND_MM if discs else MARGIN_MM
    colour = stack_colours(plates, kept.record.garment)
    n = len(plates)
    stacks = [tuple(k for k in range(n) if stack >> k & 1) for stack in range(1 << n)]
    planes = [
        _plane(plate.printed, disc_marks(discs, k), (kept.width_mm, kept.height_mm), margin)
        for k, plate in enumerate(plates)
    ]
    return Subject(
        kept.width_mm,
        kept.height_mm,
        margin,
        tuple(planes),
        np.maximum(np.array([colour(stack) for stack in stacks], np.float64), 0.001),
        tuple(plate.name for plate in plates),
        bases=tuple(k for k, plate in enumerate(plates) if plate.is_base),
        tone=_tone([plate.tone for plate in plates], planes[0].shape, margin),
        discs=discs,
    )


def _plane(printed: U8, marks: tuple[Mark, ...], size_mm: tuple[float, float], margin_mm: float) -> U8:
    """Return a plate at PX_PER_MM with a margin around, its marks in it."""
    from PIL import Image

    width, height = (round((side + 2 * margin_mm) * PX_PER_MM) for side in size_mm)
    edge = round(margin_mm * PX_PER_MM)
    inside = (width - 2 * edge, height - 2 * edge)
    finer = printed.shape[1] > inside[0]
    filtered = Image.Resampling.BOX if finer else Image.Resampling.BILINEAR
    plane = np.zeros((height, width), np.uint8)
    plane[edge : edge + inside[1], edge : edge + inside[0]] = np.asarray(
        Image.fromarray(printed).resize(inside, filtered)
    )
    if marks:
        np.maximum(plane, _drawn(marks, width, height, margin_mm), out=plane)
    return plane


def page_plane(page: FilmPage) -> U8:
    """Return the marks of a page without films as coverage (h, w) at PX_PER_MM."""
    width, height = (round(side * PX_PER_MM) for side in (page.width_mm, page.height_mm))
    return _drawn(page.marks, width, height, 0.0)


def _drawn(marks: tuple[Mark, ...], width: int, height: int, margin_mm: float) -> U8:
    from dataclasses import replace

    dpi = PX_PER_MM * FINER * 25.4
    moved = tuple(replace(m, points=tuple((x + margin_mm, y + margin_mm) for x, y in m.points)) for m in marks)
    page = FilmPage("", width * FINER, height * FINER, dpi, (), moved)
    out, start = np.zeros((height, width), np.uint8), 0
    left = np.zeros((0, width * FINER), np.uint8)
    for band in page_rows(page):
        rows = np.concatenate([left, np.unpackbits(np.asarray(band), axis=1)[:, : width * FINER]])
        whole = rows.shape[0] // FINER
        cells = rows[: whole * FINER].reshape(whole, FINER, width, FINER)
        out[start : start + whole] = np.rint(cells.mean(axis=(1, 3)) * 255).astype(np.uint8)
        start, left = start + whole, rows[whole * FINER :]
    return out


def _tone(tones: list[Bool | None], shape: tuple[int, int], margin_mm: float) -> Bool | None:
    """Return where any plate has dots, on the planes' grid."""
    from PIL import Image

    masks = [tone for tone in tones if tone is not None and tone.any()]
    if not masks:
        return None
    edge = round(margin_mm * PX_PER_MM)
    out = np.zeros(shape, bool)
    inside = (shape[1] - 2 * edge, shape[0] - 2 * edge)
    for tone in masks:
        picture = Image.fromarray(tone.view(np.uint8) * np.uint8(255)).resize(inside, Image.Resampling.BOX)
        out[edge : edge + inside[1], edge : edge + inside[0]] |= np.asarray(picture) > 0
    return out
