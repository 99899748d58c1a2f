"""A picture without its grain and the blocks of its compression, edges kept: what is solved for plates.

In: (h, w, 3) uint8 levels. Out: the same as float32 levels. A guided filter with the picture as its own guide (He, Sun,
Tang, "Guided Image Filtering", PAMI 35, 2013): in a window in which levels vary no more than noise does, their mean; on
an edge, the edge. How much noise there is, is told by second differences of calm pixels (Immerkaer, 1996).
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from sepkit.coverage.bands import row_bands

if TYPE_CHECKING:
    from sepkit.model import F32, U8

Array = np.ndarray[Any, np.dtype[Any]]

REACH_PX = 4
"""Half the window: as wide as a block of JPEG."""
NOISE_FACTOR = 2.0
"""What varies up to so many times the noise is calmed."""
ROUNDING = 0.3
"""Noise of rounding to 8 bits, in levels (1 / sqrt 12)."""
MOST_NOISE = 9.0
"""More is texture."""
CALM_SHARE = 0.5
"""Of the pixels, those with the least differences tell the noise."""
BAND_ROWS = 256


def calmed(picture: U8) -> F32:
    """Return the picture (h, w, 3), calmed, float32 levels 0..255."""
    noise = max(noise_of(picture), ROUNDING)
    eps = np.float32((NOISE_FACTOR * noise) ** 2)
    out = np.empty(picture.shape, np.float32)
    for band in row_bands(len(picture), BAND_ROWS, halo=2 * REACH_PX):
        part = picture[band.outer_start : band.outer_stop].astype(np.float32)
        out[band.start : band.stop] = _guided(part, eps)[band.inner]
    return np.clip(out, 0, 255, out=out)


def _guided(part: Array, eps: np.float32) -> Array:
    """Return each channel guided by itself; the channel that varies most tells for all where edges are."""
    mean = _box(part)
    varies = _box(part * part) - mean * mean
    keep = varies.max(axis=2)
    keep = keep / (keep + eps)
    kept = _box(keep[..., None])
    return np.asarray(kept * part + _box(mean * (1 - keep[..., None])))


def _box(planes: Array) -> Array:
    from scipy.ndimage import uniform_filter1d

    size = 2 * REACH_PX + 1
    return np.asarray(
        uniform_filter1d(uniform_filter1d(planes, size, axis=0, mode="nearest"), size, axis=1, mode="nearest")
    )


def noise_of(picture: U8) -> float:
    """Return the noise of a picture's calm parts, in levels (standard deviation)."""
    step = max(1, len(picture) // 400)
    rows = np.arange(1, max(2, len(picture) - 1), step)
    if min(picture.shape[:2]) < 3:
        return 0.0
    around = [picture[rows + dy].astype(np.float32) for dy in (-1, 0, 1)]
    second = [plane[:, :-2] - 2 * plane[:, 1:-1] + plane[:, 2:] for plane in around]
    bend = np.abs(second[0] - 2 * second[1] + second[2]).max(axis=2)
    rough = np.sort(bend, axis=None)[: max(1, int(CALM_SHARE * bend.size))]
    # The lower half of a folded normal has the mean 0.32 of sigma; the mask's own gain is 6, that of the worst of three
    # channels 2.75 (simulated).
    return min(float(rough.mean()) / (6 * 0.32 * 2.75), MOST_NOISE)
