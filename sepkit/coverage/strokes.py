"""Strokes and gaps too thin for a mesh, and where they are.

A stroke thinner than w vanishes when the plane is opened (choked, then spread back) by w / 2; a gap likewise on the
inverse. Coverage (h, w) uint8; places in mm from the top left.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from sepkit.coverage.bitmaps import SURE_PX, disc, grown, packed, sure_disc, unpacked, within
from sepkit.coverage.openings import LEAST_LEFT, taken_at
from sepkit.coverage.parts import Parts
from sepkit.coverage.reach import choke, spread
from sepkit.coverage.windows import in_windows
from sepkit.units import mm_to_px, px_to_mm

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from sepkit.model import U8, Bool

    I64 = NDArray[np.int64]

LEAST_WHOLE_MM = 0.3
"""A shape that is thin all over, as a small letter, counts from this size on; what is smaller is a speck."""
LEAST_LENGTH_FACTOR = 1.7
"""A thin part counts when its area is at least (width x factor)², about five widths of a line half as wide: the tips
of pointed shapes and the corners that an opening rounds off do not."""


LOOKS_FAR, LOOKS_MORE_PX = 4.0, 16
"""An opening looks twice its half width far, and distances are taken in steps that double."""
FEW_SHARE = 0.01
"""Of a plane's pixels: fewer than these are asked one by one, more in blocks."""
ENOUGH_DPI = 150.0
"""A stroke of 0.35 mm is 2 px here: enough to tell mesh classes apart by the share of thin strokes."""


@dataclass(frozen=True, slots=True)
class ThinPart:
    """One place that is thinner than asked: its middle in mm, its length and width in mm (about), and its box."""

    place_mm: tuple[float, float]
    length_mm: float
    width_mm: float = 0.0
    box_mm: tuple[float, float, float, float] = (0.0, 0.0, 0.0, 0.0)
    """Left, top, right, bottom."""


def thin_strokes(coverage: U8, *, least_mm: float, dpi: float) -> tuple[Bool, list[ThinPart]]:
    """Return a mask of the parts of ``coverage`` thinner than ``least_mm``, and the places, longest first."""
    half = mm_to_px(least_mm, dpi) / 2
    return _places(_lost_in(coverage > 127, half), coverage > 127, least_mm, dpi)


def thin_gaps(coverage: U8, *, least_mm: float, dpi: float) -> tuple[Bool, list[ThinPart]]:
    """Return a mask of the gaps in ``coverage`` thinner than ``least_mm``, and the places, longest first."""
    pad = int(np.ceil(mm_to_px(least_mm, dpi))) + 2
    gaps = np.pad(255 - coverage, pad, constant_values=255)
    mask, parts = thin_strokes(gaps, least_mm=least_mm, dpi=dpi)
    off = px_to_mm(pad, dpi)
    moved = [
        replace(
            p,
            place_mm=(p.place_mm[0] - off, p.place_mm[1] - off),
            box_mm=(p.box_mm[0] - off, p.box_mm[1] - off, p.box_mm[2] - off, p.box_mm[3] - off),
        )
        for p in parts
    ]
    return mask[pad:-pad, pad:-pad], moved


def thin_share(coverage: U8, *, least_mm: float, dpi: float) -> float:
    """Return the share (0..1) of the inked area that is thinner than ``least_mm``; tips and corners count too."""
    reduced, dpi = reduced_plane(coverage, dpi)
    solid = reduced > 127
    inked = int(np.count_nonzero(solid))
    if not inked:
        return 0.0
    return int(np.count_nonzero(_lost_in(solid, mm_to_px(least_mm, dpi) / 2))) / inked


def reduced_plane(coverage: U8, dpi: float) -> tuple[U8, float]:
    """Return the plane averaged down by a whole factor to no less than ENOUGH_DPI."""
    from PIL import Image

    factor = int(dpi // ENOUGH_DPI)
    if factor < 2:
        return coverage, dpi
    small = np.asarray(Image.fromarray(coverage).reduce(factor))
    return small, dpi / factor


def _lost_in(solid: Bool, half_px: float) -> Bool:
    """Return what of ``solid`` is thinner than twice ``half_px``; at least a pixel counts as thin."""
    half_px = max(half_px, 0.51)
    reach_px = math.ceil(LOOKS_FAR * half_px) + LOOKS_MORE_PX
    return in_windows(lambda mask: _lost(mask, half_px), solid, reach_px=reach_px, key=("thin", half_px))


def _lost(solid: Bool, half_px: float) -> Bool:
    """Return what of ``solid`` is thinner than twice ``half_px``: less than a quarter of it is left by an opening.

    A pixel r from the nearest hole keeps r - half of itself when choked, and takes up to half + 1/2 from what is left
    beside it. Most pixels are kept for sure by that alone, so distances are taken elsewhere.
    """
    inked, open_ = packed(solid), packed(~solid)
    left = inked & ~grown(open_, disc(half_px + 0.5 + SURE_PX))
    kept = grown(left, disc(1.5)) & ~grown(open_, disc(half_px + 0.1))
    kept |= grown(left, sure_disc(half_px + 0.25, cover=0.5))
    unsure = unpacked(inked & ~kept, solid.shape[1])
    if np.count_nonzero(unsure) < FEW_SHARE * solid.size:
        return taken_at(solid, unsure, half_px) if unsure.any() else unsure
    choked = choke(np.where(solid, np.uint8(255), np.uint8(0)), half_px, only=within(unsure, half_px + 4))
    out: Bool = unsure & (spread(choked, half_px, only=unsure) < LEAST_LEFT)
    return out


def _places(lost: Bool, solid: Bool, least_mm: float, dpi: float) -> tuple[Bool, list[ThinPart]]:
    """Return what counts of ``lost`` parts of ``solid``, and the parts, longest first."""
    found = Parts.of(lost)
    if not found.count:
        return lost, []
    *at, mine = found.pixels()
    areas = found.areas
    least_px = (mm_to_px(least_mm, dpi) * LEAST_LENGTH_FACTOR) ** 2
    speck_px = np.pi / 4 * mm_to_px(LEAST_WHOLE_MM, dpi) ** 2
    whole = _whole((at[0], at[1]), mine, solid & ~lost, found.count)
    counts = (areas >= max(least_px, 4)) | (whole & (areas >= max(speck_px, 4)))
    counts[0] = False
    mask = np.zeros_like(lost)
    mask[at[0], at[1]] = counts[mine]
    keep = np.flatnonzero(counts)
    keep = keep[np.argsort(-areas[keep], kind="stable")]
    boxes = found.boxes
    widths = 2 * areas / np.maximum(_sides(found), 1)
    width_px = max(mm_to_px(least_mm, dpi) * 0.6, 1.0)
    parts = []
    for k in keep.tolist():
        top, left, bottom, right = boxes[k].tolist()
        box = tuple(px_to_mm(float(v), dpi) for v in (left, top, right, bottom))
        parts.append(
            ThinPart(
                ((box[0] + box[2]) / 2, (box[1] + box[3]) / 2),
                px_to_mm(float(areas[k]) / width_px, dpi),
                px_to_mm(float(widths[k]), dpi),
                (box[0], box[1], box[2], box[3]),
            )
        )
    return mask, parts


def _whole(at: tuple[I64, ...], mine: I64, kept: Bool, count: int) -> Bool:
    """Return which labelled parts touch nothing of ``kept``: shapes that are lost altogether.

    ``at`` are rows and columns of the parts' pixels, and ``mine`` their labels.
    """
    touched = np.zeros(count + 1, bool)
    height, width = kept.shape
    for dy in (-1, 0, 1):
        for dx in (-1, 0, 1):
            rows, columns = at[0] + dy, at[1] + dx
            there = (rows >= 0) & (rows < height) & (columns >= 0) & (columns < width)
            there[there] = kept[rows[there], columns[there]]
            touched[mine[there]] = True
    return ~touched


def _sides(parts: Parts) -> I64:
    """Return how many sides of pixels each part shows to what is not of it: twice its length where it is a line.

    Beyond a border the picture begins again.
    """
    rows, columns, mine = parts.pixels()
    height, width = parts.shape
    sides = np.zeros(parts.count + 1, np.int64)
    for dy, dx in ((-1, 0), (1, 0), (0, -1), (0, 1)):
        other = parts.at((rows + dy) % height, (columns + dx) % width)
        sides += np.bincount(mine[mine != other], minlength=parts.count + 1)
    return sides
