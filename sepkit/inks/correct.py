"""Repair a batch: it was weighed to a recipe, measured off, and only additions are possible.

In: the batch (ink, grams), what it measured, the target, inks that may be added. Out: additions on a front of ΔE00
against grams. The nominal recipe is not trusted: first the batch is re-estimated, by the least change of its inks'
masses that explains the measurement, and what they cannot explain stays as an offset that the batch is assumed to keep.
Colours are opaque films, Lab D65/2.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from sepkit.colorimetry.difference import delta_e_2000, difference_vector
from sepkit.colorimetry.spectral import reflectance_to_lab
from sepkit.errors import UsageError
from sepkit.inks.doses import to_steps
from sepkit.inks.layers import opaque_reflectance, to_air
from sepkit.inks.looks import Look, look_of_lab
from sepkit.inks.match import subsets

if TYPE_CHECKING:
    from sepkit.model import F64, Ink

Array = np.ndarray[Any, np.dtype[Any]]

THRIFT = (0.1, 1.0, 6.0, 30.0)
"""ΔE00² that adding the batch's own mass costs: each price gives points of the front."""
PROMISING = 24
"""Subsets that are tried at every price; all are tried at no price."""
WORTH_AN_INK_DE00 = 0.02
"""An addition must buy at least this against a front point with fewer grams."""
FRONT_LENGTH = 8
MOST_GROWTH = 5.0
"""Additions may grow the batch to at most this many times its mass."""
_STEP = 1e-5
_RIDGE = 0.15


@dataclass(frozen=True, slots=True, eq=False)
class Addition:
    """What to add in g, and where the batch then is predicted to be."""

    inks: tuple[Ink, ...]
    grams: F64
    lab: F64
    de00: float

    @property
    def total_g(self) -> float:
        """Grams added in all."""
        return float(self.grams.sum())


@dataclass(frozen=True, slots=True, eq=False)
class WeighedAddition:
    """An addition in doses that a scale can weigh: (ink, g), and where the batch then is predicted to be."""

    parts: tuple[tuple[Ink, float], ...]
    look: Look
    de00: float
    exact: Addition
    """The same before rounding."""

    @property
    def total_g(self) -> float:
        """Grams added in all."""
        return sum(grams for _, grams in self.parts)


@dataclass(frozen=True, slots=True, eq=False)
class Estimate:
    """The batch as it seems to be: grams that explain the measurement, and the Lab offset they leave."""

    grams: F64
    offset: F64


def estimate_batch(inks: Sequence[Ink], nominal_g: Array, measured_lab: Array) -> Estimate:
    """Return the masses nearest to the nominal ones (ridge on their logarithms) that explain ``measured_lab``."""
    nominal = np.asarray(nominal_g, np.float64)
    goal = np.asarray(measured_lab, np.float64)
    colour = _Colour(inks)
    change = np.zeros(len(nominal))
    for _ in range(25):
        off, slope = colour.slopes(np.log(nominal) + change, goal)
        normal = slope.T @ slope + _RIDGE**2 * np.eye(len(change))
        step = -np.linalg.solve(normal, slope.T @ off + _RIDGE**2 * change)
        change += np.clip(step, -0.5, 0.5)
        if np.abs(step).max() < 1e-9:
            break
    grams = nominal * np.exp(change)
    grams *= nominal.sum() / grams.sum()
    return Estimate(grams, goal - colour.lab(grams))


def corrections(
    batch: Sequence[tuple[Ink, float]],
    measured_lab: Array,
    target_lab: Array,
    allowed: Sequence[Ink],
    *,
    most: int = 3,
) -> list[Addition]:
    """Return additions of up to ``most`` inks, few grams first: each next one is nearer to the target.

    The first entry adds nothing and tells where the batch stands.
    """
    if not allowed:
        raise UsageError("no ink may be added", hint="name some with --add, or fill the shelf")
    known = _Batch(batch, measured_lab, allowed)
    target = np.asarray(target_lab, np.float64)
    chosen = known.addable(most)
    # All subsets at no price; then the promising ones, by ΔE00 in steps of a tenth and grams, at every price.
    added = known.nearest(chosen, target, np.zeros(len(chosen)))
    off = delta_e_2000(known.lab(_placed(added, chosen, len(known.inks))), target)
    best = np.lexsort((added.sum(axis=1), np.round(off, 1)))[:PROMISING]
    again = np.repeat(chosen[best], len(THRIFT), axis=0)
    thrifty = known.nearest(again, target, np.tile(np.array(THRIFT) / known.mass_g, len(best)))
    found = [known.addition(np.zeros(0, np.int64), np.zeros(0), target)]
    for row, grams in zip(np.concatenate([chosen, again]), np.concatenate([added, thrifty]), strict=True):
        worth = (row >= 0) & (grams > 1e-4 * known.mass_g)
        if worth.any():
            found.append(known.addition(row[worth], grams[worth], target))
    return _front(found)


def after_adding(
    batch: Sequence[tuple[Ink, float]], measured_lab: Array, additions: Sequence[tuple[Ink, float]]
) -> F64:
    """Return Lab that the batch is predicted to have after ``additions`` (ink, grams), such as rounded doses."""
    own = estimate_batch([ink for ink, _ in batch], np.array([grams for _, grams in batch]), measured_lab)
    inks = [ink for ink, _ in batch] + [ink for ink, _ in additions]
    return _Colour(inks).lab(np.array([*own.grams, *(grams for _, grams in additions)])) + own.offset


def weighed_additions(
    found: Sequence[Addition],
    batch: Sequence[tuple[Ink, float]],
    measured_lab: Array,
    target_lab: Array,
    *,
    step_g: float,
) -> tuple[WeighedAddition, ...]:
    """Return additions in doses on a scale's steps of ``step_g``, each predicted again from what will be weighed."""
    out = []
    for exact in found:
        parts = tuple((ink, to_steps(float(grams), step_g)) for ink, grams in zip(exact.inks, exact.grams, strict=True))
        lab = after_adding(batch, measured_lab, parts)
        out.append(WeighedAddition(parts, look_of_lab(lab), float(delta_e_2000(lab, target_lab)), exact))
    return tuple(out)


def advised_addition(additions: Sequence[WeighedAddition], tolerance_de00: float) -> int:
    """Return the place of the first addition within the tolerance; of the nearest one when none is."""
    within = (place for place, one in enumerate(additions) if one.de00 <= tolerance_de00)
    return next(within, min(range(len(additions)), key=lambda place: additions[place].de00))


class _Colour:
    """Opaque colour of masses of inks."""

    def __init__(self, inks: Sequence[Ink]) -> None:
        density = np.array([ink.density_g_ml for ink in inks])
        self.absorption = np.stack([ink.absorption for ink in inks]) / density[:, None]
        self.scattering = np.stack([ink.scattering for ink in inks]) / density[:, None]

    def lab(self, grams: Array) -> F64:
        """Return Lab of masses (..., p); scale does not matter, as only K/S does."""
        g = np.asarray(grams, np.float64)
        return reflectance_to_lab(to_air(opaque_reflectance(g @ self.absorption, g @ self.scattering)))

    def slopes(self, log_grams: F64, goal: F64) -> tuple[F64, F64]:
        """Return the ΔE00 vector (3,) from ``goal`` and its slope (3, p) by the logarithm of each mass."""
        moved = np.exp(log_grams + np.concatenate([np.zeros((1, len(log_grams))), _STEP * np.eye(len(log_grams))]))
        vectors = np.stack(difference_vector(goal, self.lab(moved)), axis=-1)
        return vectors[0], (vectors[1:] - vectors[0]).T / _STEP


class _Batch:
    """The batch as it is estimated to be, beside the inks that may be added to it."""

    def __init__(self, batch: Sequence[tuple[Ink, float]], measured_lab: Array, allowed: Sequence[Ink]) -> None:
        names, may = {ink.name for ink, _ in batch}, {ink.name for ink in allowed}
        self.inks = [ink for ink, _ in batch] + [ink for ink in allowed if ink.name not in names]
        own = estimate_batch(self.inks[: len(batch)], np.array([grams for _, grams in batch]), measured_lab)
        self.start = np.concatenate([own.grams, np.zeros(len(self.inks) - len(batch))])
        self.offset, self.mass_g = own.offset, float(own.grams.sum())
        self.colour = _Colour(self.inks)
        self.may = np.array([i for i, ink in enumerate(self.inks) if ink.name in may])

    def addable(self, most: int) -> Array:
        """Return (m, most) rows of inks that may be added together, -1 where a row is shorter."""
        rows = subsets(len(self.may), most)
        out: Array = np.where(rows >= 0, self.may[np.maximum(rows, 0)], -1)
        return out

    def nearest(self, chosen: Array, target: F64, price: F64) -> F64:
        """Return grams (m, most) of the chosen inks that bring it nearest to ``target``, at a price for each gram."""
        return _least(self.colour, self.start, chosen, target - self.offset, price)

    def lab(self, added_g: F64) -> F64:
        """Return Lab with masses (..., inks) added."""
        return self.colour.lab(self.start + added_g) + self.offset

    def addition(self, row: Array, grams: F64, target: F64) -> Addition:
        """Return what adding ``grams`` of the inks of ``row`` gives."""
        after = np.zeros(len(self.inks))
        after[row] += grams
        lab = self.lab(after)
        return Addition(tuple(self.inks[i] for i in row), grams, lab, float(delta_e_2000(lab, target)))


def _placed(grams: F64, chosen: Array, count: int) -> F64:
    """Return (m, count) masses from (m, most) grams of the inks ``chosen`` (-1 = none)."""
    out = np.zeros((len(grams), count))
    for column in range(chosen.shape[1]):
        out[np.arange(len(grams)), np.maximum(chosen[:, column], 0)] += grams[:, column] * (chosen[:, column] >= 0)
    return out


def _least(colour: _Colour, start: F64, chosen: Array, goal: F64, price: F64) -> F64:
    """Return grams (m, most) of the chosen inks that come nearest to ``goal``, each gram costing ``price`` ΔE00²."""
    mass = float(start.sum())
    used = chosen >= 0

    def off(logs: F64) -> F64:
        grams = np.exp(logs) * used
        lab = colour.lab(start + _placed(grams, chosen, len(start)))
        cost = np.sqrt(price * grams.sum(axis=1))
        return np.concatenate([np.stack(difference_vector(goal, lab), axis=-1), cost[:, None]], axis=1)

    most = chosen.shape[1]
    logs = np.full(chosen.shape, np.log(0.03 * mass))
    damping, now = np.full(len(logs), 1e-2), off(logs)
    for _ in range(40):
        slope = np.stack([(off(logs + _STEP * np.eye(most)[i]) - now) / _STEP for i in range(most)], axis=2)
        turned = slope.transpose(0, 2, 1)
        normal = turned @ slope
        size = np.einsum("mii->mi", normal)
        normal[:, range(most), range(most)] += damping[:, None] * (size + 1e-4) + 1e-9
        step = -np.linalg.solve(normal, turned @ now[:, :, None])[:, :, 0]
        tried = np.clip(logs + np.clip(step, -1.5, 1.5), np.log(1e-6 * mass), np.log(MOST_GROWTH * mass))
        then = off(tried)
        gain = (now**2).sum(axis=1) - (then**2).sum(axis=1)
        better = gain > 0
        logs[better], now[better] = tried[better], then[better]
        damping = np.clip(damping * np.where(better, 0.2, 6.0), 1e-8, 1e8)
        if np.all((better & (gain < 1e-8)) | (damping > 1e6)):
            break
    out: F64 = np.exp(logs) * used
    return out


def _front(found: list[Addition]) -> list[Addition]:
    """Return few of those that no other beats in both grams and ΔE00, few grams first, the nearest last."""
    start, nearest = found[0], min(found, key=lambda a: (round(a.de00 / WORTH_AN_INK_DE00), a.total_g))
    gain = max(WORTH_AN_INK_DE00, (start.de00 - nearest.de00) / FRONT_LENGTH)
    out = [start]
    for one in sorted(found, key=lambda a: (a.total_g, a.de00)):
        if one.de00 < out[-1].de00 - gain and one.total_g < nearest.total_g:
            out.append(one)
    return [*out, nearest] if nearest is not start else out
