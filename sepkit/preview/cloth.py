"""Cloth as seen: a garment drawing in millimetres to linear light, with folds, seams, rib and knit, lit from top left.

In: GarmentDrawing, cloth colour (linear sRGB), scale in px per mm. Out: PaintedCloth: linear picture (h, w, 3) float32,
the garment's outline and the light on it, (h, w) float32; origin of the picture in mm.
Folds are derivative-of-Gaussian ridges: one flank lit, the other in shade. All amounts are drawing, not measurement.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np
from PIL import Image, ImageDraw, ImageFilter

from sepkit.coverage.bands import row_bands

if TYPE_CHECKING:
    from sepkit.model import F32, F64
    from sepkit.preview.drawing import Fold, GarmentDrawing, Part, Seam

MARGIN_MM = 46.0
BAND_ROWS = 64
INSIDE = "inside"
SUPERSAMPLE = 3
LIGHT_FROM = (-0.55, -0.83)
"""Towards the light, on the picture plane."""
SHEEN = 0.011
"""Light that a fold adds whatever the dye (linear): it shows the folds of black cloth."""
FOLD_DEPTH = 1.45
FOLD_MIDDLE, FOLD_REACH = 0.42, 0.62
"""Where along a fold it is deepest, and how far from there it fades out, as shares of its length."""
FOLD_BOW = 0.07
"""How far a fold bows, as a share of its length."""
FOLD_WIDTHS = 7.0
"""So many of its widths off its middle a fold is no longer seen."""
SHADOW_MM = (5.0, 9.0)
BACKDROP = (0.640, 0.633, 0.616)
"""Linear light of the table the garment lies on: white and black cloth both stand out."""
TABLE_MM = 900.0
"""The table gets darker towards the eye: by a tenth over this height."""
WALE_MM = 0.75
"""Width of one column of stitches; single jersey for tees has 12 to 15 per cm (common practice)."""


@dataclass(frozen=True, slots=True, eq=False)
class PaintedCloth:
    """A garment without print."""

    linear: F32
    light: F32
    """(h, w) factor that shades a print in the same way; 1 is flat cloth."""
    inside: F32
    """(h, w) 0..1 where the inside of the back shows through the neck."""
    x0_mm: float
    y0_mm: float
    px_per_mm: float

    def to_px(self, x_mm: float, y_mm: float) -> tuple[float, float]:
        """Return picture coordinates of a point of the drawing; pixel edges are whole numbers."""
        return (x_mm - self.x0_mm) * self.px_per_mm, (y_mm - self.y0_mm) * self.px_per_mm


def paint_cloth(drawing: GarmentDrawing, cloth_linear: F64, *, px_per_mm: float, seed: int = 5) -> PaintedCloth:
    """Return the drawing in cloth of a colour. The same input gives the same picture."""
    x0, y0, x1, y1 = drawing.frame or _bounds(drawing.parts)
    shape = (int(np.ceil((y1 - y0) * px_per_mm)), int(np.ceil((x1 - x0) * px_per_mm)))
    canvas = _Canvas(x0, y0, px_per_mm, shape)
    outline = canvas.fill(*[part.outline for part in drawing.parts])
    light = np.asarray(1 + FOLD_DEPTH * canvas.folds(drawing.folds) + canvas.noise(seed, 80.0) * 0.012, np.float32)
    light *= _worn_edge(outline, px_per_mm)
    light *= canvas.knit(seed)
    tint, inside = np.ones(shape, np.float32), np.zeros(shape, np.float32)
    for part in drawing.parts:
        _lay(part, canvas, tint, inside)
    for seam in drawing.seams:
        rows, columns, part_of = canvas.window(seam.line, pad_mm=seam.width_mm + 2)
        here = (rows, columns)
        tint[here] *= 1 - seam.strength * part_of.seam(seam) * outline[here]
    light *= tint
    table = _table_light(shape, outline, px_per_mm)
    linear = np.empty((*shape, 3), np.float32)
    for band in row_bands(shape[0], BAND_ROWS):  # as much as the processor's cache holds
        some = slice(band.start, band.stop)
        picture, cover = linear[some], outline[some, :, None]
        _lit(cloth_linear, light[some], picture)
        picture *= cover
        picture += table[some, :, None] * np.array(BACKDROP, np.float32) * (1 - cover)
    return PaintedCloth(linear, light, inside, x0, y0, px_per_mm)


def _lay(part: Part, canvas: _Canvas, tint: F32, inside: F32) -> None:
    """Lay a part over what is there: its shadow, its own shade, its ribs; only its window is touched."""
    rows, columns, window = canvas.window(part.outline, pad_mm=16.0)
    here = (rows, columns)
    scale = canvas.scale
    mask = window.fill(part.outline)
    if part.casts:
        shadow = _blurred(mask, 3.6 * scale, shift=(0.8 * scale, 2.2 * scale))
        tint[here] *= 1 - part.casts * (1 - mask) * shadow
    own = part.light * (1 - 0.05 * _rim(mask, scale))
    if part.ribs is not None:
        own = own * (1 - 0.13 * window.ribs(part.ribs))
    tint[here] += (own - tint[here]) * mask
    inside[here] += ((part.name == INSIDE) - inside[here]) * mask


def _lit(cloth_linear: F64, light: F32, out: F32) -> None:
    """Write cloth of a colour in this light (h, w) to ``out`` (h, w, 3)."""
    np.multiply(np.asarray(cloth_linear, np.float32), light[..., None], out=out)
    out += (SHEEN * np.clip(light - 1, -0.07, 0.5) * 4)[..., None]
    np.clip(out, 0.0008, 1.0, out=out)


@dataclass(frozen=True, slots=True)
class _Canvas:
    x0: float
    y0: float
    scale: float
    shape: tuple[int, int]

    def points(self, line: F64, times: int = SUPERSAMPLE) -> list[tuple[float, float]]:
        # Pillow fills up to and including its corner pixels, so corners sit half a pixel in
        xy = (line - np.array([self.x0, self.y0])) * self.scale * times - 0.5
        return [(float(x), float(y)) for x, y in xy]

    def window(self, line: F64, *, pad_mm: float) -> tuple[slice, slice, _Canvas]:
        """Return the rows and columns around a line, and a canvas of just those pixels."""
        low = np.floor((line.min(axis=0) - pad_mm - (self.x0, self.y0)) * self.scale).astype(int)
        high = np.ceil((line.max(axis=0) + pad_mm - (self.x0, self.y0)) * self.scale).astype(int)
        left, top = (int(v) for v in np.clip(low, 0, [self.shape[1] - 1, self.shape[0] - 1]))
        right, bottom = (int(v) for v in np.clip(high, [left + 1, top + 1], [self.shape[1], self.shape[0]]))
        part = _Canvas(
            self.x0 + left / self.scale, self.y0 + top / self.scale, self.scale, (bottom - top, right - left)
        )
        return slice(top, bottom), slice(left, right), part

    def blank(self, times: int = SUPERSAMPLE) -> Image.Image:
        return Image.new("L", (self.shape[1] * times, self.shape[0] * times))

    def fill(self, *outlines: F64) -> F32:
        image = self.blank()
        draw = ImageDraw.Draw(image)
        for outline in outlines:
            draw.polygon(self.points(outline), fill=255)
        return _down(image)

    def seam(self, seam: Seam) -> F32:
        image = self.blank()
        draw = ImageDraw.Draw(image)
        width = max(1, round(seam.width_mm * self.scale * SUPERSAMPLE))
        if not seam.stitched:
            draw.line(self.points(seam.line), fill=255, width=width, joint="curve")
        else:
            line = _even(seam.line, 1.5)
            for k in range(0, len(line) - 1, 2):
                draw.line(self.points(line[k : k + 2]), fill=255, width=width)
        return _down(image)

    def ribs(self, edges: tuple[F64, F64]) -> F32:
        image = self.blank()
        draw = ImageDraw.Draw(image)
        a, b = (_even(edge, 2.6, like=edges[0]) for edge in edges)
        width = max(1, round(0.9 * self.scale * SUPERSAMPLE))
        for p, q in zip(a, b, strict=True):
            draw.line(self.points(np.array([p, q])), fill=255, width=width)
        return _down(image)

    def folds(self, folds: Sequence[Fold]) -> F32:
        step = 3.0
        ys = self.y0 + np.arange(0, self.shape[0] / self.scale + step, step)
        xs = self.x0 + np.arange(0, self.shape[1] / self.scale + step, step)
        total = np.zeros((len(ys), len(xs)))
        for fold in folds:
            (left, top), (right, bottom) = _fold_box(fold)
            (first, last), (near, far) = np.searchsorted(ys, (top, bottom)), np.searchsorted(xs, (left, right))
            rows, columns = slice(first, last), slice(near, far)
            total[rows, columns] += _fold(fold, xs[None, columns], ys[rows, None])
        return _resized(total, self.shape)

    def noise(self, seed: int, period_mm: float) -> F32:
        rng = np.random.default_rng(seed)
        cells = (int(self.shape[0] / self.scale / period_mm) + 4, int(self.shape[1] / self.scale / period_mm) + 4)
        return _resized(rng.standard_normal(cells), self.shape)

    def knit(self, seed: int) -> F32:
        """Columns of stitches where pixels are fine enough to hold them; else only their unevenness."""
        rng = np.random.default_rng(seed + 1)
        grain = rng.standard_normal(self.shape).astype(np.float32)
        grain = (
            grain + 0.6 * np.roll(grain, 1, axis=0) + 0.5 * rng.standard_normal((1, self.shape[1])).astype(np.float32)
        )
        out = np.float32(1) + np.float32(0.010) * grain
        pixels = WALE_MM * self.scale
        if pixels >= 2.5:
            x = (np.arange(self.shape[1]) / self.scale) % WALE_MM / WALE_MM
            y = (np.arange(self.shape[0]) / self.scale)[:, None] / (WALE_MM * 0.8)
            leg = np.where(x < 0.5, x, 1 - x)
            stitch = np.cos(2 * np.pi * (y - 1.1 * leg)) * np.sin(2 * np.pi * leg) + 0.8 * np.cos(
                4 * np.pi * (leg - 0.25)
            )
            out = out * (1 + 0.045 * min(1.0, (pixels - 2) / 3) * stitch.astype(np.float32))
        return np.asarray(out, np.float32)


def _fold_box(fold: Fold) -> tuple[tuple[float, float], tuple[float, float]]:
    """Return left and top, right and bottom of where a fold is seen: beyond is less than a millionth of its depth."""
    (ax, ay), (bx, by) = fold.start, fold.stop
    length = float(np.hypot(bx - ax, by - ay))
    way = np.array([bx - ax, by - ay])
    across = np.array([ay - by, bx - ax]) / length
    far = FOLD_WIDTHS * fold.width_mm
    ends = [np.array(fold.start) + way * t for t in (FOLD_MIDDLE - FOLD_REACH, FOLD_MIDDLE + FOLD_REACH)]
    points = np.array([end + across * off for end in ends for off in (-far, far + FOLD_BOW * length)])
    low, high = points.min(axis=0), points.max(axis=0)
    return (float(low[0]), float(low[1])), (float(high[0]), float(high[1]))


def _fold(fold: Fold, x: F64, y: F64) -> F64:
    (ax, ay), (bx, by) = fold.start, fold.stop
    length = float(np.hypot(bx - ax, by - ay))
    ux, uy = (bx - ax) / length, (by - ay) / length
    along = ((x - ax) * ux + (y - ay) * uy) / length
    bow = FOLD_BOW * length * np.sin(np.pi * np.clip(along, 0, 1))
    off = ((x - ax) * -uy + (y - ay) * ux - bow) / fold.width_mm
    facing = (-uy) * LIGHT_FROM[0] + ux * LIGHT_FROM[1]
    fade = np.clip(1 - np.abs(along - FOLD_MIDDLE) / FOLD_REACH, 0, 1) ** 1.3
    out: F64 = fold.strength * np.sign(facing if facing else 1) * off * np.exp(0.5 - off**2 / 2) * fade
    return out


def _worn_edge(outline: F32, scale: float) -> F32:
    """Cloth turns away from the eye at the outline: darker below right, a little lighter towards the light."""
    near = _blurred(outline, 7 * scale)
    towards = _blurred(outline, 5 * scale, shift=(-3.5 * scale, -5 * scale))
    out: F32 = (1 - 0.22 * np.clip(1 - near, 0, 0.5) * 2 + 0.10 * np.clip(towards - near, -0.5, 0.5)).astype(np.float32)
    return out


def _rim(mask: F32, scale: float) -> F32:
    return np.asarray(np.clip(1 - _blurred(mask, 2.2 * scale), 0, 0.5) * 2, np.float32)


def _table_light(shape: tuple[int, int], outline: F32, scale: float) -> F32:
    """Return the light on the table, (h, w), in the shadow of the garment."""
    light: F32 = 1 - 0.40 * _blurred(outline, 9 * scale, shift=(SHADOW_MM[0] * scale, SHADOW_MM[1] * scale))
    light *= 1.05 - 0.12 * np.arange(shape[0], dtype=np.float32)[:, None] / (TABLE_MM * scale)
    light *= 1 - 0.30 * _blurred(outline, 2.2 * scale, shift=(1.0 * scale, 2.0 * scale))
    return light


def _bounds(parts: Sequence[Part]) -> tuple[float, float, float, float]:
    points = np.vstack([part.outline for part in parts])
    (x0, y0), (x1, y1) = points.min(axis=0) - MARGIN_MM, points.max(axis=0) + MARGIN_MM
    return float(x0), float(y0), float(x1), float(y1)


def _even(line: F64, step_mm: float, like: F64 | None = None) -> F64:
    """Return points at even distances along a line; ``like`` gives the count by another line's length."""

    def length_of(points: F64) -> Any:
        return np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(points, axis=0).T))])

    along = length_of(line)
    count = max(2, int(length_of(line if like is None else like)[-1] / step_mm))
    at = np.linspace(0, along[-1], count)
    return np.stack([np.interp(at, along, line[:, 0]), np.interp(at, along, line[:, 1])], axis=1)


def _down(image: Image.Image) -> F32:
    out: F32 = np.asarray(image.reduce(SUPERSAMPLE), np.float32) / np.float32(255)
    return out


def _blurred(mask: F32, radius_px: float, *, shift: tuple[float, float] = (0.0, 0.0)) -> F32:
    small = max(1, int(radius_px / 2))
    image = Image.fromarray(np.rint(mask * 255).astype(np.uint8))
    little = image.reduce(small) if small > 1 else image
    little = little.filter(ImageFilter.GaussianBlur(radius_px / small))
    back = little.resize((mask.shape[1], mask.shape[0]), Image.Resampling.BICUBIC)
    out: F32 = np.asarray(back, np.float32) / np.float32(255)
    dx, dy = round(shift[0]), round(shift[1])
    if dx or dy:
        out = _moved(out, dx, dy)
    return out


def _moved(picture: F32, dx: int, dy: int) -> F32:
    out = np.zeros_like(picture)
    h, w = picture.shape
    out[max(dy, 0) : h + min(dy, 0), max(dx, 0) : w + min(dx, 0)] = picture[
        max(-dy, 0) : h + min(-dy, 0), max(-dx, 0) : w + min(-dx, 0)
    ]
    return out


def _resized(values: Any, shape: tuple[int, int]) -> F32:
    image = Image.fromarray(np.asarray(values, np.float32))
    return np.asarray(image.resize((shape[1], shape[0]), Image.Resampling.BICUBIC), np.float32)
