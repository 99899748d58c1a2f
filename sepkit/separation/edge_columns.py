"""Which columns of a picture change within a strip of rows: only there can anything but solid colour be.

Flat art is nearly all solid. In a strip of a few rows most columns hold one value from top to bottom; what is asked of
their pixels is asked of one row. One pass over the bytes finds the others, which are worked as a narrow picture.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from sepkit.coverage.bands import Band, row_bands

if TYPE_CHECKING:
    from sepkit.model import U8

Array = np.ndarray[Any, np.dtype[Any]]

ROWS = 32
"""Rows of a strip: fewer cost more steps, more let an edge cross more columns."""


@dataclass(frozen=True, slots=True, eq=False)
class Strip:
    """Rows ``band`` of a picture, and which of its (w,) columns change within them or beside them."""

    band: Band
    changes: Array

    def beside(self, px: int) -> Array:
        """Return the numbers of the columns that change or lie so near to one."""
        wide = self.changes.copy()
        for _ in range(px):
            grown = wide.copy()
            grown[1:] |= wide[:-1]
            grown[:-1] |= wide[1:]
            wide = grown
        return np.flatnonzero(wide)


def strips(rgb: U8, alpha: U8, part: tuple[int, int] = (0, 1)) -> Iterator[Strip]:
    """Yield the strips of an (h, w, 3) picture with alpha (h, w), from the top; a row above and below counts too.

    ``part`` (k, n) yields those of the k-th of n parts alone: two threads have one each.
    """
    bands = list(row_bands(len(alpha), ROWS, halo=1))
    number, parts = part
    for band in bands[len(bands) * number // parts : len(bands) * (number + 1) // parts]:
        rows = slice(band.outer_start, band.outer_stop)
        colour = _change(rgb[rows].reshape(band.outer_stop - band.outer_start, -1)).reshape(-1, 3).any(axis=1)
        yield Strip(band, colour | (_change(alpha[rows]) != 0))


def _change(rows: U8) -> U8:
    """Return for each column the bits that differ between rows above each other."""
    if len(rows) < 2:
        return np.zeros(rows.shape[1], np.uint8)
    return np.asarray(np.bitwise_or.reduce(rows[1:] ^ rows[:-1], axis=0))
