"""A print as one number a pixel: each distinct combination of coverages once, and which of them each pixel is.

In: planes in print order with their tones, as preview/stack.py takes them. Out: a StackIndex. Lifting a screen, another
ink or other coats change the colours of the combinations, never the pixels: whoever holds the index redraws the print
from a small table. Work is done in row bands.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from sepkit.coverage.bands import check_coverage, row_bands
from sepkit.preview.keys import MOST_PLATES, packed_keys, top_level, unpacked_keys
from sepkit.preview.stack import BAND_PIXELS

if TYPE_CHECKING:
    from sepkit.model import U8, Bool

Array = np.ndarray[Any, np.dtype[Any]]
MOST_SHORT = 1 << 16
"""So many combinations are numbered in two bytes; more take four."""


@dataclass(frozen=True, slots=True, eq=False)
class StackIndex:
    """Which combination of coverages each pixel is."""

    pixels: Array
    """(h, w) uint16, or uint32 where there are more than MOST_SHORT combinations."""
    levels: U8
    """(combinations, plates) coverage, 0 to ``top``."""
    dots: Bool
    """(combinations, plates) where the plate is a dot of a halftone; elsewhere part coverage is a soft edge."""
    top: int
    """The level that stands for solid."""


def stack_index(planes: Sequence[U8], tones: Sequence[Bool | None]) -> StackIndex:
    """Return the index of planes (h, w) uint8 with their masks of tone. Raises ValueError as ``stack_rgb`` does."""
    count = len(planes)
    if not 1 <= count <= MOST_PLATES:
        raise ValueError(f"{count} plates: 1 to {MOST_PLATES} can be stacked")
    for plane in planes:
        check_coverage(plane)
        if plane.shape != planes[0].shape:
            raise ValueError(f"plates of different size: {plane.shape} and {planes[0].shape}")
    height, width = planes[0].shape
    rows_at_once = max(1, BAND_PIXELS // max(width, 1))
    bands = [slice(band.start, band.stop) for band in row_bands(height, rows_at_once)]
    found = [np.unique(_keys(planes, tones, rows)) for rows in bands]
    keys = np.unique(np.concatenate(found)) if found else np.zeros(0, np.uint64)
    pixels = np.empty((height, width), np.uint16 if len(keys) <= MOST_SHORT else np.uint32)
    for rows in bands:
        pixels[rows] = np.searchsorted(keys, _keys(planes, tones, rows))
    levels, dots = unpacked_keys(keys, count)
    return StackIndex(pixels, levels.T.astype(np.uint8), np.ascontiguousarray(dots.T), top_level(count))


def _keys(planes: Sequence[U8], tones: Sequence[Bool | None], rows: slice) -> Array:
    return packed_keys([plane[rows] for plane in planes], [None if mask is None else mask[rows] for mask in tones])
