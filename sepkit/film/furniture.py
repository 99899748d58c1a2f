"""What the margins of films are drawn of: words, register targets, corner marks, scale bars.

In: places and sizes in mm, y down. Out: marks in mm. Common practice: crosses with a circle as targets; scale bars of
100 and 300 mm, to be measured within 0.2 %.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np

from sepkit.film.lettering import text_strokes, text_width_mm
from sepkit.film.page import Mark, Solid, Stroke

if TYPE_CHECKING:
    from sepkit.film.lettering import Point

HAIR_MM = 0.25
STEM_SHARE, LEAST_STEM_MM = 0.11, 0.12
"""Width of a letter's strokes against its height."""
BARS_MM = (300, 100)
LONG_TICK_MM, SHORT_TICK_MM = 4.0, 2.0


def words(text: str, x_mm: float, y_mm: float, height_mm: float, room_mm: float = math.inf) -> list[Mark]:
    """Return strokes of text with its baseline's left end at (x, y), smaller where it would not fit ``room_mm``."""
    width = text_width_mm(text, height_mm)
    if width > room_mm:
        height_mm *= room_mm / width
    return [
        Stroke(line, max(LEAST_STEM_MM, height_mm * STEM_SHARE))
        for line in text_strokes(text, x_mm=x_mm, y_mm=y_mm, height_mm=height_mm)
    ]


def target(x_mm: float, y_mm: float, size_mm: float, circle_mm: float) -> list[Mark]:
    """Return a cross of ``size_mm`` with a circle of ``circle_mm``."""
    arm, radius = size_mm / 2, circle_mm / 2
    turns = np.linspace(0, 2 * math.pi, 49)[:-1].tolist()
    ring = tuple((x_mm + radius * math.cos(a), y_mm + radius * math.sin(a)) for a in turns)
    return [
        Stroke(((x_mm - arm, y_mm), (x_mm + arm, y_mm)), HAIR_MM),
        Stroke(((x_mm, y_mm - arm), (x_mm, y_mm + arm)), HAIR_MM),
        Stroke(ring, HAIR_MM, closed=True),
    ]


def corner(x_mm: float, y_mm: float, right: int, down: int) -> list[Mark]:
    """Return a mark at a corner, off it to the outside: ``right`` and ``down`` are 1 or -1."""
    return [
        Stroke(((x_mm + 1.5 * right, y_mm), (x_mm + 5 * right, y_mm)), HAIR_MM),
        Stroke(((x_mm, y_mm + 1.5 * down), (x_mm, y_mm + 5 * down)), HAIR_MM),
    ]


def rectangle(x_mm: float, y_mm: float, width_mm: float, height_mm: float) -> Solid:
    """Return a filled rectangle by its top left corner."""
    right, low = x_mm + width_mm, y_mm + height_mm
    return Solid(((x_mm, y_mm), (right, y_mm), (right, low), (x_mm, low)))


def longest_bar_mm(side_mm: float, *, beside_mm: float) -> int:
    """Return the longest scale bar for a side of a page with ``beside_mm`` left over, 0 when none is short enough."""
    return next((bar for bar in BARS_MM if bar + beside_mm <= side_mm), 0)


def scale_bar(
    start: Point,
    length_mm: int,
    *,
    down: bool = False,
    long_mm: float = LONG_TICK_MM,
    short_mm: float = SHORT_TICK_MM,
) -> list[Mark]:
    """Return a bar to the right with ticks upward, or ``down`` with ticks to the right, one each 10 mm.

    Those of whole 100 mm are long.
    """

    def point(along: float, aside: float) -> Point:
        return (start[0] + aside, start[1] + along) if down else (start[0] + along, start[1] - aside)

    ticks = [(at, short_mm if at % 100 else long_mm) for at in range(0, length_mm + 1, 10)]
    return [
        Stroke((start, point(length_mm, 0)), HAIR_MM),
        *(Stroke((point(at, 0), point(at, tick)), HAIR_MM) for at, tick in ticks),
    ]
