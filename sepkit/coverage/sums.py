"""Coverage planes laid together.

Coverage (h, w) uint8, 0 none, 255 solid.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from sepkit.model import U8, Bool


def summed(planes: Sequence[U8]) -> U8:
    """Return the sum of coverages, at most solid: planes that share a pixel cover it together.

    Without a wide copy of the whole picture.

    >>> half = np.full((1, 1), 200, np.uint8)
    >>> summed([half, half]).tolist()
    [[255]]
    """
    total = planes[0].copy()
    for plane in planes[1:]:
        np.add(total, np.minimum(plane, 255 - total), out=total)
    return total


def any_ink(planes: Sequence[U8]) -> Bool:
    """Return (h, w) True where any plane prints."""
    mask: Bool = planes[0] > 0
    for plane in planes[1:]:
        mask |= plane > 0
    return mask
