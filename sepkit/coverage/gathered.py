"""Many small parts told as few places: what stands in one line, or closer than an eye parts it, is one place.

In: ThinParts (mm). Out: Places, the worst first: the thinnest, then the longest.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from sepkit.coverage.parts import Parts

if TYPE_CHECKING:
    from sepkit.coverage.strokes import ThinPart
    from sepkit.model import Bool

CELL_MM = 1.5
"""Parts nearer than this are seen as one place."""
WORD_GAP_CELLS = 2
"""Words of a line of small type lie less than this apart (about an em of 8 pt)."""
SAME_WIDTH_MM = 0.05
"""Widths nearer than this are alike on a pixel grid: there the longer is the worse."""


@dataclass(frozen=True, slots=True)
class Place:
    """Parts that lie together: how many, the thinnest of them, their lengths together, the box around them in mm."""

    count: int
    width_mm: float
    length_mm: float
    box_mm: tuple[float, float, float, float]

    @property
    def middle_mm(self) -> tuple[float, float]:
        """The middle of its box, (right, down)."""
        left, top, right, bottom = self.box_mm
        return (left + right) / 2, (top + bottom) / 2


def gathered(parts: Sequence[ThinPart]) -> list[Place]:
    """Return the places of parts, the worst first.

    >>> from sepkit.coverage.strokes import ThinPart
    >>> letters = [ThinPart((x, 5.0), 1.0, 0.1, (x - 0.5, 4.5, x + 0.5, 5.5)) for x in (3.0, 4.5, 6.0, 60.0)]
    >>> [(place.count, place.box_mm) for place in gathered(letters)]
    [(3, (2.5, 4.5, 6.5, 5.5)), (1, (59.5, 4.5, 60.5, 5.5))]
    """
    if not parts:
        return []
    boxes = np.array([part.box_mm for part in parts])
    cells = np.maximum((boxes / CELL_MM).astype(int), 0) + WORD_GAP_CELLS
    grid = np.zeros((int(cells[:, 3].max()) + 1 + WORD_GAP_CELLS, int(cells[:, 2].max()) + 1 + WORD_GAP_CELLS), bool)
    for left, top, right, bottom in cells.tolist():
        grid[top : bottom + 1, left : right + 1] = True
    grid |= _closed(grid, WORD_GAP_CELLS - 1)
    found = Parts.of(grid, corners=False)
    of = found.at(cells[:, 1], cells[:, 0])
    places = []
    for number in range(1, found.count + 1):
        inside = np.flatnonzero(of == number)
        if not len(inside):
            continue
        box = (*boxes[inside, :2].min(axis=0).tolist(), *boxes[inside, 2:].max(axis=0).tolist())
        width = min(parts[k].width_mm for k in inside.tolist())
        length = sum(parts[k].length_mm for k in inside.tolist())
        places.append(Place(len(inside), width, length, (box[0], box[1], box[2], box[3])))
    return sorted(places, key=lambda place: (round(place.width_mm / SAME_WIDTH_MM), -place.length_mm))


def _closed(grid: Bool, by: int) -> Bool:
    """Return the grid with gaps of up to twice ``by`` along its rows closed; there is room at its ends."""
    for _ in range(by):
        grid = grid | np.roll(grid, 1, axis=1) | np.roll(grid, -1, axis=1)
    for _ in range(by):
        grid = grid & np.roll(grid, 1, axis=1) & np.roll(grid, -1, axis=1)
    return grid
