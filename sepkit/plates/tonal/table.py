"""From colours to dots, smoothly: a table over the cube of sRGB, fitted to the picture's own colours as a whole.

In: the levels of a picture, the stacks of a set of screens. Out: dots for any of these levels. Dots are solved for the
mean colours of small cells; a lattice of nodes is fitted so that, interpolated (trilinear, as in ISO 15076-1), it comes
near them and bends as little as it can: lattice regression (Garcia, Arora, Gupta, IEEE Trans. Image Process. 21, 2012).
Colours are then solved again, drawn to what the lattice has there, and the lattice is fitted again: of several ways to
a colour that which its neighbours take is taken. Nodes beside the picture's colours follow them and ask nothing; they
reach one cell further than its colours, for along a thin way through the cube no three nodes lie in a row, and without
these a plate would waver there.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import product
from typing import TYPE_CHECKING, Any

import numpy as np

from sepkit.colorimetry.srgb import srgb_to_linear
from sepkit.plates.tonal.metric import Wanted, light_to_lab
from sepkit.plates.tonal.solve import Pull, solve_dots

if TYPE_CHECKING:
    from sepkit.model import F32
    from sepkit.plates.tonal.goal import Goal

Array = np.ndarray[Any, np.dtype[Any]]

PARTS = 32
"""Cells along a side of the cube: 8 levels each."""
CELLS = 64
"""Colours are gathered in cells of 4 levels,"""
MOST_COLOURS = 3000
"""of 8 and of 16 where more than these are in use."""
SMOOTH = 2.0
"""What a bend of a node costs beside a colour that is missed by as much (squares, our own)."""
BEND = 0.02
"""The same everywhere, so that nodes without colours lie straight between others."""
PULL = 400.0
"""How strongly a colour is drawn to what its neighbours have: 5 % of a dot beside it cost 1 as a squared ΔE00."""
ROUNDS = 6
CHUNK = 1 << 16
CORNERS = np.array(list(product((0, 1), repeat=3)))


@dataclass(frozen=True, slots=True, eq=False)
class Colours:
    """Mean colours of the cells of a picture."""

    levels: Array
    """(m, 3) 0..255."""
    weight: Array
    """(m,), their mean 1."""


@dataclass(frozen=True, slots=True, eq=False)
class ToneTable:
    """Dots at the nodes in use."""

    nodes: F32
    """(m, n); a node may lie beyond 0..1, so that what lies between nodes is 0 or 1 along a whole way."""
    row: Array
    """((PARTS + 1)^3,) the row of each node of the cube; 0 where it is not in use."""

    @property
    def screens(self) -> int:
        """How many screens it has dots for."""
        return int(self.nodes.shape[1])

    def dots(self, levels: Array) -> F32:
        """Return dots (p, n) of levels (p, 3), 0..255, within the cells in use."""
        out = np.empty((len(levels), self.nodes.shape[1]), np.float32)
        side = PARTS + 1
        for start in range(0, len(levels), CHUNK):
            first, within = _cells(levels[start : start + CHUNK])
            x, y, z = within.T[..., None]
            corner = (first[:, 0] * side + first[:, 1]) * side + first[:, 2]

            def along(at: Array, z: Array = z) -> Array:
                low = self.nodes[self.row[at]]
                return np.asarray(low + z * (self.nodes[self.row[at + 1]] - low))

            near, far = along(corner), along(corner + side * side)
            near += y * (along(corner + side) - near)
            far += y * (along(corner + side * side + side) - far)
            out[start : start + CHUNK] = np.clip(near + x * (far - near), 0, 1)
        return out


def colours_of(calm: Array, where: Array) -> Colours:
    """Return the mean colours of the cells of (h, w, 3) float levels where a mask (h, w) holds."""
    sums = np.zeros((4, CELLS**3))
    for start in range(0, len(calm), 256):
        rows = slice(start, start + 256)
        part = calm[rows][where[rows]]
        cell = np.minimum(part * np.float32(CELLS / 255), CELLS - 1).astype(np.int32)
        code = (cell[:, 0] * CELLS + cell[:, 1]) * CELLS + cell[:, 2]
        sums[3] += np.bincount(code, minlength=CELLS**3)
        for c in range(3):
            sums[c] += np.bincount(code, part[:, c], CELLS**3)
    cube = sums.reshape(4, CELLS, CELLS, CELLS)
    while np.count_nonzero(cube[3]) > MOST_COLOURS and cube.shape[1] > 8:
        half = cube.shape[1] // 2
        cube = cube.reshape(4, half, 2, half, 2, half, 2).sum(axis=(2, 4, 6))
    flat = cube.reshape(4, -1)[:, cube[3].ravel() > 0]
    weight = np.sqrt(flat[3])
    return Colours((flat[:3] / flat[3]).T, weight / weight.mean())


def tone_table(
    calm: Array,
    where: Array,
    stacks: Array,
    *,
    coats: Array,
    known: tuple[Array, Array],
    chroma: float = 1.0,
    goal: Goal = np.asarray,
) -> ToneTable:
    """Return the table for the levels of a picture (h, w, 3) where (h, w) holds, over stacks (2^n, 3).

    ``known`` are colours (k, 3) Lab with their dots (k, n), where solving starts; ``coats`` (n,) weigh ink;
    ``goal`` is what the print is to make of the picture's Lab.
    """
    colours = colours_of(calm, where)
    lattice = _Lattice.of(colours, _used(calm, where))
    lab = goal(light_to_lab(srgb_to_linear(colours.levels / 255)))
    wanted = Wanted.of(lab, chroma=chroma)
    dots = solve_dots(stacks, wanted, start=known[1][_nearest(lab, known[0])], steps=12, coats=coats)
    nodes = lattice.fitted(dots, None)
    for _ in range(ROUNDS):
        near = np.clip(lattice.at @ nodes, 0, 1)
        pull = Pull(near, np.full((len(dots), 1), PULL))
        dots = solve_dots(stacks, wanted, start=near, steps=2, coats=coats, pull=pull)
        nodes = lattice.fitted(dots, nodes)
    return ToneTable(nodes.astype(np.float32), lattice.row)


def _used(calm: Array, where: Array) -> Array:
    """Return which cells (PARTS^3 bool) hold a pixel."""
    used = np.zeros(PARTS**3, bool)
    for start in range(0, len(calm), 256):
        rows = slice(start, start + 256)
        first, _ = _cells(calm[rows][where[rows]])
        used[(first[:, 0] * PARTS + first[:, 1]) * PARTS + first[:, 2]] = True
    return used.reshape(PARTS, PARTS, PARTS)


def _cells(levels: Array) -> tuple[Array, F32]:
    """Return the first corner (p, 3) of the cell of each colour, and where in the cell it lies, 0..1."""
    scaled = np.asarray(levels, np.float32) * np.float32(PARTS / 255)
    first = np.clip(scaled.astype(np.int32), 0, PARTS - 1)
    return first, scaled - first


@dataclass(frozen=True, slots=True, eq=False)
class _Lattice:
    """Nodes in use, what each colour takes of them, and the equations of the fit."""

    row: Array
    at: Any
    """(colours, nodes) sparse."""
    normal: Any
    """(nodes, nodes) sparse."""
    weight: Array

    @classmethod
    def of(cls, colours: Colours, used: Array) -> _Lattice:
        from scipy import sparse

        held = _held(used)
        flat = np.flatnonzero(held)
        row = np.zeros(held.size, np.int32)
        row[flat] = np.arange(len(flat))
        first, within = _cells(colours.levels)
        columns, shares = [], []
        for corner in CORNERS:
            there = np.ravel_multi_index(tuple((first + corner).T), held.shape)
            columns.append(row[there])
            shares.append(np.prod(np.where(corner == 1, within, 1 - within), axis=1))
        rows = np.tile(np.arange(len(first)), len(CORNERS))
        size = (len(first), len(flat))
        at = sparse.csr_matrix((np.concatenate(shares), (rows, np.concatenate(columns))), shape=size)
        bends = _bends(held, row, len(flat))
        normal = at.T @ sparse.diags(colours.weight) @ at + SMOOTH * bends.T @ bends
        normal = (normal + BEND * sparse.eye(len(flat)) * 1e-2).tocsr()
        return cls(row, at, normal, colours.weight)

    def fitted(self, dots: Array, start: Array | None) -> Array:
        """Return the nodes (m, n) fitted to the dots of all colours."""
        from scipy import sparse
        from scipy.sparse.linalg import cg

        right = self.at.T @ (self.weight[:, None] * dots)
        scale = sparse.diags(1 / self.normal.diagonal())
        first = right / np.maximum(np.asarray(self.at.sum(axis=0)).ravel(), 1e-3)[:, None] if start is None else start
        return np.stack(
            [
                cg(self.normal, right[:, k], x0=first[:, k], rtol=1e-4, maxiter=200, M=scale)[0]
                for k in range(dots.shape[1])
            ],
            axis=1,
        )


def _held(used: Array) -> Array:
    """Return which nodes (PARTS + 1)^3 bool are corners of cells in use, or of cells beside these."""
    wide = used
    for axis in range(3):
        beside = wide.copy()
        ahead, behind = [slice(None)] * 3, [slice(None)] * 3
        ahead[axis], behind[axis] = slice(1, None), slice(None, -1)
        beside[tuple(ahead)] |= wide[tuple(behind)]
        beside[tuple(behind)] |= wide[tuple(ahead)]
        wide = beside
    held = np.zeros((PARTS + 1,) * 3, bool)
    for x, y, z in CORNERS:
        held[x : x + PARTS, y : y + PARTS, z : z + PARTS] |= wide
    return held


def _bends(held: Array, row: Array, count: int) -> Any:
    """Return second differences of the nodes along each side and along the diagonals of faces, sparse."""
    from scipy import sparse

    places = np.argwhere(held)
    padded = np.pad(held, 1)
    rows, columns, values, number = [], [], [], 0
    for step in [(1, 0, 0), (0, 1, 0), (0, 0, 1), (1, 1, 0), (1, 0, 1), (0, 1, 1), (1, -1, 0), (1, 0, -1), (0, 1, -1)]:
        move = np.array(step)
        both = padded[tuple((places + move + 1).T)] & padded[tuple((places - move + 1).T)]
        middle = places[both]
        own = number + np.arange(len(middle))
        scale = 1.0 if np.abs(move).sum() == 1 else 0.5
        for where, value in ((middle - move, 1.0), (middle, -2.0), (middle + move, 1.0)):
            rows.append(own)
            columns.append(row[np.ravel_multi_index(tuple(where.T), held.shape)])
            values.append(np.full(len(middle), value * scale))
        number += len(middle)
    entries = (np.concatenate(values), (np.concatenate(rows), np.concatenate(columns)))
    return sparse.csr_matrix(entries, shape=(max(number, 1), count))


def _nearest(lab: Array, known: Array) -> Array:
    return np.asarray(((lab[:, None] - known[None]) ** 2).sum(-1).argmin(axis=1))
