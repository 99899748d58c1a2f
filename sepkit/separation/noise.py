"""What kind of picture this is: clean or noisy, how wide its edges are, and at which resolution it was really made.

In: (h, w, 3) uint8 sRGB and (h, w) uint8 alpha. Out: a :class:`Character`, widths in pixels of the given grid.
Only rows from evenly spaced bands are read, so the cost does not grow with tall pictures.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

import numpy as np

from sepkit.coverage.channels import greatest
from sepkit.separation import tuned_colours as tuned

if TYPE_CHECKING:
    from sepkit.model import U8, KindRule

Array = np.ndarray[Any, np.dtype[Any]]

SAMPLE_PX = 1_500_000  # pixels read to judge a picture; more changes no verdict, only the time
BAND_ROWS = 96  # rows read at once
MOST_EDGES = 4000  # edges of a band whose width is measured; more change the median little


@dataclass(frozen=True, slots=True)
class Character:
    """Noise class and sharpness of a picture."""

    noisy: bool
    """True when flat areas carry compression or sensor noise."""
    edge_width_px: float
    """Median edge contrast over steepest step; 1 = sharp, 0 = no edges found."""
    soft_share: float
    """Share of pixels whose 3x3 range is small but not none: noise or gradients, less what soft edges end in."""

    calm_share: float
    """Share of pixels whose 3x3 range is next to none."""

    drawn: bool = False
    """True when few colours make up most of the picture, however few of its pixels are calm."""

    asked: KindRule = "auto"
    """What the person takes it for."""

    @property
    def restless(self) -> bool:
        """True when noise or texture is everywhere."""
        return self.noisy and self.calm_share < tuned.KINDS.photo_calm_share

    @property
    def photograph(self) -> bool:
        """True when it is restless and not drawn: nothing but large calm areas is flat colour then."""
        return self.asked == "tonal" or (self.restless and not self.drawn and self.asked != "flat")

    def taken_for(self, kind: KindRule) -> Character:
        """Return the same picture as the person takes it: flat, or tonal."""
        return replace(self, asked=kind)

    @property
    def blurred(self) -> bool:
        """True when edges are wider than antialiasing makes them."""
        return self.edge_width_px > tuned.KINDS.soft_edge_px


def composite(rgb: U8, alpha: U8, ground: tuple[int, int, int]) -> U8:
    """Return the (..., 3) picture over ``ground`` as a viewer shows it (encoded sRGB blend)."""
    if not alpha.size or alpha.min() == 255:
        return rgb
    out = rgb.copy()
    out[alpha == 0] = ground
    part = (alpha > 0) & (alpha < 255)
    a = alpha[part][:, None].astype(np.uint16)
    out[part] = (rgb[part] * a + np.asarray(ground, np.uint16) * (255 - a) + 127) // 255
    return out


def range3(picture: U8) -> U8:
    """Return the (h, w) largest minus smallest value of each 3x3 neighbourhood, the greatest of the channels."""
    high, low = _window3(picture, np.maximum), _window3(picture, np.minimum)
    return greatest(high - low)


def sample_bands(height: int, width: int) -> list[slice]:
    """Return evenly spaced bands of rows, of SAMPLE_PX together at most, to judge a picture by."""
    most = max(1, SAMPLE_PX // max(1, BAND_ROWS * width))
    wanted = min(most, -(-height // BAND_ROWS))  # more would read rows twice
    starts = np.unique(np.linspace(0, max(0, height - BAND_ROWS), wanted).astype(int))
    return [slice(int(y), int(y) + BAND_ROWS) for y in starts]


def character(rgb: U8, alpha: U8, ground: tuple[int, int, int]) -> Character:
    """Judge noise and sharpness from bands of rows."""
    kinds = tuned.KINDS
    soft = hard = wobble = calm = total = colours = 0
    widths: list[Array] = []
    steep: list[tuple[Array, Array]] = []
    for rows in sample_bands(*alpha.shape):
        picture = composite(rgb[rows], alpha[rows], ground)
        spread = range3(picture)
        is_soft = (spread >= 1) & (spread <= kinds.soft_range_levels)
        calm += int((spread <= kinds.calm_range_levels).sum())
        is_hard = spread > kinds.soft_range_levels
        soft += int(is_soft.sum())
        hard += int(is_hard.sum())
        steep.append((is_soft, is_hard))
        wobble += int((is_soft & _goes_back(picture)).sum())
        total += spread.size
        if (spread <= kinds.calm_range_levels).mean() < kinds.grain_calm_share:
            colours += len(np.unique(picture.reshape(-1, 3) @ np.array([65536, 256, 1], np.int64)))
        widths += [_edge_widths(picture), _edge_widths(picture.transpose(1, 0, 2))]
    found = np.concatenate(widths)
    grain = calm < kinds.grain_calm_share * total and colours > kinds.grain_colour_share * total
    least = max(kinds.noisy_edge_share * hard, kinds.noisy_soft_share * soft, kinds.noisy_least_share * total)
    width = float(np.median(found)) if found.size >= kinds.least_edges else 0.0
    if width > kinds.soft_edge_px:
        soft = sum(_away_from(is_hard, is_soft, math.ceil(width)) for is_soft, is_hard in steep)
    return Character(
        noisy=grain or wobble > least,
        edge_width_px=width,
        soft_share=soft / max(total, 1),
        calm_share=calm / max(total, 1),
    )


def _away_from(edge: Array, soft: Array, reach: int) -> int:
    """Return how many pixels of ``soft`` lie beyond the reach of an edge: the foot of a soft edge is no gradient."""
    from scipy.ndimage import maximum_filter

    return int(np.count_nonzero(soft & ~maximum_filter(edge, 2 * reach + 1)))


def _window3(picture: U8, pick: Any) -> Any:
    rows = np.pad(picture, ((1, 1), (0, 0), (0, 0)), mode="edge")
    rows = pick(pick(rows[:-2], rows[1:-1]), rows[2:])
    cols = np.pad(rows, ((0, 0), (1, 1), (0, 0)), mode="edge")
    return pick(pick(cols[:, :-2], cols[:, 1:-1]), cols[:, 2:])


def _goes_back(picture: U8) -> Array:
    """(h, w) True where the middle of three in a row or column is above or below both: noise, never a gradient."""
    g = picture[..., 1].astype(np.int16)
    back = np.zeros(g.shape, bool)
    dx, dy = np.diff(g, axis=1), np.diff(g, axis=0)
    back[:, 1:-1] |= dx[:, 1:] * dx[:, :-1] < 0
    back[1:-1] |= dy[1:] * dy[:-1] < 0
    return back


def _edge_widths(picture: U8) -> Array:
    """Edge contrast / steepest step at the steepest places along rows."""
    g, reach = picture.astype(np.int16), tuned.KINDS.edge_reach_px
    if g.shape[1] < 2 * reach + 2:
        return np.zeros(0)
    step = np.abs(np.diff(g, axis=1))
    steepest = greatest(step)
    peak = steepest >= tuned.KINDS.edge_step_levels
    peak[:, 1:] &= steepest[:, 1:] >= steepest[:, :-1]
    peak[:, :-1] &= steepest[:, :-1] > steepest[:, 1:]
    peak[:, : reach - 1] = peak[:, g.shape[1] - reach - 1 :] = False
    y, x = np.nonzero(peak)
    if len(y) > MOST_EDGES:
        keep = np.linspace(0, len(y) - 1, MOST_EDGES).astype(int)
        y, x = y[keep], x[keep]
    c = step[y, x].argmax(axis=1)
    around = np.stack([g[y, x + d, c] for d in range(1 - reach, reach + 1)])
    # the edge's own contrast: walk outward from the step while values go on in its direction
    sign = np.sign(g[y, x + 1, c] - g[y, x, c])
    rising = np.diff(around, axis=0) * sign > 1  # by more than rounding
    middle = reach - 1
    contrast = steepest[y, x].astype(np.float64)
    going = np.ones(len(y), bool)
    for k in range(middle + 1, len(rising)):
        going &= rising[k]
        contrast += np.where(going, np.diff(around, axis=0)[k] * sign, 0)
    going[:] = True
    for k in range(middle - 1, -1, -1):
        going &= rising[k]
        contrast += np.where(going, np.diff(around, axis=0)[k] * sign, 0)
    return np.asarray(contrast / steepest[y, x])
