"""Check discs: rows of small discs beside the art, one for each screen, by which a photograph tells register.

In: the size of a print and what each of its screens prints on. Out: discs in mm from the art's top left, and the marks
that each screen's film carries for them. A disc of an ink that prints on a base stands on a square of that base, so
that it shows on dark cloth, and shows where it lies on the base; any other disc stands in a frame of one screen, so
that cloth stretched between the discs of a row moves no disc against its frame.
Trap and base hide the very edges in the art that would tell register; a disc hides none of them. Two rows of the same
side run the same way and rows of opposite sides opposite ways, so that cloth stretched along the rows moves the mean of
a screen's discs by nothing. Beside the art means outside the corner marks' lines and inside the targets.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from sepkit.film.furniture import rectangle
from sepkit.film.page import Mark, Solid

if TYPE_CHECKING:
    from sepkit.film.lettering import Point

DISC_MM = 3.0
SQUARE_MM = 6.0
FRAME_MM = 0.6
"""A frame is as large as a square, its lines so wide: 0.9 mm of register error keep a disc off them."""
PITCH_MM = 7.0
"""From disc to disc: squares of 6 mm stay apart."""
OFF_MM = 4.4
"""From the art's edge to the middle of a row: between the art and the targets, 6 mm off."""
AROUND_MM = OFF_MM + SQUARE_MM / 2 + 1.4
"""Room that rows take outside the art, with the register error that they are to tell."""
CENTRE_CLEAR_MM = 1.5
"""Rows keep off the centre lines of the film."""
LEAST_SIDE_MM = 17.0
"""Margin at the sides of a sheet below which its scale bar stands where rows would."""
POINTS = 96


@dataclass(frozen=True, slots=True)
class CheckDisc:
    """One disc."""

    plate: int
    """The screen that prints it: its place in print order from 0."""
    x_mm: float
    """Its middle, from the art's top left, right and down."""
    y_mm: float
    on: int | None = None
    """The screen that prints the square below it, None for a disc on cloth."""
    framed: int | None = None
    """The screen that prints the frame around it."""


def check_discs(
    width_mm: float, height_mm: float, on: Sequence[int | None], *, frame: int | None = None, sides: bool = True
) -> tuple[CheckDisc, ...]:
    """Return the discs of a print; ``on`` holds, for each screen in print order, the screen whose base carries it.

    ``frame`` is the screen that frames the other discs on cloth, None for no frames. Up to two rows stand along each
    side of the art, as many as there is room for; ``sides`` False leaves out those at left and right. Art too small for
    any has none.
    """
    rows: list[CheckDisc] = []
    for along, across, upright in ((width_mm, height_mm, False), (height_mm, width_mm, True)):
        if upright and not sides:
            continue
        for at, backwards in ((-OFF_MM, False), (across + OFF_MM, True)):
            for middle in _middles(along, len(on)):
                rows += _row((middle, at), on, upright=upright, backwards=backwards)
    return tuple(one if one.on is not None or one.plate == frame else replace(one, framed=frame) for one in rows)


def _middles(side_mm: float, screens: int) -> list[float]:
    """Return the middles of a side's rows: one in each half where they fit, as far out as keeps them on the side."""
    length = (screens - 1) * PITCH_MM + SQUARE_MM
    if length + 2 * CENTRE_CLEAR_MM > side_mm / 2:
        return []
    middle = min(side_mm / 4, side_mm / 2 - CENTRE_CLEAR_MM - length / 2)
    return [middle, side_mm - middle]


def _row(middle: Point, on: Sequence[int | None], *, upright: bool, backwards: bool) -> list[CheckDisc]:
    count = len(on)
    out = []
    for k, base in enumerate(on):
        nth = count - 1 - k if backwards else k
        along = (nth - (count - 1) / 2) * PITCH_MM
        x, y = (middle[1], middle[0] + along) if upright else (middle[0] + along, middle[1])
        out.append(CheckDisc(k, round(x, 3), round(y, 3), base))
    return out


def disc_marks(discs: Sequence[CheckDisc], plate: int) -> tuple[Mark, ...]:
    """Return what the film of a screen carries: its own discs, squares below discs and frames around them."""
    marks: list[Mark] = []
    for disc in discs:
        if disc.plate == plate:
            marks.append(_disc(disc.x_mm, disc.y_mm))
        elif disc.on == plate:
            half = SQUARE_MM / 2
            marks.append(rectangle(disc.x_mm - half, disc.y_mm - half, SQUARE_MM, SQUARE_MM))
        elif disc.framed == plate:
            marks += _frame(disc.x_mm, disc.y_mm)
    return tuple(marks)


def _frame(x_mm: float, y_mm: float) -> list[Mark]:
    """Return the four lines of a frame."""
    left, top, inner = x_mm - SQUARE_MM / 2, y_mm - SQUARE_MM / 2, SQUARE_MM - 2 * FRAME_MM
    right, foot = left + SQUARE_MM - FRAME_MM, top + SQUARE_MM - FRAME_MM
    across = [rectangle(left, y, SQUARE_MM, FRAME_MM) for y in (top, foot)]
    return [*across, *(rectangle(x, top + FRAME_MM, FRAME_MM, inner) for x in (left, right))]


def _disc(x_mm: float, y_mm: float) -> Solid:
    """Return a disc as a polygon of the same area."""
    step = 2 * math.pi / POINTS
    radius = DISC_MM / 2 * math.sqrt(step / math.sin(step))
    return Solid(tuple((x_mm + radius * math.cos(k * step), y_mm + radius * math.sin(k * step)) for k in range(POINTS)))
