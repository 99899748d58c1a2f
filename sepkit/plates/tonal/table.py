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
from typing import TYPE_CHECKING, Any

import numpy as np

from sepkit.colorimetry.srgb import srgb_to_linear
from sepkit.colorimetry.tables import ColourTable
from sepkit.coverage.channels import pixels_where, total
from sepkit.plates.tonal.lattice import PARTS, Lattice
from sepkit.plates.tonal.metric import Wanted, light_to_lab
from sepkit.plates.tonal.solve import Pull, solve_dots

if TYPE_CHECKING:
    from sepkit.model import F32
    from sepkit.plates.tonal.goal import Goal

Array = np.ndarray[Any, np.dtype[Any]]

CELLS = 64
"""Colours are gathered in cells of 4 levels, whole parts of the lattice's,"""
MOST_COLOURS = 3000
"""of 8 and of 16 where more than these are in use."""
PULL = 400.0
"""How strongly a colour is drawn to what its neighbours have: 5 % of a dot beside it cost 1 as a squared ΔE00."""
ROUNDS = 6
CHUNK = 1 << 14


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

    nodes: ColourTable
    """A node may lie beyond 0..1, so that what lies between nodes is 0 or 1 along a whole way."""

    @property
    def screens(self) -> int:
        """How many screens it has dots for."""
        return len(self.nodes.values)

    def dots(self, levels: Array) -> F32:
        """Return dots (n, p) of levels (p, 3), 0..255, within the cells in use."""
        out = np.empty((self.screens, len(levels)), np.float32)
        for start in range(0, len(levels), CHUNK):
            some = slice(start, start + CHUNK)
            np.clip(self.nodes.at(levels[some]), 0, 1, out=out[:, some], casting="same_kind")
        return out


def cells_filled(calm: Array, where: Array) -> Array:
    """Return the sums of levels in each cell of the cube, and how many pixels it holds, (4, CELLS, CELLS, CELLS).

    ``calm`` are (h, w, 3) float32 levels, of which those count where a mask (h, w) holds.
    """
    sums = np.zeros((4, CELLS**3))
    for start in range(0, len(calm), 256):
        rows = slice(start, start + 256)
        part = pixels_where(calm[rows], where[rows])
        cell = np.minimum(part * np.float32(CELLS / 255), CELLS - 1).astype(np.int32)
        code = (cell[:, 0] * CELLS + cell[:, 1]) * CELLS + cell[:, 2]
        sums[3] += np.bincount(code, minlength=CELLS**3)
        for c in range(3):
            sums[c] += np.bincount(code, part[:, c], CELLS**3)
    return sums.reshape(4, CELLS, CELLS, CELLS)


def cells_in_use(cube: Array) -> Array:
    """Return which cells of the lattice (PARTS^3 bool) hold a pixel, of cells (``cells_filled``)."""
    times = CELLS // PARTS
    return np.asarray(cube[3].reshape(PARTS, times, PARTS, times, PARTS, times).any(axis=(1, 3, 5)))


def mean_colours(cube: Array) -> Colours:
    """Return the mean colours of cells (``cells_filled``), of wider ones where more than MOST_COLOURS are in use."""
    while np.count_nonzero(cube[3]) > MOST_COLOURS and cube.shape[1] > 8:
        half = cube.shape[1] // 2
        cube = cube.reshape(4, half, 2, half, 2, half, 2).sum(axis=(2, 4, 6))
    flat = cube.reshape(4, -1)[:, cube[3].ravel() > 0]
    weight = np.sqrt(flat[3])
    return Colours((flat[:3] / flat[3]).T, weight / weight.mean())


@dataclass(frozen=True, slots=True, eq=False)
class Gathered:
    """A picture's colours, and the lattice that is fitted at them: the same for all sets of screens."""

    colours: Colours
    lattice: Lattice

    @staticmethod
    def of(calm: Array, where: Array) -> Gathered:
        """Return them for the levels of a picture (h, w, 3) where (h, w) holds."""
        cube = cells_filled(calm, where)
        colours = mean_colours(cube)
        return Gathered(colours, Lattice.of(colours.levels, colours.weight, cells_in_use(cube)))


def tone_table(
    gathered: Gathered,
    stacks: Array,
    *,
    coats: Array,
    known: tuple[Array, Array],
    chroma: float = 1.0,
    goal: Goal = np.asarray,
) -> ToneTable:
    """Return the table for a picture's colours over stacks (2^n, 3).

    ``known`` are colours (k, 3) Lab with their dots (k, n), where solving starts; ``coats`` (n,) weigh ink;
    ``goal`` is what the print is to make of the picture's Lab.
    """
    colours, lattice = gathered.colours, gathered.lattice
    lab = goal(light_to_lab(srgb_to_linear(colours.levels / 255)))
    wanted = Wanted.of(lab, chroma=chroma)
    dots = solve_dots(stacks, wanted, start=known[1][_nearest(lab, known[0])], steps=12, coats=coats)
    nodes = lattice.fitted(dots, None)
    for _ in range(ROUNDS):
        near = np.clip(lattice.at @ nodes, 0, 1)
        pull = Pull(near, np.full((len(dots), 1), PULL))
        dots = solve_dots(stacks, wanted, start=near, steps=2, coats=coats, pull=pull)
        nodes = lattice.fitted(dots, nodes)
    return ToneTable(ColourTable(np.ascontiguousarray(nodes.T, np.float32), lattice.row, PARTS))


def _nearest(lab: Array, known: Array) -> Array:
    return np.asarray(total((lab[:, None] - known[None]) ** 2).argmin(axis=1))
