"""A film page: placed films and margin marks on one sheet, the same origin on every page of a job.

Positions of films are whole film pixels from the page's top left, so that readers show every bit as it was made;
marks are in mm from the same corner, y down, and lie outside the art.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from sepkit.film.lettering import Point
    from sepkit.film.rows import Film


@dataclass(frozen=True, slots=True)
class Stroke:
    """A line of constant width through points (mm)."""

    points: tuple[Point, ...]
    width_mm: float
    closed: bool = False


@dataclass(frozen=True, slots=True)
class Solid:
    """A filled polygon (mm)."""

    points: tuple[Point, ...]


Mark = Stroke | Solid


@dataclass(frozen=True, slots=True, eq=False)
class PlacedFilm:
    """A film and its top left on the page, in film pixels."""

    film: Film
    x_px: int
    y_px: int


@dataclass(frozen=True, slots=True, eq=False)
class FilmPage:
    """One sheet of film."""

    title: str
    width_px: int
    height_px: int
    dpi: float
    films: tuple[PlacedFilm, ...]
    marks: tuple[Mark, ...] = ()
    all_colours: bool = False
    """Solid in every colour of the printer, for a denser black."""

    def __post_init__(self) -> None:
        for placed in self.films:
            right, low = placed.x_px + placed.film.width_px, placed.y_px + placed.film.height_px
            if placed.x_px < 0 or placed.y_px < 0 or right > self.width_px or low > self.height_px:
                raise ValueError("a film lies outside its page")
            if placed.film.dpi != self.dpi:
                raise ValueError("a film and its page differ in dpi")

    def mirrored(self) -> FilmPage:
        """Return the page as seen through the sheet, but for what the films hold: films are mirrored in themselves."""
        width_mm = self.width_mm
        films = tuple(replace(f, x_px=self.width_px - f.x_px - f.film.width_px) for f in self.films)
        marks = tuple(replace(m, points=tuple((width_mm - x, y) for x, y in m.points)) for m in self.marks)
        return replace(self, films=films, marks=marks)

    @property
    def width_mm(self) -> float:
        """Page width."""
        return self.width_px * 25.4 / self.dpi

    @property
    def height_mm(self) -> float:
        """Page height."""
        return self.height_px * 25.4 / self.dpi


@dataclass(frozen=True, slots=True)
class PagePlace:
    """Page size and the art's top left on it, in whole film pixels."""

    width_px: int
    height_px: int
    art_x_px: int
    art_y_px: int


@dataclass(frozen=True, slots=True)
class Tile:
    """The part of a film that one sheet carries, and where its neighbours overlap it (film pixels, right-reading)."""

    x_px: int
    y_px: int
    width_px: int
    height_px: int
    place: PagePlace
    number: int = 1
    of: int = 1
    seams_x_px: tuple[int, ...] = ()
    """Where to cut, across, from the tile's left edge: the middle of each overlap."""
    seams_y_px: tuple[int, ...] = ()
    columns: int = 1
    """Tiles side by side; they are numbered row by row."""
