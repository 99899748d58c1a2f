"""The dark and the light part of a picture, and whether these two are all there is.

In: sRGB and alpha. Out: the two mean colours, how much of a pixel is dark, shares.
Antialiasing blends encoded values in nearly all renderers, so a pixel's share is read from encoded luminance.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from sepkit.colorimetry.srgb import RGB_TO_XYZ, linear_table
from sepkit.coverage.channels import pixels_where, total
from sepkit.intake import tuned

if TYPE_CHECKING:
    from sepkit.model import F32, RGB8, U8, Bool

STEPS = 4095
SAMPLE_PX = 500_000
"""Pixels looked at to judge a picture; of larger ones every nth row and column."""
LEAST_EDGE, MOST_EDGE = 0.02, 0.25
"""Part of the way between dark and light that is each end's own noise, at least and at most."""


@dataclass(frozen=True, slots=True, eq=False)
class TwoParts:
    """Dark and light of the visible pixels, split where both are closest to their values."""

    dark: RGB8
    light: RGB8
    low: float
    """Luminance of the dark part, encoded, 0..1,"""
    high: float
    """and of the light one."""
    noise: float
    """How far the pixels of a part lie from its mean, of the way between the two."""
    dark_share: float
    """Of the visible pixels."""
    only_two: bool
    """Whether nearly all visible pixels are dark, light, or a mixture along an edge."""

    @property
    def parted(self) -> bool:
        """Whether the two are apart, and neither is a trifle."""
        apart = float(np.linalg.norm(np.subtract(self.dark, self.light)))
        least = min(self.dark_share, 1 - self.dark_share)
        return apart >= tuned.TWO_PARTS.apart_levels and least >= tuned.TWO_PARTS.least_share

    @property
    def one_colour(self) -> bool:
        """Whether this is art of one colour: on a ground of another, or on nothing."""
        return self.only_two


def luminance(rgb: U8) -> F32:
    """Return luminance (..., ) float32, 0..1, encoded as sRGB (IEC 61966-2-1): grey pixels keep their own value."""
    linear = linear_table()
    total = np.zeros(rgb.shape[:-1], np.float32)
    for k, weight in enumerate(RGB_TO_XYZ[1]):
        total += np.float32(weight) * linear[rgb[..., k]]
    steps = np.linspace(0.0, 1.0, STEPS + 1)
    table = np.where(steps > 0.0031308, 1.055 * steps ** (1 / 2.4) - 0.055, 12.92 * steps).astype(np.float32)
    return np.asarray(table[np.rint(np.minimum(total, 1.0) * STEPS).astype(np.uint16)])


def two_parts(rgb: U8, alpha: U8) -> TwoParts | None:
    """Return the dark and the light part of the visible pixels; None when none is visible."""
    step = max(1, int(np.sqrt(alpha.size / SAMPLE_PX)))
    seen = alpha[::step, ::step] > 127
    pixels = pixels_where(np.ascontiguousarray(rgb[::step, ::step]), seen)
    if not len(pixels):
        return None
    light = luminance(pixels)
    low, high = _two_means(light)
    is_dark = light < (low + high) / 2
    if is_dark.all() or not is_dark.any() or high - low < 1 / 255:
        colour = _mean(pixels)
        off = np.abs(pixels.astype(np.int16) - np.array(colour, np.int16)).max(1) > tuned.TWO_PARTS.off_levels
        return TwoParts(colour, colour, low, high, 0.0, 1.0, bool(off.mean() <= tuned.TWO_PARTS.off_share))
    halves = [(np.flatnonzero(is_dark), low), (np.flatnonzero(~is_dark), high)]
    dark, pale = (_middle(pixels.take(half, axis=0), light[half], at) for half, at in halves)
    spread = max(_spread(light[half], at) for half, at in halves) / (high - low)
    return TwoParts(dark, pale, low, high, spread, float(is_dark.mean()), _is_all(pixels, dark, pale))


def dark_share(rgb: U8, parts: TwoParts) -> F32:
    """Return (h, w) 0..1: how much of each pixel is the dark part. Noise of the parts themselves is left out."""
    if parts.high - parts.low < 1 / 255:
        return np.ones(rgb.shape[:2], np.float32)
    edge = min(max(2 * parts.noise, LEAST_EDGE), MOST_EDGE)
    share = (parts.high - luminance(rgb)) / np.float32(parts.high - parts.low)
    return np.asarray(np.clip((share - edge) / (1 - 2 * edge), 0.0, 1.0), np.float32)


def is_dark(rgb: U8, parts: TwoParts) -> Bool:
    """Return (h, w) True where a pixel is more dark than light."""
    return np.asarray(luminance(rgb) < (parts.low + parts.high) / 2)


def _is_all(pixels: U8, dark: RGB8, light: RGB8) -> bool:
    """Tell whether the pixels lie on the line between two colours, and mostly at its ends."""
    limits = tuned.TWO_PARTS
    start, way = np.array(dark, np.float32), np.subtract(light, dark).astype(np.float32)
    length = float(np.linalg.norm(way))
    if length < 1:
        return True
    off, between = 0, 0
    for chunk in np.array_split(pixels, max(1, len(pixels) // 200_000)):
        away = chunk.astype(np.float32) - start
        along = np.clip(away @ way / length**2, 0, 1)
        across = away - along[:, None] * way
        rest = np.sqrt(total(across * across))
        off += int((rest > limits.off_levels).sum())
        between += int(((along > limits.ends_share) & (along < 1 - limits.ends_share)).sum())
    return off <= limits.off_share * len(pixels) and between <= limits.between_share * len(pixels)


def _middle(pixels: U8, light: F32, at: float) -> RGB8:
    """Return the median colour of the half of the pixels nearest to a luminance: edges pull no colour."""
    away = np.abs(light - at)
    near = np.flatnonzero(away <= np.median(away))
    r, g, b = (int(np.median(pixels[:, k].take(near))) for k in range(3))
    return r, g, b


def _mean(pixels: U8) -> RGB8:
    r, g, b = (int(v) for v in np.median(pixels, axis=0))
    return r, g, b


def _spread(values: F32, at: float) -> float:
    """Return the distance from ``at`` within which two thirds of the values lie: edges are fewer than that."""
    return float(np.percentile(np.abs(values - at), 67))


def _two_means(values: F32) -> tuple[float, float]:
    """Return the values of the dark and the light half, split where both are closest to their means.

    Each half is told by its median, so that a few tones between do not pull the half-way edge.
    """
    counts, edges = np.histogram(values, bins=256, range=(0.0, 1.0))
    middles = (edges[:-1] + edges[1:]) / 2
    low, high = float(values.min()), float(values.max())
    for _ in range(64):
        split = middles < (low + high) / 2
        sums = [(counts[part] @ middles[part], counts[part].sum()) for part in (split, ~split)]
        new = [float(total / count) if count else old for (total, count), old in zip(sums, (low, high), strict=True)]
        if abs(new[0] - low) + abs(new[1] - high) < 1e-6:
            break
        low, high = new
    dark = values < (low + high) / 2
    if dark.any():
        low = float(np.median(values[dark]))
    if not dark.all():
        high = float(np.median(values[~dark]))
    return low, high
