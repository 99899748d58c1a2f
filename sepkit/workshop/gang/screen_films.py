"""Films of whole screens: all prints of a screen on one film at true size, in tiles where the printer is narrower.

In: ScreenPlans and the plate of each item. Out: PDF files in a folder that the caller owns. Art of a print that is used
with the frame turned is rotated 180 degrees on the film, never mirrored. Plates are halftoned after they are placed,
with one phase for the screen, so that dots keep their angle to the mesh whichever way the art is turned.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from sepkit.colorimetry.names import colours_called
from sepkit.files.films.pdf import write_film_pdf
from sepkit.film.outline import film_size_px
from sepkit.film.page import FilmPage, Mark, PagePlace, PlacedFilm, Tile
from sepkit.film.rows import FilmSettings, plan_film
from sepkit.film.screen_marks import AROUND_MM, FilmBox, ScreenWords, page_marks, print_marks, within
from sepkit.press.sheet import Sheet, plan_tiles
from sepkit.units import mm_to_px

if TYPE_CHECKING:
    from sepkit.jobs import FilmPrinter
    from sepkit.model import F64, U8, Halftone, Progress
    from sepkit.press.jobs import PlacedItem, ScreenPlan

    Bool = np.ndarray[tuple[int, int], np.dtype[np.bool_]]

SIDE_MM = 6.0
TOP_MM = 14.0
BOTTOM_MM = 44.0
LEAST_WIDTH_MM = 140.0
PROFILE_MM = 1.0
"""Ink along the film is summed in steps of this, to find where a cut crosses least."""
CLEAR_MM = 8.0
"""A joint this far from every print carries none in its overlap."""
WITHIN_PRINT = 1e-3
"""Added to the ink where a cut runs through a print: a lane is better than a gap in the art."""


@dataclass(frozen=True, slots=True, eq=False)
class ScreenImage:
    """What one item prints, upright: coverage as printed, tones, dots, size."""

    coverage: U8
    """(h, w) uint8, 0 none, 255 solid."""
    tone: Bool | None
    halftone: Halftone | None
    width_mm: float
    height_mm: float
    settings: FilmSettings = field(default_factory=FilmSettings)
    """Film settings with this plate's dot gain and limits; the phase is the screen's."""
    beside: tuple[Mark, ...] = ()
    """Marks beside the art, in mm from its top left."""


@dataclass(frozen=True, slots=True)
class ScreenFilm:
    """The film of one screen as written."""

    number: int
    path: Path
    tiles: int
    width_mm: float
    height_mm: float


def sheet_of(printer: FilmPrinter) -> Sheet:
    """Return a film printer's sheet, or its roll."""
    if printer.sheet_height_mm:
        name = f"sheet {printer.sheet_width_mm:g} x {printer.sheet_height_mm:g} mm"
        return Sheet(name, printer.sheet_width_mm, printer.sheet_height_mm)
    return Sheet(f"roll {printer.sheet_width_mm:g} mm", printer.sheet_width_mm, None)


def write_screen_films(
    folder: Path,
    plans: Sequence[ScreenPlan],
    images: Mapping[str, ScreenImage],
    *,
    sheet: Sheet | None = None,
    title: str = "",
    progress: Progress | None = None,
) -> list[ScreenFilm]:
    """Write one PDF for each screen below ``folder``; ``images`` maps item names to what they print.

    Without a sheet a page is as large as its screen's prints and margins. Raises UsageError for a sheet smaller than
    its margins, WriteError when the disk refuses.
    """
    folder.mkdir(parents=True, exist_ok=True)
    written = []
    for done, plan in enumerate(plans):
        if progress is not None:
            progress.step("screens", done, len(plans))
        path = folder / f"{screen_stem(plan)}.pdf"
        layout = ScreenLayout(plan, images, sheet=sheet)
        write_film_pdf(path, layout.pages(title), title=f"{title}: screen {plan.number}".strip(": "))
        size = layout.size_px
        mm = 25.4 / layout.dpi
        written.append(ScreenFilm(plan.number, path, len(layout.tiles), size[0] * mm, size[1] * mm))
    return written


def screen_stem(plan: ScreenPlan) -> str:
    """Return the stem of a screen's files, such as ``screen-01-white-55-64``."""
    family = "".join(c if c.isalnum() else "-" for c in colours_called(plan.ink_family).lower())
    family = "-".join(part for part in family.split("-") if part)
    return "-".join(part for part in (f"screen-{plan.number:02d}", family, str(plan.mesh)) if part)


def turned_plane(plane: U8, rotation: int) -> U8:
    """Return a plane turned clockwise by 0, 90, 180 or 270 degrees; never mirrored."""
    return np.ascontiguousarray(np.rot90(plane, -rotation // 90))


class ScreenLayout:
    """One screen on film: where each print lies in pixels, the tiles, the pages.

    ``origin_px`` is the film's top left corner seen from the frame's, ``size_px`` the size of the whole film.
    """

    def __init__(self, plan: ScreenPlan, images: Mapping[str, ScreenImage], *, sheet: Sheet | None = None) -> None:
        self.plan, self.images = plan, images
        self.dpi = images[plan.placed[0].item.name].settings.dpi
        # Room for the marks around the outer prints, unless it costs more sheets.
        self._place(AROUND_MM)
        self.tiles = self._tiles(sheet)
        if len(self.tiles) > 1:
            roomy = self.tiles
            self._place(0.0)
            self.tiles = self._tiles(sheet)
            if len(self.tiles) == len(roomy):
                self._place(AROUND_MM)
                self.tiles = roomy

    def _place(self, around_mm: float) -> None:
        """Place the prints on a film that reaches ``around_mm`` beyond them, and to the frame's centre line."""
        centre = self._px(self.plan.screen.inside_width_mm / 2)
        spots = [(p, self._spot(p)) for p in self.plan.placed]
        around = self._px(around_mm)
        left = min(centre, *(x for _, (x, _, _, _) in spots)) - around
        top = min(y for _, (_, y, _, _) in spots) - around
        self.origin_px = (left, top)
        self.size_px = (
            max(centre, *(x + w for _, (x, _, w, _) in spots)) + around - left,
            max(y + h for _, (_, y, _, h) in spots) + around - top,
        )
        self.spots = [(p, (x - left, y - top, w, h)) for p, (x, y, w, h) in spots]

    def _spot(self, placed: PlacedItem) -> tuple[int, int, int, int]:
        """Return a print's left, top, width and height in film pixels from the frame's corner."""
        image = self.images[placed.item.name]
        size = film_size_px(image.width_mm, image.height_mm, self.dpi)
        return self._px(placed.x_mm), self._px(placed.y_mm), *(size if placed.rotation % 180 == 0 else size[::-1])

    def _tiles(self, sheet: Sheet | None) -> tuple[Tile, ...]:
        width, height = self.size_px
        if sheet is None:
            side = max(self._px(SIDE_MM), -(-(self._px(LEAST_WIDTH_MM) - width) // 2))
            page = PagePlace(width + 2 * side, height + self._px(TOP_MM) + self._px(BOTTOM_MM), side, self._px(TOP_MM))
            return (Tile(0, 0, width, height, page),)
        tiles = plan_tiles(width, height, dpi=self.dpi, sheet=sheet)
        if len(tiles) == 1:
            return tiles
        across, down = self._ink()
        return plan_tiles(width, height, dpi=self.dpi, sheet=sheet, ink_across=across, ink_down=down)

    def _ink(self) -> tuple[F64, F64]:
        """Return the ink (mm2) of each column and row of the film in steps of PROFILE_MM, a little more in prints."""
        step, clear = mm_to_px(PROFILE_MM, self.dpi), mm_to_px(CLEAR_MM, self.dpi)
        sums = [np.zeros(max(1, round(length / step))) for length in self.size_px]
        for placed, (x, y, w, h) in self.spots:
            plane = turned_plane(self.images[placed.item.name].coverage, placed.rotation)
            for axis, start, length in ((0, x, w), (1, y, h)):
                near, far = round((start - clear) / step), round((start + length + clear) / step)
                sums[axis][max(0, near) : max(0, far)] += WITHIN_PRINT
                line = plane.mean(axis=axis) / 255.0 * ((h, w)[axis] / step)
                at = (start + (np.arange(len(line)) + 0.5) * length / len(line)) / self.size_px[axis]
                np.add.at(sums[axis], (at * len(sums[axis])).astype(np.int64), line / len(line))
        return sums[0], sums[1]

    def pages(self, title: str = "") -> Iterator[FilmPage]:
        """Yield one page for each tile."""
        plan, marks, words = self.plan, self._print_marks(), self._page_words(title)
        for tile in self.tiles:
            films = tuple(part for placed, spot in self.spots for part in self._part(placed, spot, tile))
            number = f", tile {tile.number} of {tile.of}" if tile.of > 1 else ""
            yield FilmPage(
                f"screen {plan.number}{number}",
                tile.place.width_px,
                tile.place.height_px,
                self.dpi,
                films,
                tuple(within(marks, tile, self.dpi) + page_marks(tile, words, dpi=self.dpi)),
            )

    def _print_marks(self) -> list[Mark]:
        mm = 25.4 / self.dpi
        boxes = [
            FilmBox(x * mm, y * mm, w * mm, h * mm, p.rotation, _words(p), self.images[p.item.name].beside)
            for p, (x, y, w, h) in self.spots
        ]
        return [m for k, box in enumerate(boxes) for m in print_marks(box, [b for j, b in enumerate(boxes) if j != k])]

    def _page_words(self, title: str) -> ScreenWords:
        plan, frame, mm = self.plan, self.plan.screen, 25.4 / self.dpi
        size = f"{frame.inside_width_mm:g} x {frame.inside_height_mm:g} mm inside"
        top = min(p.y_mm for p in plan.placed)
        names = (f"screen {plan.number}", title, f"mesh {plan.mesh}", plan.ink_family)
        return ScreenWords(
            lines=(
                " · ".join(part for part in names if part),
                f"frame {frame.name}, {size} · {self.dpi:g} dpi",
                f"the first print starts {top:.1f} mm from the inside of end A",
            ),
            centre_mm=(
                frame.inside_width_mm / 2 - self.origin_px[0] * mm,
                frame.inside_height_mm / 2 - self.origin_px[1] * mm,
            ),
        )

    def _part(self, placed: PlacedItem, spot: tuple[int, int, int, int], tile: Tile) -> Iterator[PlacedFilm]:
        """Yield the part of a print that a tile carries, if any."""
        x, y, w, h = spot
        x0, y0 = max(x, tile.x_px), max(y, tile.y_px)
        x1, y1 = min(x + w, tile.x_px + tile.width_px), min(y + h, tile.y_px + tile.height_px)
        if x0 >= x1 or y0 >= y1:
            return
        image = self.images[placed.item.name]
        tone = None if image.tone is None else turned_plane(image.tone.view(np.uint8), placed.rotation).view(np.bool_)
        upright = placed.rotation % 180 == 0
        film = plan_film(
            turned_plane(image.coverage, placed.rotation),
            tone,
            image.halftone,
            width_mm=image.width_mm if upright else image.height_mm,
            height_mm=image.height_mm if upright else image.width_mm,
            settings=replace(image.settings, screen_x_px=x + self.origin_px[0], screen_y_px=y + self.origin_px[1]),
        )
        dx, dy = tile.place.art_x_px - tile.x_px, tile.place.art_y_px - tile.y_px
        yield PlacedFilm(film.part(x0 - x, y0 - y, x1 - x0, y1 - y0), x0 + dx, y0 + dy)

    def _px(self, mm: float) -> int:
        return round(mm_to_px(mm, self.dpi))


def _words(placed: PlacedItem) -> str:
    side = " · load sideways" if placed.rotation % 180 else ""
    ink = f" · {colours_called(placed.item.ink)}" if placed.item.ink and placed.item.ink not in placed.item.name else ""
    return f"{placed.item.name}{ink} · end {placed.end} to the clamp{side}"
