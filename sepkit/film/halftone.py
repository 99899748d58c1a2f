"""Thresholds: coverage rows to ink, screened where the art is a tone, crisp elsewhere.

In: int16 coverage rows in 1/64 level (see outline), a screen, the tone table. Out: boolean ink.
The tone curve and the limits are folded into the thresholds, so that they cost no grey level:
ink stands where table(coverage) > rank, that is where coverage > T(rank).
"""

from __future__ import annotations

from functools import lru_cache
from typing import TYPE_CHECKING

import numpy as np

from sepkit.film.outline import HALF, I16

if TYPE_CHECKING:
    from sepkit.film.screen import Screen
    from sepkit.model import F64, Bool


CHUNK = 1 << 15


class Thresholds:
    """A screen as int16 thresholds, for rows that start anywhere on the film."""

    def __init__(self, screen: Screen, table: F64, *, x: int, width: int) -> None:
        """Prepare rows of ``width`` pixels from film column ``x``; ``table`` is tone_table()."""
        self.rows_in_tile, self.length = screen.order.shape
        self.shift, self.x, self.width = screen.shift, x, width
        tile = _leveled(screen, table.tobytes())
        # Repeated to the right so that each film row is one slice.
        times = -(-(self.length + width) // self.length)
        self.tile = np.tile(tile, (1, times))[:, : self.length + width]

    def screened(self, coverage: I16, y: int) -> Bool:
        """Return the dots of ``coverage`` rows that start at film row ``y``."""
        ink = np.empty(coverage.shape, bool)
        for i in range(coverage.shape[0]):
            q, r = divmod(y + i, self.rows_in_tile)
            at = (self.x + self.shift * q) % self.length
            np.greater(coverage[i], self.tile[r, at : at + self.width], out=ink[i])
        return ink


@lru_cache(maxsize=8)
def _leveled(screen: Screen, table: bytes) -> I16:
    """Return the thresholds of one tile; windows of a film, and films on one screen, share them."""
    levels, of_table = np.empty(screen.levels, np.int16), np.frombuffer(table)
    for start in range(0, screen.levels, CHUNK):
        ranks = (np.arange(start, min(start + CHUNK, screen.levels)) + 0.5) / screen.levels
        levels[start : start + CHUNK] = np.searchsorted(of_table, ranks, side="right") - 1
    tile: I16 = levels[screen.order]
    tile.setflags(write=False)
    return tile


def crisp(coverage: I16) -> Bool:
    """Return ink where coverage is above one half."""
    return np.asarray(coverage > HALF)
