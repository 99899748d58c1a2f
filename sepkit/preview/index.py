"""A print as runs: each distinct combination of coverages once, and which of them the pixels of each run are.

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
    """(h,) uint32, how many runs each row has."""
    lengths: Array
    """(runs,) uint32, pixels of each run, from left to right, row after row."""
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
    keys = np.unique(np.concatenate([band.found for band in bands]))
    runs_of = np.zeros(len(keys), np.int64)
    for band in bands:
        runs_of[np.searchsorted(keys, band.found)] += band.count
    common = np.argsort(-runs_of, kind="stable")
    rank = np.empty(len(keys), np.uint32)
    rank[common] = np.arange(len(keys), dtype=np.uint32)
    lengths, ids = np.empty((2, int(runs_of.sum())), np.uint32)
    in_row = np.concatenate([band.in_row for band in bands])
    after = len(ids)
    while bands:  # each is let go of as it is numbered
        band = bands.pop()
        here = slice(after - len(band.which), after)
        lengths[here], ids[here] = band.lengths, rank[np.searchsorted(keys, band.found)][band.which]
        after = here.start
    levels, dots = unpacked_keys(keys[common], count)
    tables = np.ascontiguousarray(levels.T), np.ascontiguousarray(dots.T)
    return StackIndex((height, width), in_row, lengths, ids, *tables, top_level(count))


@dataclass(frozen=True, slots=True, eq=False)
class _Runs:
    """Runs of a band: the keys that occur, of how many runs each, and which of them each run has."""

    found: Array
    count: Array
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
    found, which, count = np.unique(keys, return_inverse=True, return_counts=True)
    return _Runs(
        found,
        count,
        which.astype(np.uint32),
        np.diff(at, append=first.size).astype(np.uint32),
        np.bincount(at // width, minlength=height).astype(np.uint32),
    )
