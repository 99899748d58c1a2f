"""Tone: what a film tint prints as, the film tint that prints as asked, and the smallest dot and gap that hold.

In: tints 0..1, a ruling and dot shape, the growth of a printed edge (µm) or measured (film, printed) points.
Out: curves over tints 0..1, and the table over coverage in 1/64 level that is folded into the screen's thresholds.

Physical dot gain is a border of constant width around each dot, so that it peaks near the middle tones and rises with
the ruling. Sources: the constant border is described in the trade press ("Managing Textile Dot Gain", Screen Printing
magazine); the smallest dot as one that spans an opening and two threads is common practice.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import lru_cache
from typing import TYPE_CHECKING, Literal, get_args

import numpy as np

from sepkit.errors import UsageError
from sepkit.film.outline import SOLID
from sepkit.film.screen import NOISE_CELLS, SPOTS, spot, void_and_cluster
from sepkit.model import is_periodic

if TYPE_CHECKING:
    from sepkit.model import F64, DotShape, Halftone

SmallTones = Literal["raise", "clear", "fewer"]
SMALL_TONES: tuple[SmallTones, ...] = get_args(SmallTones)
"""What becomes of tints below the smallest dot: that dot, none, or fewer dots of that size (and gaps likewise)."""

CELL = 192
CURVE_STEPS = 51
NOISE_DOT_PX = 6
NOISE_STEPS = 33
MOST_EDGE_UM = 300.0
MOST_LIMIT = 0.45


@dataclass(frozen=True, slots=True)
class DotGain:
    """How dots grow from film to print: a border of ``edge_um`` all round, or measured points, not both."""

    edge_um: float = 0.0
    points: tuple[tuple[float, float], ...] = ()
    """(film tint, printed tint), 0..1; (0, 0) and (1, 1) are added."""

    def __post_init__(self) -> None:
        if not 0 <= self.edge_um <= MOST_EDGE_UM:
            raise UsageError(
                f"an edge growth of {self.edge_um:g} µm is outside 0 to {MOST_EDGE_UM:g}",
                where="dot gain",
                hint="a tee prints 15 to 60 µm",
            )
        if self.points and self.edge_um:
            raise UsageError("give an edge growth or measured points, not both", where="dot gain", hint="drop one")
        film = [f for f, _ in self.points]
        printed = [p for _, p in self.points]
        if not all(0 < v < 1 for v in film + printed) or film != sorted(set(film)) or printed != sorted(printed):
            raise UsageError(
                "measured points rise from film tint to film tint and lie between 0 and 100 %",
                where="dot gain",
                hint="write them as 10:18,25:41,50:72,75:91",
            )


@dataclass(frozen=True, slots=True)
class ToneLimits:
    """The smallest dot and gap the mesh holds (µm on the film), and what becomes of smaller ones."""

    dot_um: float = 0.0
    gap_um: float = 0.0
    small: SmallTones = "raise"


NO_GAIN = DotGain()
NO_LIMITS = ToneLimits()


def printed_tint(
    film: F64, gain: DotGain, halftone: Halftone, *, noise_um: float = 0.0, limits: ToneLimits = NO_LIMITS
) -> F64:
    """Return what film tints 0..1 print as: the forward curve that the preview uses.

    Blue-noise dots are squares of ``noise_um``; without it they grow by nothing. Tints that ``limits`` have drawn by
    fewer dots gain in proportion: each of these dots grows as one of the smallest does.

    >>> from sepkit.model import Halftone
    >>> round(float(printed_tint(np.array(0.5), DotGain(20), Halftone(45, 22.5, "round"))), 3)
    0.598
    """
    x, y = _curve(gain, halftone, noise_um, limits)
    return np.asarray(np.interp(film, x, y))


def film_tint(
    asked: F64, gain: DotGain, halftone: Halftone, *, noise_um: float = 0.0, limits: ToneLimits = NO_LIMITS
) -> F64:
    """Return the film tints that print as ``asked``; 0 stays 0 and 1 stays 1.

    >>> from sepkit.model import Halftone
    >>> dots = Halftone(45, 22.5, "round")
    >>> round(float(printed_tint(film_tint(np.array([0.3]), DotGain(20), dots), DotGain(20), dots)[0]), 3)
    0.3
    """
    x, y = _curve(gain, halftone, noise_um, limits)
    asked = np.asarray(asked, np.float64)
    # Where the print fills in before the film is solid, the lightest film that does it counts.
    y, first = np.unique(y, return_index=True)
    film = np.interp(asked, y, x[first])
    return np.where(asked >= 1, 1.0, np.where(asked <= 0, 0.0, film))


def limit_tints(tints: F64, limits: ToneLimits, halftone: Halftone) -> F64:
    """Return film tints with none between 0 and the smallest dot, nor between the smallest gap and 1.

    "raise" snaps a tint below half the smallest to nothing and lifts the rest to the smallest; "clear" drops all that
    is below the smallest to nothing (and fills all gaps that are too small). "fewer" leaves all tints: the screen draws
    fewer dots of the smallest size.

    >>> from sepkit.model import Halftone
    >>> limits = ToneLimits(160, 160)
    >>> limit_tints(np.array([0.0, 0.01, 0.05, 0.5]), limits, Halftone(45, 22.5, "round")).round(3).tolist()
    [0.0, 0.0, 0.063, 0.5]
    """
    if drawn_fewer(limits, halftone):
        return np.asarray(tints, np.float64)
    least, most = tint_limits(limits, halftone)
    share = 1.0 if limits.small == "clear" else 0.5
    out = np.where(tints < least * share, 0.0, np.maximum(tints, least))
    gap = 1 - most
    out = np.where(1 - tints < gap * share, 1.0, np.where(tints > most, most, out))
    return np.where(tints <= 0, 0.0, np.where(tints >= 1, 1.0, out))


def drawn_fewer(limits: ToneLimits, halftone: Halftone) -> bool:
    """Return whether small tints are drawn by fewer dots of the smallest size: lattice dots, no stripes."""
    periodic = is_periodic(halftone.shape)
    return limits.small == "fewer" and periodic and not SPOTS[halftone.shape].stripes  # type: ignore[index]


def tint_limits(limits: ToneLimits, halftone: Halftone) -> tuple[float, float]:
    """Return the lightest and darkest tint whose dots and gaps hold; scattered dots are all drawn in full."""
    if not is_periodic(halftone.shape):
        return 0.0, 1.0
    stripes = SPOTS[halftone.shape].stripes
    return _smallest(limits.dot_um, halftone.lpi, stripes), 1 - _smallest(limits.gap_um, halftone.lpi, stripes)


def tone_table(gain: DotGain, limits: ToneLimits, halftone: Halftone, *, noise_um: float = 0.0) -> F64:
    """Return the film tint of each coverage 0..SOLID in 1/64 level: (SOLID + 1,) rising from 0 to 1."""
    asked = np.arange(SOLID + 1) / SOLID
    table = limit_tints(film_tint(asked, gain, halftone, noise_um=noise_um, limits=limits), limits, halftone)
    return np.asarray(np.maximum.accumulate(table))


def printed_of_asked(
    asked: F64, gain: DotGain, limits: ToneLimits, halftone: Halftone, *, noise_um: float = 0.0
) -> F64:
    """Return what tints asked, 0..1, print as: made lighter against the gain, held to the limits, grown again."""
    film = limit_tints(film_tint(asked, gain, halftone, noise_um=noise_um, limits=limits), limits, halftone)
    return printed_tint(film, gain, halftone, noise_um=noise_um, limits=limits)


def _smallest(size_um: float, lpi: float, stripes: bool) -> float:
    share = size_um * lpi / 25400
    tint = share if stripes else math.pi / 4 * share * share
    return min(tint, MOST_LIMIT)


def _curve(gain: DotGain, halftone: Halftone, noise_um: float, limits: ToneLimits = NO_LIMITS) -> tuple[F64, F64]:
    x, y = _grown_curve(gain, halftone, noise_um)
    if not drawn_fewer(limits, halftone):
        return x, y
    ends = np.array(tint_limits(limits, halftone))
    inside = (x > ends[0]) & (x < ends[1])
    at_ends = np.interp(ends, x, y)
    return (
        np.concatenate([[0.0, ends[0]], x[inside], [ends[1], 1.0]]),
        np.concatenate([[0.0, at_ends[0]], y[inside], [at_ends[1], 1.0]]),
    )


def _grown_curve(gain: DotGain, halftone: Halftone, noise_um: float) -> tuple[F64, F64]:
    if gain.points:
        film = [0.0, *(f for f, _ in gain.points), 1.0]
        printed = [0.0, *(p for _, p in gain.points), 1.0]
        return np.array(film), np.array(printed)
    periodic = is_periodic(halftone.shape)
    if not gain.edge_um or not (periodic or noise_um):
        return np.array([0.0, 1.0]), np.array([0.0, 1.0])
    per_dot = gain.edge_um * halftone.lpi / 25400 if periodic else gain.edge_um / noise_um
    return _grown(halftone.shape, round(per_dot, 6))


@lru_cache(maxsize=16)
def _grown(shape: DotShape, border: float) -> tuple[F64, F64]:
    """Return film tints and their printed tints when each edge grows by ``border`` dot periods (or noise dots)."""
    from scipy import ndimage

    ranks, dot_px, steps = _pattern(shape)
    side = ranks.shape[0]
    # Repeated all round, as far as an edge reaches.
    halo = min(side, math.ceil(border * dot_px) + 2)
    tiled = np.pad(ranks, halo, mode="wrap")
    tints = np.linspace(0, 1, steps)
    printed = np.zeros(steps)
    printed[-1] = 1.0
    for k in range(1, steps - 1):
        away = ndimage.distance_transform_edt(tiled >= tints[k])[halo:-halo, halo:-halo]
        # Pixel centres one half pixel beyond the edge count as on it; soften by a pixel for a smooth curve.
        reach = border * dot_px + 0.5 - away + 0.5
        printed[k] = np.clip(np.where(away == 0, 1.0, reach), 0, 1).mean()
    return tints, np.maximum.accumulate(printed)


def _pattern(shape: DotShape) -> tuple[F64, float, int]:
    """Return one period of a screen as ranks 0..1, the pixels of a dot period, and how many tints to try."""
    if not is_periodic(shape):
        order = void_and_cluster(NOISE_CELLS)
        ranks = (order + 0.5) / order.size
        return ranks.repeat(NOISE_DOT_PX, axis=0).repeat(NOISE_DOT_PX, axis=1), float(NOISE_DOT_PX), NOISE_STEPS
    axis = (np.arange(CELL) + 0.5) / CELL
    values = spot(shape, axis[None, :], axis[:, None])
    ranks = np.empty(CELL * CELL)
    ranks[np.argsort(-values.ravel(), kind="stable")] = (np.arange(CELL * CELL) + 0.5) / (CELL * CELL)
    return ranks.reshape(CELL, CELL), float(CELL), CURVE_STEPS
