"""The photograph: linear light at any point of it, averaged over any number of its pixels.

In: 8-bit sRGB pixels as a camera gives them. Out: linear light, (…, 3) float32; NaN outside. Averages are taken in
linear light. Full resolution is decoded where it is asked for, so that memory holds no floating copy of the whole.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import numpy as np

from sepkit.colorimetry.srgb import linear_table

if TYPE_CHECKING:
    from sepkit.model import F32, F64, U8

STEPS = (1, 2, 3, 4, 6, 8, 12, 16, 24, 32, 48)
"""Pixels across that are averaged."""
BAND_ROWS = 384


@dataclass(frozen=True, slots=True, eq=False)
class Photo:
    """A photograph, upright."""

    rgb: U8
    """(h, w, 3)."""
    _levels: dict[int, F32] = field(default_factory=dict)

    @property
    def size(self) -> tuple[int, int]:
        """Pixels across and down."""
        return self.rgb.shape[1], self.rgb.shape[0]

    def shrunk(self, by: int) -> F32:
        """Return linear light averaged over by x by pixels; ``by`` is one of STEPS above 1."""
        if by not in self._levels:
            self._levels[by] = _shrunk(self.rgb, by)
        return self._levels[by]

    def linear(self) -> F32:
        """Return the whole photograph as linear light; small ones only, for memory."""
        return linear_table()[self.rgb].astype(np.float32)

    def sample(self, xy: F64, px_per_sample: float) -> F32:
        """Return linear light (…, 3) at photo pixels xy (…, 2), averaged over about the spacing of the samples."""
        by = max([k for k in STEPS if k <= px_per_sample + 0.35], default=1)
        x, y = (xy[..., 0] + 0.5) / by - 0.5, (xy[..., 1] + 0.5) / by - 0.5
        if by > 1:
            return _bilinear(self.shrunk(by), x, y)
        inside = (x > -1) & (y > -1) & (x < self.size[0]) & (y < self.size[1])
        if not inside.any():
            return np.full((*x.shape, 3), np.nan, np.float32)
        left, top = max(0, int(x[inside].min())), max(0, int(y[inside].min()))
        part = self.rgb[top : int(y[inside].max()) + 3, left : int(x[inside].max()) + 3]
        if min(part.shape[:2]) < 2:
            return np.full((*x.shape, 3), np.nan, np.float32)
        return _bilinear(linear_table()[part].astype(np.float32), x - left, y - top)


def _shrunk(rgb: U8, by: int) -> F32:
    h, w = rgb.shape[0] // by, rgb.shape[1] // by
    out = np.empty((h, w, 3), np.float32)
    table = linear_table().astype(np.float32)
    rows = max(1, BAND_ROWS // by)
    for start in range(0, h, rows):
        stop = min(h, start + rows)
        part = table[rgb[start * by : stop * by, : w * by]]
        out[start:stop] = part.reshape(stop - start, by, w, by, 3).mean(axis=(1, 3))
    return out


def _bilinear(plane: F32, x: F64, y: F64) -> F32:
    h, w = plane.shape[:2]
    i, j = np.floor(y).astype(np.int32), np.floor(x).astype(np.int32)
    ok = (i >= 0) & (j >= 0) & (i < h - 1) & (j < w - 1)
    i, j = np.clip(i, 0, h - 2), np.clip(j, 0, w - 2)
    fy, fx = (y - i).astype(np.float32)[..., None], (x - j).astype(np.float32)[..., None]
    flat, at = plane.reshape(-1, plane.shape[2]), i * w + j
    top = flat[at] * (1 - fx) + flat[at + 1] * fx
    low = flat[at + w] * (1 - fx) + flat[at + w + 1] * fx
    out = np.asarray(top * (1 - fy) + low * fy, np.float32)
    out[~ok] = np.nan
    return out
