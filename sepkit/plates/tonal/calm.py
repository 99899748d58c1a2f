"""A picture without its grain and the blocks of its compression, edges kept: what is solved for plates.

In: (h, w, 3) uint8 levels. Out: the same as float32 levels. A guided filter with the picture as its own guide (He, Sun,
Tang, "Guided Image Filtering", PAMI 35, 2013): in a window in which levels vary no more than noise does beside an even
slope, their mean; on an edge, the edge. How much noise there is, is told by second differences of calm pixels
(Immerkaer, 1996), and by the calmest windows: what a JPEG leaves of noise is too slow for differences of pixels.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from sepkit.coverage.bands import row_bands
from sepkit.coverage.channels import greatest
from sepkit.coverage.sums import mean_of_whole

if TYPE_CHECKING:
    from sepkit.model import F32, U8

Array = np.ndarray[Any, np.dtype[Any]]

REACH_PX = 4
"""Half the window: as wide as a block of JPEG."""
NOISE_FACTOR = 2.0
"""What varies up to so many times the noise is calmed."""
NOISE_SURE = 1.6
"""What varies (squared) by so many times the noise is nothing but noise: the worst of three channels over 81 pixels has
1.2 to 1.4 times."""
CALM_WINDOWS, MOST_SLOW = 0.25, 2.5
"""Share of windows, those that vary least, that tell slow noise; where even these vary more (levels), it is
texture."""
STRIPS = 8
STEEPEST = 2.0
"""Levels from pixel to pixel: a gradient is no steeper, and what is steeper is an edge."""
ROUNDING = 0.3
"""Noise of rounding to 8 bits, in levels (1 / sqrt 12)."""
MOST_NOISE = 9.0
"""More is texture."""
CALM_SHARE = 0.5
"""Of the pixels, those with the least differences tell the noise."""
BAND_ROWS, BAND_PX = 48, 90_000
"""Rows and pixels of a band at least: such bands stay in the processor's cache, wider ones take a third longer."""


def calmed(picture: U8) -> F32:
    """Return the picture (h, w, 3), calmed, float32 levels 0..255."""
    noise = max(noise_of(picture), _slow_noise(picture), ROUNDING)
    out = np.empty(picture.shape, np.float32)
    band_rows = max(BAND_ROWS, BAND_PX // max(picture.shape[1], 1))
    for band in row_bands(len(picture), band_rows, halo=2 * REACH_PX):
        out[band.start : band.stop] = _guided(picture[band.outer_start : band.outer_stop], noise)[band.inner]
    return np.clip(out, 0, 255, out=out)


def _guided(part: U8, noise: float) -> Array:
    """Return each channel guided by itself; the channel that varies most tells for all where edges are."""
    mean, varies = _windows(part)
    beyond = np.maximum(varies - np.float32(NOISE_SURE * noise**2), 0)
    keep = (beyond / (beyond + np.float32((NOISE_FACTOR * noise) ** 2)))[..., None]
    mean *= 1 - keep
    out = _mean(_mean(keep, 0), 1) * part
    out += _mean(_mean(mean, 0), 1)
    return np.asarray(out)


def _windows(part: U8) -> tuple[Array, Array]:
    """Return the mean of the window around each pixel (h, w, 3), and how much it varies beside a slope (h, w)."""
    rows, columns = mean_of_whole(part, REACH_PX, axis=0), mean_of_whole(part, REACH_PX, axis=1)
    mean = _mean(rows, 1)
    slope, down = _slope(rows, 1), _slope(columns, 0)
    slope *= slope
    slope += np.square(down, out=down)
    varies = _mean(mean_of_whole(np.multiply(part, part, dtype=np.uint16), REACH_PX, axis=0), 1)
    varies -= mean * mean
    np.minimum(slope, np.float32(STEEPEST**2), out=slope)
    slope *= np.float32(REACH_PX * (REACH_PX + 1) / 3)
    varies -= slope
    return mean, greatest(varies)


def _slow_noise(picture: U8) -> float:
    """Return by how much the calmest windows vary, in levels (standard deviation); 0 where that is texture."""
    side = 2 * REACH_PX + 1
    starts = np.unique(np.linspace(0, max(0, len(picture) - 3 * side), STRIPS).astype(int))
    strips = [_windows(picture[at : at + 3 * side])[1][side:-side] for at in starts]
    varies = np.concatenate([strip.ravel() for strip in strips])
    calm = float(np.quantile(varies, CALM_WINDOWS)) if len(varies) else 0.0
    return float(np.sqrt(max(calm, 0.0))) if calm <= MOST_SLOW**2 else 0.0


def _mean(planes: Array, axis: int) -> Array:
    from scipy.ndimage import uniform_filter1d

    return np.asarray(uniform_filter1d(planes, 2 * REACH_PX + 1, axis=axis, mode="nearest"))


def _slope(planes: Array, axis: int) -> Array:
    """Return by how much planes grow from pixel to pixel along an axis, fitted over the window (least squares)."""
    from scipy.ndimage import correlate1d

    at = np.arange(-REACH_PX, REACH_PX + 1)
    return np.asarray(correlate1d(planes, at / (at @ at), axis=axis, mode="nearest"))


def noise_of(picture: U8) -> float:
    """Return the noise of a picture's calm parts, in levels (standard deviation)."""
    step = max(1, len(picture) // 400)
    rows = np.arange(1, max(2, len(picture) - 1), step)
    if min(picture.shape[:2]) < 3:
        return 0.0
    around = [picture[rows + dy].astype(np.float32) for dy in (-1, 0, 1)]
    second = [plane[:, :-2] - 2 * plane[:, 1:-1] + plane[:, 2:] for plane in around]
    bend = greatest(np.abs(second[0] - 2 * second[1] + second[2]))
    rough = np.sort(bend, axis=None)[: max(1, int(CALM_SHARE * bend.size))]
    # The lower half of a folded normal has the mean 0.32 of sigma; the mask's own gain is 6, that of the worst of three
    # channels 2.75 (simulated).
    return min(float(rough.mean()) / (6 * 0.32 * 2.75), MOST_NOISE)
