"""Plates on a working grid, one of them out of register: how much base peeks out, how much garment shows in gaps.

In: plates with coverage (h, w) uint8, dots per inch, the register error in mm. Out: areas in mm² and marks (h, w).
Big plates are averaged down first; areas stay. What counts as peeking and as a gap is told in ``stress``.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Literal

import numpy as np
from PIL import Image

from sepkit.coverage.reach import choke, spread
from sepkit.units import MM_PER_INCH

if TYPE_CHECKING:
    from sepkit.model import U8, Bool, Plate

Array = np.ndarray[Any, np.dtype[Any]]
Which = Literal["printed", "coverage"]
Still = tuple["U8 | None", "U8 | None"]
"""Base that peeks out and garment in gaps, (h, w) each, or None where there can be none."""

WORK_PX = 2000
LEAST_ERROR_PX = 2.0
"""Averaging down stops here: an error of fewer pixels would be measured too coarsely."""
LEAST_SHARE = 51
HALF_PX = 0.5
PRINT_TINT = 102
DIRECTIONS_DEG = tuple(range(0, 360, 45))
TILE_PX = 64


@dataclass(frozen=True, slots=True)
class Shift:
    """One plate moved against the others, in mm: right and down."""

    plate: int
    right_mm: float
    down_mm: float


@dataclass(frozen=True, slots=True)
class _Grid:
    """The working grid: by how much planes are averaged down, and how far the register error reaches on it."""

    factor: int
    px_per_mm: float
    reach_px: float

    @staticmethod
    def of(shape: tuple[int, ...], dpi: float, error_mm: float) -> _Grid:
        factor = _factor(shape, dpi, error_mm)
        px_per_mm = dpi / MM_PER_INCH / factor
        return _Grid(factor, px_per_mm, error_mm * px_per_mm)

    @property
    def reach_up_px(self) -> int:
        return math.ceil(self.reach_px)

    def averaged(self, plane: U8) -> U8:
        """Return the plane averaged down, with bare garment round it for what moves out of the picture."""
        small = plane if self.factor == 1 else np.asarray(Image.fromarray(plane).reduce(self.factor), np.uint8)
        return np.pad(small, self.reach_up_px + 2)

    def touched(self, mask: Bool) -> Bool:
        """Return the pixels of the grid that hold any of the mask."""
        out: Bool = self.averaged(mask.astype(np.uint8) * 255) > 0
        return out


@dataclass(frozen=True, slots=True, eq=False)
class Scene:
    """Plates on the working grid, with what is asked of them."""

    planes: list[U8]
    """As measured: dots count as print."""
    looks: list[U8]
    """As they look."""
    tones: list[Bool | None]
    under: list[bool]
    base: list[int]
    inside: U8
    may_peek: U8
    px_per_mm: float
    error_mm: float

    @staticmethod
    def of(plates: Sequence[Plate], which: Which, dpi: float, error_mm: float, planes: Sequence[U8] | None) -> Scene:
        """Return the scene of plates as the art asks them or as printed; ``planes`` stand in for them, if given."""
        grid = _Grid.of(plates[0].coverage.shape, dpi, error_mm)
        looks = [grid.averaged(plane) for plane in planes or [_plane_of(plate, which) for plate in plates]]
        tones = [None if plate.tone is None else grid.touched(plate.tone) for plate in plates]
        flat = _flat(plates, looks[0].shape, grid)
        asked = _asked_as_print(plates, flat, grid)
        return Scene(
            _without_dots(looks, tones, grid.reach_up_px),
            looks,
            tones,
            [plate.role != "colour" or plate.is_base for plate in plates],
            [i for i, plate in enumerate(plates) if plate.is_base],
            np.minimum(flat, choke(asked, grid.reach_px + HALF_PX)),
            _may_peek(plates, looks, flat, grid),
            grid.px_per_mm,
            error_mm,
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
        base = _summed([self.none, *(planes[i] for i in self.base)])
        cover = _summed([self.none, *(p for i, p in enumerate(planes) if i not in self.base)])
        found = [
            picture
            for picture in (self._peek(base, cover, self.may_peek), self._gap(base, cover, self.inside))
            if picture is not None
        ]
        out: U8 = np.maximum.reduce([self.none, *found])
        return out

    def still(self) -> Still:
        """Return what shows with no plate moved."""
        base = _summed([self.none, *(self.planes[i] for i in self.base)])
        cover = _summed([self.none, *(p for i, p in enumerate(self.planes) if i not in self.base)])
        return self._peek(base, cover, self.may_peek), self._gap(base, cover, self.inside)

    def areas_mm2(self, plate: int, still: Still) -> list[tuple[Shift, float, float]]:
        """Return (shift, base peeking out, gaps) for each shift of a plate, in mm².

        Only tiles where the plate has an edge change; the others count as they are, ``still``.
        """
        halo = math.ceil(self.error_mm * self.px_per_mm) + 1
        edges = _varying(self.planes[plate], halo)
        plane = _cut(self.planes[plate], edges, halo)
        base = [_cut(p, edges, 0) for i, p in enumerate(self.planes) if i != plate and i in self.base]
        cover = [_cut(p, edges, 0) for i, p in enumerate(self.planes) if i != plate and i not in self.base]
        may_peek, inside = _cut(self.may_peek, edges, 0), _cut(self.inside, edges, 0)
        none = np.zeros_like(inside)
        base_rest, cover_rest = _summed([none, *base]), _summed([none, *cover])
        rest = self._outside(edges, still)
        out = []
        for shift in self.shifts_of(plate):
            here = moved(plane, right_px=shift.right_mm * self.px_per_mm, down_px=shift.down_mm * self.px_per_mm)
            here = here[:, halo:-halo, halo:-halo]
            is_base = plate in self.base
            b = _summed([base_rest, here]) if is_base else base_rest
            c = cover_rest if is_base else _summed([cover_rest, here])
            peek, gap = self._peek(b, c, may_peek), self._gap(b, c, inside)
            out.append((shift, self._mm2(peek) + rest[0], self._mm2(gap) + rest[1]))
        return out

    @property
    def none(self) -> U8:
        """A plane without ink."""
        return np.zeros_like(self.planes[0])

    def _outside(self, edges: Array, still: Still) -> tuple[float, float]:
        """Return what shows of ``still`` in the tiles that ``edges`` does not mark."""
        found = []
        for picture in still:
            whole = self._mm2(picture)
            found.append(whole - (0.0 if picture is None else self._mm2(_cut(picture, edges, 0))))
        return found[0], found[1]

    def _peek(self, base: U8, cover: U8, may_peek: U8) -> U8 | None:
        """Return how much of each pixel is base with nothing over it; None when there is no base."""
        return _clear(np.minimum(base - np.minimum(base, cover), may_peek)) if self.base else None

    def _gap(self, base: U8, cover: U8, inside: U8) -> U8 | None:
        """Return how much of each pixel inside the print is bare garment; None when there is nothing to part."""
        if len(self.planes) - len(self.base) < 2:
            return None
        return _clear(np.minimum(inside, 255 - _summed([base, cover])))

    def _mm2(self, picture: U8 | None) -> float:
        return 0.0 if picture is None else float(picture.sum(dtype=np.int64)) / 255 * self.mm2_per_px


def moved(plane: U8, *, right_px: float, down_px: float) -> U8:
    """Return planes (..., h, w) moved by a fraction of pixels (linear between pixels); nothing comes in."""
    out = plane
    for axis, by in ((-1, right_px), (-2, down_px)):
        whole = math.floor(by + 1e-6)
        part = round((by - whole) * 256)
        near = _slid(out, whole, axis)
        if part:
            far = _slid(out, whole + 1, axis)
            mixed = near.astype(np.uint16) * np.uint16(256 - part)
            mixed += far.astype(np.uint16) * np.uint16(part)
            mixed += np.uint16(128)
            near = (mixed >> np.uint16(8)).astype(np.uint8)
        out = near
    return out


def _plane_of(plate: Plate, which: Which) -> U8:
    if which == "printed":
        return plate.printed
    return plate.coverage if plate.also_base is None else plate.also_base


def _flat(plates: Sequence[Plate], shape: tuple[int, ...], grid: _Grid) -> U8:
    """Return 255 where no plate has tones; a tone's trap lies under other inks, where the art is flat."""
    flat = np.full(shape, 255, np.uint8)
    for plate in plates:
        if plate.tone is not None:
            flat[grid.touched(plate.tone & (plate.coverage > 0))] = 0
    return flat


def _asked_as_print(plates: Sequence[Plate], flat: U8, grid: _Grid) -> U8:
    """Return where the art asks ink; of tints those count from two fifths up, fainter ones are nearer to garment."""
    asked = _summed([grid.averaged(plate.coverage) for plate in plates if plate.role != "underbase"])
    dots = flat == 0
    asked[dots] = np.where(asked[dots] >= PRINT_TINT, np.uint8(255), np.uint8(0))
    return asked


def _may_peek(plates: Sequence[Plate], looks: Sequence[U8], flat: U8, grid: _Grid) -> U8:
    """Return where base that peeks out would show: not near ink of its own kind, which looks the same."""
    base_inks = {plate.ink.name for plate in plates if plate.is_base}
    own = [
        plane for plane, plate in zip(looks, plates, strict=True) if not plate.is_base and plate.ink.name in base_inks
    ]
    own += [grid.averaged(plate.coverage) for plate in plates if plate.also_base is not None]
    return np.minimum(flat, 255 - spread(_summed(own), 2 * grid.reach_px + 1)) if own else flat


def _slid(values: U8, by: int, axis: int) -> U8:
    out = np.zeros_like(values)
    size = values.shape[axis]
    if abs(by) >= size:
        return out
    to, source = [slice(None)] * values.ndim, [slice(None)] * values.ndim
    to[axis] = slice(max(by, 0), size + min(by, 0))
    source[axis] = slice(max(-by, 0), size + min(-by, 0))
    out[tuple(to)] = values[tuple(source)]
    return out


def _factor(shape: tuple[int, ...], dpi: float, error_mm: float) -> int:
    wanted = -(-max(shape) // WORK_PX)
    allowed = int(error_mm * dpi / MM_PER_INCH / LEAST_ERROR_PX)
    return max(1, min(wanted, allowed))


def _without_dots(looks: Sequence[U8], tones: Sequence[Bool | None], reach_px: int) -> list[U8]:
    """Return the planes as measured: those with tones have their tints made solid."""
    return [p if tone is None else _made_solid(p, reach_px) for p, tone in zip(looks, tones, strict=True)]


def _made_solid(plane: U8, reach_px: int) -> U8:
    """Return a plane with its tints made solid: each pixel over the strongest near it; soft edges stay soft."""
    from scipy.ndimage import maximum_filter

    near: U8 = maximum_filter(plane, size=2 * reach_px + 1, mode="nearest")
    scaled = plane.astype(np.float32) * (np.float32(255) / np.maximum(near, 1))
    return np.rint(scaled).astype(np.uint8)


def _summed(planes: Sequence[U8]) -> U8:
    total = planes[0].copy()
    for plane in planes[1:]:
        np.add(total, np.minimum(plane, 255 - total), out=total)
    return total


def _clear(share: U8) -> U8:
    """Drop what soft edges leave where two of them meet exactly; slivers that show are far above it."""
    share[share < LEAST_SHARE] = 0
    return share


def _varying(plane: U8, halo: int) -> Array:
    """Return (rows, columns) True for tiles that with ``halo`` around them are not all one value."""
    tiles = _tiled(plane, halo)
    varying: Array = tiles.min(axis=(2, 3)) != tiles.max(axis=(2, 3))
    return varying


def _cut(plane: U8, tiles: Array, halo: int) -> U8:
    """Return the marked tiles with ``halo`` around them, (n, side, side)."""
    out: U8 = _tiled(plane, halo)[tiles]
    return out


def _tiled(plane: U8, halo: int) -> Array:
    """Return a view (rows, columns, side, side) of the plane in tiles that overlap by twice ``halo``; 0 outside."""
    height, width = plane.shape
    down, across = -(-height // TILE_PX), -(-width // TILE_PX)
    padded = np.pad(plane, ((halo, halo + down * TILE_PX - height), (halo, halo + across * TILE_PX - width)))
    side = TILE_PX + 2 * halo
    windows = np.lib.stride_tricks.sliding_window_view(padded, (side, side))
    return windows[::TILE_PX, ::TILE_PX]
