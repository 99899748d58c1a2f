"""A lattice of nodes over the cube of sRGB, fitted to values at colours so that it bends as little as it can.

In: colours and their weights, which cells hold a pixel. Out: values at the nodes in use, as near to those wanted at the
colours as bending admits. The equations are those of a thin plate: a node feels nodes far from it, and conjugate
gradients take some hundreds of rounds with the diagonal alone as preconditioner. The one here has three levels: the
diagonal, that of the same equations on a lattice of half as many nodes a side, and those on one of a quarter, solved
exactly; their sum is a multilevel additive preconditioner (Bramble, Pasciak, Xu, Math. Comp. 55, 1990), with which
it takes a tenth of the rounds where colours are ways through the cube, half where they fill it.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import product
from typing import Any

import numpy as np

from sepkit.colorimetry.tables import cells_of

Array = np.ndarray[Any, np.dtype[Any]]

PARTS = 32
"""Cells along a side of the cube: 8 levels each."""
SMOOTH = 2.0
"""What a bend of a node costs beside a colour that is missed by as much (squares, our own)."""
RIDGE = 2e-4
"""How much each node is drawn to 0: the equations stay definite where bends and colours leave nodes free."""
COARSE, MIDDLE = 4, 2
"""Cells of the coarser lattices, in cells of this one."""
NEAR = 1e-4
"""The fit ends where the residual of its equations falls to this part of their right side,"""
MOST_ROUNDS = 200
"""or here."""
CORNERS = np.array(list(product((0, 1), repeat=3)))


@dataclass(frozen=True, slots=True, eq=False)
class Lattice:
    """Nodes in use, what each colour takes of them, and the equations of the fit."""

    row: Array
    """((PARTS + 1)^3,) the row of each node of the cube; 0 where it is not in use."""
    at: Any
    """(colours, nodes) sparse."""
    weight: Array
    normal: Any
    """(nodes, nodes) sparse."""
    leader: _Leader

    @classmethod
    def of(cls, levels: Array, weight: Array, used: Array) -> Lattice:
        """Return it for colours (n, 3) 0..255 with weights (n,), and the cells (PARTS^3 bool) that hold a pixel."""
        from scipy import sparse

        held = _held(used)
        places = np.argwhere(held)
        row = np.zeros(held.size, np.int32)
        row[held.ravel()] = np.arange(len(places))
        at = _taken(*cells_of(levels, PARTS), row, PARTS + 1, len(places))
        bends = _bends(held, places, row)
        normal = at.T @ sparse.diags(weight) @ at + SMOOTH * bends.T @ bends
        normal = (normal + RIDGE * sparse.eye(len(places))).tocsr()
        return cls(row, at, weight, normal, _Leader(normal, places))

    def fitted(self, values: Array, start: Array | None) -> Array:
        """Return (nodes, n) fitted to values (colours, n); ``start`` is what they were for values like these.

        Conjugate gradients with a preconditioner, column by column: side by side, in code of our own, took as long.
        """
        from scipy.sparse.linalg import LinearOperator, cg

        asked = self.at.T @ (self.weight[:, None] * values)
        leader = LinearOperator(self.normal.shape, matvec=self.leader.led, dtype=np.float64)
        nodes: Array = np.zeros_like(asked)
        for k in range(asked.shape[1]):
            before = None if start is None else start[:, k]
            nodes[:, k], _ = cg(self.normal, asked[:, k], before, rtol=NEAR, maxiter=MOST_ROUNDS, M=leader)
        return nodes


class _Leader:
    """The preconditioner: the inverse of the equations, roughly, by their diagonal and by two coarser lattices."""

    def __init__(self, normal: Any, places: Array) -> None:
        from scipy.sparse.linalg import splu

        self.alone = 1 / normal.diagonal()
        self.coarse, self.middle = _coarser(places, COARSE), _coarser(places, MIDDLE)
        self.to_coarse, self.to_middle = self.coarse.T.tocsr(), self.middle.T.tocsr()
        self.solve = splu((self.to_coarse @ normal @ self.coarse).tocsc()).solve
        self.middle_alone = 1 / (self.to_middle @ normal @ self.middle).diagonal()

    def led(self, missing: Array) -> Array:
        """Return about what nodes (m,) it takes for what is missing (m,)."""
        out = self.alone * missing
        out += self.coarse @ self.solve(self.to_coarse @ missing)
        out += self.middle @ (self.middle_alone * (self.to_middle @ missing))
        return np.asarray(out)


def _coarser(places: Array, cells: int) -> Any:
    """Return (nodes, coarse nodes) sparse: what nodes at these places of the cube take of a lattice of wider cells."""
    side = PARTS // cells + 2
    first, within = np.divmod(places, cells)
    there = [np.ravel_multi_index(tuple((first + corner).T), (side,) * 3) for corner in CORNERS]
    row = np.full(side**3, -1, np.int64)
    inside = np.concatenate(
        [at[(within[:, corner == 1] > 0).all(axis=1)] for at, corner in zip(there, CORNERS, strict=True)]
    )
    coarse = np.unique(inside)
    row[coarse] = np.arange(len(coarse))
    return _taken(first, within / cells, row, side, len(coarse))


def _taken(first: Array, within: Array, row: Array, side: int, count: int) -> Any:
    """Return (places, count) sparse: the shares that places in cells of a cube of ``side`` nodes take of its nodes."""
    from scipy import sparse

    columns, shares = [], []
    for corner in CORNERS:
        columns.append(row[np.ravel_multi_index(tuple((first + corner).T), (side,) * 3)])
        shares.append(np.prod(np.where(corner == 1, within, 1 - within), axis=1))
    rows, column, share = np.tile(np.arange(len(first)), len(CORNERS)), np.concatenate(columns), np.concatenate(shares)
    some = share > 0
    return sparse.csr_matrix((share[some], (rows[some], column[some])), shape=(len(first), count))


def _held(used: Array) -> Array:
    """Return which nodes (PARTS + 1)^3 bool are corners of cells in use, or of cells beside these."""
    from scipy.ndimage import binary_dilation

    wide = binary_dilation(used, np.ones((3, 3, 3), bool))
    held = np.zeros((PARTS + 1,) * 3, bool)
    for x, y, z in CORNERS:
        held[x : x + PARTS, y : y + PARTS, z : z + PARTS] |= wide
    return held


def _bends(held: Array, places: Array, row: Array) -> Any:
    """Return second differences of the nodes held, at ``places`` (n, 3), along sides and diagonals of faces, sparse."""
    from scipy import sparse

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
    return sparse.csr_matrix(entries, shape=(max(number, 1), len(places)))
