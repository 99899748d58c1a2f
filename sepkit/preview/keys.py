"""A pixel's combination of coverages as one number: each plate's level, and whether it is a dot, in 64 bits.

In: planes (h, w) uint8 in print order, masks of tone. Out: keys (h, w) uint64, and back.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

import numpy as np

if TYPE_CHECKING:
    from sepkit.model import U8, Bool

Array = np.ndarray[Any, np.dtype[Any]]

MOST_PLATES = 15
"""Keys hold a level and a tone flag of each plate in 64 bits; beyond 15 plates the levels get too coarse."""
MOST_LEVEL_BITS = 8
"""Up to seven plates keep every level of coverage; more plates share the bits of a key."""


def level_bits(count: int) -> int:
    """Return in how many bits a key of so many plates holds each one's coverage."""
    return min(MOST_LEVEL_BITS, 64 // count - 1)


def top_level(count: int) -> int:
    """Return what stands for solid in a key of so many plates."""
    return (1 << level_bits(count)) - 1


def packed_keys(planes: Sequence[U8], tones: Sequence[Bool | None]) -> Array:
    """Return a key for each pixel's combination: each plate's coverage, and whether it is a dot. uint64, as planes."""
    bits = level_bits(len(planes))
    levels = np.rint(np.arange(256) * ((1 << bits) - 1) / 255).astype(np.uint16)
    keys = np.zeros(planes[0].shape, np.uint64)
    for i, (plane, tone) in enumerate(zip(planes, tones, strict=True)):
        field = plane.astype(np.uint16) if bits == MOST_LEVEL_BITS else levels[plane]
        if tone is not None:
            soft = ((plane - np.uint8(1)) < 254) & tone  # 0 wraps to 255
            field |= soft.astype(np.uint16) << np.uint16(bits)
        keys |= field.astype(np.uint64) << np.uint64(i * (bits + 1))
    return keys


def unpacked_keys(keys: Array, count: int) -> tuple[U8, Bool]:
    """Return what keys (n,) hold: levels (count, n) of ``top_level``, and (count, n) bool where the plate is a dot."""
    bits = level_bits(count)
    levels, dots = np.empty((count, len(keys)), np.uint8), np.empty((count, len(keys)), bool)
    for i in range(count):
        field = keys >> np.uint64(i * (bits + 1))
        levels[i] = field & np.uint64((1 << bits) - 1)
        dots[i] = (field >> np.uint64(bits)) & np.uint64(1)
    return levels, dots
