"""Tone: what a film tint prints as, the film tint that prints as asked, and the smallest dot and gap that hold.

In: tints 0..1, a ruling and dot shape, the growth of a printed edge (µm) or measured (film, printed) points.
Out: curves over tints 0..1, and the table over coverage in 1/64 level that is folded into the screen's thresholds.

Physical dot gain is a border of constant width around each dot, so that it peaks near the middle tones and rises with
the ruling. Sources: the constant border is described in the trade press ("Managing Textile Dot Gain", Screen Printing
magazine); the smallest dot as one that spans an opening and two threads is common practice.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from functools import lru_cache
from typing import TYPE_CHECKING, Any, Literal

import numpy as np

from sepkit.errors import UsageError
from sepkit.film.outline import SOLID
from sepkit.film.screen import spot

if TYPE_CHECKING:
    from sepkit.model import F64, DotShape, Halftone

SmallTones = Literal["raise", "clear"]

CELL = 96
CURVE_STEPS = 101
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


def printed_tint(film: F64, gain: DotGain, halftone: Halftone) -> F64:
    """Return what film tints 0..1 print as: the forward curve that the preview uses."""
    x, y = _curve(gain, halftone)
    return np.asarray(np.interp(film, x, y))


def film_tint(asked: F64, gain: DotGain, halftone: Halftone) -> F64:
    """Return the film tints that print as ``asked``; 0 stays 0 and 1 stays 1."""
    x, y = _curve(gain, halftone)
    asked = np.asarray(asked, np.float64)
    # Where the print fills in before the film is solid, the lightest film that does it counts.
    y, first = np.unique(y, return_index=True)
    film = np.interp(asked, y, x[first])
    return np.where(asked >= 1, 1.0, np.where(asked <= 0, 0.0, film))


def limit_tints(tints: F64, limits: ToneLimits, halftone: Halftone) -> F64:
    """Return film tints with none between 0 and the smallest dot, nor between the smallest gap and 1.

    "raise" snaps a tint below half the smallest to nothing and lifts the rest to the smallest; "clear" drops all that
    is below the smallest to nothing (and fills all gaps that are too small).
    """
    least, most = tint_limits(limits, halftone)
    share = 0.5 if limits.small == "raise" else 1.0
    out = np.where(tints < least * share, 0.0, np.maximum(tints, least))
    gap = 1 - most
    out = np.where(1 - tints < gap * share, 1.0, np.where(tints > most, most, out))
    return np.where(tints <= 0, 0.0, np.where(tints >= 1, 1.0, out))


def tint_limits(limits: ToneLimits, halftone: Halftone) -> tuple[float, float]:
    """Return the lightest and darkest tint whose dots and gaps hold; blue noise draws every dot at its full size."""
    if halftone.shape == "blue-noise":
        return 0.0, 1.0
    return _smallest(limits.dot_um, halftone), 1 - _smallest(limits.gap_um, halftone)


def tone_table(gain: DotGain, limits: ToneLimits, halftone: Halftone) -> F64:
    """Return the film tint of each coverage 0..SOLID in 1/64 level: (SOLID + 1,) rising from 0 to 1."""
    asked = np.arange(SOLID + 1) / SOLID
    table = limit_tints(film_tint(asked, gain, halftone), limits, halftone)
    return np.asarray(np.maximum.accumulate(table))


def rescale_points(gain: DotGain, pairs: tuple[tuple[float, float], ...]) -> DotGain:
    """Return ``gain`` with measured ``pairs`` in percent in place of what it held."""
    return replace(gain, edge_um=0.0, points=tuple((f / 100, p / 100) for f, p in pairs))


def _smallest(size_um: float, halftone: Halftone) -> float:
    share = size_um * halftone.lpi / 25400
    tint = share if halftone.shape == "line" else math.pi / 4 * share * share
    return min(tint, MOST_LIMIT)


def _curve(gain: DotGain, halftone: Halftone) -> tuple[F64, F64]:
    if gain.points:
        film = [0.0, *(f for f, _ in gain.points), 1.0]
        printed = [0.0, *(p for _, p in gain.points), 1.0]
        return np.array(film), np.array(printed)
    if not gain.edge_um or halftone.shape == "blue-noise":
        return np.array([0.0, 1.0]), np.array([0.0, 1.0])
    return _grown(halftone.shape, round(gain.edge_um * halftone.lpi / 25400, 6))


@lru_cache(maxsize=16)
def _grown(shape: DotShape, border: float) -> tuple[F64, F64]:
    """Return film tints and their printed tints when each edge grows by ``border`` dot periods."""
    from scipy import ndimage

    axis = (np.arange(CELL) + 0.5) / CELL
    values = spot(shape, axis[None, :], axis[:, None])
    # Sorted by height: pixel rank r is ink at tints above r / N.
    ranks = np.empty(CELL * CELL)
    ranks[np.argsort(-values.ravel(), kind="stable")] = (np.arange(CELL * CELL) + 0.5) / (CELL * CELL)
    tiled = np.tile(ranks.reshape(CELL, CELL), (3, 3))
    middle = slice(CELL, 2 * CELL)
    tints = np.linspace(0, 1, CURVE_STEPS)
    printed = np.zeros(CURVE_STEPS)
    printed[-1] = 1.0
    for k in range(1, CURVE_STEPS - 1):
        away = ndimage.distance_transform_edt(tiled >= tints[k])[middle, middle] / CELL
        # Pixel centres one half pixel beyond the edge count as on it; soften by a pixel for a smooth curve.
        reach = (border + 0.5 / CELL - away) * CELL + 0.5
        printed[k] = np.clip(np.where(away == 0, 1.0, reach), 0, 1).mean()
    return tints, np.maximum.accumulate(printed)


def curve_points(gain: DotGain, halftone: Halftone, *, steps: int = 11) -> list[tuple[float, float]]:
    """Return (film tint, printed tint) pairs for a report."""
    film: np.ndarray[Any, np.dtype[np.float64]] = np.linspace(0, 1, steps)
    return [(float(f), float(p)) for f, p in zip(film, printed_tint(film, gain, halftone), strict=True)]
