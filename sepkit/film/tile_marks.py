"""Marks of tiles: crosses and ticks to join by, and a small map that shows which tile this is.

In: a tile, the art on its page in mm. Out: marks in mm, outside the art.
Both neighbours carry the same cross and tick at the same place of the art, at each end of a joint: lay cross on cross,
tape, cut through both along the ticks. Rows are joined first: the crosses between rows stand at the outer ends alone.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from sepkit.film.furniture import HAIR_MM, rectangle, target, words
from sepkit.film.page import Mark, Stroke

if TYPE_CHECKING:
    from sepkit.film.page import Tile

THIN_MM = 0.35
CROSS_MM = 8.0
OFF_MM = 4.5
WORD_MM = 2.4
CELL_MM = (5.0, 4.0)


def seam_marks(tile: Tile, art: tuple[float, float, float, float], mm: float) -> list[Mark]:
    """Return the marks of a tile's joints; ``art`` is left, top, width and height, ``mm`` the size of a film pixel."""
    left, top, w, h = art
    out: list[Mark] = []
    for at in tile.seams_x_px:
        x = left + at * mm
        for y in (top - OFF_MM, top + h + OFF_MM):
            out += target(x, y, CROSS_MM, CROSS_MM / 2)
        out += [Stroke(((x, y0), (x, y1)), THIN_MM) for y0, y1 in ((top - 13, top - 9), (top + h + 9, top + h + 13))]
        out += words("join", x + 1.5, top - 9.5, WORD_MM)
    # On a sheet that the art nearly fills the crosses shrink, and the ticks go.
    size = min(CROSS_MM, left - 2.0)
    off = min(OFF_MM, 0.8 + size / 2)
    for at in tile.seams_y_px:
        y = top + at * mm
        for x, side in ((left - off, -1), (left + w + off, 1)):
            out += target(x, y, size, size / 2)
            if left > 14:
                out.append(Stroke(((x + side * 4.5, y), (x + side * 7.5, y)), THIN_MM))
    return out


def tile_map(tile: Tile, right: float, top: float) -> list[Mark]:
    """Return a plan of all tiles with this one filled, its top right corner at (right, top)."""
    w, h = CELL_MM
    rows = -(-tile.of // tile.columns)
    left = right - tile.columns * w
    down = [((left + k * w, top), (left + k * w, top + rows * h)) for k in range(tile.columns + 1)]
    across = [((left, top + k * h), (right, top + k * h)) for k in range(rows + 1)]
    row, column = divmod(tile.number - 1, tile.columns)
    x, y = left + column * w, top + row * h
    lines = [Stroke(line, HAIR_MM) for line in (*down, *across)]
    return [*lines, rectangle(x, y, w, h)]
