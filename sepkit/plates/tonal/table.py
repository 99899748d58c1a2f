"""From colours to dots, smoothly: a table over the cube of sRGB, solved as a whole and interpolated between.

In: the levels that a picture uses, the stacks of a set of screens. Out: dots for any of these levels. The nodes of the
cells in use are solved together: each comes near its colour and is drawn to the mean of its neighbours, so that plates
bend nowhere more than the colours ask for. First on a coarse grid, then on one of half its step. Between nodes dots are
interpolated in the cell (trilinear, as in ISO 15076-1).
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
    from sepkit.model import F32, U8

Array = np.ndarray[Any, np.dtype[Any]]

COARSE, FINE = 16, 32
"""Cells along a side of the cube: 16 levels, then 8."""
SMOOTH = 150.0
"""What a bend costs: a node that lies 5 % beside the mean of its neighbours costs as much as 0.6 ΔE00 (our own)."""
COARSE_ROUNDS, FINE_ROUNDS = 10, 5
CHUNK = 1 << 16
CORNERS = np.array(list(product((0, 1), repeat=3)))


@dataclass(frozen=True, slots=True, eq=False)
class ToneTable:
    """Dots at the nodes in use."""

    nodes: F32
    """(m, n) 0..1."""
    row: Array
    """((FINE + 1)^3,) the row of each node of the cube; 0 where it is not in use."""

    def dots(self, levels: Array) -> F32:
        """Return dots (p, n) of levels (p, 3), 0..255, within the cells in use."""
        out = np.empty((len(levels), self.nodes.shape[1]), np.float32)
        side = FINE + 1
        for start in range(0, len(levels), CHUNK):
            scaled = np.asarray(levels[start : start + CHUNK], np.float32) * np.float32(FINE / 255)
            first = np.clip(scaled.astype(np.int32), 0, FINE - 1)
            x, y, z = (scaled - first).T[..., None]
            corner = (first[:, 0] * side + first[:, 1]) * side + first[:, 2]

            def along(at: Array, z: Array = z) -> Array:
                low = self.nodes[self.row[at]]
                return np.asarray(low + z * (self.nodes[self.row[at + 1]] - low))

            near, far = along(corner), along(corner + side * side)
            near += y * (along(corner + side) - near)
            far += y * (along(corner + side * side + side) - far)
            out[start : start + CHUNK] = near + x * (far - near)
        return out


def tone_table(used: Array, stacks: Array, *, coats: Array, known: tuple[Array, Array], chroma: float = 1.0) -> ToneTable:
    """Return the table for the cells ``used`` (FINE^3 bool) over stacks (2^n, 3).

    ``known`` are colours (k, 3) Lab with their dots (k, n), where solving starts; ``coats`` (n,) weigh ink.
    """
    coarse_used = used.reshape(COARSE, FINE // COARSE, COARSE, FINE // COARSE, COARSE, FINE // COARSE).any((1, 3, 5))
    coarse = _Grid.of(coarse_used, COARSE)
    lab = light_to_lab(srgb_to_linear(coarse.levels / 255))
    start = known[1][_nearest(lab, known[0])]
    dots = _relaxed(coarse, Wanted.of(lab, chroma=chroma), stacks, coats, start, COARSE_ROUNDS)
    fine = _Grid.of(used, FINE)
    wanted = Wanted.of(light_to_lab(srgb_to_linear(fine.levels / 255)), chroma=chroma)
    dots = _relaxed(fine, wanted, stacks, coats, _between(coarse, dots, fine), FINE_ROUNDS)
    return ToneTable(dots.astype(np.float32), fine.row)


def cells_used(picture: U8, where: Array) -> Array:
    """Return which cells of the cube (FINE^3 bool) hold a pixel of (h, w, 3) levels where a mask (h, w) holds."""
    seen = np.zeros(1 << 15, bool)
    for start in range(0, len(picture), 256):
        rows = slice(start, start + 256)
        part = (picture[rows] >> 3).astype(np.uint16)
        code = (part[..., 0] << 10) | (part[..., 1] << 5) | part[..., 2]
        seen[code[where[rows]]] = True
    return _with_beside(seen.reshape(FINE, FINE, FINE))


def _with_beside(used: Array) -> Array:
    """Return the cells with the next above and below along each side: level 8 k lies a hair below cell k of 255 / 32."""
    out = used.copy()
    for axis in range(3):
        down = np.roll(out, -1, axis)
        down[tuple(slice(-1, None) if k == axis else slice(None) for k in range(3))] = False
        out = out | down
    return out


@dataclass(frozen=True, slots=True, eq=False)
class _Grid:
    """Nodes in use of a grid of cells."""

    at: Array
    """(m, 3) places, whole numbers."""
    row: Array
    beside: Array
    """(m, 6) rows of the neighbours, a node itself where there is none."""
    has: Array
    """(m, 6) whether there is one."""
    parts: int

    @property
    def levels(self) -> Array:
        return self.at * (255 / self.parts)

    @classmethod
    def of(cls, used: Array, parts: int) -> _Grid:
        nodes = np.zeros((parts + 1,) * 3, bool)
        for x, y, z in CORNERS:
            nodes[x : x + parts, y : y + parts, z : z + parts] |= used
        at = np.argwhere(nodes)
        row = np.zeros(nodes.size, np.int32)
        flat = np.flatnonzero(nodes)
        row[flat] = np.arange(len(flat))
        padded = np.pad(nodes, 1)
        beside, has = [], []
        for axis, sign in product(range(3), (-1, 1)):
            move = np.zeros(3, int)
            move[axis] = sign
            there = at + move
            ok = padded[tuple((there + 1).T)]
            own = np.ravel_multi_index(tuple(np.where(ok[:, None], there, at).T), nodes.shape)
            beside.append(row[own])
            has.append(ok)
        return cls(at, row, np.stack(beside, axis=1), np.stack(has, axis=1), parts)


def _relaxed(grid: _Grid, wanted: Wanted, stacks: Array, coats: Array, dots: Array, rounds: int) -> Array:
    """Return the dots of all nodes after so many rounds of solving beside their neighbours' mean.

    A node is drawn along an axis where it has a neighbour on both sides: the mean of two lies on a straight line.
    """
    both = grid.has[:, 0::2] & grid.has[:, 1::2]
    weight = np.repeat(both, 2, axis=1).astype(np.float64)
    total = weight.sum(axis=1, keepdims=True)
    strength = SMOOTH * total / 6
    for _ in range(rounds):
        mean = np.einsum("mk,mkn->mn", weight, dots[grid.beside]) / np.maximum(total, 1)
        pull = Pull(np.where(total > 0, mean, dots), strength)
        dots = solve_dots(stacks, wanted, start=dots, steps=1, coats=coats, pull=pull)
    return dots


def _between(coarse: _Grid, dots: Array, fine: _Grid) -> Array:
    """Return the dots of fine nodes, the mean of the coarse nodes around them."""
    ratio = fine.parts // coarse.parts
    low, odd = fine.at // ratio, fine.at % ratio > 0
    side = coarse.parts + 1
    out = np.zeros((len(fine.at), dots.shape[1]))
    for corner in CORNERS:
        there = low + corner * odd
        out += dots[coarse.row[(there[:, 0] * side + there[:, 1]) * side + there[:, 2]]]
    return out / len(CORNERS)


def _nearest(lab: Array, known: Array) -> Array:
    return np.asarray(((lab[:, None] - known[None]) ** 2).sum(-1).argmin(axis=1))
