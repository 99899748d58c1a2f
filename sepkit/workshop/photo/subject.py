"""What a photograph should show, from a print folder: films with their check discs, and predicted colours of stacks.

In: a PrintFolder. Out: a Subject.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
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
    from sepkit.model import F32, F64, U8, Bool

MARGIN_MM = 6.0
"""Cloth around art without check discs that a photograph is read on."""
FINER = 4
"""Marks are drawn this many times finer than planes, and averaged."""
MOST_DPI = 720.0
"""Films are read at most this fine: their pixels are two fifths of a plane's."""
BAND_ROWS = 256


def subject_of_folder(kept: PrintFolder) -> Subject:
    """Return what a photograph of a print should show."""
    plates, discs = kept.plates, kept.record.film.discs
    margin = float(np.ceil((AROUND_MM if discs else MARGIN_MM) * PX_PER_MM)) / PX_PER_MM  # art begins at a sample
    colour = stack_colours(plates, kept.record.garment)
    n = len(plates)
    stacks = [tuple(k for k in range(n) if stack >> k & 1) for stack in range(1 << n)]
    film, size = FilmSettings(min(kept.record.film.making.dpi, MOST_DPI)), (kept.width_mm, kept.height_mm)
    toned = [_toned(plate.tone, size, margin) for plate in plates]
    planes = [
        _marked(_plane(plate.printed, tone, size, margin, film), disc_marks(discs, k), margin)
        for k, (plate, tone) in enumerate(zip(plates, toned, strict=True))
    ]
    return Subject(
        kept.width_mm,
        kept.height_mm,
        margin,
        tuple(planes),
        np.maximum(np.array([colour(stack) for stack in stacks], np.float64), 0.001),
        tuple(plate.name for plate in plates),
        bases=tuple(k for k, plate in enumerate(plates) if plate.is_base),
        tone=_any(toned),
        discs=discs,
    )


def _plane(
    printed: U8, toned: Bool | None, size_mm: tuple[float, float], margin_mm: float, settings: FilmSettings
) -> U8:
    """Return a plate at PX_PER_MM with a margin around.

    Edges are those of its film's pixels, which may lie half of one beside the plate's own; tones are the plate's.
    """
    plane = np.pad(_of_film(printed, size_mm, settings), round(margin_mm * PX_PER_MM))
    if toned is not None:
        np.copyto(plane, _with_margin(printed, size_mm, margin_mm), where=toned)
    return plane


def _marked(plane: U8, marks: tuple[Mark, ...], margin_mm: float) -> U8:
    """Return a plane with marks in it, which may be drawn in place."""
    height, width = plane.shape
    return np.maximum(plane, _drawn(marks, width, height, margin_mm), out=plane) if marks else plane


def _of_film(printed: U8, size_mm: tuple[float, float], settings: FilmSettings) -> U8:
    """Return a plate's film at PX_PER_MM, its edges crisp; a band of it is spread out at a time."""
    film = plan_film(printed, None, None, width_mm=size_mm[0], height_mm=size_mm[1], settings=settings)
    bits = np.concatenate(list(film.bands()))
    columns, rows = (_samples(side) for side in size_mm)
    across, down = (np.arange(count + 1) / PX_PER_MM / 25.4 * settings.dpi for count in (columns, rows))
    out = np.empty((rows, columns), np.uint8)
    for row in range(0, rows, BAND_ROWS):
        cut = down[row : row + BAND_ROWS + 1]
        first = int(cut[0])
        band = np.unpackbits(bits[first : math.ceil(cut[-1])], axis=1, count=film.width_px)
        share = _averaged(_averaged(band, across).T, cut - first).T
        out[row : row + len(share)] = np.rint(share * 255)
    return out


def _averaged(rows: U8 | F32, cuts: F64) -> F32:
    """Return the means (h, m) of rows (h, w) between one cut and the next; pixels count in part, and beyond is none."""
    sums = np.zeros((rows.shape[0], rows.shape[1] + 1), np.float32)
    np.cumsum(rows, axis=1, out=sums[:, 1:])
    within = np.minimum(cuts, rows.shape[1])
    whole = np.minimum(within.astype(np.int64), rows.shape[1] - 1)
    at = sums[:, whole] + (within - whole).astype(np.float32) * (sums[:, whole + 1] - sums[:, whole])
    return np.asarray(np.diff(at, axis=1) / np.diff(cuts).astype(np.float32), np.float32)


def _samples(side_mm: float) -> int:
    """Return how many samples a side takes, the last in part."""
    return math.ceil(side_mm * PX_PER_MM - 0.01)


def _with_margin(picture: U8, size_mm: tuple[float, float], margin_mm: float) -> U8:
    """Return a picture of the art at PX_PER_MM with a margin around; a sample that it fills in part is averaged."""
    from PIL import Image

    samples = [_samples(side) for side in size_mm]
    finer = picture.shape[1] > samples[0]
    filtered = Image.Resampling.BOX if finer else Image.Resampling.BILINEAR
    beyond = [n / PX_PER_MM / side * px for n, side, px in zip(samples, size_mm, picture.shape[::-1], strict=True)]
    spare = [max(0, int(np.ceil(far)) - px) for far, px in zip(beyond, picture.shape[::-1], strict=True)]
    wide = Image.fromarray(np.pad(picture, ((0, spare[1]), (0, spare[0]))))
    art = np.asarray(wide.resize((samples[0], samples[1]), filtered, box=(0, 0, *beyond)))
    return np.pad(art, round(margin_mm * PX_PER_MM))


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


def _toned(tone: Bool | None, size_mm: tuple[float, float], margin_mm: float) -> Bool | None:
    """Return where a plate has dots, on the planes' grid; None for nowhere."""
    if tone is None or not tone.any():
        return None
    return np.asarray(_with_margin(tone.view(np.uint8) * np.uint8(255), size_mm, margin_mm) > 0, np.bool_)


def _any(masks: Sequence[Bool | None]) -> Bool | None:
    """Return where any of some masks is; None where there are none."""
    there = [mask for mask in masks if mask is not None]
    return np.asarray(np.logical_or.reduce(there), np.bool_) if there else None
