"""Shares of tones by their colour: solved at the corners of small cells of the colour cube and interpolated between.

In: colours in 8-bit levels or fractions of them, and what solves a colour exactly. Out: shares of each. A gradient has
millions of pixels and few colours, so the cost follows the part of the cube that is used, not the area. Where a plan
bends inside a cell (a cell of the hull ends there, or a plain tint does), interpolation errs: that is measured at
points within each cell, and such cells are divided once and then solved colour by colour. Trilinear interpolation of
a colour table as in ISO 15076-1 (profiles, ``colorimetry.tables``); the measure is this module's own.
"""

from __future__ import annotations

from collections.abc import Callable
from itertools import product
from typing import TYPE_CHECKING, Any

import numpy as np

from sepkit.colorimetry.tables import ColourTable

if TYPE_CHECKING:
    from sepkit.model import U8

Array = np.ndarray[Any, np.dtype[Any]]
Solve = Callable[[Array], Array]
"""(n, 3) levels to (n, k) shares."""

PARTS = (64, 128)
"""Cells along a side of the cube: four levels, then two."""
LEAST_PIXELS = 24
"""Cells with fewer pixels cost more to make than their pixels do to solve."""
MOST_ERROR = 0.5 / 255
"""Error of a share, at any point asked, up to which a cell is interpolated: what rounding takes."""
FINE = 8
"""Parts of a level in which what is left is solved."""
CHUNK = 1 << 13
"""Colours worked at once, for the cache."""
CORNERS = np.array(list(product((0, 1), repeat=3)))
"""Those of a cell."""
PROBES = (
    np.array([(4, 4, 4), (1, 2, 6), (6, 1, 2), (2, 6, 1), (7, 7, 6), (1, 1, 1), (5, 7, 3), (3, 1, 7)], np.float32) / 8
)
"""Places in a cell, as parts of its side, at which interpolation is held against the exact shares."""


def shares_by_colour(levels: Array, solve: Solve) -> U8:
    """Return (n, k) uint8 shares, 255 for all, of (n, 3) float32 levels 0..255."""
    if not len(levels):
        return np.zeros((0, 0), np.uint8)
    levels = np.asarray(levels, np.float32)
    out = np.zeros((len(levels), solve(levels[:1]).shape[1]), np.uint8)
    left = np.arange(len(levels))
    for parts in PARTS:
        cell = np.empty(len(left), np.int32)
        for start in range(0, len(left), CHUNK):
            some = slice(start, start + CHUNK)
            cell[some] = _cell_numbers(levels.take(left[some], axis=0), parts)
        many = np.flatnonzero(np.bincount(cell, minlength=parts**3) >= LEAST_PIXELS)
        table, is_even = _table_of(many, parts, solve)
        even = is_even[cell]
        here = left[even]
        for start in range(0, len(here), CHUNK):
            rows = here[start : start + CHUNK]
            out[rows] = _rounded(table.at(levels.take(rows, axis=0))).T
        left = left[~even]
    fine = np.rint(levels.take(left, axis=0) * FINE).astype(np.uint64)
    packed = fine[:, 0] << np.uint64(40) | fine[:, 1] << np.uint64(20) | fine[:, 2]
    keys, own = np.unique(packed, return_inverse=True)
    exact = np.stack([keys >> np.uint64(s) & np.uint64(0xFFFFF) for s in (40, 20, 0)], axis=1) / FINE
    out[left] = _rounded(solve(exact))[own]
    return out


def _rounded(shares: Array) -> U8:
    return np.asarray(np.rint(shares * np.float32(255)).astype(np.uint8))


def _cell_numbers(levels: Array, parts: int) -> Array:
    """Return the number of the cell that each colour lies in, int32."""
    first = np.minimum(levels * np.float32(parts / 255), parts - 1).astype(np.int32)
    return np.asarray((first[:, 0] * parts + first[:, 1]) * parts + first[:, 2])


def _table_of(cells: Array, parts: int, solve: Solve) -> tuple[ColourTable, Array]:
    """Return a table of shares at the corners of some cells, and which of the cube's cells (parts^3 bool) are even."""
    even = np.zeros(parts**3, bool)
    first = np.stack(np.unravel_index(cells, (parts,) * 3), axis=1)
    used = np.zeros((parts + 1) ** 3, bool)
    for offset in CORNERS:
        used[np.ravel_multi_index(tuple((first + offset).T), (parts + 1,) * 3)] = True
    corners = np.flatnonzero(used)
    row = np.zeros(len(used), np.int32)
    row[corners] = np.arange(len(corners))
    step = 255 / parts
    nodes = solve(np.stack(np.unravel_index(corners, (parts + 1,) * 3), axis=1) * step)
    table = ColourTable(np.ascontiguousarray(nodes.T, np.float32), row, parts)
    for probe in PROBES:
        asked = (first + probe) * step
        error = np.abs(table.at(asked) - solve(asked).T)
        good = error.max(axis=0, initial=0) <= MOST_ERROR
        cells, first = cells[good], first[good]
    even[cells] = True
    return table, even
