"""Rows of a film without dots: only where its plane holds an edge is it enlarged.

In: a coverage plane (h, w) uint8 and how film pixels lie on it. Out: packed rows (n, ceil(width / 8)), MSB first,
1 = ink. A film is cut into cells of CELL_ROWS by CELL_COLUMNS film pixels. A cell whose source pixels, taps included,
are all bare or all solid is that too, for weights sum to their unit; all others of a strip are enlarged at once, each
by a matrix across and one down. Weights are whole numbers, so sums are exact in any order: the same bits come for any
cells and any window.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from sepkit.film.outline import (
    ACROSS_UNIT,
    CELL_COLUMNS,
    DOWN_UNIT,
    HALF,
    LEVELS,
    Window,
    cells_across,
    matrix_down,
    tap_weights,
)

if TYPE_CHECKING:
    from sepkit.model import U8

CELL_ROWS = 64
LEAST_INK = np.float32(HALF + 1)
"""Coverage counts as whole 1/64 of a level: above one half begins here."""


class CrispRows:
    """Packed rows of one window of a plate; holds tables, no rows."""

    def __init__(self, coverage: U8, *, step_x: float, step_y: float, window: Window, mirror: bool) -> None:
        self.coverage, self.width = coverage, window.width
        base, weights = tap_weights(window.x, window.width, step=step_x, unit=ACROSS_UNIT)
        if mirror:
            base, weights = base[::-1], weights[::-1]
        first, self.matrices = cells_across(base, weights)
        columns = first[:, None] + np.arange(self.matrices.shape[1])
        self.columns = np.clip(columns, 0, coverage.shape[1] - 1)
        # Where the columns of each cell start and end, as ``reduceat`` asks: what lies between two cells is not used.
        self.spans = np.stack([self.columns.min(axis=1), self.columns.max(axis=1) + 1], axis=1).ravel()
        self.beyond = np.zeros(1, np.uint8)
        base, weights = tap_weights(window.y, window.height, step=step_y, unit=DOWN_UNIT)
        self.rows = np.clip(base[:, None] + np.arange(weights.shape[1]), 0, len(coverage) - 1)
        self.weights = weights * np.float32(LEVELS / (ACROSS_UNIT * DOWN_UNIT))

    def band(self, start: int, stop: int) -> U8:
        """Return the packed rows ``start:stop`` of the window."""
        count = len(self.columns)
        out = np.zeros((stop - start, count, CELL_COLUMNS // 8), np.uint8)
        for top in range(start, stop, CELL_ROWS):
            self._fill(out[top - start : top - start + CELL_ROWS], top)
        rows = out.reshape(stop - start, count * CELL_COLUMNS // 8)[:, : -(-self.width // 8)]
        if self.width % 8:
            rows[:, -1] &= 0xFF << (8 - self.width % 8) & 0xFF
        return rows

    def _fill(self, out: U8, top: int) -> None:
        """Fill (rows, cells, bytes) from window row ``top`` on; it comes as zeros."""
        taps = self.rows[top : top + len(out)]
        low = int(taps[0, 0])
        source = self.coverage[low : int(taps[-1, -1]) + 1]
        least = np.minimum.reduceat(np.append(source.min(axis=0), self.beyond), self.spans)[::2]
        most = np.maximum.reduceat(np.append(source.max(axis=0), self.beyond), self.spans)[::2]
        out[:, least == 255] = 255
        edge = np.flatnonzero((most > 0) & (least < 255))
        if not len(edge):
            return
        _, matrix = matrix_down(low, taps, self.weights[top : top + len(out)])
        cells = source[:, self.columns[edge]].transpose(1, 0, 2).astype(np.float32, order="C")
        wide = np.matmul(cells, self.matrices[edge])
        out[:, edge] = np.packbits(np.matmul(matrix, wide) >= LEAST_INK, axis=2).transpose(1, 0, 2)
