"""Art and print as seen on the garment: laid over it once, compared pixel by pixel, averaged once for pictures.

In: plates, garment, the art's sRGB and alpha, all on one pixel grid. Out: SeenPrint: Panels of at most PANEL_PX, the
ink in linear light for pictures of garments, and how far print and art differ over all pixels.
No picture of the full size is held: rows come in bands, a pixel as one packed number whose fourth byte marks art or
ink. Runs of one pair of colours are counted as one, and a block of one colour is its own average.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

import numpy as np

from sepkit.colorimetry.srgb import linear_table, linear_to_srgb
from sepkit.coverage.bands import row_bands
from sepkit.preview.difference import Difference, Pairs
from sepkit.preview.stack import BAND_PIXELS, packed, printed_bands, unpacked

if TYPE_CHECKING:
    from sepkit.model import F32, RGB8, U8, Bool, Garment, Plate
    from sepkit.preview.attainable import Attainable
    from sepkit.preview.stack import ToneCurve

Array = np.ndarray[Any, np.dtype[Any]]

PANEL_PX = 1600
ABSENT = 2
"""In the fourth byte: beyond the picture's border."""
MOSTLY_ALIKE = 0.5
"""From this share of blocks of one colour on all are written as such first: taking these out would cost more."""


@dataclass(frozen=True, slots=True, eq=False)
class Panels:
    """Pictures of a print and its art, in the size they are shown in."""

    art: U8
    """(h, w, 3) uint8 sRGB on the garment."""
    printed: U8
    """(h, w, 3) uint8 sRGB."""
    ink: F32
    """(h, w, 4) linear light of the ink times its share, and the share of pixels with ink, 0..1."""


@dataclass(frozen=True, slots=True, eq=False)
class SeenPrint:
    """A print and its art as seen; its pictures may be drawn when they are first looked at."""

    panels: Callable[[], Panels]
    difference: Difference
    """Over art and ink, of all pixels of the plates."""
    attainable: Attainable | None = None
    """What the difference is from; None: the art itself."""
    art_alone: Callable[[], U8] | None = None
    """What draws the art without the print, where the panels still wait."""

    def __reduce__(self) -> tuple[Callable[..., SeenPrint], tuple[Any, ...]]:
        """Go to another process with its pictures drawn."""
        return _drawn, (self.panels(), self.difference, self.attainable)

    @property
    def art(self) -> U8:
        """The art on the garment, (h, w, 3) uint8 sRGB."""
        return self.panels().art if self.art_alone is None else self.art_alone()

    @property
    def printed(self) -> U8:
        """The print on the garment, (h, w, 3) uint8 sRGB."""
        return self.panels().printed

    @property
    def ink(self) -> F32:
        """The ink, as in ``Panels``."""
        return self.panels().ink


def _drawn(panels: Panels, difference: Difference, attainable: Attainable | None) -> SeenPrint:
    return SeenPrint(lambda: panels, difference, attainable)


def seen_print(
    plates: Sequence[Plate],
    garment: Garment,
    rgb: U8,
    alpha: U8,
    *,
    tone_curve: ToneCurve | None = None,
    attainable: Attainable | None = None,
) -> SeenPrint:
    """Return how plates and art are seen on the garment. ``rgb`` (h, w, 3) and ``alpha`` (h, w) are the art's."""
    height, width = alpha.shape
    factor = factor_for((height, width), PANEL_PX)
    rows_each = factor * max(1, BAND_PIXELS // max(width * factor, 1))
    pairs = Pairs()
    bare = linear_table()[_bare_colour(plates, garment)]
    arts, inks, prints = [], [], []
    for rows, colours in printed_bands(plates, garment, tone_curve=tone_curve, band_rows=rows_each):
        art = art_colours(rgb[rows], alpha[rows], garment.srgb)
        ink = colours | (any_of(plates, rows).astype(np.uint32) << _MARK)
        pairs.add(art, ink)
        inks.append(block_means(ink, factor, weighed=True))
        if factor == 1:
            arts.append(unpacked(art))
            prints.append(unpacked(colours))
        else:
            arts.append(encoded(block_means(art, factor, weighed=False)[..., :3]))
            prints.append(encoded(inks[-1][..., :3] + (1 - inks[-1][..., 3:]) * bare))
    far = pairs.difference(attainable)
    panels = Panels(np.concatenate(arts), np.concatenate(prints), np.concatenate(inks))
    return _drawn(panels, far, attainable)


def art_on_garment(rgb: U8, alpha: U8, ground: RGB8) -> U8:
    """Lay art with alpha on the garment's colour, blending encoded sRGB as picture viewers do; (h, w, 3) uint8."""
    out = np.empty_like(rgb)
    for band in row_bands(len(rgb), max(1, BAND_PIXELS // max(rgb.shape[1], 1))):
        rows = slice(band.start, band.stop)
        out[rows] = unpacked(art_colours(rgb[rows], alpha[rows], ground))
    return out


def reduced(rgb: U8, *, most_px: int = PANEL_PX) -> U8:
    """Return the picture with its longer side at most ``most_px``: whole blocks averaged in linear light."""
    return blocks_averaged(rgb, factor_for((rgb.shape[0], rgb.shape[1]), most_px))


def blocks_averaged(rgb: U8, factor: int) -> U8:
    """Return the picture averaged in linear light over blocks of ``factor`` pixels, (h, w, 3) uint8."""
    if factor == 1:
        return rgb
    bands = row_bands(len(rgb), factor * max(1, BAND_PIXELS // max(rgb.shape[1] * factor, 1)))
    parts = (block_means(packed(rgb[band.start : band.stop]), factor, weighed=False) for band in bands)
    return np.concatenate([encoded(part[..., :3]) for part in parts])


def factor_for(shape: tuple[int, int], most_px: int) -> int:
    """Return the whole factor that brings the longer side to at most ``most_px``."""
    return max(1, math.ceil(max(shape) / most_px))


def art_seen(rgb: U8, alpha: U8, ground: RGB8, *, factor: int) -> U8:
    """Return the art on the garment's colour, averaged in linear light over blocks of ``factor``, (h, w, 3) uint8."""
    out = []
    for band in row_bands(len(alpha), factor * max(1, BAND_PIXELS // max(alpha.shape[1] * factor, 1))):
        rows = slice(band.start, band.stop)
        out.append(encoded(block_means(art_colours(rgb[rows], alpha[rows], ground), factor, weighed=False)[..., :3]))
    return np.concatenate(out)


def art_colours(rgb: U8, alpha: U8, ground: RGB8) -> Array:
    """Return art laid on the garment's colour, packed (h, w) uint32, the fourth byte 1 where the art is.

    Encoded values are blended, as picture viewers do.
    """
    out = packed(rgb)
    marks = out.view(np.uint8).reshape(*out.shape, 4)[..., 3]
    lowest = int(alpha.min()) if alpha.size else 255
    if lowest < 255:
        if lowest == 0:
            np.copyto(out, packed(np.array(ground, np.uint8)), where=alpha == 0)
        soft = np.flatnonzero((alpha - np.uint8(1)) < 254)  # 0 wraps to 255
        a = alpha.reshape(-1)[soft].astype(np.uint32)[:, None]
        mixed = rgb.reshape(-1, 3)[soft] * a + np.array(ground, np.uint32) * (255 - a)
        out.reshape(-1)[soft] = packed(((mixed + 127) // 255).astype(np.uint8))
        marks[...] = alpha > 0
    else:
        marks[...] = 1
    return out


def any_of(plates: Sequence[Plate], rows: slice) -> Bool:
    """Return (n, w) True where any plate prints."""
    total = plates[0].printed[rows].copy()
    for plate in plates[1:]:
        total |= plate.printed[rows]
    out: Bool = total > 0
    return out


def block_means(colours: Array, factor: int, *, weighed: bool) -> F32:
    """Return the mean linear light of blocks of ``factor`` pixels, (h, w, 4) float32, the last what was averaged.

    ``colours`` are packed, the fourth byte 1 for pixels that count. ``weighed``: light of pixels that do not count is
    left out (the share of those that do is the fourth value); else all pixels count, and the fourth value is 1.
    Blocks at the right and lower border average the pixels that they have.
    """
    height, width = colours.shape
    down, across = -(-height // factor), -(-width // factor)
    if (down * factor, across * factor) != (height, width):
        wide = np.full((down * factor, across * factor), ABSENT << _MARK, np.uint32)
        wide[:height, :width] = colours
        colours = wide
    corner = colours[::factor, ::factor]
    left = np.ascontiguousarray(colours[:, ::factor])
    even = np.ones(left.shape, bool)
    for at in range(1, factor):
        even &= colours[:, at::factor] == left
    one = even.reshape(down, factor, across).all(axis=1)
    one &= (left.reshape(down, factor, across) == corner[:, None]).all(axis=1)
    out = np.empty((down, across, 4), np.float32)
    alike: Any = np.nonzero(one) if np.count_nonzero(one) < MOSTLY_ALIKE * one.size else ...
    _put_means(out, alike, corner[alike][..., None], weighed)
    rows, columns = np.nonzero(~one)
    most = max(1, BAND_PIXELS // (factor * factor))
    blocks = colours.reshape(down, factor, across, factor)
    for start in range(0, len(rows), most):
        here = (rows[start : start + most], columns[start : start + most])
        pixels = blocks[here[0], :, here[1], :].reshape(len(here[0]), factor * factor)
        _put_means(out, here, pixels, weighed)
    return out


def encoded(linear: Array) -> U8:
    """Return linear light as uint8 sRGB."""
    out: U8 = np.rint(np.clip(linear_to_srgb(linear), 0, 1) * 255).astype(np.uint8)
    return out


_MARK = np.uint32(24) if np.little_endian else np.uint32(0)
"""Where the fourth byte in memory stands in a number."""


def _put_means(out: F32, here: Any, pixels: Array, weighed: bool) -> None:
    """Write the means of packed pixels (..., n) into ``out[here]``, one pixel of all blocks after the other."""
    table = linear_table()
    total, count = np.zeros((*pixels.shape[:-1], 4), np.float32), np.zeros(pixels.shape[:-1], np.float32)
    for k in range(pixels.shape[-1]):
        parts = np.ascontiguousarray(pixels[..., k]).view(np.uint8).reshape(*count.shape, 4)
        there = (parts[..., 3] & ABSENT) == 0
        weight = ((parts[..., 3] & 1) if weighed else there).astype(np.float32)
        for c in range(3):
            total[..., c] += table[parts[..., c]] * weight
        total[..., 3] += weight
        count += there
    out[here] = total / count[..., None]


def _bare_colour(plates: Sequence[Plate], garment: Garment) -> U8:
    """Return the colour that the print's picture has where nothing prints, (3,) uint8."""
    none = np.zeros((1, 1), np.uint8)
    bare = [replace(plate, coverage=none, printed=none, tone=None, also_base=None) for plate in plates[:1]]
    out: U8 = unpacked(next(printed_bands(bare, garment, band_rows=1))[1])[0, 0]
    return out
