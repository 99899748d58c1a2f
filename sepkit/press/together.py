"""Angles and one ruling for all screens of a tonal print together: none beats in sight with another or with its mesh.

In: the mesh of each screen, the usual ruling or a person's, the dot shape, how strong the dots are. Out: a Halftone for
each. Two screens beat at the differences of their frequency vectors: of the angles that are clean on every mesh the set
is taken whose slowest beat of two is fastest. Three screens 30 degrees apart stand still together, and a degree of
set-up turns that into a slow drift of colour. Sets that avoid it (40, 57.5, 80 degrees) were no nearer to the plan with
films laid over each other, and further off out of register (ΔE00 2.9 against 2.1, a photograph in three inks): so drift
is taken. Which screen has which of the angles is chosen by what the eye sees of the beats of two and of three: strong
screens lie far apart, weak ones between.
Source: I. Amidror, "The Theory of the Moiré Phenomenon" (2000), vectors of superposed screens.
"""

from __future__ import annotations

from collections.abc import Sequence
from functools import lru_cache
from itertools import combinations, permutations
from typing import TYPE_CHECKING, Any

import numpy as np

from sepkit.colorimetry.spatial import light_dark_response
from sepkit.model import Halftone, is_periodic
from sepkit.press.advice import DEFAULT_LPI, LPI_PER_TPI
from sepkit.press.moire import SEEN_PERIOD_MM, rate
from sepkit.units import MM_PER_INCH, threads_per_cm_to_tpi

if TYPE_CHECKING:
    from sepkit.model import DotShape, Mesh

Array = np.ndarray[Any, np.dtype[Any]]

ANGLES_DEG = np.arange(7.5, 83.0, 2.5)
"""Clear of the threads."""
LOWER_LPI = (0.0, -1.0, -2.0, -3.0, -4.0, -5.0, -6.0)
"""Rulings tried, from the usual one down: a coarser one is easier to hold by hand."""
FIRST_HARMONIC = 0.2
"""Of dots of 50 %: what each of their four first waves has, as a complex Fourier coefficient. A disc of half a cell, of
radius r, has r J1(2 pi r) = 0.198, our round spot 0.203, our ellipse 0.21 (root of the mean square)."""
MOST_PERMUTED = 7
"""Screens whose angles are exchanged in all ways."""


def screens_together(
    meshes: Sequence[Mesh], *, shape: DotShape, lpi: float | None = None, strengths: Sequence[float] | None = None
) -> list[Halftone]:
    """Return ruling and angle of each screen; ``lpi`` is the ruling where a person gave one.

    ``strengths`` (n,) tell how much of the mean light a dot of each screen takes away or adds, 0 or more.
    """
    if not is_periodic(shape) or not meshes:
        return [Halftone(lpi or DEFAULT_LPI, 0.0, shape) for _ in meshes]
    most = min(threads_per_cm_to_tpi(mesh.threads_per_cm) * LPI_PER_TPI for mesh in meshes)
    usual = min(DEFAULT_LPI, float(int(most)))
    dots = list(_together(tuple(meshes), shape, usual if lpi is None else lpi, lpi is not None))
    return dots if strengths is None else least_seen(dots, strengths)


def least_seen(dots: Sequence[Halftone], strengths: Sequence[float]) -> list[Halftone]:
    """Return the same dots, those given to each screen by whose strengths (n,) beats are seen least."""
    count = len(dots)
    if count < 2 or count > MOST_PERMUTED:
        return list(dots)
    two, three = _seen_beats(dots)
    ways = np.array(list(permutations(range(count))))
    power = (np.asarray(strengths, float) * FIRST_HARMONIC) ** 2
    seen = np.zeros(len(ways))
    for i, j in combinations(range(count), 2):
        seen += power[i] * power[j] * two[ways[:, i], ways[:, j]]
    for i, j, k in combinations(range(count), 3):
        seen += power[i] * power[j] * power[k] * three[ways[:, i], ways[:, j], ways[:, k]]
    return [dots[k] for k in ways[int(seen.argmin())]]


def _seen_beats(dots: Sequence[Halftone]) -> tuple[Array, Array]:
    """Return the power that the eye lets through of the waves of two screens (n, n) and of three others (n, n, n)."""
    waves = np.concatenate([_vectors(np.array([one.angle_deg])) * one.lpi / MM_PER_INCH for one in dots])
    sums = waves[:, None, :, None] + waves[None, :, None, :]
    two = (light_dark_response(np.abs(sums)) ** 2).sum(axis=(2, 3))
    three = np.zeros((len(dots),) * 3)
    ways = np.array(list(permutations(range(len(dots)), 3)), int).reshape(-1, 3)  # of no screen with itself
    i, j, k = ways.T
    all_three = sums[i, j][..., None] + waves[k][:, None, None, :]
    three[i, j, k] = (light_dark_response(np.abs(all_three)) ** 2).sum(axis=(1, 2, 3))
    return two, three


@lru_cache(maxsize=32)
def _together(meshes: tuple[Mesh, ...], shape: DotShape, lpi: float, fixed: bool) -> tuple[Halftone, ...]:
    found: tuple[float, float, list[int]] | None = None
    for lower in (0.0,) if fixed else LOWER_LPI:
        ruling = lpi + lower
        fits = [
            k for k, angle in enumerate(ANGLES_DEG) if all(_clean(mesh, ruling, float(angle), shape) for mesh in meshes)
        ]
        if len(fits) < len(meshes):
            continue
        slowest, chosen = _fastest_beats(np.array(fits), len(meshes), ruling / MM_PER_INCH)
        if found is None or slowest > found[0]:
            found = slowest, ruling, chosen
        if slowest >= 1 / SEEN_PERIOD_MM:
            break
    if found is None:  # no ruling near is clean on these meshes: evenly turned, and the beat is told
        turn = 90 / len(meshes)
        return tuple(Halftone(lpi, 22.5 + turn * k, shape) for k in range(len(meshes)))
    _, ruling, chosen = found
    return tuple(Halftone(ruling, float(ANGLES_DEG[k]), shape) for k in chosen)


def slowest_beat_mm(dots: Sequence[Halftone]) -> float:
    """Return the longest period, in mm, of the beats of two screens; 0 for a single screen."""
    vectors = [_vectors(np.array([one.angle_deg]))[0] * one.lpi / MM_PER_INCH for one in dots]
    least = np.inf
    for i in range(len(vectors)):
        for j in range(i):
            least = min(least, float(np.abs(vectors[i][:, None] - vectors[j][None]).min()))
    return 0.0 if np.isinf(least) else 1 / max(least, 1e-9)


@lru_cache(maxsize=4096)
def _clean(mesh: Mesh, lpi: float, angle_deg: float, shape: DotShape) -> bool:
    return rate(mesh, lpi, angle_deg, shape=shape).clean


def _vectors(angles_deg: Array) -> Array:
    """Return the four first frequency vectors of screens as complex numbers, (n, 4), in units of the ruling."""
    return np.asarray(np.exp(1j * np.radians(angles_deg))[:, None] * np.array([1, 1j, -1, -1j]))


def _fastest_beats(fits: Array, count: int, per_mm: float) -> tuple[float, list[int]]:
    """Return the frequency of the slowest beat and the places of ``count`` angles, of those that fit."""
    vectors = _vectors(ANGLES_DEG[fits]) * per_mm
    pair = np.abs(vectors[:, None, :, None] - vectors[None, :, None, :]).min(axis=(2, 3))
    best: tuple[float, list[int]] = (-1.0, [])
    for start in range(len(fits)):
        chosen = [start]
        while len(chosen) < count:
            worth = pair[chosen].min(axis=0)
            worth[chosen] = -1
            pick = int(worth.argmax())
            chosen.append(pick)
        slowest = _exchanged(chosen, pair)
        if slowest > best[0]:
            best = (slowest, chosen)
    return best[0], [int(fits[k]) for k in best[1]]


def _exchanged(chosen: list[int], pair: Array) -> float:
    """Exchange one angle after the other for a better one, as long as that helps; return the slowest beat's frequency.

    Added one by one, the third of three would lie halfway between two that are 45 degrees apart.
    """
    slowest = _slowest(chosen, pair)
    better = len(chosen) > 1
    while better:
        better = False
        for at in range(len(chosen)):
            others = chosen[:at] + chosen[at + 1 :]
            worth = pair[others].min(axis=0)
            worth[others] = -1
            moved = [*others, int(worth.argmax())]
            found = _slowest(moved, pair)
            if found > slowest + 1e-9:
                chosen[:], slowest, better = moved, found, True
    return slowest


def _slowest(chosen: Sequence[int], pair: Array) -> float:
    among = pair[np.ix_(chosen, chosen)] + np.diag(np.full(len(chosen), np.inf))
    return float(among.min())
