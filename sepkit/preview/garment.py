"""A print at its true size and place on a garment of our own drawing.

In: a WornPrint: the predicted print's ink in linear light, its size in mm and its place; the garment.
Out: a picture (h, w, 3) uint8 sRGB at ``px_per_mm``.
The print is averaged to the picture's pixels in linear light and takes the light of the cloth under it.
"""

from __future__ import annotations

import math
import threading
from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import lru_cache
from typing import TYPE_CHECKING, Any

import numpy as np
from PIL import Image, ImageDraw, ImageFont

from sepkit.colorimetry.srgb import linear_table, linear_to_srgb
from sepkit.coverage.bands import row_bands
from sepkit.errors import UsageError, near_names
from sepkit.places import Place, runs_down
from sepkit.preview.cloth import PaintedCloth, paint_cloth
from sepkit.preview.garment_views import draw_for, top_left_mm

if TYPE_CHECKING:
    from sepkit.model import F32, U8, Bool, Garment, Size
    from sepkit.preview.drawing import GarmentDrawing

Array = np.ndarray[Any, np.dtype[Any]]

PX_PER_MM = 1.6
NECK_PX_PER_MM = 5.0
DEFAULT_SIZE = "M"
HALF_CHEST_MM = {"XS": 430.0, "S": 460.0, "M": 510.0, "L": 560.0, "XL": 610.0, "2XL": 660.0, "3XL": 710.0}
BODY_LENGTH_MM = {"XS": 660.0, "S": 690.0, "M": 720.0, "L": 740.0, "XL": 760.0, "2XL": 790.0, "3XL": 820.0}
"""Flat widths and lengths of unisex tees (common practice, from memory), where a garment gives none of its own."""
BAND_ROWS = 128
PRINT_LIGHT = 0.85
"""How much of the cloth's shading an ink film shows: it fills the knit and lies over small creases."""

CAPTIONS_ACROSS = 70
"""Letter heights across a picture of sizes: on a sheet of A4 the words are then 2.5 mm high."""


@dataclass(frozen=True, slots=True, eq=False)
class WornPrint:
    """A print as it goes on a garment."""

    ink: F32
    """(h, w, 4) linear light of the ink times its share, and its share, 0..1; on the plates' grid or averaged down."""
    width_mm: float
    height_mm: float
    place: Place

    @staticmethod
    def of(rgb: U8, mask: U8 | Bool, width_mm: float, height_mm: float, place: Place) -> WornPrint:
        """Return a print from its picture (h, w, 3) uint8 sRGB and a mask (h, w), above 0 where ink is."""
        here = mask.astype(bool)
        ink = np.empty((*here.shape, 4), np.float32)
        np.multiply(linear_table()[rgb], here[..., None], out=ink[..., :3])
        ink[..., 3] = here
        return WornPrint(ink, width_mm, height_mm, place)

    def as_worn(self) -> WornPrint:
        """Return the print as it lies on the garment: one that runs down the arm reads from the shoulder down."""
        if not runs_down(self.place, self.width_mm, self.height_mm):
            return self
        return replace(self, ink=np.rot90(self.ink, -1), width_mm=self.height_mm, height_mm=self.width_mm)


@dataclass(frozen=True, slots=True, eq=False)
class BareGarment:
    """A garment without print, with all that laying a print on it takes."""

    picture: U8
    """(h, w, 3) uint8 sRGB."""
    light: F32
    """(h, w) factor of an ink's light."""
    open_part: F32
    """(h, w) 0..1, how much of a print shows: 1 but where a collar lies over it."""
    left_px: float
    top_px: float
    """Where the print begins, in pixels of the picture."""
    wide_px: float
    tall_px: float
    turned: bool
    """Whether the print is turned by a quarter, clockwise, before it is laid."""


def bare_garment(garment: Garment, size: Size, place: Place) -> BareGarment:
    """Return the garment that ``draw_garment`` lays a print of this size and place on, at its usual scale.

    Raises UsageError for a place that the garment has not.
    """
    worn = WornPrint(np.zeros((1, 1, 4), np.float32), size.width_mm, size.height_mm, place).as_worn()
    behind = place.part == "inside"
    scale = _scale(place)
    cloth, top_left = _cloth_under(worn, garment, DEFAULT_SIZE, scale)
    none = np.zeros((*cloth.light.shape, 4), np.float32)
    return BareGarment(
        _printed(cloth, none, behind_collar=behind),
        1 + np.float32(PRINT_LIGHT) * (cloth.light - 1),
        cloth.inside if behind else np.ones_like(cloth.light),
        *top_left,
        worn.width_mm * scale,
        worn.height_mm * scale,
        runs_down(place, size.width_mm, size.height_mm),
    )


def draw_garment(garment: Garment, worn: WornPrint, *, size: str = DEFAULT_SIZE, px_per_mm: float | None = None) -> U8:
    """Return the garment with the print on it, (h, w, 3) uint8, from the side that shows its place.

    ``px_per_mm`` is 1.6 by default, 5 inside the neck. Raises UsageError for an unknown size, or a place that the
    garment has not.
    """
    worn = worn.as_worn()
    cloth, top_left = _cloth_under(worn, garment, size, px_per_mm or _scale(worn.place))
    return _printed(cloth, _on_canvas(worn, cloth, top_left), behind_collar=worn.place.part == "inside")


def draw_sizes(garment: Garment, worn: WornPrint, *, sizes: Sequence[str], px_per_mm: float = 1.0) -> U8:
    """Return the same print on several sizes side by side at one scale, with the sizes under them."""
    pictures = [draw_garment(garment, worn, size=size, px_per_mm=px_per_mm) for size in sizes]
    tall = max(p.shape[0] for p in pictures)
    letters = max(11, round(17 * px_per_mm), round(sum(p.shape[1] for p in pictures) / CAPTIONS_ACROSS))
    foot = round(2.6 * letters)
    tables = [np.pad(p, ((0, tall + foot - p.shape[0]), (0, 0), (0, 0)), mode="edge") for p in pictures]
    sheet = Image.fromarray(np.concatenate(tables, axis=1))
    draw = ImageDraw.Draw(sheet)
    font = ImageFont.load_default(letters)
    x = 0
    for size, picture in zip(sizes, pictures, strict=True):
        chest, _ = measures(garment, size)
        words = f"{size}   chest {chest:.0f} mm   print {worn.width_mm:.0f} x {worn.height_mm:.0f} mm"
        draw.text((x + picture.shape[1] / 2, tall + foot / 2), words, fill=(32, 33, 36), font=font, anchor="mm")
        x += picture.shape[1]
    return np.asarray(sheet, np.uint8)


def measures(garment: Garment, size: str) -> tuple[float, float]:
    """Return flat half-chest and body length in mm of a size. Raises UsageError with near names."""
    chest = garment.half_chest_mm or HALF_CHEST_MM
    length = garment.body_length_mm or BODY_LENGTH_MM
    if size not in chest:
        raise UsageError(f'no size "{size}" of {garment.name}', where="size", hint=near_names(size, chest))
    return chest[size], length.get(size, 1.42 * chest[size])


def paint_ahead(garment: Garment, place: Place) -> None:
    """Paint the garment on which ``draw_garment`` will lay a print at its usual scale; the last one is kept.

    Raises UsageError as ``draw_garment`` does.
    """
    _painted(garment, place, DEFAULT_SIZE, _scale(place))


def forget_painted() -> None:
    """Let go of the garment that was painted last: it takes 20 bytes a pixel."""
    with _painting:
        _kept_cloth.cache_clear()


def _cloth_under(
    worn: WornPrint, garment: Garment, size: str, scale: float
) -> tuple[PaintedCloth, tuple[float, float]]:
    """Return the garment without print, and the left and top of the print on it in pixels."""
    cloth = _painted(garment, worn.place, size, scale)
    drawing = _drawing(garment, worn.place, size)
    return cloth, cloth.to_px(*top_left_mm(drawing, worn.place, garment, (worn.width_mm, worn.height_mm)))


def _scale(place: Place) -> float:
    return NECK_PX_PER_MM if place.part == "inside" else PX_PER_MM


def _painted(garment: Garment, place: Place, size: str, scale: float) -> PaintedCloth:
    with _painting:  # who comes while it is painted waits for it
        return _kept_cloth(garment, place, size, scale)


_painting = threading.Lock()


@lru_cache(maxsize=1)
def _kept_cloth(garment: Garment, place: Place, size: str, scale: float) -> PaintedCloth:
    colour = linear_table()[np.array(garment.srgb, np.uint8)].astype(np.float64)
    return paint_cloth(_drawing(garment, place, size), colour, px_per_mm=scale)


def _drawing(garment: Garment, place: Place, size: str) -> GarmentDrawing:
    chest, length = measures(garment, size)
    return draw_for(place, garment, half_chest_mm=chest, length_mm=length)


def _printed(cloth: PaintedCloth, ink: F32, *, behind_collar: bool) -> U8:
    """Lay ink (premultiplied linear light and share, (h, w, 4)) on the cloth."""
    out = np.empty((*cloth.light.shape, 3), np.uint8)
    for band in row_bands(len(out), BAND_ROWS):
        rows = slice(band.start, band.stop)
        light = (1 + PRINT_LIGHT * (cloth.light[rows] - 1))[..., None]
        share, colour = ink[rows, :, 3:], ink[rows, :, :3]
        if behind_collar:  # the front hides what does not show through the neck
            open_part = cloth.inside[rows, :, None]
            share, colour = share * open_part, colour * open_part
        linear = cloth.linear[rows] * (1 - share) + np.minimum(colour * light, share)
        out[rows] = np.rint(np.clip(linear_to_srgb(linear), 0, 1) * 255)
    return out


def _on_canvas(worn: WornPrint, cloth: PaintedCloth, top_left: tuple[float, float]) -> F32:
    """Return the print on the picture's grid, (h, w, 4) float32: premultiplied linear light, share of ink."""
    scale = cloth.px_per_mm
    left, top = math.floor(top_left[0]), math.floor(top_left[1])
    small = area_average(
        worn.ink,
        wide_px=worn.width_mm * scale,
        tall_px=worn.height_mm * scale,
        phase=(top_left[0] - left, top_left[1] - top),
    )
    out = np.zeros((*cloth.light.shape, 4), np.float32)
    _paste(out, small, left, top)
    return out


def area_average(ink: F32, *, wide_px: float, tall_px: float, phase: tuple[float, float]) -> F32:
    """Average a print to ``wide_px`` x ``tall_px`` picture pixels that start ``phase`` px inside the first one.

    In and out: (rows, columns, 4) float32, linear light times ink, and the share of ink. Works in row bands.
    """
    height, width = ink.shape[:2]
    down = _Overlaps.of(height, tall_px, phase[1])
    across = _Overlaps.of(width, wide_px, phase[0])
    out = np.zeros((down.pixels, across.pixels, 4), np.float32)
    for band in row_bands(height, max(8, (1 << 19) // max(width, 1))):
        first, tall = down.summed(ink[band.start : band.stop], band.start)
        small = across.summed(np.ascontiguousarray(tall.transpose(1, 0, 2)))[1]
        out[first : first + len(tall)] += small.transpose(1, 0, 2)
    return out


@dataclass(frozen=True, slots=True, eq=False)
class _Overlaps:
    """How much of each of ``pixels`` picture pixels the steps of a print cover, along one side: overlaps in order."""

    pixels: int
    pixel: Array
    step: Array
    share: F32

    @staticmethod
    def of(count: int, length_px: float, phase: float) -> _Overlaps:
        """Return the overlaps of ``count`` steps, ``length_px`` long together, that start ``phase`` px in."""
        edges = phase + np.arange(count + 1) * (length_px / count)
        cuts = np.unique(np.concatenate([edges, np.arange(math.ceil(edges[0]), math.floor(edges[-1]) + 1)]))
        middle = (cuts[1:] + cuts[:-1]) / 2
        step = np.clip(np.searchsorted(edges, middle) - 1, 0, count - 1)
        pixels = math.ceil(edges[-1] - 1e-9)
        pixel = np.minimum(np.floor(middle).astype(int), pixels - 1)
        return _Overlaps(pixels, pixel, step, np.diff(cuts).astype(np.float32))

    def summed(self, values: F32, start: int = 0) -> tuple[int, F32]:
        """Return the first pixel that steps from ``start`` on cover, and what each covers of ``values`` (n, ...)."""
        some = slice(*np.searchsorted(self.step, (start, start + len(values))))
        pixel, share = self.pixel[some], self.share[some]
        first = int(pixel[0])
        out = np.zeros((int(pixel[-1]) + 1 - first, *values.shape[1:]), np.float32)
        nth = np.arange(len(pixel)) - np.searchsorted(pixel, pixel)
        for turn in range(int(nth.max()) + 1):
            now = nth == turn
            out[pixel[now] - first] += values[self.step[some][now] - start] * share[now].reshape(-1, 1, 1)
        return first, out


def _paste(out: F32, small: F32, left: int, top: int) -> None:
    height, width = out.shape[:2]
    y0, x0 = max(top, 0), max(left, 0)
    y1, x1 = min(top + small.shape[0], height), min(left + small.shape[1], width)
    if y1 > y0 and x1 > x0:
        out[y0:y1, x0:x1] = small[y0 - top : y1 - top, x0 - left : x1 - left]
