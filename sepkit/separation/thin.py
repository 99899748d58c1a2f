"""Strokes and gaps too thin for a mesh, and where they are.

A stroke thinner than w vanishes when the plane is opened (choked, then spread back) by w / 2; a gap likewise on the
inverse. Coverage (h, w) uint8; places in mm from the top left.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from sepkit.separation.reach import opened
from sepkit.units import mm_to_px, px_to_mm

if TYPE_CHECKING:
    from sepkit.model import U8, Bool

LEAST_LENGTH_FACTOR = 1.0
"""A thin part counts when its area is at least (width x factor)²: corners that an opening rounds off do not."""


ENOUGH_DPI = 200.0
"""A stroke of 0.2 mm is 1.6 px here: enough to tell mesh classes apart."""


@dataclass(frozen=True, slots=True)
class ThinPart:
    """One place that is thinner than asked: its middle in mm and its length in mm (about)."""

    place_mm: tuple[float, float]
    length_mm: float


def thin_strokes(coverage: U8, *, least_mm: float, dpi: float) -> tuple[Bool, list[ThinPart]]:
    """Return a mask of the parts of ``coverage`` thinner than ``least_mm``, and the places, longest first."""
    half = mm_to_px(least_mm, dpi) / 2
    solid = np.where(coverage > 127, np.uint8(255), np.uint8(0))
    lost = (solid > 0) & (opened(solid, max(half, 0.51)) < 64)
    return _places(lost, least_mm, dpi)


def thin_gaps(coverage: U8, *, least_mm: float, dpi: float) -> tuple[Bool, list[ThinPart]]:
    """Return a mask of the gaps in ``coverage`` thinner than ``least_mm``, and the places, longest first."""
    pad = int(np.ceil(mm_to_px(least_mm, dpi))) + 2
    gaps = np.pad(255 - coverage, pad, constant_values=255)
    mask, parts = thin_strokes(gaps, least_mm=least_mm, dpi=dpi)
    off = px_to_mm(pad, dpi)
    moved = [ThinPart((p.place_mm[0] - off, p.place_mm[1] - off), p.length_mm) for p in parts]
    return mask[pad:-pad, pad:-pad], moved


def thinnest_mm(coverage: U8, *, dpi: float, steps_mm: tuple[float, ...]) -> float | None:
    """Return the least of rising ``steps_mm`` at which some stroke counts as thin, or None when none does.

    Found by halving the list, coarse planes first: bold art costs one opening.
    """
    reduced, dpi = _reduced(coverage, dpi)
    if not thin_strokes(reduced, least_mm=steps_mm[-1], dpi=dpi)[1]:
        return None
    low, high = 0, len(steps_mm) - 1
    while low < high:
        middle = (low + high) // 2
        if thin_strokes(reduced, least_mm=steps_mm[middle], dpi=dpi)[1]:
            high = middle
        else:
            low = middle + 1
    return steps_mm[high]


def _reduced(coverage: U8, dpi: float) -> tuple[U8, float]:
    """Return the plane averaged down by a whole factor to no less than ENOUGH_DPI."""
    from PIL import Image

    factor = int(dpi // ENOUGH_DPI)
    if factor < 2:
        return coverage, dpi
    small = np.asarray(Image.fromarray(coverage).reduce(factor))
    return small, dpi / factor


def _places(lost: Bool, least_mm: float, dpi: float) -> tuple[Bool, list[ThinPart]]:
    from scipy.ndimage import center_of_mass, label

    labels, count = label(lost, structure=np.ones((3, 3), int))
    if not count:
        return lost, []
    areas = np.bincount(labels.ravel(), minlength=count + 1)[1:]
    least_px = (mm_to_px(least_mm, dpi) * LEAST_LENGTH_FACTOR) ** 2
    keep = np.flatnonzero(areas >= max(least_px, 4)) + 1
    mask: Bool = np.isin(labels, keep)
    if not len(keep):
        return mask, []
    keep = keep[np.argsort(-areas[keep - 1])]
    middles = center_of_mass(mask, labels, keep[:50])
    width_px = max(mm_to_px(least_mm, dpi) * 0.6, 1.0)
    parts = [
        ThinPart((px_to_mm(x + 0.5, dpi), px_to_mm(y + 0.5, dpi)), px_to_mm(areas[k - 1] / width_px, dpi))
        for (y, x), k in zip(middles, keep[:50], strict=True)
    ]
    return mask, parts
