"""Traps: where two inks touch, the lighter grows under the darker, so that a small misregister opens no gap.

The eye reads the darker edge, so its shape stays (common practice). The lighter ink grows only into areas that darker
inks cover, and no further than half way through them, so it never shows on the far side.
Coverage (h, w) uint8; widths in pixels; lightness is CIE L*.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np

from sepkit.separation.reach import nearer_to, spread

if TYPE_CHECKING:
    from sepkit.model import U8, Bool

DARKER_BY_L = 4.0
"""Least difference of L* for one ink to count as the darker; closer pairs trap by their order in the list."""


def trapped(
    coverages: Sequence[U8], *, lightness: Sequence[float], trap_px: float, tones: Sequence[Bool | None] | None = None
) -> list[U8]:
    """Return each plane with its trap: grown by ``trap_px`` under touching darker inks, unchanged elsewhere."""
    planes = list(coverages)
    if trap_px <= 0 or len(planes) < 2:
        return planes
    tones = tones or [None] * len(planes)
    rank = {index: place for place, index in enumerate(sorted(range(len(planes)), key=lambda i: -lightness[i]))}
    out: list[U8] = []
    for i, plane in enumerate(planes):
        darker = [planes[j] for j in range(len(planes)) if rank[j] > rank[i]]
        out.append(_trap_one(plane, darker, trap_px, tones[i]) if darker and plane.any() else plane)
    return out


def _trap_one(plane: U8, darker: Sequence[U8], trap_px: float, tone: Bool | None) -> U8:
    over = _summed([plane, *darker])
    grown = np.minimum(spread(plane, trap_px, tone=tone), over)
    new = np.where(grown > plane, np.uint8(255), np.uint8(0))
    if not new.any():
        return plane
    half_way = nearer_to(plane, 255 - over, reach_px=2 * trap_px + 2, where=new)
    return np.maximum(plane, np.minimum(grown, np.maximum(half_way, plane)))


def _summed(planes: Sequence[U8]) -> U8:
    """Return the sum of coverages, at most solid, without a wide copy of the whole picture."""
    total = planes[0].copy()
    for plane in planes[1:]:
        np.add(total, np.minimum(plane, 255 - total), out=total)
    return total
