"""The small blocks of a plane in which something varies, many of them worked at once.

Flat art is nearly all solid: distances matter near its edges alone. Blocks lie last in the arrays, (side, side, n), so
that every step over neighbours walks long rows of memory. A block belongs to one tile of ``TILE_PX``: what is asked of
a whole tile (does anything in it vary, does it hold a tone) is asked of the tile, however small its blocks are.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from sepkit.coverage.keep import kept

if TYPE_CHECKING:
    from sepkit.model import U8, Bool

Array = np.ndarray[Any, np.dtype[Any]]
Window = tuple[slice, slice]

TILE_PX = 160
"""Tiles in which flat art is told from art with edges; a multiple of every block's side."""
CELL_PX = 8
"""Squares whose least and greatest value are found in one pass over the plane."""
SIDES_PX = ((16, 32), (40, 80))
"""Halo up to which blocks have a side: they stay at least two halos wide. Above, a block is a tile."""
BATCH_PX = 1 << 17
"""Pixels worked at once, halos included: a float32 plane of them fits the processor's cache."""


@dataclass(frozen=True, slots=True, eq=False)
class Batch:
    """Blocks of one size with their halo: arrays of them are (side, side, n).

    Where all lie inside the plane they are windows of it, which NumPy copies row by row; else pixels are looked up.
    """

    rows: Array
    columns: Array
    """(n,) which blocks, counted in blocks down and across."""
    side: int
    halo: int
    shape: tuple[int, int]
    """Of the plane."""
    border: tuple[Array, Bool] | None
    """Flat index of every pixel in the plane, of the nearest inside where a halo hangs over, and which lie inside; None
    when all do."""

    @staticmethod
    def at_blocks(rows: Array, columns: Array, side: int, halo: int, shape: tuple[int, int]) -> Batch:
        """Return blocks of a plane of ``shape`` with their halo."""
        if not _at_border(rows, columns, side, halo, shape).any():
            return Batch(rows, columns, side, halo, shape, None)
        span = np.arange(side + 2 * halo)[:, None] - halo
        y, x = rows * side + span, columns * side + span
        own_y, own_x = np.clip(y, 0, shape[0] - 1), np.clip(x, 0, shape[1] - 1)
        inside = (own_y == y)[:, None] & (own_x == x)[None]
        return Batch(rows, columns, side, halo, shape, ((own_y * shape[1])[:, None] + own_x[None], inside))

    @property
    def inside(self) -> Bool | None:
        """(side, side, n) which pixels, halos included, lie in the plane; None when all do."""
        return None if self.border is None else self.border[1]

    @property
    def tile(self) -> Array:
        """(n,) which tile each block lies in, numbered along rows."""
        across = -(-self.shape[1] // TILE_PX)
        return np.asarray(self.rows * self.side // TILE_PX * across + self.columns * self.side // TILE_PX)

    def part(self, wanted: Array) -> Batch:
        """Return the blocks that are ``wanted``, (n,) bool."""
        return Batch.at_blocks(self.rows[wanted], self.columns[wanted], self.side, self.halo, self.shape)

    def of(self, plane: Array) -> Array:
        """Return the values of a C-ordered plane, 0 beyond its border."""
        if self.border is None:
            return self._windows(plane, self.halo)
        at, inside = self.border
        return np.where(inside, plane.reshape(-1)[at], plane.dtype.type(0))

    def own(self, values: Array) -> Array:
        """Return values of the blocks without their halos."""
        own = slice(self.halo, self.halo + self.side)
        return values[own, own]

    def own_of(self, plane: Array) -> Array:
        """Return the values of a C-ordered plane in the blocks without their halos, as they are nearest inside."""
        return self._windows(plane, 0) if self.border is None else plane.reshape(-1)[self.own(self.border[0])]

    def put(self, out: Array, values: Array) -> None:
        """Write values of the blocks, without halos, to a C-ordered plane."""
        if self.border is None:
            _windows_of(out, self.side, 0)[self.rows, self.columns] = values.transpose(2, 0, 1)
        else:
            at, here = (self.own(one) for one in self.border)
            out.reshape(-1)[at[here]] = values[here]

    def _windows(self, plane: Array, halo: int) -> Array:
        before = -(-halo // self.side)
        windows = _windows_of(plane, self.side, halo)[self.rows - before, self.columns - before]
        return np.ascontiguousarray(windows.transpose(1, 2, 0))


def _windows_of(plane: Array, side: int, halo: int) -> Array:
    """Return the view (down, across, wide, wide) of all blocks whose halos lie inside a plane.

    The first is as many blocks down and across as a halo is wide.
    """
    off, wide = -halo % side, side + 2 * halo
    counts = [max((length - off - wide) // side + 1, 0) for length in plane.shape]
    strides = (*(side * stride for stride in plane.strides), *plane.strides)
    return np.lib.stride_tricks.as_strided(plane[off:, off:], (*counts, wide, wide), strides)


def edge_blocks(plane: U8, halo: int, *, cells: Bool | None = None, bare: bool = False) -> Iterator[Batch]:
    """Yield the blocks of tiles that vary, less those whose surroundings are all 0 or all 255.

    ``cells``: less those, too, that hold none of these, see ``held_cells``. ``bare``: beyond the border all is 0; else
    nothing is asked of it.
    """
    side = next((side for most, side in SIDES_PX if halo <= most), TILE_PX)
    low, high = cell_range(plane)
    least, most = _about(low, side, halo, np.minimum), _about(high, side, halo, np.maximum)
    if bare:
        beyond = _by_border(plane.shape, side, halo)
        least[beyond] = 0
    worked = (least != most) | (least % 255 > 0)
    if cells is not None:
        worked &= _about(cells, side, 0, np.maximum)
    varying = _in_varying_tile(plane, halo, low, high, side)
    rows, columns = np.nonzero(worked & ((varying | beyond) if bare else varying))
    at_border = _at_border(rows, columns, side, halo, plane.shape)
    count = max(1, BATCH_PX // (side + 2 * halo) ** 2)
    for border in (True, False):
        down, across = rows[at_border == border], columns[at_border == border]
        for start in range(0, len(down), count):
            here = slice(start, start + count)
            yield Batch.at_blocks(down[here], across[here], side, halo, (plane.shape[0], plane.shape[1]))


def tile_windows(shape: tuple[int, int], halo: int) -> Iterator[tuple[Window, Window]]:
    """Yield (inner within outer, outer) windows of all tiles, along rows."""
    height, width = shape
    for top in range(0, height, TILE_PX):
        rows = slice(max(0, top - halo), min(height, top + TILE_PX + halo))
        for left in range(0, width, TILE_PX):
            columns = slice(max(0, left - halo), min(width, left + TILE_PX + halo))
            inner = (
                slice(top - rows.start, min(height, top + TILE_PX) - rows.start),
                slice(left - columns.start, min(width, left + TILE_PX) - columns.start),
            )
            yield inner, (rows, columns)


def tiles_with(mask: Bool, halo: int) -> Bool:
    """Return (tiles,) bool: which tiles, halos included, hold some of a mask."""
    high = held_cells(mask)
    held = _about(high, TILE_PX, 0, np.maximum).ravel()
    maybe = _about(high, TILE_PX, halo, np.maximum).ravel()
    for number in np.flatnonzero(maybe & ~held):
        held[number] = mask[_surroundings(int(number), mask.shape, halo)].any()
    return np.asarray(held)


def varying_tiles(plane: U8, side: int, border: int) -> Bool:
    """Return (down, across) True for tiles of ``side`` that with ``border`` around them are not all one value.

    The first tile starts ``border`` inside the plane, and all are whole; both are multiples of ``CELL_PX``.
    """
    reach, step = border // CELL_PX, side // CELL_PX
    ends = []
    for cells, pick in zip(cell_range(plane), (np.minimum, np.maximum), strict=True):
        for axis in (0, 1):
            starts = range(0, cells.shape[axis] - 2 * reach, step)
            wide = [np.s_[at : at + step + 2 * reach] for at in starts]
            cells = np.stack([pick.reduce(cells[at] if axis == 0 else cells[:, at], axis=axis) for at in wide], axis)
        ends.append(cells)
    return np.asarray(ends[0] != ends[1])


def _surroundings(number: int, shape: tuple[int, ...], halo: int) -> Window:
    """Return the window of a tile, counted along rows, with its halo."""
    row, column = divmod(number, -(-shape[1] // TILE_PX))
    sides = ((row * TILE_PX, shape[0]), (column * TILE_PX, shape[1]))
    rows, columns = (slice(max(0, at - halo), min(side, at + TILE_PX + halo)) for at, side in sides)
    return rows, columns


def held_cells(mask: Bool) -> Bool:
    """Return (down, across) True for each cell that holds some of a mask."""
    return _cells(mask.view(np.uint8), np.maximum) > 0


def cells_at(at: Array, shape: tuple[int, ...]) -> Bool:
    """Return the same for pixels known by their flat index."""
    rows, columns = np.divmod(at, at.dtype.type(shape[1]))
    cells = np.zeros((-(-shape[0] // CELL_PX), -(-shape[1] // CELL_PX)), bool)
    cells[rows // CELL_PX, columns // CELL_PX] = True
    return cells


def cell_range(plane: U8) -> tuple[Array, Array]:
    """Return the least and the greatest value of each cell; kept, for one plane is asked by many steps."""
    return kept(_cell_range, plane)


def _cell_range(plane: U8) -> tuple[Array, Array]:
    return _cells(plane, np.minimum), _cells(plane, np.maximum)


def _cells(plane: U8, pick: Any) -> Array:
    """Return the least or greatest value of each cell, rows first: whole rows are walked, not cells."""
    for axis in (0, 1):
        lines = plane if axis == 0 else plane.T
        whole = len(lines) // CELL_PX * CELL_PX
        out = lines[0:whole:CELL_PX].copy(order="K")
        for at in range(1, CELL_PX):
            pick(out, lines[at:whole:CELL_PX], out=out)
        if whole < len(lines):
            out = np.concatenate([out, pick.reduce(lines[whole:], axis=0)[None]])
        plane = out if axis == 0 else out.T
    return plane


def _about(cells: Array, side: int, halo: int, pick: Any) -> Array:
    """Return the least or greatest cell within each block's surroundings: at least its halo.

    Blocks step along an axis together: the first cell of all their surroundings, the second, and so on.
    """
    reach, step = -(-halo // CELL_PX), side // CELL_PX
    for axis in (0, 1):
        count = -(-cells.shape[axis] // step)
        beyond = (count - 1) * step + step + reach - cells.shape[axis]
        lines = np.moveaxis(np.pad(cells, [(reach, beyond) if axis == k else (0, 0) for k in (0, 1)], "edge"), axis, 0)
        last = (count - 1) * step + 1
        out = lines[:last:step].copy()
        for at in range(1, step + 2 * reach):
            pick(out, lines[at : last + at : step], out=out)
        cells = np.moveaxis(out, 0, axis)
    return np.ascontiguousarray(cells)


def _in_varying_tile(plane: U8, halo: int, low: Array, high: Array, side: int) -> Bool:
    """Return (blocks down, blocks across) bool: the tile of each block, halo included, is not all one value."""
    inner = _about(low, TILE_PX, 0, np.minimum) != _about(high, TILE_PX, 0, np.maximum)
    wide = _about(low, TILE_PX, halo, np.minimum) != _about(high, TILE_PX, halo, np.maximum)
    unsure = (wide & ~inner).ravel()
    if unsure.any():
        varies = inner.ravel()
        for number in np.flatnonzero(unsure):
            around = plane[_surroundings(int(number), plane.shape, halo)]
            varies[number] = around.min() != around.max()
        inner = varies.reshape(inner.shape)
    parts = TILE_PX // side
    down, across = -(-plane.shape[0] // side), -(-plane.shape[1] // side)
    return np.asarray(inner.repeat(parts, 0).repeat(parts, 1)[:down, :across])


def _by_border(shape: tuple[int, ...], side: int, halo: int) -> Bool:
    """Return (blocks down, blocks across) bool: which blocks reach beyond the border with their halos."""
    down, across = -(-shape[0] // side), -(-shape[1] // side)
    return _at_border(np.arange(down)[:, None], np.arange(across)[None], side, halo, shape)


def _at_border(rows: Array, columns: Array, side: int, halo: int, shape: tuple[int, ...]) -> Bool:
    top, left, wide = rows * side - halo, columns * side - halo, side + 2 * halo
    return np.asarray((top < 0) | (left < 0) | (top + wide > shape[0]) | (left + wide > shape[1]))
