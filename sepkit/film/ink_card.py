"""The ink card: a sheet with places for draw-downs over black and white, tints and an opaque film, to be photographed.

In: nothing; the card is always the same, so that a photograph can be read without asking which it shows. Out: a
FilmPage of 140 x 130 mm, and where each place lies. The black field is what the printer's toner or ink gives; together
with bare paper it is what colours are told against where no chart of known values lies beside the card.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from sepkit.film.furniture import rectangle, words
from sepkit.film.page import FilmPage, Mark, Stroke

CARD_MM = (140.0, 130.0)
FRAME_MM, FRAME_LINE_MM, CORNER_MM = 4.0, 2.5, 9.0
DPI = 600.0
HAIR_MM = 0.3
BLACK_MM = (14.0, 24.0, 56.0, 44.0)
"""The black field: left, top, width, height."""
FILM_MM = (20.0, 35.0, 100.0, 22.0)
"""The draw-down that runs over black and white."""
TINTS_PERCENT = (10.0, 30.0)
"""Percent of the ink by weight in white."""
LOW_ROW_MM, BOX_MM = 84.0, 28.0
INSET_MM = 3.5
"""A place is read this far inside its edges."""

PlaceName = Literal["over black", "over white", "black card", "white card", "masstone", "tint"]


@dataclass(frozen=True, slots=True)
class CardPlace:
    """A place of the card that is read: what lies there, for a tint how much; mm."""

    name: PlaceName
    x_mm: float
    y_mm: float
    width_mm: float
    height_mm: float
    percent: float = 0.0


def card_places() -> tuple[CardPlace, ...]:
    """Return the places that are read, each inside what a draw-down or a field covers."""
    bx, by, bw, bh = BLACK_MM
    fx, fy, fw, fh = FILM_MM
    edge, pad = bx + bw, INSET_MM
    inner, low = fh - 2 * pad, fy + fh + 2.5
    out = [
        CardPlace("over black", fx + pad, fy + pad, edge - fx - 2 * pad, inner),
        CardPlace("over white", edge + pad, fy + pad, fx + fw - edge - 2 * pad, inner),
        CardPlace("black card", bx + pad, low, bw - 2 * pad, by + bh - low - 1.5),
        CardPlace("white card", edge + pad, low, fx + fw - edge - 2 * pad, by + bh - low - 1.5),
    ]
    boxes = [("tint", percent) for percent in TINTS_PERCENT] + [("masstone", 0.0)]
    side = BOX_MM - 2 * pad
    for (_, percent), x in zip(boxes, _columns(), strict=True):
        name: PlaceName = "tint" if percent else "masstone"
        out.append(CardPlace(name, x + pad, LOW_ROW_MM + pad, side, side, percent))
    return tuple(out)


def drawn_over_mm() -> tuple[tuple[float, float, float, float], ...]:
    """Return the rectangles (left, top, width, height) that draw-downs may cover: there the card shows nothing."""
    return (FILM_MM, *((x, LOW_ROW_MM, BOX_MM, BOX_MM) for x in _columns()))


def _columns() -> tuple[float, ...]:
    return tuple(14.0 + nth * 40.0 for nth in range(len(TINTS_PERCENT) + 1))


def ink_card() -> FilmPage:
    """Return the card."""
    w, h = CARD_MM
    marks: list[Mark] = [*_frame(), rectangle(*BLACK_MM)]
    marks += words("sepkit ink card - print at 100 % on matt paper", 17, 13, 2.2)
    marks += words("one coat, drawn down over black and white", 14, 20, 2.2)
    marks += _corners(FILM_MM)
    for x, text in zip(_columns(), [*(f"{p:g} % in white" for p in TINTS_PERCENT), "opaque film"], strict=True):
        marks += words(text, x, LOW_ROW_MM - 4, 2.4)
        marks += _corners((x, LOW_ROW_MM, BOX_MM, BOX_MM))
    marks += words("fill a box to its corners, or leave it empty; dry or cure it flat", 17, 121, 1.6)
    return FilmPage("ink card", round(w * DPI / 25.4), round(h * DPI / 25.4), DPI, (), tuple(marks))


def _frame() -> list[Mark]:
    """Draw a frame with blocks in three corners: what is found first, and which way is up."""
    (w, h), off = CARD_MM, FRAME_MM
    ring = ((off, off), (w - off, off), (w - off, h - off), (off, h - off))
    far = [w - off - CORNER_MM, h - off - CORNER_MM]
    blocks = [rectangle(x, y, CORNER_MM, CORNER_MM) for x, y in ((off, off), (far[0], off), (off, far[1]))]
    return [Stroke(ring, FRAME_LINE_MM, closed=True), *blocks]


def _corners(box: tuple[float, float, float, float]) -> list[Mark]:
    """Return corner marks just outside a box, which a draw-down leaves bare."""
    x, y, w, h = box
    out: list[Mark] = []
    for cx, way_x in ((x - 1, 1), (x + w + 1, -1)):
        for cy, way_y in ((y - 1, 1), (y + h + 1, -1)):
            out += [
                Stroke(((cx, cy), (cx + 3 * way_x, cy)), HAIR_MM),
                Stroke(((cx, cy), (cx, cy + 3 * way_y)), HAIR_MM),
            ]
    return out
