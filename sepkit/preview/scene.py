"""Plates on a working grid, one of them out of register: how much base peeks out, how much garment shows in gaps.

In: plates with coverage (h, w) uint8, dots per inch, the register error in mm. Out: areas in mm² and marks (h, w).
Big plates are averaged down first; areas stay. What counts as peeking and as a gap is told in ``stress``.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING, Any, Literal

import numpy as np
from PIL import Image

from sepkit.coverage.bands import row_bands
from sepkit.coverage.blocks import CELL_PX, varying_tiles
from sepkit.coverage.reach import choke, spread
from sepkit.coverage.sums import CACHED_PIXELS, strongest_near
from sepkit.preview.moved import moved, moved_within
from sepkit.units import MM_PER_INCH

if TYPE_CHECKING:
    from sepkit.model import U8, Bool, Plate

Array = np.ndarray[Any, np.dtype[Any]]
Which = Literal["printed", "coverage"]
Sums = np.ndarray[Any, np.dtype[np.int64]]

WORK_PX = 2000
LEAST_ERROR_PX = 2.0
"""Averaging down stops here: an error of fewer pixels would be measured too coarsely."""
LEAST_SHARE = 51
HALF_PX = 0.5
PRINT_TINT = 102
DIRECTIONS_DEG = tuple(range(0, 360, 45))
TILE_PX = 32
TILES_AT_ONCE = 128
"""Their planes fit the processor's cache together."""


@dataclass(frozen=True, slots=True)
class Shift:
    """One plate moved against the others, in mm: right and down."""

    plate: int
    right_mm: float
    down_mm: float


@dataclass(frozen=True, slots=True)
class Grid:
    """The working grid: by how much planes are averaged down, and how far the register error reaches on it.

    Scenes on one grid average each plane once.
    """

    factor: int
    px_per_mm: float
    reach_px: float
    known: dict[int, tuple[U8, U8]] = field(default_factory=dict)
    """Planes and what they were averaged to, by the plane's identity."""

    @staticmethod
    def of(shape: tuple[int, ...], dpi: float, error_mm: float) -> Grid:
        """Return the grid for planes of ``shape``: small enough to be quick, fine enough for the error."""
        factor = _factor(shape, dpi, error_mm)
        px_per_mm = dpi / MM_PER_INCH / factor
        return Grid(factor, px_per_mm, error_mm * px_per_mm)

    @property
    def reach_up_px(self) -> int:
        """How many whole pixels the error reaches."""
        return math.ceil(self.reach_px)

    @property
    def halo(self) -> int:
        """How far around a tile the pixels lie that a shift brings in."""
        return math.ceil(self.reach_px) + 1

    @property
    def border(self) -> int:
        """What lies around all tiles: a halo, in whole cells."""
        return -(-self.halo // CELL_PX) * CELL_PX

    @property
    def around(self) -> int:
        """Bare garment round the picture for what moves out of it."""
        return self.reach_up_px + 2

    def averaged(self, plane: U8) -> U8:
        """Return the plane averaged down, bare garment round it, up to whole tiles and a halo."""
        if id(plane) in self.known:
            return self.known[id(plane)][1]
        small = plane if self.factor == 1 else np.asarray(Image.fromarray(plane).reduce(self.factor), np.uint8)
        before = self.border + self.around
        sides = [-(-(side + 2 * self.around) // TILE_PX) * TILE_PX + 2 * self.border for side in small.shape]
        out = np.zeros(sides, np.uint8)
        out[before : before + small.shape[0], before : before + small.shape[1]] = small
        self.known[id(plane)] = (plane, out)
        return out

    def keep_only(self, planes: Sequence[U8]) -> None:
        """Let go of what was averaged of other planes."""
        for key in self.known.keys() - {id(plane) for plane in planes}:
            del self.known[key]

    def shown(self, shape: tuple[int, ...]) -> tuple[slice, slice]:
        """Return where a plane of ``shape`` and what moves out of it lie in what is averaged."""
        rows, columns = (-(-side // self.factor) + 2 * self.around for side in shape)
        return slice(self.border, self.border + rows), slice(self.border, self.border + columns)

    def touched(self, mask: Bool) -> Bool:
        """Return the pixels of the grid that hold any of the mask."""
        out: Bool = replace(self, known={}).averaged(mask.view(np.uint8) * np.uint8(255)) > 0
        return out


@dataclass(frozen=True, slots=True, eq=False)
class Asked:
    """What the art asks of plates on the working grid: the same for all scenes of these."""

    tones: list[Bool | None]
    flat: U8
    """255 where no plate has tones."""
    inside: U8
    """Where the art is flat and asks ink, further than the error from the print's outline."""

    @staticmethod
    def of(plates: Sequence[Plate], grid: Grid) -> Asked:
        """Return it for plates of one print."""
        tones = [None if plate.tone is None else grid.touched(plate.tone) for plate in plates]
        flat = _flat(plates, grid.averaged(plates[0].coverage).shape, grid)
        inside = choke(_asked_as_print(plates, flat, grid), grid.reach_px + HALF_PX)
        return Asked(tones, flat, np.minimum(flat, inside))


@dataclass(frozen=True, slots=True, eq=False)
class Scene:
    """Plates on the working grid, with what is asked of them."""

    planes: list[U8]
    """As measured: dots count as print, where anything may show."""
    looks: list[U8]
    """As they look."""
    tones: list[Bool | None]
    under: list[bool]
    base: list[int]
    inside: U8
    may_peek: U8
    px_per_mm: float
    error_mm: float
    halo: int
    border: int
    shown: tuple[slice, slice]
    """The picture within the planes, with room for what moves out of it."""

    @staticmethod
    def of(
        plates: Sequence[Plate],
        which: Which,
        grid: Grid,
        *,
        planes: Sequence[U8] | None = None,
        asked: Asked | None = None,
    ) -> Scene:
        """Return the scene of plates as the art asks them or as printed; ``planes`` stand in for them, if given."""
        looks = [grid.averaged(plane) for plane in planes or [_plane_of(plate, which) for plate in plates]]
        asked = asked or Asked.of(plates, grid)
        base = [i for i, plate in enumerate(plates) if plate.is_base]
        may_peek = _may_peek(plates, looks, asked.flat, grid)
        whole = slice(0, len(may_peek))  # base may peek out beside the picture too
        rows = whole if base else _rows_with(asked.inside, TILE_PX + 2 * grid.border)
        return Scene(
            _without_dots(looks, asked.tones, grid.reach_up_px, rows),
            looks,
            asked.tones,
            [plate.role != "colour" or plate.is_base for plate in plates],
            base,
            asked.inside,
            may_peek,
            grid.px_per_mm,
            grid.reach_px / grid.px_per_mm,
            grid.halo,
            grid.border,
            grid.shown(plates[0].coverage.shape),
        )

    @property
    def mm2_per_px(self) -> float:
        """Area of a pixel of the working grid."""
        return 1 / self.px_per_mm**2

    def shifts_of(self, plate: int) -> list[Shift]:
        """Return the plate's shifts by the error, in eight directions."""
        return [
            Shift(plate, self.error_mm * math.cos(math.radians(d)), self.error_mm * math.sin(math.radians(d)))
            for d in DIRECTIONS_DEG
        ]

    def shifted(self, shift: Shift) -> list[U8]:
        """Return how all planes look with one of them moved."""
        return self._moved_in(self.looks, shift)

    def _moved_in(self, planes: list[U8], shift: Shift) -> list[U8]:
        out = list(planes)
        out[shift.plate] = moved(
            out[shift.plate], right_px=shift.right_mm * self.px_per_mm, down_px=shift.down_mm * self.px_per_mm
        )
        return out

    def marks(self, shift: Shift) -> U8:
        """Return what shows with one plate moved, base and gaps together, (h, w)."""
        planes = self._moved_in(self.planes, shift)
        out = np.zeros_like(planes[0])
        for band in row_bands(len(out), max(1, CACHED_PIXELS // max(out.shape[1], 1))):
            rows = slice(band.start, band.stop)
            some = [plane[rows] for plane in planes]
            base = _summed([some[i] for i in self.base], some[0])
            cover = _summed([plane for i, plane in enumerate(some) if i not in self.base], some[0])
            for found in (self._peek(base, cover, self.may_peek[rows]), self._gap(base, cover, self.inside[rows])):
                if found is not None:
                    np.maximum(out[rows], found, out=out[rows])
        return out

    def areas_mm2(self) -> Iterator[tuple[Shift, float, float]]:
        """Yield (shift, base peeking out, gaps) in mm² of each plate and each of its shifts.

        Only tiles where the plate has an edge change; the others count as they are with no plate moved. Where nothing
        may show, whatever moves, as in tones, no tile is looked at.
        """
        still, may_show = self._still(), self._may_show()
        for plate, plane in enumerate(self.planes):
            edges = varying_tiles(plane, TILE_PX, self.border) & may_show
            shifts = self.shifts_of(plate)
            shown = np.array([[int(sums[~edges].sum()) for sums in still]] * len(shifts), np.int64)
            rows, columns = np.nonzero(edges)
            for start in range(0, len(rows), TILES_AT_ONCE):
                tiles = rows[start : start + TILES_AT_ONCE], columns[start : start + TILES_AT_ONCE]
                shown += self._shown_in(tiles, plate, shifts)
            for shift, (peek, gap) in zip(shifts, shown.tolist(), strict=True):
                yield shift, peek / 255 * self.mm2_per_px, gap / 255 * self.mm2_per_px

    def _may_show(self) -> Bool:
        """Return the tiles, (down, across), in which a gap or a base may come to show."""
        inner = slice(self.border, -self.border)
        inside, may_peek = (
            plane[inner, inner].reshape(-1, TILE_PX, plane[inner, inner].shape[1] // TILE_PX, TILE_PX).any(axis=(1, 3))
            for plane in (self.inside, self.may_peek)
        )
        return np.asarray(inside | (may_peek & bool(self.base)))

    def _shown_in(self, tiles: tuple[Array, Array], plate: int, shifts: Sequence[Shift]) -> Sums:
        """Return the sums of base that peeks out and of gaps in some tiles for each shift of a plate, (shifts, 2)."""
        wide = self._cut(self.planes[plate], tiles, self.halo)
        may_peek, inside = (self._cut(plane, tiles, 0) for plane in (self.may_peek, self.inside))
        others = [(i in self.base, self._cut(p, tiles, 0)) for i, p in enumerate(self.planes) if i != plate]
        base = _summed([plane for is_base, plane in others if is_base], inside)
        cover = _summed([plane for is_base, plane in others if not is_base], inside)
        out = np.zeros((len(shifts), 2), np.int64)
        for number, shift in enumerate(shifts):
            here = moved_within(wide, shift.right_mm * self.px_per_mm, shift.down_mm * self.px_per_mm, self.halo)
            b, c = (_summed([base, here], here), cover) if plate in self.base else (base, _summed([cover, here], here))
            for kind, picture in enumerate((self._peek(b, c, may_peek), self._gap(b, c, inside))):
                out[number, kind] = 0 if picture is None else picture.sum(dtype=np.int64)
        return out

    def _still(self) -> tuple[Sums, Sums]:
        """Return the sums of base that peeks out and of gaps in each tile, (down, across), with no plate moved."""
        height, width = (side - 2 * self.border for side in self.planes[0].shape)
        across = slice(self.border, self.border + width)
        out = np.zeros((2, height // TILE_PX, width // TILE_PX), np.int64)
        for number in range(height // TILE_PX):
            rows = slice(self.border + number * TILE_PX, self.border + (number + 1) * TILE_PX)
            planes = [plane[rows, across] for plane in self.planes]
            base = _summed([planes[i] for i in self.base], planes[0])
            cover = _summed([p for i, p in enumerate(planes) if i not in self.base], planes[0])
            peek = self._peek(base, cover, self.may_peek[rows, across])
            gap = self._gap(base, cover, self.inside[rows, across])
            for kind, picture in enumerate((peek, gap)):
                if picture is not None:
                    out[kind, number] = picture.sum(axis=0, dtype=np.int64).reshape(-1, TILE_PX).sum(axis=1)
        return out[0], out[1]

    def _cut(self, plane: U8, tiles: tuple[Array, Array], halo: int) -> U8:
        """Return the tiles of these rows and columns with ``halo`` around them, (n, side, side)."""
        off, side = self.border - halo, TILE_PX + 2 * halo
        windows = np.lib.stride_tricks.sliding_window_view(
            plane[off : len(plane) - off, off : plane.shape[1] - off], (side, side)
        )
        out: U8 = windows[::TILE_PX, ::TILE_PX][tiles]
        return out

    def _peek(self, base: U8, cover: U8, may_peek: U8) -> U8 | None:
        """Return how much of each pixel is base with nothing over it; None when there is no base."""
        return _clear(np.minimum(base - np.minimum(base, cover), may_peek)) if self.base else None

    def _gap(self, base: U8, cover: U8, inside: U8) -> U8 | None:
        """Return how much of each pixel inside the print is bare garment; None when there is nothing to part."""
        if len(self.planes) - len(self.base) < 2:
            return None
        return _clear(np.minimum(inside, 255 - _summed([base, cover], base)))


def _plane_of(plate: Plate, which: Which) -> U8:
    if which == "printed":
        return plate.printed
    return plate.coverage if plate.also_base is None else plate.also_base


def _flat(plates: Sequence[Plate], shape: tuple[int, ...], grid: Grid) -> U8:
    """Return 255 where no plate has tones; a tone's trap lies under other inks, where the art is flat."""
    flat = np.full(shape, 255, np.uint8)
    for plate in plates:
        if plate.tone is not None:
            flat[grid.touched(plate.tone & (plate.coverage > 0))] = 0
    return flat


def _asked_as_print(plates: Sequence[Plate], flat: U8, grid: Grid) -> U8:
    """Return where the art asks ink; of tints those count from two fifths up, fainter ones are nearer to garment."""
    asked = _summed([grid.averaged(plate.coverage) for plate in plates if plate.role != "underbase"], flat)
    if flat.all():
        return asked
    return np.where(flat == 0, np.where(asked >= PRINT_TINT, np.uint8(255), np.uint8(0)), asked)


def _may_peek(plates: Sequence[Plate], looks: Sequence[U8], flat: U8, grid: Grid) -> U8:
    """Return where base that peeks out would show: not near ink of its own kind, which looks the same."""
    base_inks = {plate.ink.name for plate in plates if plate.is_base}
    own = [
        plane for plane, plate in zip(looks, plates, strict=True) if not plate.is_base and plate.ink.name in base_inks
    ]
    own += [grid.averaged(plate.coverage) for plate in plates if plate.also_base is not None]
    return np.minimum(flat, 255 - spread(_summed(own, flat), 2 * grid.reach_px + 1)) if own else flat


def _factor(shape: tuple[int, ...], dpi: float, error_mm: float) -> int:
    wanted = -(-max(shape) // WORK_PX)
    allowed = int(error_mm * dpi / MM_PER_INCH / LEAST_ERROR_PX)
    return max(1, min(wanted, allowed))


def _rows_with(mask: U8, around: int) -> slice:
    """Return the rows from the first to the last with anything in it, and so many around them; none for nothing."""
    at = np.flatnonzero(mask.any(axis=1))
    return slice(max(0, int(at[0]) - around), int(at[-1]) + 1 + around) if at.size else slice(0, 0)


def _without_dots(looks: Sequence[U8], tones: Sequence[Bool | None], reach_px: int, rows: slice) -> list[U8]:
    """Return the planes as measured: those with tones have their tints made solid, in the rows that are looked at."""
    out = []
    for plane, tone in zip(looks, tones, strict=True):
        out.append(plane if tone is None else plane.copy())
        if tone is not None and rows.stop > rows.start:
            top = max(0, rows.start - reach_px)
            out[-1][rows] = _made_solid(plane[top : rows.stop + reach_px], reach_px)[rows.start - top :][
                : rows.stop - rows.start
            ]
    return out


def _made_solid(plane: U8, reach_px: int) -> U8:
    """Return a plane with its tints made solid: each pixel over the strongest near it; soft edges stay soft."""
    near = strongest_near(plane, reach_px)
    scaled = plane.astype(np.float32) * (np.float32(255) / np.maximum(near, 1))
    return np.rint(scaled).astype(np.uint8)


def _summed(planes: Sequence[U8], like: U8) -> U8:
    """Return the sum of planes, at most solid; none of ``like``'s shape where there are no planes."""
    if len(planes) < 2:
        return planes[0] if planes else np.zeros_like(like)
    total = planes[0].copy()
    for plane in planes[1:]:
        np.add(total, np.minimum(plane, 255 - total), out=total)
    return total


def _clear(share: U8) -> U8:
    """Drop what soft edges leave where two of them meet exactly; slivers that show are far above it."""
    share *= share >= LEAST_SHARE
    return share
