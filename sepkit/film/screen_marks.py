"""Marks on the film of a whole screen: targets, corners and words at each print, centre and ends of the frame.

In: where prints lie on the film (mm from its top left corner) and how each is turned. Out: marks in mm that a page, or
one tile of it, carries. Marks of a print turn with it, so that its words stand upright as the print does. Targets lie
in the tape lanes, at the same distance from the art on every screen that prints it.

Sources (common practice): at least three targets with the same coordinates on each film; crosses of 12 mm with a
circle of 4 mm; a film positive for direct printing is right-reading seen from its inked face; two tiles of one film
share ticks and crosses at the joint.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import TYPE_CHECKING

from sepkit.film.furniture import corner, longest_bar_mm, scale_bar, target, words
from sepkit.film.lettering import text_width_mm
from sepkit.film.page import Mark, Solid, Stroke
from sepkit.film.tile_marks import seam_marks

if TYPE_CHECKING:
    from sepkit.film.lettering import Point
    from sepkit.film.page import Tile

THIN_MM = 0.35
TARGET_OFF_MM = 13.0
"""From the art to a target's centre."""
TARGET_ARM_MM = 6.0
TARGET_CIRCLE_MM = 2.0
EDGE_MM = 4.0
WORDS_MM = 3.2
AROUND_MM = 24.0
"""Room that the marks of a print take around it."""


@dataclass(frozen=True, slots=True)
class FilmBox:
    """A print on the film: its rectangle (mm) as it lies there, its turn, and the words beside it."""

    x_mm: float
    y_mm: float
    width_mm: float
    height_mm: float
    rotation: int
    """Degrees clockwise, 0, 90, 180 or 270."""
    words: str
    beside: tuple[Mark, ...] = ()
    """More marks, in mm from the upright print's top left."""

    @property
    def upright_mm(self) -> tuple[float, float]:
        """Width and height as the print is read."""
        return (self.width_mm, self.height_mm) if self.rotation % 180 == 0 else (self.height_mm, self.width_mm)

    def on_film(self, u: float, v: float) -> Point:
        """Return where the point (u, v) of the upright print lies on the film."""
        turned = {
            0: (u, v),
            90: (self.width_mm - v, u),
            180: (self.width_mm - u, self.height_mm - v),
            270: (v, self.height_mm - u),
        }[self.rotation]
        return self.x_mm + turned[0], self.y_mm + turned[1]


@dataclass(frozen=True, slots=True)
class ScreenWords:
    """What the margin of each page says."""

    lines: tuple[str, ...]
    """At most three."""
    centre_mm: tuple[float, float]
    """The frame's middle on the film (mm from the film's top left corner)."""


def print_marks(box: FilmBox, others: Sequence[FilmBox]) -> list[Mark]:
    """Return corners, targets, an arrow to the print's top and its words, but for what would touch another print."""
    w, h = box.upright_mm
    corners = [(u, v, right, down) for u, right in ((0.0, -1), (w, 1)) for v, down in ((0.0, -1), (h, 1))]
    drawn: list[list[Mark]] = [[mark] for at in corners for mark in corner(*at)]
    for u, v in (
        (w / 2, -TARGET_OFF_MM),
        (w / 2, h + TARGET_OFF_MM),
        (-TARGET_OFF_MM, h / 2),
        (w + TARGET_OFF_MM, h / 2),
    ):
        drawn.append(target(u, v, 2 * TARGET_ARM_MM, 2 * TARGET_CIRCLE_MM))
    room = max(w + 20.0, 40.0)
    size = min(WORDS_MM, WORDS_MM * room / max(room, text_width_mm(box.words, WORDS_MM)))
    left = w / 2 - text_width_mm(box.words, size) / 2
    drawn.append(words(box.words, left, h + TARGET_OFF_MM + TARGET_ARM_MM + 1.5 + size, size))
    drawn.append(_arrow(w / 2 + TARGET_ARM_MM + 4, -TARGET_OFF_MM - 4))
    drawn += [[mark] for mark in box.beside]
    out: list[Mark] = []
    for group in drawn:
        turned = [_turned(mark, box) for mark in group]
        if not any(_touches(mark, other) for mark in turned for other in others):
            out += turned
    return out


def within(marks: Sequence[Mark], tile: Tile, dpi: float) -> list[Mark]:
    """Return the marks on a tile's part of the film, lines cut at its edge, moved to its page."""
    mm = 25.4 / dpi
    left, top = tile.x_px * mm, tile.y_px * mm
    area = (left, top, left + tile.width_px * mm, top + tile.height_px * mm)
    dx, dy = tile.place.art_x_px * mm - left, tile.place.art_y_px * mm - top
    out: list[Mark] = []
    for mark in marks:
        if all(area[0] <= x <= area[2] and area[1] <= y <= area[3] for x, y in mark.points):
            out.append(_moved(mark, dx, dy))
        elif isinstance(mark, Stroke):
            out += [_moved(part, dx, dy) for part in _cut(mark, area)]
    return out


def page_marks(tile: Tile, said: ScreenWords, *, dpi: float) -> list[Mark]:
    """Return the margin of one page: the frame's centre lines, joints, scale bars, words, which way it reads.

    It takes 14 mm above the tile's part of the film and 44 mm below, and a hair at the sides.
    """
    mm = 25.4 / dpi
    place = tile.place
    x, y = place.art_x_px * mm, place.art_y_px * mm
    w, h = tile.width_px * mm, tile.height_px * mm
    page_w, page_h = place.width_px * mm, place.height_px * mm
    marks = _centre_lines(said.centre_mm, (x - tile.x_px * mm, y - tile.y_px * mm), (x, y, w, h), (page_w, page_h))
    marks += seam_marks(tile, (x, y, w, h), mm)
    marks += _scale_bars(page_w, page_h, x)
    lines = [*said.lines, "right-reading positive: inked face up, inked face to the emulsion"]
    if tile.of > 1:
        lines[0] = f"tile {tile.number} of {tile.of} · {lines[0]}"
    for k, line in enumerate(lines):
        size = WORDS_MM + 0.8 * (k == 0)
        size *= min(1.0, (page_w - 2 * EDGE_MM - 6) / max(1.0, text_width_mm(line, size)))
        marks += words(line, EDGE_MM + 4, y + h + 14 + 6.0 * k, size)
    marks += words("end A", EDGE_MM + 4, 8.5, 3.6) + words("R", page_w - EDGE_MM - 12, 12.5, 8.0)
    return marks


def _arrow(u: float, v: float) -> list[Mark]:
    head = Solid(((u, v), (u + 2.2, v + 4.4), (u - 2.2, v + 4.4)))
    return [head, Stroke(((u, v + 4), (u, v + 8.5)), 1.0), *words("TOP", u + 4, v + 8, 3.2)]


def _centre_lines(
    centre_mm: Point, at: Point, art: tuple[float, float, float, float], page: tuple[float, float]
) -> list[Mark]:
    """Ticks at the page's edges where the frame's centre lines pass, with their names."""
    x, y = at[0] + centre_mm[0], at[1] + centre_mm[1]
    left, top, w, h = art
    out: list[Mark] = []
    if left <= x <= left + w:
        out += [
            Stroke(((x, y0), (x, y1)), THIN_MM) for y0, y1 in ((0.5, EDGE_MM + 1), (page[1] - EDGE_MM, page[1] - 0.5))
        ]
        out += words("frame's centre line", x + 1.5, EDGE_MM - 0.5, 2.2)
    if top <= y <= top + h:
        reach = min(EDGE_MM, left - 0.5)
        out += [Stroke(((x0, y), (x1, y)), THIN_MM) for x0, x1 in ((0.5, reach), (page[0] - reach, page[0] - 0.5))]
    return out


def _scale_bars(page_w: float, page_h: float, free_left: float) -> list[Mark]:
    """Bars of 300 or 100 mm along the lower and the left edge, to be measured within 0.2 %."""
    out: list[Mark] = []
    across = longest_bar_mm(page_w, beside_mm=2 * EDGE_MM + 2)
    if across:
        x, y = EDGE_MM + 0.5, page_h - EDGE_MM - 1.5
        out += scale_bar((x, y), across) + words(f"{across} mm", x + across - 16, y - 2.2, 2.4)
    down = longest_bar_mm(page_h, beside_mm=2 * EDGE_MM + 30)
    if down and free_left > 2.5:
        wide = min(3.0, free_left - 1.2)
        out += scale_bar((0.7, 14.0), down, down=True, long_mm=wide, short_mm=wide / 2)
    return out


def _turned(mark: Mark, box: FilmBox) -> Mark:
    points = tuple(box.on_film(u, v) for u, v in mark.points)
    return Solid(points) if isinstance(mark, Solid) else Stroke(points, mark.width_mm, mark.closed)


def _moved(mark: Mark, dx: float, dy: float) -> Mark:
    points = tuple((x + dx, y + dy) for x, y in mark.points)
    return Solid(points) if isinstance(mark, Solid) else Stroke(points, mark.width_mm, mark.closed)


def _cut(mark: Stroke, area: tuple[float, float, float, float]) -> list[Stroke]:
    """Return the pieces of a line inside an area: each segment cut by its four sides (Liang and Barsky, 1984)."""
    points = [*mark.points, mark.points[0]] if mark.closed else list(mark.points)
    out: list[Stroke] = []
    for (x0, y0), (x1, y1) in pairwise(points):
        enter, leave = 0.0, 1.0
        for step, room in (
            (x0 - x1, x0 - area[0]),
            (x1 - x0, area[2] - x0),
            (y0 - y1, y0 - area[1]),
            (y1 - y0, area[3] - y0),
        ):
            if step < 0:
                enter = max(enter, room / step)
            elif step > 0:
                leave = min(leave, room / step)
            elif room < 0:
                leave = -1.0
        if enter < leave:
            ends = tuple((x0 + t * (x1 - x0), y0 + t * (y1 - y0)) for t in (enter, leave))
            out.append(Stroke(ends, mark.width_mm))
    return out


def _touches(mark: Mark, box: FilmBox) -> bool:
    return any(
        box.x_mm - 1 < x < box.x_mm + box.width_mm + 1 and box.y_mm - 1 < y < box.y_mm + box.height_mm + 1
        for x, y in mark.points
    )
