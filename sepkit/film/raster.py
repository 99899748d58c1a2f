"""A film page as packed rows, marks included, for formats that hold pixels only. In bands, as everything here.

In: a FilmPage. Out: packed rows (n, ceil(width / 8)), MSB first, 1 = ink, ``BAND_ROWS`` at a time from the top.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass
from itertools import pairwise
from typing import TYPE_CHECKING, Any

import numpy as np
from PIL import Image, ImageDraw

from sepkit.coverage.bands import pack_bits, row_bands
from sepkit.film.page import FilmPage, Mark, Solid

if TYPE_CHECKING:
    from sepkit.film.lettering import Point
    from sepkit.film.page import PlacedFilm
    from sepkit.model import U8, Bool

BAND_ROWS = 256
CAP_SIDES = 12

Polygon = tuple["Point", ...]


@dataclass(frozen=True, slots=True)
class _Shape:
    """A filled polygon in pixels, and the rows it reaches from and to."""

    corners: Polygon
    top: float
    low: float

    @staticmethod
    def of(corners: Polygon) -> _Shape:
        return _Shape(corners, min(y for _, y in corners), max(y for _, y in corners))

    def in_rows(self, start: int, stop: int) -> bool:
        return self.top < stop + 1 and self.low > start - 1


def page_rows(page: FilmPage) -> Iterator[U8]:
    """Yield the whole page, art and marks, as packed rows."""
    scale = page.dpi / 25.4
    shapes = [_Shape.of(polygon) for mark in page.marks for polygon in _polygons(mark, scale)]
    feeds = [_Feed(placed) for placed in page.films]
    for band in row_bands(page.height_px, BAND_ROWS):
        near = [shape for shape in shapes if shape.in_rows(band.start, band.stop)]
        ink = _drawn(near, page.width_px, band.start, band.stop)
        for feed in feeds:
            feed.add_to(ink, band.start, band.stop)
        yield pack_bits(ink)


class _Feed:
    """Hands out a placed film's rows in the page's bands."""

    def __init__(self, placed: PlacedFilm) -> None:
        self.placed = placed
        self.rows = placed.film.bands()
        self.held: U8 = np.zeros((0, -(-placed.film.width_px // 8)), np.uint8)

    def add_to(self, ink: Bool, start: int, stop: int) -> None:
        """OR the film's part of page rows ``start:stop`` into ``ink``."""
        top, film = self.placed.y_px, self.placed.film
        low, high = max(start, top), min(stop, top + film.height_px)
        if low >= high:
            return
        bits = np.unpackbits(self._take(high - low), axis=1, count=film.width_px).view(bool)
        ink[low - start : high - start, self.placed.x_px : self.placed.x_px + film.width_px] |= bits

    def _take(self, count: int) -> U8:
        parts, have = [self.held], self.held.shape[0]
        while have < count:
            rows = next(self.rows)
            parts.append(rows)
            have += rows.shape[0]
        joined = np.concatenate(parts)
        self.held = joined[count:].copy()
        return joined[:count]


def _drawn(shapes: list[_Shape], width: int, start: int, stop: int) -> Bool:
    if not shapes:
        return np.zeros((stop - start, width), bool)
    image = Image.new("1", (width, stop - start))
    pen = ImageDraw.Draw(image)
    for shape in shapes:
        pen.polygon([(x, y - start) for x, y in shape.corners], fill=1)
    return np.array(image, bool)


def _polygons(mark: Mark, scale: float) -> list[Polygon]:
    """Return a mark as filled polygons in pixels, pixel centres at whole numbers."""
    points = [(x * scale - 0.5, y * scale - 0.5) for x, y in mark.points]
    if isinstance(mark, Solid):
        return [tuple(points)]
    half = max(mark.width_mm * scale, 1.0) / 2
    if mark.closed:
        points.append(points[0])
    out: list[Polygon] = [_cap(x, y, half) for x, y in points]
    for (x0, y0), (x1, y1) in pairwise(points):
        length = math.hypot(x1 - x0, y1 - y0)
        if length > 0:
            nx, ny = -(y1 - y0) / length * half, (x1 - x0) / length * half
            out.append(((x0 + nx, y0 + ny), (x1 + nx, y1 + ny), (x1 - nx, y1 - ny), (x0 - nx, y0 - ny)))
    return out


def _cap(x: float, y: float, radius: float) -> Polygon:
    turns: Any = np.linspace(0, 2 * math.pi, CAP_SIDES + 1)[:-1]
    return tuple((x + radius * math.cos(t), y + radius * math.sin(t)) for t in turns)
