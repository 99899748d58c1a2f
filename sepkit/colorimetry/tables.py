"""Tables over the cube of sRGB: values at the nodes of a lattice, interpolated between (trilinear, as in ISO 15076-1).

In: levels 0..255 or fractions of them, values at the nodes in use. Out: values for each colour. Values lie apart, one
row for each, so that NumPy works along the colours.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

if TYPE_CHECKING:
    from sepkit.model import F32, F64

Array = np.ndarray[Any, np.dtype[Any]]


def cells_of(levels: Array, parts: int) -> tuple[Array, F64]:
    """Return the first corner (p, 3) int32 of the cell of each colour (p, 3), and where in the cell it lies, 0..1."""
    scaled = np.asarray(levels, np.float32) * np.float32(parts / 255)
    first = np.clip(scaled.astype(np.int32), 0, parts - 1)
    return first, np.asarray(scaled - first, np.float64)


@dataclass(frozen=True, slots=True, eq=False)
class ColourTable:
    """Values at the nodes in use of a cube of ``parts`` cells a side."""

    values: F32
    """(n, m): n values at each of m nodes."""
    row: Array
    """((parts + 1)^3,) int32, where each node of the cube stands among them; 0 where it is not in use."""
    parts: int

    def at(self, levels: Array) -> F64:
        """Return (n, p) values for colours (p, 3) that lie within cells in use."""
        side = self.parts + 1
        first, within = cells_of(levels, self.parts)
        x, y, z = np.ascontiguousarray(within.T)
        corner = (first[:, 0] * side + first[:, 1]) * side + first[:, 2]

        def along(offset: int) -> Array:
            low = self.values.take(self.row.take(corner + offset), axis=1)
            step = self.values.take(self.row.take(corner + (offset + 1)), axis=1)
            step -= low
            return _between(low, step, z)

        def across(offset: int) -> Array:
            low, step = along(offset), along(offset + side)
            step -= low
            return _between(low, step, y)

        low, step = across(0), across(side * side)
        step -= low
        return _between(low, step, x)


def _between(low: Array, step: Array, share: F64) -> Array:
    """Return ``low`` and a share of the step from there."""
    out = step * share
    out += low
    return np.asarray(out)
