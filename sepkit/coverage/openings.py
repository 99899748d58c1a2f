"""What an opening leaves of a mask, asked at few of its pixels: nothing else of the plane is worked.

In: a mask (h, w) bool, and which of its pixels are asked. Out: which of these an opening (choke, then spread back)
takes. The same, bit for bit, as ``reach.choke`` and ``reach.spread`` of the mask give there.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

if TYPE_CHECKING:
    from sepkit.model import U8, Bool

Array = np.ndarray[Any, np.dtype[Any]]

LEAST_LEFT = 64
"""Of 255: what an opening leaves less of than a quarter is taken."""
HALF = np.float32(0.5)
TILE_PX = 64
"""Few pixels lie in few tiles of this side; smaller ones have more room around than inside."""


def taken_at(mask: Bool, asked: Bool, half_px: float) -> Bool:
    """Return (h, w) bool: which pixels of ``asked`` keep less than a quarter when ``mask`` is opened by ``half_px``.

    ``asked`` lies in the mask. Beyond the border nothing is open when it is choked, and nothing is left to spread.
    """
    radius = math.ceil(half_px - 1) + 1
    places = np.flatnonzero(asked)
    out = np.zeros_like(mask)
    if not len(places):
        return out
    grid, at = _Grid.of(mask, places, 2 * radius + 2)
    near = _around(grid, at, radius + 1)  # a pixel farther than is spread from: what lies beside one is known
    left = _choked(grid, near, radius, half_px)
    own = left[at]
    prints = np.zeros(len(near), bool)
    for step in grid.square(1):
        prints |= left[near + step] > 127
    left[near[~prints]] = 0  # a faint pixel counts only beside one that prints, as when a plane is spread
    kept = np.maximum(own, _spread(grid, left, at, radius, half_px))
    out.reshape(-1)[places[kept < LEAST_LEFT]] = True
    return out


@dataclass(frozen=True, slots=True, eq=False)
class _Grid:
    """Tiles of a mask with room around each, one below the other, walked by flat index."""

    holes: Bool
    """Where nothing is of the mask; beyond its border there are none."""
    inside: Bool
    """Where the mask is at all."""
    width: int

    @staticmethod
    def of(mask: Bool, places: Array, margin: int) -> tuple[_Grid, Array]:
        """Return the tiles that hold some pixels of a mask, told by flat index, and where these lie in the grid."""
        height, width = mask.shape
        rows, columns = np.divmod(places, width)
        for tile in (max(TILE_PX, 2 * margin), max(mask.shape)):  # scattered pixels lie in so many: one holds all
            across, side = -(-width // tile), tile + 2 * margin
            tiles, number = np.unique(rows // tile * across + columns // tile, return_inverse=True)
            if len(tiles) * side * side <= (height + 2 * margin) * (width + 2 * margin):
                break
        holes, inside = np.zeros((len(tiles), side, side), bool), np.zeros((len(tiles), side, side), bool)
        for k, (down, right) in enumerate(zip(*(part.tolist() for part in np.divmod(tiles, across)), strict=True)):
            top, left = down * tile - margin, right * tile - margin
            own = slice(max(top, 0), top + side), slice(max(left, 0), left + side)
            part = mask[own]
            here = (
                slice(own[0].start - top, own[0].start - top + part.shape[0]),
                slice(own[1].start - left, own[1].start - left + part.shape[1]),
            )
            np.logical_not(part, out=holes[k][here])
            inside[k][here] = True
        at = (number * side + rows % tile + margin) * side + columns % tile + margin
        return _Grid(holes.reshape(-1), inside.reshape(-1), side), at

    def square(self, radius: int) -> list[int]:
        """Return the steps to all pixels of a square around one."""
        span = range(-radius, radius + 1)
        return [dy * self.width + dx for dy in span for dx in span]


def _around(grid: _Grid, at: Array, radius: int) -> Array:
    """Return the flat index of all pixels of the mask in the squares around some, each once."""
    marked = np.zeros(grid.holes.size, bool)
    for step in grid.square(radius):
        marked[at + step] = True
    marked &= grid.inside
    return np.flatnonzero(marked)


def _choked(grid: _Grid, at: Array, radius: int, half_px: float) -> U8:
    """Return the choked mask over the whole grid, known at ``at`` and 0 elsewhere."""
    steps: dict[int, list[int]] = {}
    for dy in range(-radius, radius + 1):
        for dx in range(-radius, radius + 1):
            steps.setdefault(dy * dy + dx * dx, []).append(dy * grid.width + dx)
    left = np.zeros(grid.holes.size, np.uint8)
    rest = at
    for square in sorted(steps):
        kept = np.float32(0.5 - half_px) + (np.sqrt(np.float32(square)) - HALF)  # of a pixel that far from a hole
        if kept >= 1:
            break
        met = np.zeros(len(rest), bool)
        for step in steps[square]:
            met |= grid.holes[rest + step]
        left[rest[met]] = np.rint(np.clip(kept, 0, 1) * np.float32(255))
        rest = rest[~met]
    left[rest] = 255
    return left


def _spread(grid: _Grid, left: U8, at: Array, radius: int, half_px: float) -> Array:
    """Return what is left, spread back, at ``at``: (pixels,) float32 0 to 255.

    Of a column the pixel a row nearer counts, however faint (see ``reach.edge_distance``).
    """
    nearest = np.full(len(at), np.float32(1e3))
    for dx in range(-radius, radius + 1):
        column = np.full(len(at), np.float32(1e3))
        open_ = np.arange(len(at))
        for dy in range(radius + 1):
            here = at[open_] + dx
            cover = np.maximum(left[here - dy * grid.width], left[here + dy * grid.width])
            some = cover > 0
            column[open_[some]] = _fallen(HALF - cover[some] / np.float32(255), dy)
            open_ = open_[~some]
        if dx:
            steps = np.floor(column + HALF)
            column = np.sqrt(steps * steps + np.float32(dx * dx)) + (column - steps)
        np.minimum(nearest, column, out=nearest)
    grown = np.clip(np.float32(0.5 + half_px) - nearest, 0, 1)
    return np.asarray(np.rint(grown * np.float32(255)))


def _fallen(edge: Array, rows: int) -> Array:
    """Return edges seen ``rows`` farther off: powers of two added one by one, so that they round as a plane's do."""
    step = 1
    while step <= rows:
        if rows & step:
            edge = edge + np.float32(step)
        step *= 2
    return edge
