"""What a photograph should show, from a print folder: films with their check discs, and predicted colours of stacks.

In: a PrintFolder. Out: a Subject.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np

from sepkit.film.check_discs import AROUND_MM, disc_marks
from sepkit.film.page import FilmPage, Mark
from sepkit.film.raster import page_rows
from sepkit.film.rows import FilmSettings, plan_film
from sepkit.preview.stack import stack_colours
from sepkit.reading.subject import PX_PER_MM, Subject

if TYPE_CHECKING:
    from sepkit.files.folders.print_folder import PrintFolder
    from sepkit.model import F32, F64, U8, Bool, Plate

MARGIN_MM = 6.0
"""Cloth around art without check discs that a photograph is read on."""
FINER = 4
"""Marks are drawn this many times finer than planes, and averaged."""
MOST_DPI = 720.0
"""Films are read at most this fine: their pixels are a third of a plane's."""
BAND_ROWS = 256


def subject_of_folder(kept: PrintFolder) -> Subject:
    """Return what a photograph of a print should show."""
    plates, discs = kept.plates, kept.record.film.discs
    margin = AROUND_MM if discs else MARGIN_MM
    colour = stack_colours(plates, kept.record.garment)
    n = len(plates)
    stacks = [tuple(k for k in range(n) if stack >> k & 1) for stack in range(1 << n)]
    film = FilmSettings(min(kept.record.film.making.dpi, MOST_DPI))
    planes = [
        _plane(plate, disc_marks(discs, k), (kept.width_mm, kept.height_mm), margin, film)
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


def _plane(
    plate: Plate, marks: tuple[Mark, ...], size_mm: tuple[float, float], margin_mm: float, settings: FilmSettings
) -> U8:
    """Return a plate at PX_PER_MM with a margin around, its marks in it.

    Edges are those of its film's pixels, which may lie half of one beside the plate's own; tones are the plate's.
    """
    from PIL import Image

    width, height = (round((side + 2 * margin_mm) * PX_PER_MM) for side in size_mm)
    edge = round(margin_mm * PX_PER_MM)
    inside = (width - 2 * edge, height - 2 * edge)
    plane = np.zeros((height, width), np.uint8)
    art = plane[edge : edge + inside[1], edge : edge + inside[0]]
    art[:] = _of_film(plate.printed, size_mm, inside, settings)
    if plate.tone is not None and plate.tone.any():
        filtered = Image.Resampling.BOX if plate.printed.shape[1] > inside[0] else Image.Resampling.BILINEAR
        toned = np.asarray(Image.fromarray(plate.tone.view(np.uint8)).resize(inside, Image.Resampling.NEAREST)) > 0
        np.copyto(art, np.asarray(Image.fromarray(plate.printed).resize(inside, filtered)), where=toned)
    if marks:
        np.maximum(plane, _drawn(marks, width, height, margin_mm), out=plane)
    return plane


def _of_film(printed: U8, size_mm: tuple[float, float], inside: tuple[int, int], settings: FilmSettings) -> U8:
    """Return a plate's film, its edges crisp, averaged to ``inside`` pixels; a band of it is spread out at a time."""
    film = plan_film(printed, None, None, width_mm=size_mm[0], height_mm=size_mm[1], settings=settings)
    bits = np.concatenate(list(film.bands()))
    across, down = (np.linspace(0, mm / 25.4 * settings.dpi, px + 1) for mm, px in zip(size_mm, inside, strict=True))
    out = np.empty((inside[1], inside[0]), np.uint8)
    for row in range(0, inside[1], BAND_ROWS):
        cut = down[row : row + BAND_ROWS + 1]
        first = int(cut[0])
        band = np.unpackbits(bits[first : math.ceil(cut[-1])], axis=1, count=film.width_px)
        share = _averaged(_averaged(band, across).T, cut - first).T
        out[row : row + len(share)] = np.rint(share * 255)
    return out


def _averaged(rows: U8 | F32, cuts: F64) -> F32:
    """Return the means (h, m) of rows (h, w) between one cut and the next, pixels in part counted in part."""
    sums = np.zeros((rows.shape[0], rows.shape[1] + 1), np.float32)
    np.cumsum(rows, axis=1, out=sums[:, 1:])
    cuts = np.minimum(cuts, rows.shape[1])
    whole = np.minimum(cuts.astype(np.int64), rows.shape[1] - 1)
    at = sums[:, whole] + (cuts - whole).astype(np.float32) * (sums[:, whole + 1] - sums[:, whole])
    return np.asarray(np.diff(at, axis=1) / np.diff(cuts).astype(np.float32), np.float32)


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
