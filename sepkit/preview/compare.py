"""Artwork beside predicted print, and where they differ.

In: the art as seen on the garment and the predicted print, both (h, w, 3) uint8 sRGB on one pixel grid.
Out: a sheet of three panels (uint8 sRGB), and the difference in numbers.
ΔE00 is taken over the pixels that are art or ink: bare garment beside the print would only flatter the mean.
Numbers are of all pixels; the panels of big pictures are averaged down in linear light, and their map is of what
they show.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np
from PIL import Image, ImageDraw, ImageFont

from sepkit.colorimetry.difference import delta_e_2000
from sepkit.colorimetry.srgb import lab_to_srgb8, linear_table, linear_to_srgb, srgb8_to_lab
from sepkit.coverage.bands import row_bands

if TYPE_CHECKING:
    from sepkit.model import F64, RGB8, U8, Bool

Array = np.ndarray[Any, np.dtype[Any]]

PANEL_PX = 1600
BAND_PIXELS = 1 << 19
SCALE_TOP_DE00 = 10.0
FAR_DE00 = 5.0
TICKS = ((0, "same"), (1, "1"), (3, "3 close"), (5, "5 seen"), (10, "10+ other"))
"""Words for ΔE00 at arm's length (common practice)."""
MAP_LAB = (
    (0.0, (97.0, 0.0, 3.0)),
    (0.18, (88.0, 0.0, 34.0)),
    (0.40, (74.0, 22.0, 58.0)),
    (0.62, (56.0, 52.0, 40.0)),
    (0.82, (36.0, 52.0, 4.0)),
    (1.0, (17.0, 30.0, -22.0)),
)
"""Colours of the map from no difference to much: lightness falls evenly, so the order shows in grey too."""
PAPER: RGB8 = (236, 236, 233)
TEXT: RGB8 = (30, 31, 35)
SOFT_TEXT: RGB8 = (96, 98, 104)


@dataclass(frozen=True, slots=True)
class Difference:
    """How far a print is from its art, in ΔE00."""

    mean_de00: float
    p95_de00: float
    worst_de00: float
    far_share: float
    """Share of the area above ΔE00 5."""
    pixels: int


def art_on_garment(rgb: U8, alpha: U8, ground: RGB8) -> U8:
    """Lay art with alpha on the garment's colour, blending encoded sRGB as picture viewers do; (h, w, 3) uint8."""
    out = np.array(rgb)
    for band in row_bands(len(rgb), max(1, BAND_PIXELS // max(rgb.shape[1], 1))):
        rows = slice(band.start, band.stop)
        through = alpha[rows] < 255
        if not through.any():
            continue
        a = alpha[rows][through].astype(np.uint32)[:, None]
        mixed = rgb[rows][through] * a + np.array(ground, np.uint32) * (255 - a)
        out[rows][through] = (mixed + 127) // 255
    return out


def difference_stats(art_rgb: U8, printed_rgb: U8, *, where: Bool | None = None) -> Difference:
    """Return the ΔE00 between art and print over ``where`` (art or ink; None: all pixels).

    Each pair of colours is computed once. Raises ValueError when the pictures differ in size.
    """
    _same_size(art_rgb, printed_rgb)
    pairs: list[Array] = []
    counts: list[Array] = []
    for band in row_bands(len(art_rgb), max(1, BAND_PIXELS // max(art_rgb.shape[1], 1))):
        rows = slice(band.start, band.stop)
        key = _pair_keys(art_rgb[rows], printed_rgb[rows])
        found, number = np.unique(key if where is None else key[where[rows]], return_counts=True)
        pairs.append(found)
        counts.append(number)
    keys, back = np.unique(np.concatenate(pairs), return_inverse=True)
    if not len(keys):
        return Difference(0.0, 0.0, 0.0, 0.0, 0)
    weight = np.bincount(back, weights=np.concatenate(counts))
    de00 = _pair_de00(keys)
    order = np.argsort(de00)
    reached = np.cumsum(weight[order])
    total = float(reached[-1])
    p95 = float(de00[order][np.searchsorted(reached, 0.95 * total)])
    mean = float(de00 @ weight / total)
    return Difference(mean, p95, float(de00.max()), float(weight[de00 > FAR_DE00].sum() / total), int(total))


def difference_map(art_rgb: U8, printed_rgb: U8) -> F64:
    """Return ΔE00 per pixel, (h, w)."""
    _same_size(art_rgb, printed_rgb)
    keys, back = np.unique(_pair_keys(art_rgb, printed_rgb), return_inverse=True)
    out: F64 = _pair_de00(keys)[back].reshape(art_rgb.shape[:2])
    return out


def reduced(rgb: U8, *, most_px: int = PANEL_PX) -> U8:
    """Return the picture with its longer side at most ``most_px``: whole blocks averaged in linear light."""
    factor = -(-max(rgb.shape[:2]) // most_px)
    if factor <= 1:
        return rgb
    height, width = rgb.shape[:2]
    table = linear_table()
    columns = np.arange(0, width, factor)
    across = np.diff(np.append(columns, width)).astype(np.float32)[:, None]
    out = np.empty((-(-height // factor), len(columns), 3), np.uint8)
    blocks = max(1, BAND_PIXELS // max(width * factor, 1))
    for band in row_bands(len(out), blocks):
        linear = table[rgb[band.start * factor : min(band.stop * factor, height)]]
        rows = np.arange(0, len(linear), factor)
        down = np.diff(np.append(rows, len(linear))).astype(np.float32)[:, None, None]
        mean = np.add.reduceat(np.add.reduceat(linear, rows, axis=0), columns, axis=1) / (down * across)
        out[band.start : band.stop] = np.rint(np.clip(linear_to_srgb(mean), 0, 1) * 255)
    return out


def compare_sheet(
    art_rgb: U8, printed_rgb: U8, *, where: Bool | None = None, title: str = "", panel_px: int = PANEL_PX
) -> U8:
    """Return the sheet: artwork, predicted print, where they differ with its scale; (h, w, 3) uint8.

    ``where`` (h, w) is art or ink, for the figures written on the sheet. Each panel is at most ``panel_px`` long.
    """
    stats = difference_stats(art_rgb, printed_rgb, where=where)
    art, print_ = reduced(art_rgb, most_px=panel_px), reduced(printed_rgb, most_px=panel_px)
    colours = map_colours(difference_map(art, print_))
    height, width = art.shape[:2]
    unit = max(11, round(0.021 * max(height, width * 0.8)))
    gap, head, foot = round(unit * 1.5), round(unit * (4.4 if title else 2.8)), round(unit * 5.4)
    wide = max(width, round(unit * 17))
    sheet = Image.new("RGB", (3 * wide + 4 * gap, head + height + foot), PAPER)
    draw = ImageDraw.Draw(sheet)
    font, small = ImageFont.load_default(unit), ImageFont.load_default(max(10, round(unit * 0.82)))
    if title:
        draw.text((gap, unit * 1.4), title, fill=TEXT, font=ImageFont.load_default(round(unit * 1.25)), anchor="lm")
    for place, (panel, words) in enumerate(
        ((art, "Artwork on the garment"), (print_, "Predicted print"), (colours, "Where they differ"))
    ):
        x = gap + place * (wide + gap)
        sheet.paste(Image.fromarray(panel), (x + (wide - width) // 2, head))
        draw.text((x, head - unit), words, fill=TEXT, font=font, anchor="lm")
    foot_y = head + height
    words = f"dE00 over art and ink: {stats.mean_de00:.1f} on average, 95 % of the area within {stats.p95_de00:.1f}"
    draw.text((gap, foot_y + unit * 1.5), words, fill=TEXT, font=font, anchor="lm")
    far = f"{100 * stats.far_share:.1f} % of the area differs by more than {FAR_DE00:g}. A prediction: print a test."
    draw.text((gap, foot_y + unit * 3.2), far, fill=SOFT_TEXT, font=small, anchor="lm")
    _legend(sheet, (gap + 2 * (wide + gap), round(foot_y + unit * 0.9), wide, round(unit * 1.2)), small)
    return np.asarray(sheet, np.uint8)


def map_colours(de00: Array) -> U8:
    """Return the map's colours of ΔE00 values, (...) to (..., 3) uint8; 10 and above are the same."""
    table = _map_table()
    return table[np.rint(np.clip(de00 / SCALE_TOP_DE00, 0, 1) * (len(table) - 1)).astype(np.intp)]


def _map_table() -> U8:
    at = np.linspace(0, 1, 256)
    stops = [stop for stop, _ in MAP_LAB]
    lab = np.stack([np.interp(at, stops, [colour[k] for _, colour in MAP_LAB]) for k in range(3)], axis=1)
    table: U8 = lab_to_srgb8(lab)
    return table


def _legend(sheet: Image.Image, box: tuple[int, int, int, int], font: Any) -> None:
    x, y, width, height = box
    bar = np.broadcast_to(map_colours(np.linspace(0, SCALE_TOP_DE00, width)), (height, width, 3))
    sheet.paste(Image.fromarray(np.ascontiguousarray(bar)), (x, y))
    draw = ImageDraw.Draw(sheet)
    draw.rectangle((x, y, x + width - 1, y + height - 1), outline=SOFT_TEXT)
    for value, words in TICKS:
        at = x + value / SCALE_TOP_DE00 * (width - 1)
        draw.line((at, y + height, at, y + height + 5), fill=SOFT_TEXT)
        anchor = "la" if value == 0 else ("ra" if value == SCALE_TOP_DE00 else "ma")
        draw.text((at, y + height + 8), words, fill=TEXT, font=font, anchor=anchor)


def _pair_keys(a: U8, b: U8) -> Array:
    keys = np.zeros(a.shape[:2], np.uint64)
    for picture in (a, b):
        for channel in range(3):
            keys = (keys << np.uint64(8)) | picture[..., channel]
    return keys


def _pair_de00(keys: Array) -> F64:
    out = np.empty(len(keys))
    for start in range(0, len(keys), BAND_PIXELS):
        part = keys[start : start + BAND_PIXELS]
        bytes_ = np.stack([(part >> np.uint64(8 * k)) & np.uint64(255) for k in range(5, -1, -1)], axis=1)
        rgb = bytes_.astype(np.uint8)
        out[start : start + len(part)] = delta_e_2000(srgb8_to_lab(rgb[:, :3]), srgb8_to_lab(rgb[:, 3:]))
    return out


def _same_size(a: U8, b: U8) -> None:
    if a.shape != b.shape or a.ndim != 3 or a.shape[2] != 3:
        raise ValueError(f"pictures of one size are compared, got {a.shape} and {b.shape}")
