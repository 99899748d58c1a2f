"""A print as one number a pixel: each distinct combination of coverages once, and which of them each pixel is.

In: planes in print order with their tones, as preview/stack.py takes them. Out: a StackIndex. Lifting a screen, another
ink or other coats change the colours of the combinations, never the pixels: whoever holds the index redraws the print
from a small table. Pixels are held as runs of one combination along their rows: flat art has one for thirty pixels or
more, so that whoever draws, halves or moves it walks runs. Work is done in row bands.
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


@dataclass(frozen=True, slots=True, eq=False)
class StackIndex:
    """Which combination of coverages each pixel is."""

    shape: tuple[int, int]
    """Height and width in pixels."""
    in_row: Array
    """(h,) int64, how many runs each row has."""
    lengths: Array
    """(runs,) int64, pixels of each run, from left to right, row after row."""
    ids: Array
    """(runs,) uint32, the combination of each run; the lowest are those of most runs."""
    levels: U8
    """(combinations, plates) coverage, 0 to ``top``."""
    dots: Bool
    """(combinations, plates) where the plate is a dot of a halftone; elsewhere part coverage is a soft edge."""
    top: int
    """The level that stands for solid."""

    def pixels(self) -> Array:
        """Return the combination of each pixel, (h, w) uint32."""
        return np.repeat(self.ids, self.lengths).reshape(self.shape)

    def counts(self) -> Array:
        """Return how many pixels each combination has, (combinations,) int64."""
        return np.bincount(self.ids, weights=self.lengths, minlength=len(self.levels)).astype(np.int64)


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
    bands = [
        _runs([plane[rows] for plane in planes], [None if mask is None else mask[rows] for mask in tones])
        for rows in (slice(band.start, band.stop) for band in row_bands(height, rows_at_once))
    ]
    keys = np.unique(np.concatenate([band.found for band in bands])) if bands else np.zeros(0, np.uint64)
    at = [np.searchsorted(keys, band.found)[band.which] for band in bands]
    ids = np.concatenate(at) if at else np.zeros(0, np.int64)
    common = np.argsort(-np.bincount(ids, minlength=len(keys)), kind="stable")
    rank = np.empty(len(keys), np.uint32)
    rank[common] = np.arange(len(keys), dtype=np.uint32)
    levels, dots = unpacked_keys(keys[common], count)
    none = np.zeros(0, np.int64)
    return StackIndex(
        (height, width),
        np.concatenate([band.in_row for band in bands]) if bands else none,
        np.concatenate([band.lengths for band in bands]) if bands else none,
        rank[ids],
        levels.T.astype(np.uint8),
        np.ascontiguousarray(dots.T),
        top_level(count),
    )


@dataclass(frozen=True, slots=True, eq=False)
class _Runs:
    """Runs of a band: the keys that occur, and which of them each run has."""

    found: Array
    which: Array
    lengths: Array
    in_row: Array


def _runs(planes: Sequence[U8], tones: Sequence[Bool | None]) -> _Runs:
    height, width = planes[0].shape
    first = np.zeros((height, width), bool)
    first[:, 0] = True
    for plane in [*planes, *(mask for mask in tones if mask is not None)]:
        first[:, 1:] |= plane[:, 1:] != plane[:, :-1]
    at = np.flatnonzero(first)
    keys = packed_keys(
        [plane.ravel()[at] for plane in planes], [None if mask is None else mask.ravel()[at] for mask in tones]
    )
    kept = np.concatenate([[True], (keys[1:] != keys[:-1]) | (at[1:] % width == 0)])  # a tone's mask ends on solid ink
    at, keys = at[kept], keys[kept]
    found, which = np.unique(keys, return_inverse=True)
    in_row = np.bincount(at // width, minlength=height)
    return _Runs(found, which, np.diff(np.append(at, first.size)), in_row)
