"""The colours of a picture, few and weighted: what inks are chosen by.

In: a picture in sRGB as it lies on the cloth, and where it is tone. Out: mean colours of cells of Lab with a weight
each. A small sun counts for more than its area: weights are a power of the area below one, times how far a colour
stands out from all others of the picture, as a person looks for what is unlike the rest (global contrast: Cheng, Zhang,
Mitra, Huang, Hu, "Global Contrast Based Salient Region Detection", CVPR 2011).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from sepkit.colorimetry.srgb import srgb8_to_lab
from sepkit.coverage.channels import pixels_at

if TYPE_CHECKING:
    from sepkit.model import U8, Bool

Array = np.ndarray[Any, np.dtype[Any]]

SAMPLE_PX = 60_000
"""Pixels that are looked at, evenly taken from the picture: more change no choice."""
SMALLEST_CELL = 6.0
"""Side of the cells of Lab to begin with; they grow until few enough are left."""
MOST_COLOURS = 180
AREA_POWER = 0.6
"""A colour counts by this power of its area."""
LIGHTNESS_PART = 0.5
"""Lightness counts so much in how far a colour stands out: what a person looks for is its hue (our own)."""
MOST_SALIENT = 3.0
"""A colour counts a third to three times as much as its area asks, nine times as much as another of its area at most
(our own)."""
LEAST_SHARE = 4e-5
"""Colours of less area are grain."""


@dataclass(frozen=True, slots=True, eq=False)
class Cloud:
    """Weighted colours."""

    lab: Array
    """(m, 3)."""
    weight: Array
    """(m,), their sum 1."""
    area: Array
    """(m,) share of the picture, their sum 1."""


def cloud_of(picture: U8, where: Bool) -> Cloud:
    """Return the colours of a picture (h, w, 3) where a (h, w) mask holds, at least one pixel."""
    at = np.flatnonzero(where)
    at = at[:: max(1, len(at) // SAMPLE_PX)]
    lab = srgb8_to_lab(pixels_at(picture, at)).astype(np.float64)
    side = SMALLEST_CELL
    while True:
        cell = np.floor(lab / side + np.array([0.5, 0.5, 0.5])).astype(np.int64) + 100
        _, own, count = np.unique(cell @ np.array([1 << 20, 1 << 10, 1]), return_inverse=True, return_counts=True)
        kept = count >= max(1.0, LEAST_SHARE * len(at))
        if np.count_nonzero(kept) <= MOST_COLOURS:
            break
        side *= 1.25
    mean = np.stack([np.bincount(own, lab[:, k]) for k in range(3)], axis=1) / count[:, None]
    area = count[kept] / count[kept].sum()
    weight = area**AREA_POWER * stands_out(mean[kept], area)
    return Cloud(mean[kept], weight / weight.sum(), area)


def stands_out(lab: Array, area: Array) -> Array:
    """Return how far each colour (m, 3) is from the picture's others by their area (m,), beside the mean of all."""
    scaled = lab * np.array([LIGHTNESS_PART, 1.0, 1.0])
    away = np.linalg.norm(scaled[:, None] - scaled[None], axis=-1) @ area
    return np.asarray(np.clip(away / max(float(away @ area), 1e-9), 1 / MOST_SALIENT, MOST_SALIENT))
