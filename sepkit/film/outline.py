"""Soft coverage to film resolution: bicubic, exact, the same for every band height and every window.

In: a coverage plane (h, w) uint8, 0 none, 255 solid, and its size in mm. Out: int16 rows at film resolution in
1/64 of a coverage level (0..16320, with the overshoot of the kernel). Edges stay soft until the threshold: a hard
1-bit picture enlarged shows its stair steps on the screen.

Film pixel i lies at source position (i + 1/2) * step - 1/2, step = source pixels per film pixel, from the absolute
index i: nothing accumulates, so bands join without a seam at any ratio. Kernel weights are whole 1/128 (across) and
1/256 (down), so that every float32 sum is exact (below 2^24) and does not depend on the order of addition.

Sources: R. G. Keys, "Cubic convolution interpolation for digital image processing", IEEE Trans. ASSP 29 (1981),
with the parameter a = -0.75, which follows antialiased edges closest (measured against vector truth).
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

if TYPE_CHECKING:
    from sepkit.model import F32, U8

I16 = np.ndarray[Any, np.dtype[np.int16]]
I64 = np.ndarray[Any, np.dtype[np.int64]]

LEVELS = 64
"""Film rows count coverage in this many parts of an 8-bit level."""
SOLID = 255 * LEVELS
HALF = SOLID // 2
KEYS_A = -0.75
ACROSS_UNIT = 128
DOWN_UNIT = 256
CELL_COLUMNS = 64
"""Film pixels that are enlarged at once; a multiple of 8, so that cells of a packed row are whole bytes. In films
without dots cells of 32 pixels took a half longer, of 96 a fifth."""
LEAST_CELL = 24
MOST_PRODUCT = 1 << 18
"""Multiplications per matrix product that linear algebra libraries keep on one thread. More threads gain nothing on
these sizes, and stall when plates share the cores."""


@dataclass(frozen=True, slots=True)
class Window:
    """Part of a film, in film pixels from the plate's top left."""

    x: int
    y: int
    width: int
    height: int


def keys_kernel(t: np.ndarray[Any, np.dtype[np.float64]]) -> np.ndarray[Any, np.dtype[np.float64]]:
    """Return the cubic convolution kernel at distances ``t`` (source pixels), 0 beyond 2."""
    a = KEYS_A
    t = np.abs(t)
    near = ((a + 2) * t - (a + 3)) * t * t + 1
    far = ((a * t - 5 * a) * t + 8 * a) * t - 4 * a
    return np.where(t <= 1, near, np.where(t < 2, far, 0.0))


def tap_weights(first: int, count: int, *, step: float, unit: int) -> tuple[I64, F32]:
    """Return where the taps of film pixels ``first``.. start, and their weights.

    Returns (count,) source indices of the first tap, which may lie outside the picture (edges repeat), and
    (count, taps) float32 whole numbers that sum to ``unit`` in each row. The kernel widens when ``step`` > 1.
    """
    centre = (np.arange(first, first + count, dtype=np.float64) + 0.5) * step - 0.5
    wide = max(1.0, step)
    reach = math.ceil(2 * wide)
    base = np.floor(centre).astype(np.int64) - reach + 1
    taps = base[:, None] + np.arange(2 * reach)
    raw = keys_kernel((taps - centre[:, None]) / wide)
    whole = np.rint(raw / raw.sum(axis=1, keepdims=True) * unit)
    # The largest tap takes what rounding left, so that flat coverage stays flat.
    rows = np.arange(count)
    whole[rows, np.argmax(whole, axis=1)] += unit - whole.sum(axis=1)
    return base, whole.astype(np.float32)


def film_size_px(width_mm: float, height_mm: float, dpi: float) -> tuple[int, int]:
    """Return (width, height) of a print in whole film pixels, at least 1 x 1."""
    return max(1, round(width_mm * dpi / 25.4)), max(1, round(height_mm * dpi / 25.4))


class Upsampler:
    """Coverage rows at film resolution for one window of a plate."""

    def __init__(self, coverage: U8, *, step_x: float, step_y: float, window: Window) -> None:
        self.coverage = coverage
        self.step_y = step_y
        self.window = window
        cell = _even_cell(step_x)
        whole = -(-window.width // cell) * cell
        first, self.matrices = cells_across(*tap_weights(window.x, whole, step=step_x, unit=ACROSS_UNIT), cell)
        self.reach = self.matrices.shape[1]
        self.first = first - first[0]
        self.stride = max(1, round(step_x * cell))
        self.even = np.array_equal(self.first, self.stride * np.arange(len(first)))
        if self.even and (self.matrices == self.matrices[0]).all():
            self.matrices = self.matrices[:1]
        self.left, self.right = int(first[0]), int(first[-1]) + self.reach

    def taps_down(self, start: int, stop: int) -> tuple[I64, F32]:
        """Return which source rows film rows ``start:stop`` of the window read, edges repeated, and their weights."""
        base, weights = tap_weights(self.window.y + start, stop - start, step=self.step_y, unit=DOWN_UNIT)
        rows = np.clip(base[:, None] + np.arange(weights.shape[1]), 0, self.coverage.shape[0] - 1)
        return rows, weights * np.float32(LEVELS / (ACROSS_UNIT * DOWN_UNIT))

    def across(self, start: int, stop: int) -> F32:
        """Return source rows ``start:stop`` enlarged across: (n, window width) float32 in 1/128 level."""
        source = self._columns(start, stop)
        if self.even:  # cells as windows of one array: nothing is copied
            cells = _windows(source, self.reach)[:: self.stride]
        else:
            cells = _windows(source, self.reach)[self.first].astype(np.float32)
        count, height, _ = cells.shape
        cell = self.matrices.shape[2]
        out = np.empty((height, count, cell), np.float32)
        rows = max(1, MOST_PRODUCT // (self.reach * cell))
        for y in range(0, height, rows):
            np.matmul(cells[:, y : y + rows], self.matrices, out=np.moveaxis(out[y : y + rows], 1, 0))
        return out.reshape(height, count * cell)[:, : self.window.width]

    def down(self, wide: F32, first_source: int, rows: I64, weights: F32) -> I16:
        """Return film rows as int16 (n, window width) in 1/64 level, from rows of taps_down.

        ``wide`` holds the source rows from ``first_source`` on, as ``across`` returned them.
        """
        return rows_down(wide, *matrix_down(first_source, rows, weights))

    def _columns(self, start: int, stop: int) -> Any:
        """Return source rows with the columns that cells read, edges repeated, float32 where nothing is copied."""
        width = self.coverage.shape[1]
        rows = self.coverage[start:stop]
        out = np.empty((stop - start, self.right - self.left), np.float32 if self.even else np.uint8)
        low, high = max(0, self.left), min(width, self.right)
        inner = slice(low - self.left, high - self.left)
        out[:, inner] = rows[:, low:high]
        out[:, : inner.start] = rows[:, :1]
        out[:, inner.stop :] = rows[:, width - 1 :]
        return out


def matrix_down(first_source: int, rows: I64, weights: F32) -> tuple[slice, F32]:
    """Return which of the source rows from ``first_source`` on film rows of taps_down read, and the matrix for them."""
    low, high = int(rows[0, 0]) - first_source, int(rows[-1, -1]) + 1 - first_source
    matrix = np.zeros((rows.shape[0], high - low), np.float32)
    # Taps beyond the edge fall together on the edge row: add, do not assign.
    np.add.at(matrix, (np.arange(rows.shape[0])[:, None], rows - first_source - low), weights)
    return slice(low, high), matrix


def rows_down(wide: F32, source: slice, matrix: F32) -> I16:
    """Return film rows as int16 (n, width) in 1/64 level, from source rows enlarged across and their matrix.

    Products stay below the size from which linear algebra libraries start threads of their own.
    """
    out = np.empty((matrix.shape[0], wide.shape[1]), np.int16)
    columns = max(16, MOST_PRODUCT // matrix.size)
    for x in range(0, wide.shape[1], columns):
        out[:, x : x + columns] = matrix @ wide[source, x : x + columns]
    return out


def _windows(rows: Any, reach: int) -> Any:
    """Return the windows of so many columns of rows (h, w), (w - reach + 1, h, reach), as a view."""
    return np.moveaxis(np.lib.stride_tricks.sliding_window_view(rows, reach, axis=1), 1, 0)


def _even_cell(step: float) -> int:
    """Return how many film pixels a cell has so that cells lie whole source pixels apart; where none does, a usual."""
    for count in range(LEAST_CELL, CELL_COLUMNS + 1):
        if step * count > 0.5 and abs(step * count - round(step * count)) < 1e-9:
            return count
    return CELL_COLUMNS


def cells_across(base: I64, weights: F32, cell: int = CELL_COLUMNS) -> tuple[I64, F32]:
    """Return the first source column (cells,) that each cell of so many film pixels reads, and its matrix.

    ``base`` and ``weights`` are those of ``tap_weights`` for a row of a film. Matrices are (cells, n, cell) float32
    for the n source columns from the first one on; these may lie outside the picture.
    """
    count, taps = -(-len(base) // cell), weights.shape[1]
    at = np.minimum(np.arange(count * cell), len(base) - 1).reshape(count, cell)
    first = base[at].min(axis=1)
    rows = base[at] - first[:, None]
    matrices = np.zeros((count, int(rows.max()) + taps, cell), np.float32)
    taps_at = rows[..., None] + np.arange(taps)
    matrices[np.arange(count)[:, None, None], taps_at, np.arange(cell)[:, None]] = weights[at]
    return first, matrices
