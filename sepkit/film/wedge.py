"""The calibration film: tone steps at several rulings, lines, gaps, type, a solid, register ladders, scale bars.

In: rulings, dot shape, film dpi. Out: two FilmPages of 200 x 287 mm (they fit A4 of ISO 216). The first film carries
all tests, the second only the register ladders' other half, for the second screen. Tones are drawn without any
correction, so that what the press does to them can be read.
Register is read like a vernier: the first film's lines are 2.0 mm apart, the second's 2.1 mm, so that the line of both
that meets tells tenths of a millimetre (the principle of P. Vernier, 1631).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

import numpy as np

from sepkit.film.lettering import text_strokes
from sepkit.film.page import FilmPage, Mark, PlacedFilm, Solid, Stroke
from sepkit.film.rows import FilmSettings, plan_film
from sepkit.model import Halftone

if TYPE_CHECKING:
    from sepkit.model import PeriodicDot

PAGE_MM = (200.0, 287.0)
TONES_PERCENT = (5, 10, 20, 30, 40, 50, 60, 70, 80, 90, 95)
WIDTHS_MM = (0.10, 0.15, 0.20, 0.25, 0.30, 0.35, 0.40, 0.50, 0.60, 0.75, 1.00)
TYPE_PT = (5, 6, 7, 8, 9, 10, 12, 14, 18)
STEP_MM = 14.0
STEP_GAP_MM = 2.0
FIRST_ROW_MM = 26.0
ROW_MM = STEP_MM + 13
LINES_MM, GAPS_MM = 2.0, 44.0
"""From the end of the tone rows to the tops of lines and gaps."""
SOLID_MM = (60.0, 30.0)
LADDER_MM, LADDER_SHIFT_MM = 2.0, 0.1
LADDER_STEPS = 10
"""Lines each side of the middle: register errors up to 1.0 mm can be read."""
PT_MM = 25.4 / 72
CAP_SHARE = 0.7
"""Height of capitals over the type size, for a common sans serif."""
STEM_SHARE = 0.15
"""Width of a bold stem over the height of capitals."""
LEFT_MM = 12.0
TARGETS_MM = ((20.0, 262.0), (90.0, 262.0), (186.0, 12.0))
"""Three register targets: the usual least (common practice)."""
HAIR_MM = 0.2


@dataclass(frozen=True, slots=True)
class WedgeSettings:
    """What is on the wedge."""

    lpi: tuple[float, ...] = (35.0, 45.0)
    angle_deg: float = 22.5
    shape: PeriodicDot = "ellipse"
    dpi: float = 720.0


@dataclass(frozen=True, slots=True, eq=False)
class Wedge:
    """The two films, and the area (cm2) that the first one inks."""

    pages: tuple[FilmPage, FilmPage]
    inked_cm2: float


def calibration_film(settings: WedgeSettings) -> Wedge:
    """Return the calibration film. Raises UsageError for a ruling that the film cannot draw."""
    films: list[PlacedFilm] = []
    marks: list[Mark] = [*_words(f"sepkit wedge - {settings.dpi:g} dpi - print at 100 %, do not fit to page", 10, 4)]
    marks += _scale_bars()
    for lpi, y in zip(settings.lpi, tone_rows_mm(settings), strict=True):
        placed, drawn = _tone_row(lpi, y, settings)
        films += placed
        marks += drawn
    y = lines_start_mm(settings)
    marks += _lines(y + LINES_MM) + _gaps(y + GAPS_MM)
    films.append(_reversed_type(y + 72, settings.dpi))
    marks += _type(y + 72) + _weigh(y + 108)
    marks += _ladders(LADDER_MM, first=True) + _targets()
    area = sum(_film_cm2(placed) for placed in films) + sum(_mark_cm2(mark) for mark in marks)
    marks += _words(f"this film inks {area:.1f} cm2", LEFT_MM, PAGE_MM[1] - 7, height=2.4)
    second = [*_words("sepkit wedge, second screen: register ladders only", 10, 4), *_scale_bars()]
    second += _ladders(LADDER_MM + LADDER_SHIFT_MM, first=False) + _targets()
    pages = (_page("wedge, first screen", films, marks, settings), _page("wedge, second screen", [], second, settings))
    return Wedge(pages, area)


def tone_rows_mm(settings: WedgeSettings) -> list[float]:
    """Return the tops of the rows of tone steps."""
    return [FIRST_ROW_MM + nth * ROW_MM for nth in range(len(settings.lpi))]


def lines_start_mm(settings: WedgeSettings) -> float:
    """Return where what stands below the tone steps starts."""
    return FIRST_ROW_MM + len(settings.lpi) * ROW_MM


@dataclass(frozen=True, slots=True)
class Test:
    """Where one test lies on the first film: a tone step, the bar of a line, or a gap between two bars; mm."""

    test: Literal["tone", "line", "gap"]
    asked: float
    """Percent of a tone; width of a line or gap in mm."""
    x_mm: float
    y_mm: float
    width_mm: float
    height_mm: float
    lpi: float = 0.0


def wedge_tests(settings: WedgeSettings) -> tuple[Test, ...]:
    """Return where the tests lie that can be measured without a loupe."""
    out = [
        Test("tone", percent, _step_x(nth), y, STEP_MM, STEP_MM, lpi)
        for lpi, y in zip(settings.lpi, tone_rows_mm(settings), strict=True)
        for nth, percent in enumerate(TONES_PERCENT)
    ]
    y = lines_start_mm(settings)
    for nth, width in enumerate(WIDTHS_MM):
        out += [Test("line", width, *bar) for bar in _line_bars(nth, width, y + LINES_MM)]
        out.append(Test("gap", width, LEFT_MM + nth * 16 + 4, y + GAPS_MM - 5, width, 14.0))
    return tuple(out)


def _step_x(nth: int) -> float:
    return LEFT_MM + nth * (STEP_MM + STEP_GAP_MM)


def _line_bars(nth: int, width: float, y: float) -> list[tuple[float, float, float, float]]:
    """Return the bars of one width: two upright, two lying; x, y, width, height."""
    x = LEFT_MM + 2 + nth * 16
    return [(x, y, width, 14.0), (x + 3, y, width, 14.0), (x, y + 16, 10.0, width), (x, y + 19, 10.0, width)]


def _page(title: str, films: Sequence[PlacedFilm], marks: Sequence[Mark], settings: WedgeSettings) -> FilmPage:
    width, height = (round(side * settings.dpi / 25.4) for side in PAGE_MM)
    return FilmPage(title, width, height, settings.dpi, tuple(films), tuple(marks))


def _tone_row(lpi: float, y: float, settings: WedgeSettings) -> tuple[list[PlacedFilm], list[Mark]]:
    marks = _words(f"{lpi:g} lpi, {settings.angle_deg:g} deg, {settings.shape}", LEFT_MM, y - 2.5, height=2.4)
    films = []
    for nth, percent in enumerate(TONES_PERCENT):
        x = _step_x(nth)
        px = (round(x * settings.dpi / 25.4), round(y * settings.dpi / 25.4))
        # One phase for the row: the steps are windows of one screen.
        film = plan_film(
            np.full((8, 8), round(percent * 2.55), np.uint8),
            np.ones((8, 8), bool),
            Halftone(lpi, settings.angle_deg, settings.shape),
            width_mm=STEP_MM,
            height_mm=STEP_MM,
            settings=FilmSettings(settings.dpi, screen_x_px=px[0], screen_y_px=px[1]),
        )
        films.append(PlacedFilm(film, *px))
        marks += _words(f"{percent}", x + 4, y + STEP_MM + 4, height=2.4)
    return films, marks


def _lines(y: float) -> list[Mark]:
    marks = _words("lines, mm: the thinnest that prints without a break", LEFT_MM, y - 4, height=2.4)
    for nth, width in enumerate(WIDTHS_MM):
        marks += [_bar(*bar) for bar in _line_bars(nth, width, y)]
        marks += _words(f"{width:.2f}", LEFT_MM + 2 + nth * 16, y + 26, height=2.2)
    return marks


def _gaps(y: float) -> list[Mark]:
    """Draw solid bars whose gaps are WIDTHS_MM wide."""
    marks = _words("gaps, mm: the narrowest that stays open", LEFT_MM, y - 8, height=2.4)
    for nth, gap in enumerate(WIDTHS_MM):
        x = LEFT_MM + nth * 16
        marks += [_bar(x, y - 5, 4, 14), _bar(x + 4 + gap, y - 5, 4, 14)]
        marks += _words(f"{gap:.2f}", x, y + 13, height=2.2)
    return marks


def _type(y: float) -> list[Mark]:
    marks: list[Mark] = _words("type, pt: the smallest that reads", LEFT_MM, y - 4, height=2.4)
    x = LEFT_MM
    for size in TYPE_PT:
        cap = size * PT_MM * CAP_SHARE
        letters = text_strokes(f"Ag{size}", x_mm=x, y_mm=y + 7, height_mm=cap)
        marks += [Stroke(line, cap * STEM_SHARE) for line in letters]
        x += 10 + cap * 3.4
    return marks


def _reversed_type(y: float, dpi: float) -> PlacedFilm:
    """Return a solid with the same type left open."""
    from PIL import Image, ImageDraw

    width_mm, height_mm = PAGE_MM[0] - 2 * LEFT_MM, 12.0
    scale = dpi / 25.4
    image = Image.new("L", (round(width_mm * scale), round(height_mm * scale)), 255)
    draw = ImageDraw.Draw(image)
    x = 3.0
    for size in TYPE_PT:
        cap = size * PT_MM * CAP_SHARE
        for line in text_strokes(f"Ag{size}", x_mm=x, y_mm=8.5, height_mm=cap):
            width = max(1, round(cap * STEM_SHARE * scale))
            draw.line([(px * scale, py * scale) for px, py in line], fill=0, width=width, joint="curve")
        x += 10 + cap * 3.1
    plane = np.array(image)
    film = plan_film(plane, None, None, width_mm=width_mm, height_mm=height_mm, settings=FilmSettings(dpi))
    return PlacedFilm(film, round(LEFT_MM * scale), round((y + 12) * scale))


def _weigh(y: float) -> list[Mark]:
    marks = _words("solid, to see opacity", LEFT_MM, y - 3.5, height=2.4)
    return [*marks, _bar(LEFT_MM, y, *SOLID_MM)]


def _ladders(pitch: float, *, first: bool) -> list[Mark]:
    """Draw a ladder across and one down, with a cross; the second film's lines lie on the other side of the axis."""
    cx, cy = 130.0, PAGE_MM[1] - 48.0
    marks: list[Mark] = [Stroke(((cx - 8, cy), (cx + 8, cy)), HAIR_MM), Stroke(((cx, cy - 8), (cx, cy + 8)), HAIR_MM)]
    for k in range(-LADDER_STEPS, LADDER_STEPS + 1):
        at, reach = k * pitch, 5.0 if k % 5 == 0 else 3.5
        across, down = (cx + at, cy + 22), (cx + 34, cy - 2 + at)
        if first:
            marks += [
                Stroke((across, (across[0], across[1] - reach)), HAIR_MM),
                Stroke((down, (down[0] - reach, down[1])), HAIR_MM),
            ]
            if k % 5 == 0:
                marks += _words(f"{abs(k) / 10:.1f}", across[0] - 2, across[1] - 6.5, height=1.8)
                marks += _words(f"{abs(k) / 10:.1f}", down[0] - 12, down[1] + 0.9, height=1.8)
        else:
            marks += [
                Stroke((across, (across[0], across[1] + reach)), HAIR_MM),
                Stroke((down, (down[0] + reach, down[1])), HAIR_MM),
            ]
    return marks


def _targets() -> list[Mark]:
    """Draw three register targets, at the same places on both films."""
    marks: list[Mark] = []
    for x, y in TARGETS_MM:
        ring = tuple((x + 2 * math.cos(a * math.pi / 18), y + 2 * math.sin(a * math.pi / 18)) for a in range(36))
        marks += [
            Stroke(((x - 6, y), (x + 6, y)), 0.25),
            Stroke(((x, y - 6), (x, y + 6)), 0.25),
            Stroke(ring, 0.25, closed=True),
        ]
    return marks


def _scale_bars() -> list[Mark]:
    """Draw 150 mm across and 250 mm down, with ends to measure between."""
    x, y = PAGE_MM[0] - 4.0, 20.0
    marks: list[Mark] = [
        Stroke(((LEFT_MM, 12), (LEFT_MM + 150, 12)), HAIR_MM),
        Stroke(((x, y), (x, y + 250)), HAIR_MM),
        Stroke(((LEFT_MM, 10), (LEFT_MM, 14)), HAIR_MM),
        Stroke(((LEFT_MM + 150, 10), (LEFT_MM + 150, 14)), HAIR_MM),
        Stroke(((x - 2, y), (x + 2, y)), HAIR_MM),
        Stroke(((x - 2, y + 250), (x + 2, y + 250)), HAIR_MM),
    ]
    return [*marks, *_words("150 mm", LEFT_MM + 152, 13, height=2.0), *_words("250 mm", x - 12, y + 4, height=2.0)]


def _bar(x: float, y: float, width: float, height: float) -> Solid:
    return Solid(((x, y), (x + width, y), (x + width, y + height), (x, y + height)))


def _words(text: str, x: float, y: float, *, height: float = 3.0) -> list[Mark]:
    return [Stroke(line, height * 0.12) for line in text_strokes(text, x_mm=x, y_mm=y + height / 2, height_mm=height)]


def _film_cm2(placed: PlacedFilm) -> float:
    count = sum(int(np.bitwise_count(rows).sum()) for rows in placed.film.bands())
    return count * (2.54 / placed.film.dpi) ** 2


def _mark_cm2(mark: Mark) -> float:
    """Return the area of a mark; crossings of strokes count twice, which is little."""
    points = np.asarray(mark.points)
    if isinstance(mark, Stroke):
        return float(np.hypot(*np.diff(points, axis=0).T).sum() * mark.width_mm) / 100.0
    x, y = points.T
    return float(abs(np.dot(x, np.roll(y, 1)) - np.dot(y, np.roll(x, 1)))) / 200.0
