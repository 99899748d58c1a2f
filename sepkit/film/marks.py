"""Margin furniture of a film: register targets, centre and corner marks, scale bars, words, density patch, tone wedge.

In: a film, the label's words, optionally the tile of a sheet. Out: a FilmPage, everything drawn in mm
outside the art, at the same place on every page of a job.

Sources (common practice unless named): at least three targets with the same coordinates on each film, 15-25 mm from
the image where there is room; crosses of 12 mm with a circle of 4 mm; scale bars of 100 and 300 mm both ways, to be
measured within 0.2 %; a film positive for direct printing is right-reading with its emulsion (inked) side up. A
mirrored film is mirrored whole, margin and all, as film recorders do it: it reads right with that side down, so that
whoever can read the words sees the art as it will be.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Literal

import numpy as np

from sepkit.film.furniture import (
    LONG_TICK_MM,
    SHORT_TICK_MM,
    corner,
    longest_bar_mm,
    rectangle,
    scale_bar,
    target,
    words,
)
from sepkit.film.page import FilmPage, Mark, PagePlace, PlacedFilm, Solid, Stroke, Tile
from sepkit.film.rows import Film, FilmSettings, plan_film
from sepkit.film.tile_marks import seam_marks, tile_map
from sepkit.film.tone import NO_GAIN, NO_LIMITS
from sepkit.model import is_periodic

if TYPE_CHECKING:
    from sepkit.film.lettering import Point
    from sepkit.model import Mesh

Side = Literal["left", "right", "top", "low"]

LINE_MM = 0.15
CENTRE_GAP_MM = 1.5
TARGET_MM = 12.0
TARGET_CIRCLE_MM = 4.0
SIDE_MM = 24.0
TOP_MM = 24.0
BOTTOM_MM = 66.0
EDGE_MM = 4.0
LEAST_PAGE_WIDTH_MM = 140.0
PATCH_MM = 8.0
WEDGE_PERCENT = (5, 10, 20, 30, 40, 50, 60, 70, 80, 90, 95)


@dataclass(frozen=True, slots=True)
class FilmLabel:
    """The words in the margin."""

    plate: str
    ink: str
    order: int
    of: int
    mesh: Mesh | None = None
    garment: str = ""
    artwork: str = ""
    coats: int = 1
    note: str = ""
    """One more line, such as the tile's number."""


def natural_place(width_px: int, height_px: int, dpi: float) -> PagePlace:
    """Return the page that holds art of this size and its furniture, without a sheet."""
    side = max(_px(SIDE_MM, dpi), -(-(_px(LEAST_PAGE_WIDTH_MM, dpi) - width_px) // 2))
    return PagePlace(width_px + 2 * side, height_px + _px(TOP_MM, dpi) + _px(BOTTOM_MM, dpi), side, _px(TOP_MM, dpi))


def film_page(
    film: Film,
    label: FilmLabel,
    *,
    tile: Tile | None = None,
    all_colours: bool = False,
    beside: Sequence[Mark] = (),
) -> FilmPage:
    """Return the page of a film, or of one tile of it, with furniture; without a tile it is as large as it needs.

    ``beside`` are more marks, in mm from the art's top left; a tile carries those that stand beside its own part.
    """
    dpi = film.dpi
    mirror = film.settings.mirror
    part = film
    if tile is not None:
        # Tiles are planned right-reading.
        x = film.width_px - tile.x_px - tile.width_px if mirror else tile.x_px
        part = film.part(x, tile.y_px, tile.width_px, tile.height_px)
    place = natural_place(film.width_px, film.height_px, dpi) if tile is None else tile.place
    mm = 25.4 / dpi
    box = _box(film, tile, place)
    marks: list[Mark] = []
    for x_mm, y_mm in _target_places(box):
        marks += target(x_mm, y_mm, TARGET_MM, TARGET_CIRCLE_MM)
    marks += _beside(beside, film, tile, box)
    marks += _corners(box) + _centres(box) + _top_words(box) + _scale_bars(box)
    words_y = box.low + 23.0
    for k, line in enumerate(_words(film, label, tile, all_colours=all_colours)):
        marks += words(line, box.bar_x + 4, words_y + k * 5.5, 3.2 if k else 4.0, box.page_w - box.bar_x - 4 - EDGE_MM)
    patch_y = words_y + 4 * 5.5 - 2
    if tile is not None and tile.of > 1:
        marks += seam_marks(tile, (box.x, box.y, box.w, box.h), mm) + tile_map(tile, box.page_w - EDGE_MM, patch_y)
    marks += [rectangle(box.bar_x + 4, patch_y, PATCH_MM, PATCH_MM)]
    marks += words("solid", box.bar_x + 4, patch_y + PATCH_MM + 2.6, 1.8, PATCH_MM)
    wedge, wedge_marks = _wedge(film, box, patch_y)
    films = (PlacedFilm(part, place.art_x_px, place.art_y_px), *wedge)
    page = FilmPage(
        page_title(label, tile), place.width_px, place.height_px, dpi, films, tuple(marks + wedge_marks), all_colours
    )
    return page.mirrored() if mirror else page


def _beside(marks: Sequence[Mark], film: Film, tile: Tile | None, box: _Box) -> list[Mark]:
    """Return the marks beside a page's part of the art, moved to the page."""
    mm = 25.4 / film.dpi
    left, top = (0.0, 0.0) if tile is None else (tile.x_px * mm, tile.y_px * mm)
    art_w, art_h = film.width_px * mm, film.height_px * mm
    out: list[Mark] = []
    for mark in marks:
        x = sum(at[0] for at in mark.points) / len(mark.points)
        y = sum(at[1] for at in mark.points) / len(mark.points)
        near_x, near_y = min(max(x, 0.0), art_w), min(max(y, 0.0), art_h)
        if left - 1e-6 <= near_x <= left + box.w + 1e-6 and top - 1e-6 <= near_y <= top + box.h + 1e-6:
            moved = tuple((at[0] - left + box.x, at[1] - top + box.y) for at in mark.points)
            out.append(replace(mark, points=moved))
    return out


def page_title(label: FilmLabel, tile: Tile | None = None) -> str:
    """Return a page's name, such as "2 of 3 red, tile 1 of 2"."""
    sheet = f", tile {tile.number} of {tile.of}" if tile is not None and tile.of > 1 else ""
    return f"{label.order} of {label.of} {label.plate}{sheet}"


@dataclass(frozen=True, slots=True)
class _Box:
    """The art on its page, mm."""

    x: float
    y: float
    w: float
    h: float
    page_w: float
    page_h: float
    centre_x: float
    """The whole print's centre lines, which a tile may not hold."""
    centre_y: float
    outer: frozenset[Side]
    """The sides where the print ends; at the others a tile's neighbour goes on."""

    @property
    def right(self) -> float:
        return self.x + self.w

    @property
    def low(self) -> float:
        return self.y + self.h

    @property
    def mid_x(self) -> float:
        return self.x + self.w / 2

    @property
    def mid_y(self) -> float:
        return self.y + self.h / 2

    @property
    def holds_centre_x(self) -> bool:
        return self.x <= self.centre_x <= self.right

    @property
    def holds_centre_y(self) -> bool:
        return self.y <= self.centre_y <= self.low

    @property
    def bar_x(self) -> float:
        """Left end of the words and the bar across."""
        return EDGE_MM


def _box(film: Film, tile: Tile | None, place: PagePlace) -> _Box:
    mm = 25.4 / film.dpi
    x, y, w, h = (
        (0, 0, film.width_px, film.height_px) if tile is None else (tile.x_px, tile.y_px, tile.width_px, tile.height_px)
    )
    ends: dict[Side, bool] = {
        "left": x == 0,
        "right": x + w == film.width_px,
        "top": y == 0,
        "low": y + h == film.height_px,
    }
    return _Box(
        place.art_x_px * mm,
        place.art_y_px * mm,
        w * mm,
        h * mm,
        place.width_px * mm,
        place.height_px * mm,
        (place.art_x_px - x + film.width_px / 2) * mm,
        (place.art_y_px - y + film.height_px / 2) * mm,
        frozenset(side for side, ends_here in ends.items() if ends_here),
    )


def _target_places(box: _Box) -> list[Point]:
    """Four targets: the middle of each edge; on a sheet too narrow for that, the sides move below the art."""
    off = TARGET_MM / 2 + 6
    places = [(box.mid_x, box.y - off), (box.mid_x, box.low + off)]
    if box.x >= SIDE_MM - 0.5:
        return [*places, (box.x - off, box.mid_y), (box.right + off, box.mid_y)]
    reach = max(box.w / 2 - 1.5 * TARGET_MM, TARGET_MM * 2)
    return [*places, (box.mid_x - reach, box.low + off), (box.mid_x + reach, box.low + off)]


def _corners(box: _Box) -> list[Mark]:
    """Return corner marks at the print's own corners."""
    out: list[Mark] = []
    sides: tuple[tuple[Side, float, int], ...] = (("left", box.x, -1), ("right", box.right, 1))
    ends: tuple[tuple[Side, float, int], ...] = (("top", box.y, -1), ("low", box.low, 1))
    for side, x, sx in sides:
        for end, y, sy in ends:
            if {side, end} <= box.outer:
                out += corner(x, y, sx, sy)
    return out


def _centres(box: _Box) -> list[Mark]:
    """Centre lines from the print to the page's edges: for lining up with the screen's and the platen's centre."""
    x, y = box.centre_x, box.centre_y
    lines: list[tuple[Side, Mark]] = []
    if box.holds_centre_x:
        lines += [
            ("top", Stroke(((x, 0.5), (x, box.y - CENTRE_GAP_MM)), LINE_MM)),
            ("low", Stroke(((x, box.low + CENTRE_GAP_MM), (x, box.low + 2 * TARGET_MM - 5)), LINE_MM)),
            ("low", Stroke(((x, box.page_h - EDGE_MM), (x, box.page_h - 0.5)), LINE_MM)),
        ]
    if box.holds_centre_y:
        lines += [
            ("left", Stroke(((0.5, y), (box.x - CENTRE_GAP_MM, y)), LINE_MM)),
            ("right", Stroke(((box.right + CENTRE_GAP_MM, y), (box.page_w - 0.5, y)), LINE_MM)),
        ]
    return [line for side, line in lines if side in box.outer] + _centre_names(box)


def _centre_names(box: _Box) -> list[Mark]:
    """Return names of the centre lines on a tile, where they might be taken for lines to cut along."""
    out: list[Mark] = []
    if len(box.outer) == 4:
        return out
    if box.holds_centre_x and "top" in box.outer:
        out += words("centre", box.centre_x + 1.0, EDGE_MM, 1.8, 9.0)
    if box.holds_centre_y and box.outer & {"left", "right"}:
        at = 1.0 if "left" in box.outer else box.right + CENTRE_GAP_MM
        out += words("centre", at, box.centre_y - 1.0, 1.8, box.x - CENTRE_GAP_MM - 1.5)
    return out


def _top_words(box: _Box) -> list[Mark]:
    """Return the arrow to the top, and a letter that shows at a glance which way the film reads."""
    x, y = box.mid_x + 14, box.y - 18
    arrow: list[Mark] = [
        Solid(((x, y), (x + 2.5, y + 5), (x - 2.5, y + 5))),
        rectangle(x - 0.7, y + 5, 1.4, 6),
    ]
    return arrow + words("TOP", x + 5, y + 8.5, 4.5, 40) + words("R", box.mid_x - 22, y + 10.5, 10, 20)


def _scale_bars(box: _Box) -> list[Mark]:
    """Bars of 300 or 100 mm along the lower and the left edge, to be measured within 0.2 %."""
    x, y = EDGE_MM + 0.5, box.page_h - EDGE_MM - 1.5
    out: list[Mark] = []
    across = longest_bar_mm(box.page_w, beside_mm=2 * EDGE_MM + 2)
    if across:
        out += scale_bar((x, y), across)
        for at in range(100, across + 1, 200):
            out += words(f"{at} mm", x + at - 16, y - 1.6, 1.8, 14)
    down = longest_bar_mm(box.page_h - 6, beside_mm=2 * EDGE_MM + 2)
    if down:
        # Beside art that nearly fills the sheet the ticks are shorter.
        room = box.x - x - 0.6
        out += scale_bar(
            (x, EDGE_MM), down, down=True, long_mm=min(LONG_TICK_MM, room), short_mm=min(SHORT_TICK_MM, room)
        )
        for at in range(100, down + 1, 200) if x + 3 < box.x else ():
            out += words(f"{at}", x + 1, EDGE_MM + at - 1.2, 1.8, max(3.0, box.x - x - 1.5))
    return out


def _words(film: Film, label: FilmLabel, tile: Tile | None, *, all_colours: bool) -> list[str]:
    """Return the four lines below the art."""
    sheet = f"tile {tile.number} of {tile.of}" if tile is not None and tile.of > 1 else ""
    size = f"{film.width_px * 25.4 / film.dpi:.1f} x {film.height_px * 25.4 / film.dpi:.1f} mm, {film.dpi:g} dpi"
    reading = "right-reading positive, emulsion (inked) side up"
    if film.settings.mirror:
        reading = "MIRRORED: right-reading, emulsion (inked) side down"
    lines = [
        [f"{label.order} of {label.of}", label.plate, sheet, label.note],
        ["ink " + label.ink, _mesh_words(label.mesh), _dot_words(film), _coat_words(label.coats)],
        [label.artwork, "on " + label.garment if label.garment else "", size],
        [reading, "inked side to the screen", "solid in all printer colours" if all_colours else ""],
    ]
    return [" · ".join(part for part in line if part) for line in lines]


def _mesh_words(mesh: Mesh | None) -> str:
    return f"mesh {mesh} ({mesh.threads_per_cm * 2.54:.0f} tpi)" if mesh else ""


def _coat_words(coats: int) -> str:
    return f"{coats} coats" if coats > 1 else "1 coat"


def _dot_words(film: Film) -> str:
    dots, gain = film.halftone, film.settings.gain
    if dots is None:
        return "solid edges, no dots"
    ruled = f"{dots.lpi:g} lpi {dots.angle_deg:g}° {dots.shape}"
    name = ruled if is_periodic(dots.shape) else f"{dots.shape} dots"
    if gain == NO_GAIN:
        return name
    return f"{name}, lightened for {gain.edge_um:g} µm of growth" if gain.edge_um else f"{name}, lightened"


def _wedge(film: Film, box: _Box, y_mm: float) -> tuple[list[PlacedFilm], list[Mark]]:
    """Tint patches beside the solid, drawn with the film's own dots but without compensation or limits."""
    if film.halftone is None:
        return [], []
    dpi = film.dpi
    left = _px(box.bar_x + 4 + PATCH_MM + 4, dpi)
    room = _px(box.page_w - EDGE_MM, dpi) - left
    side = min(_px(PATCH_MM, dpi), room // len(WEDGE_PERCENT))
    tints = np.rint(np.array(WEDGE_PERCENT) * 2.55).astype(np.uint8)
    plane = np.repeat(np.repeat(tints[None, :], 8, axis=0), 8, axis=1)
    settings = _plain(film)
    strip = plan_film(
        plane,
        np.ones(plane.shape, bool),
        film.halftone,
        width_mm=side * len(tints) * 25.4 / dpi,
        height_mm=side * 25.4 / dpi,
        settings=settings,
    )
    marks: list[Mark] = []
    for k, percent in enumerate(WEDGE_PERCENT):
        if side * 25.4 / dpi >= 4:
            x = (left + k * side) * 25.4 / dpi
            marks += words(str(percent), x + 1, y_mm + side * 25.4 / dpi + 2.6, 1.8, side * 25.4 / dpi - 1)
    return [PlacedFilm(strip, left, _px(y_mm, dpi))], marks


def _plain(film: Film) -> FilmSettings:
    return replace(film.settings, gain=NO_GAIN, limits=NO_LIMITS, screen_x_px=0, screen_y_px=0)


def _px(mm: float, dpi: float) -> int:
    return round(mm * dpi / 25.4)
