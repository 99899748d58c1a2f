"""Coverage planes laid together.

Coverage (h, w) uint8, 0 none, 255 solid.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

import numpy as np

from sepkit.coverage.bands import row_bands

if TYPE_CHECKING:
    from sepkit.model import F32, U8, U32, Bool

    Patch = tuple[U32, U8]
    """Flat indices of some pixels of a plane, and what is there."""

Array = np.ndarray[Any, np.dtype[Any]]

CACHED_PIXELS = 1 << 17
"""Pixels worked at once: what they need stays in the processor's cache."""
ROWS_IN_16_BITS = 257
"""Coverages that 16 bits hold the sum of: five times as fast as sums of numbers made wider one by one."""


def summed(planes: Sequence[U8]) -> U8:
    """Return the sum of coverages, at most solid: planes that share a pixel cover it together.

    Without a wide copy of the whole picture.

    >>> half = np.full((1, 1), 200, np.uint8)
    >>> summed([half, half]).tolist()
    [[255]]
    """
    total = np.empty_like(planes[0])
    for band in row_bands(len(total), max(1, CACHED_PIXELS // max(total.shape[-1], 1))):
        here = total[band.start : band.stop]
        here[...] = planes[0][band.start : band.stop]
        for plane in planes[1:]:
            np.add(here, np.minimum(plane[band.start : band.stop], 255 - here), out=here)
    return total


def raised(plane: U8, patches: Sequence[Patch]) -> U8:
    """Return a C-ordered plane with the greater of its own and what each patch holds; itself where none holds any.

    >>> raised(np.zeros((1, 3), np.uint8), [(np.array([1], np.uint32), np.array([9], np.uint8))]).tolist()
    [[0, 9, 0]]
    """
    held = [(at, values) for at, values in patches if len(at)]
    if not held:
        return plane
    out = plane.copy()
    flat = out.reshape(-1)
    for at, values in held:
        flat[at] = np.maximum(flat[at], values)
    return out


def above_at(plane: U8, other: U8 | int) -> U32:
    """Return the flat index, rising, of pixels in which a plane (h, w) is greater than another, or than a level.

    No mask of its size is made.
    """
    width = max(plane.shape[1], 1)
    found = [np.zeros(0, np.uint32)]
    for band in row_bands(len(plane), max(1, CACHED_PIXELS // width)):
        rows = slice(band.start, band.stop)
        at = np.flatnonzero(plane[rows] > (np.uint8(other) if isinstance(other, int) else other[rows]))
        found.append((at + band.start * width).astype(np.uint32))
    return np.concatenate(found)


def total_level(plane: U8) -> int:
    """Return the sum of a plane (h, w) uint8.

    >>> total_level(np.array([[255, 0, 0, 51]], np.uint8))
    306
    """
    rows = (plane[at : at + ROWS_IN_16_BITS] for at in range(0, len(plane), ROWS_IN_16_BITS))
    return sum(int(np.add.reduce(some, axis=0, dtype=np.uint16).sum(dtype=np.uint64)) for some in rows)


def mean_level(plane: U8) -> float:
    """Return the mean of a plane (h, w) uint8, 0..255."""
    return total_level(plane) / plane.size


def mean_share(plane: U8) -> float:
    """Return the share of a plane that is covered, 0..1.

    >>> mean_share(np.array([[255, 0, 0, 51]], np.uint8))
    0.3
    """
    return mean_level(plane) / 255


def any_ink(planes: Sequence[U8]) -> Bool:
    """Return (h, w) True where any plane prints."""
    mask: Bool = planes[0] > 0
    for plane in planes[1:]:
        mask |= plane > 0
    return mask


def strongest_near(plane: U8, reach_px: int) -> U8:
    """Return the strongest within ``reach_px`` of each pixel, each way: by windows that double until they are wide.

    plane: (h, w) uint8; so is what is returned.
    """
    out = plane
    for axis in (0, 1):
        lines = np.moveaxis(np.pad(out, [(reach_px, reach_px) if axis == side else (0, 0) for side in (0, 1)]), axis, 0)
        wide, window = 1, 2 * reach_px + 1
        while wide < window:
            more = min(wide, window - wide)
            lines = np.maximum(lines[:-more], lines[more:])
            wide += more
        out = np.moveaxis(lines, 0, axis)
    return np.ascontiguousarray(out)


def mean_of_whole(planes: Array, reach_px: int, *, axis: int) -> F32:
    """Return the mean of windows of ``reach_px`` each way along an axis, edges repeated, of whole numbers.

    planes: (h, w, ...) uint8 or uint16, of which no window adds up to 2^24. The same bits as SciPy's running mean
    (``uniform_filter1d``) has of them as float32: sums of whole numbers are exact in any order.
    """
    width = 2 * reach_px + 1
    around = [(reach_px, reach_px) if axis == side else (0, 0) for side in range(planes.ndim)]
    wide = np.uint16 if planes.dtype == np.uint8 and width < 256 else np.uint32
    lines: Any = np.moveaxis(np.pad(planes, around, mode="edge").astype(wide), axis, 0)
    count, at, step = planes.shape[axis], 1, 1
    total = lines[:count]
    while 2 * step < width:  # and windows of 2, 4, 8 ... pixels laid end to end, that make up the width
        lines, step = lines[:-step] + lines[step:], 2 * step
        if width & step:
            total, at = total + lines[at : at + count], at + step
    mean: F32 = np.moveaxis(total, 0, axis).astype(np.float32)
    mean /= width
    return mean
