"""Row bands: work on tall pictures a few rows at a time, with a halo where neighbours matter.

Array in, array out; no I/O.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

if TYPE_CHECKING:
    from sepkit.model import U8


@dataclass(frozen=True, slots=True)
class Band:
    """Rows ``start:stop`` to produce, and rows ``outer_start:outer_stop`` to read for them."""

    start: int
    stop: int
    outer_start: int
    outer_stop: int

    @property
    def inner(self) -> slice:
        """The produced rows as a slice of the read rows."""
        return slice(self.start - self.outer_start, self.stop - self.outer_start)


def row_bands(height: int, rows: int, *, halo: int = 0) -> Iterator[Band]:
    """Yield bands of at most ``rows`` rows that cover ``height``, each with up to ``halo`` more on both sides.

    >>> [(b.start, b.stop, b.outer_start, b.outer_stop) for b in row_bands(5, 2, halo=1)]
    [(0, 2, 0, 3), (2, 4, 1, 5), (4, 5, 3, 5)]
    """
    for start in range(0, height, rows):
        stop = min(start + rows, height)
        yield Band(start, stop, max(0, start - halo), min(height, stop + halo))


def pack_bits(ink: np.ndarray[Any, np.dtype[np.bool_]]) -> U8:
    """Pack a (rows, width) boolean ink map to (rows, ceil(width / 8)) bytes, MSB first, bit 1 = ink.

    >>> pack_bits(np.array([[1, 0, 0, 0, 0, 0, 0, 1, 1]], bool)).tolist()
    [[129, 128]]
    """
    return np.packbits(ink, axis=1)


def check_coverage(coverage: U8, *, name: str = "coverage") -> None:
    """Raise ValueError unless ``coverage`` is a (h, w) uint8 plane."""
    if coverage.ndim != 2 or coverage.dtype != np.uint8:
        raise ValueError(f"{name} must be a (h, w) uint8 plane, got {coverage.shape} {coverage.dtype}")
