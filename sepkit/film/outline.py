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
BLOCK = 64
LEAST_PERIOD = 24
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
        base, weights = tap_weights(window.x, window.width, step=step_x, unit=ACROSS_UNIT)
        self.taps = weights.shape[1]
        self.left = int(base[0])
        self.right = int(base[-1]) + self.taps
        self.columns = np.clip(np.arange(self.left, self.right), 0, coverage.shape[1] - 1)
        self.period, self.times = _period(base, weights, step_x)
        self.blocks = [
            _block(base[a : a + BLOCK], weights[a : a + BLOCK], self.left, a)
            for a in range(self.period * self.times, window.width, BLOCK)
        ]
        if self.times:
            self.stride = int(base[self.period] - base[0])
            self.repeated = _block(base[: self.period], weights[: self.period], self.left, 0)[2]

    def taps_down(self, start: int, stop: int) -> tuple[I64, F32]:
        """Return which source rows film rows ``start:stop`` of the window read, edges repeated, and their weights."""
        base, weights = tap_weights(self.window.y + start, stop - start, step=self.step_y, unit=DOWN_UNIT)
        rows = np.clip(base[:, None] + np.arange(weights.shape[1]), 0, self.coverage.shape[0] - 1)
        return rows, weights * np.float32(LEVELS / (ACROSS_UNIT * DOWN_UNIT))

    def across(self, start: int, stop: int) -> F32:
        """Return source rows ``start:stop`` enlarged across: (n, window width) float32 in 1/128 level."""
        source = self._columns(start, stop)
        out = np.empty((source.shape[0], self.window.width), np.float32)
        if self.times:
            self._repeat(source, out)
        for at, low, matrix in self.blocks:
            rows = max(1, MOST_PRODUCT // matrix.size)
            for y in range(0, source.shape[0], rows):
                part = source[y : y + rows, low : low + matrix.shape[0]]
                np.matmul(part, matrix, out=out[y : y + rows, at : at + matrix.shape[1]])
        return out

    def _repeat(self, source: F32, out: F32) -> None:
        """Fill the periods of ``out``: windows of the source that overlap, times one matrix, in one call."""
        taps = self.repeated.shape[0]
        rows = max(1, MOST_PRODUCT // self.repeated.size)
        for y in range(0, source.shape[0], rows):
            part = source[y : y + rows]
            windows = np.lib.stride_tricks.as_strided(
                part, (self.times, part.shape[0], taps), (self.stride * part.itemsize, *part.strides), writeable=False
            )
            into = out[y : y + rows, : self.times * self.period].reshape(part.shape[0], self.times, self.period)
            np.matmul(windows, self.repeated, out=into.transpose(1, 0, 2))

    def down(self, wide: F32, first_source: int, rows: I64, weights: F32) -> I16:
        """Return film rows as int16 (n, window width) in 1/64 level, from rows of taps_down.

        ``wide`` holds the source rows from ``first_source`` on, as ``across`` returned them.
        """
        return rows_down(wide, *matrix_down(first_source, rows, weights))

    def _columns(self, start: int, stop: int) -> F32:
        width = self.coverage.shape[1]
        rows = self.coverage[start:stop]
        out = np.empty((stop - start, self.right - self.left), np.float32)
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


def _period(base: I64, weights: F32, step: float) -> tuple[int, int]:
    """Return after how many film pixels the taps repeat, and how many times they do; 0, 0 when they do not."""
    for period in range(LEAST_PERIOD, min(BLOCK, len(base) // 2) + 1):
        source = round(step * period)
        if abs(step * period - source) > 1e-9 or source < 1:
            continue
        times = len(base) // period
        first, rest = base[: times * period].reshape(times, period), weights[: times * period]
        if (
            np.array_equal(first, first[0] + source * np.arange(times)[:, None])
            and (rest.reshape(times, period, -1) == rest[:period]).all()
        ):
            return period, times
    return 0, 0


def _block(base: I64, weights: F32, left: int, at: int) -> tuple[int, int, F32]:
    low = int(base[0])
    matrix = np.zeros((int(base[-1]) - low + weights.shape[1], len(base)), np.float32)
    rows = (base - low)[:, None] + np.arange(weights.shape[1])
    matrix[rows, np.arange(len(base))[:, None]] = weights
    return at, low - left, matrix
