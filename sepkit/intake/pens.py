"""The pens of a drawing: how many colours its strokes have, and which stroke is whose.

In: the sheet under even light, how dark its strokes are. Out: pens with their colours, and for each pixel its pen.
What a pen takes of red, green and blue, each in linear light and all over the largest, is the same in the middle of a
stroke and on its blurred edge: strokes are told apart by that and not by their colour as seen.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from sepkit.colorimetry.srgb import as_rgb8, linear_table, linear_to_srgb
from sepkit.coverage.channels import greatest
from sepkit.intake import tuned

if TYPE_CHECKING:
    from sepkit.model import F32, RGB8, U8, Bool

BINS = 40
"""Steps of each of the two numbers that tell pens apart."""
MOST_PENS = 6
WINDOW_PX = 1.6
"""Standard deviation of the window over which a stroke's colour is taken: chroma of 4:2:0 pictures is as coarse."""


@dataclass(frozen=True, slots=True, eq=False)
class Pens:
    """Pens, the one that drew most first, and which of them drew near each pixel."""

    taken: tuple[F32, ...]
    """(3,) linear light that a full stroke of each takes of the paper's."""
    which: U8
    """(h, w) place in ``taken`` of the pen a pixel would belong to."""

    def colour(self, k: int) -> RGB8:
        """Return a pen's full stroke on white paper."""
        return as_rgb8(linear_to_srgb(np.clip(1 - self.taken[k], 0, 1)) * 255)


def pens_of(sheet: U8, dark: F32, core: Bool, *, pixel_mm2: float) -> Pens:
    """Return the pens of a sheet (h, w, 3) under even light; ``dark`` 0..1 and ``core`` tell its strokes."""
    hue = _hue(sheet, dark)
    points = hue[core]
    centres = _centres(points, pixel_mm2)
    which = np.zeros(dark.shape, np.uint8)
    if len(centres) > 1:
        which = _nearest(hue, dark, centres)
    taken = [_full_stroke(sheet, dark, core & (which == k)) for k in range(len(centres))]
    return Pens(tuple(taken), which)


def _hue(sheet: U8, dark: F32) -> F32:
    """Return (h, w, 2): how much more of red than of green, and of blue than of green, the strokes here take."""
    from scipy.ndimage import gaussian_filter

    table = linear_table()
    taken = np.stack([gaussian_filter((1 - table[sheet[..., k]]) * dark, WINDOW_PX) for k in range(3)], -1)
    largest = np.maximum(greatest(taken), 1e-6)
    return np.asarray(
        np.stack([(taken[..., 0] - taken[..., 1]) / largest, (taken[..., 2] - taken[..., 1]) / largest], -1)
    )


def _centres(points: F32, pixel_mm2: float) -> F32:
    """Return (n, 2) the pens' places, the one of most points first; one when they cannot be told apart."""
    from scipy.ndimage import gaussian_filter, maximum_filter

    limits = tuned.PAPER
    least = max(limits.pen_share * len(points), limits.pen_mm2 / pixel_mm2)
    counts, *edges = np.histogram2d(points[:, 0], points[:, 1], BINS, ((-1, 1), (-1, 1)))
    crowd = gaussian_filter(counts, 1.2)
    peaks = np.argwhere((crowd == maximum_filter(crowd, 5)) & (crowd > 0.002 * crowd.max()))
    peaks = peaks[np.argsort(-crowd[tuple(peaks.T)], kind="stable")]
    middles = [(edge[:-1] + edge[1:]) / 2 for edge in edges]
    places = np.stack([middles[0][peaks[:, 0]], middles[1][peaks[:, 1]]], -1)
    kept: list[np.ndarray] = []
    for place in places:
        if all(np.linalg.norm(place - one) >= limits.pen_apart for one in kept) and len(kept) < MOST_PENS:
            kept.append(place)
    while len(kept) > 1:
        away = np.linalg.norm(points[:, None] - np.array(kept)[None], axis=2)
        mine = away.argmin(axis=1)
        close = away.min(axis=1) < limits.pen_apart / 2
        held = np.array([int(((mine == k) & close).sum()) for k in range(len(kept))])
        if held[1:].min() >= least:
            break
        kept.pop(int(held[1:].argmin()) + 1)
    return np.array(kept, np.float32).reshape(-1, 2) if kept else np.zeros((1, 2), np.float32)


def _nearest(hue: F32, dark: F32, centres: F32) -> U8:
    """Return each pixel's pen, as most of the strokes' darkness around it says."""
    from scipy.ndimage import gaussian_filter

    away = np.stack([((hue - centre) ** 2).sum(-1) for centre in centres])
    first = away.argmin(axis=0)
    votes = np.stack(
        [gaussian_filter(np.where(first == k, dark, 0).astype(np.float32), 2.0) for k in range(len(centres))]
    )
    return np.asarray(votes.argmax(axis=0), np.uint8)


def _full_stroke(sheet: U8, dark: F32, mine: Bool) -> F32:
    """Return the linear light that the darkest third of a pen's strokes takes."""
    if not mine.any():
        return np.ones(3, np.float32)
    full = mine & (dark >= np.percentile(dark[mine], 60))
    return np.asarray(1 - np.median(linear_table()[sheet[full]], axis=0), np.float32)
