"""From a target colour to recipes: which inks, in what share, and how sure.

In: inks and a Target. Out: blends, best first. All subsets of up to three (or four) inks are tried: the nearest point
of a log-spaced grid of compositions starts each, then one damped Gauss-Newton search runs for all subsets at once on
the three numbers whose squares sum to ΔE00², over logarithms of volume shares (none negative, their sum 1).
A recipe may aim at the opaque film or at the ink as printed (a View). Shares are by volume here and by mass outside.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache
from itertools import combinations
from typing import TYPE_CHECKING, Any

import numpy as np

from sepkit.colorimetry.difference import delta_e_2000, difference_vector
from sepkit.colorimetry.spectral import LAB_OF_ROOTS, reflectance_to_lab, root_slopes
from sepkit.coverage.bands import row_bands
from sepkit.inks.layers import Layer, covered_share, film, film_in_air, opaque_reflectance, over, to_air
from sepkit.inks.mixing import mass_fractions

if TYPE_CHECKING:
    from sepkit.model import F64, Ink

Array = np.ndarray[Any, np.dtype[Any]]

LEVELS = np.logspace(-3, 0, 9)
LEVELS_OF_FOUR = np.logspace(-2, 0, 4)
GRID_ROWS = 2048
"""Compositions whose spectra are worked out at once: half a megabyte, which the processor's cache holds."""
OTHER_LIGHTS = ("A", "FL11")
ROUNDS = 60
GAIN = 1e-3
"""A subset is done when a round lowers its ΔE00² by less than this share."""
HOPELESS_ROUNDS, HOPELESS_DE00 = 4, 5.0
"""After so many rounds, subsets this much worse than the best one are left where they are."""
LEAST_SHARE = 1e-5
"""Shares below this are left out of a recipe."""
SAME_DE00 = 0.2
"""Recipes closer than this to each other in ΔE00 rank by ink count and steadiness under other lights instead."""
_STEP = 1e-6
_LAB_STEP = 1e-5
_LAB_STEPS = _LAB_STEP * np.concatenate([np.zeros((1, 1, 3)), np.eye(3)[:, None, :]])


@dataclass(frozen=True, slots=True, eq=False)
class Target:
    """A colour to reach: Lab D65/2, and a reflectance that has it (measured, or the smoothest one)."""

    name: str
    lab: F64
    reflectance: F64
    measured_spectrum: bool = False


@dataclass(frozen=True, slots=True, eq=False)
class View:
    """How the ink is looked at: coats of it over ``base`` films on ``cloth`` (in air); ``cloth`` None = opaque film."""

    cloth: F64 | None = None
    coats: float = 1.0
    base: Layer | None = None
    base_coats: float = 0.0


@dataclass(frozen=True, slots=True, eq=False)
class Blend:
    """One recipe: inks with shares by mass, and what it is predicted to look like."""

    inks: tuple[Ink, ...]
    mass_shares: F64
    lab: F64
    de00: float
    worst_light_de00: float
    """Largest ΔE00 under A and FL11, against the target's reflectance."""


def seen(absorption: Array, scattering: Array, view: View) -> F64:
    """Return reflectance in air of films of given K and S per coat, (..., 31), in a view."""
    if view.cloth is None:
        return to_air(opaque_reflectance(absorption, scattering))
    layer = film(absorption * view.coats, scattering * view.coats)
    if view.base is not None:
        layer = over(layer, view.base)
    share = covered_share(view.coats + view.base_coats)
    return share * film_in_air(layer, view.cloth) + (1 - share) * view.cloth


def subsets(count: int, most: int) -> Array:
    """Return (m, most) rows of ink indices, -1 where a subset is smaller; all subsets of 1..most of ``count``."""
    rows = [
        chosen + (-1,) * (most - size)
        for size in range(1, min(most, count) + 1)
        for chosen in combinations(range(count), size)
    ]
    return np.array(rows, np.int64)


class InkSet:
    """Inks prepared for many matches in one view: subsets, and Lab of a grid of compositions."""

    def __init__(self, inks: Sequence[Ink], *, most: int = 3, view: View | None = None) -> None:
        self.inks = tuple(inks)
        self.view = view or View()
        self.absorption = np.stack([ink.absorption for ink in inks])
        self.scattering = np.stack([ink.scattering for ink in inks])
        self.density = np.array([ink.density_g_ml for ink in inks])
        self.subsets = _of_one_kind(subsets(len(inks), most), self.inks)
        self.used = self.subsets >= 0
        grid_subset, self._grid_shares = _grid(self.used)
        self._grid_start = np.searchsorted(grid_subset, np.arange(len(self.subsets)))
        self._grid_lab = np.concatenate(
            [self._lab_of(slice(b.start, b.stop), grid_subset) for b in row_bands(len(grid_subset), GRID_ROWS)]
        )

    def _lab_of(self, rows: slice, grid_subset: Array) -> F64:
        """Return Lab (rows, 3) of some of the grid's compositions."""
        shares = self._grid_shares[rows]
        chosen = np.maximum(self.subsets[grid_subset[rows]], 0)
        dense = np.zeros((len(shares), len(self.inks)))
        for column in range(shares.shape[1]):
            np.add.at(dense, (np.arange(len(shares)), chosen[:, column]), shares[:, column])
        return reflectance_to_lab(seen(dense @ self.absorption, dense @ self.scattering, self.view))

    def starts(self, lab: F64) -> F64:
        """Return (m, most) shares to start each subset from: its grid point nearest to ``lab``."""
        off = (self._grid_lab - lab) @ distance(lab[None], lab)[1][0].T
        far = np.einsum("gi,gi->g", off, off)
        least = np.minimum.reduceat(far, self._grid_start)
        nearest = np.flatnonzero(far == np.repeat(least, np.diff(self._grid_start, append=len(far))))
        first = np.searchsorted(nearest, self._grid_start)
        return self._grid_shares[nearest[first]]


def match(ink_set: InkSet, target: Target, *, keep: int = 8) -> list[Blend]:
    """Return the ``keep`` best blends for ``target``, best first.

    Order: ΔE00 in steps of SAME_DE00, then fewer inks, then the worst other light, then the larger smallest dose.
    """
    shares, lab = solve(ink_set, target.lab)
    blends = _blends(ink_set, shares, lab, target)
    return blends[:keep]


def solve(ink_set: InkSet, lab: Array) -> tuple[F64, F64]:
    """Return volume shares (m, most) and Lab (m, 3) of every subset's nearest blend to ``lab``."""
    goal = np.asarray(lab, np.float64)
    logs = np.log(np.where(ink_set.used, np.maximum(ink_set.starts(goal), 1e-9), 1.0))
    chosen = _Chosen.of(ink_set)
    active = np.arange(len(logs))
    damping = np.full(len(logs), 1e-3)
    shares = chosen.shares(logs)
    colour = chosen.lab(shares)
    off, metric = distance(colour, goal)
    error = (off**2).sum(axis=1)
    for turn in range(ROUNDS):
        open_ones = chosen.rows(active)
        step = _step(open_ones, shares[active], off[active], metric[active], damping[active])
        tried = np.clip(logs[active] + np.where(open_ones.used, np.clip(step, -2, 2), 0), -14, 14)
        tried_shares = open_ones.shares(tried)
        tried_colour = open_ones.lab(tried_shares)
        tried_off, tried_metric = distance(tried_colour, goal)
        tried_error = (tried_off**2).sum(axis=1)
        better = tried_error < error[active]
        gain = error[active] - tried_error
        won = active[better]
        logs[won], shares[won], colour[won] = tried[better], tried_shares[better], tried_colour[better]
        off[won], metric[won], error[won] = tried_off[better], tried_metric[better], tried_error[better]
        damping[active] = np.clip(damping[active] * np.where(better, 0.2, 6.0), 1e-9, 1e9)
        done = (error[active] < 1e-12) | (better & (gain < GAIN * error[active])) | (damping[active] > 1e6)
        if turn >= HOPELESS_ROUNDS:
            done |= error[active] > (np.sqrt(error.min()) + HOPELESS_DE00) ** 2
        active = active[~done]
        if len(active) == 0:
            break
    return shares, colour


def distance(lab: F64, goal: F64) -> tuple[F64, F64]:
    """Return the ΔE00 vectors (m, 3) from ``goal`` to Lab (m, 3), and their slopes (m, 3, 3) by Lab."""
    around = lab[None] + _LAB_STEPS
    vectors = np.stack(difference_vector(goal, around), axis=-1)
    return vectors[0], (vectors[1:] - vectors[0]).transpose(1, 2, 0) / _LAB_STEP


def worst_other_light(reflectance: Array, target: Array) -> F64:
    """Return the largest ΔE00 under OTHER_LIGHTS between reflectances (..., 31) and a target's (31,)."""
    each = [
        delta_e_2000(reflectance_to_lab(reflectance, light=light), reflectance_to_lab(target, light=light))
        for light in OTHER_LIGHTS
    ]
    out: F64 = np.max(each, axis=0)
    return out


def _blends(ink_set: InkSet, shares: F64, lab: F64, target: Target) -> list[Blend]:
    de00 = delta_e_2000(lab, target.lab)
    clear = ~np.any(ink_set.used & (shares < LEAST_SHARE), axis=1)
    near = np.flatnonzero(clear & (de00 <= max(float(de00[clear].min()) + 4, 4)))
    pick = np.maximum(ink_set.subsets[near], 0)
    part = shares[near][:, :, None] * ink_set.used[near][:, :, None]
    look = seen((part * ink_set.absorption[pick]).sum(1), (part * ink_set.scattering[pick]).sum(1), ink_set.view)
    worst = worst_other_light(look, target.reflectance)
    found = []
    for row, light in zip(near, worst, strict=True):
        chosen = ink_set.subsets[row][ink_set.used[row]]
        mass = mass_fractions(shares[row][ink_set.used[row]], ink_set.density[chosen])
        heavy = np.argsort(-mass)
        inks = tuple(ink_set.inks[chosen[i]] for i in heavy)
        found.append(Blend(inks, mass[heavy], lab[row], float(de00[row]), float(light)))
    return sorted(
        found,
        key=lambda b: (round(b.de00 / SAME_DE00), len(b.inks), round(b.worst_light_de00, 2), -float(b.mass_shares[-1])),
    )


def _of_one_kind(rows: Array, inks: Sequence[Ink]) -> Array:
    """Return the subsets whose inks can be stirred together: plastisol and water-based cannot."""
    kinds = [ink.kind.removesuffix(" concentrate") for ink in inks]
    number = np.array([kinds.index(kind) for kind in kinds])
    each = np.where(rows >= 0, number[np.maximum(rows, 0)], number[np.maximum(rows[:, :1], 0)])
    out: Array = rows[np.all(each == each[:, :1], axis=1)]
    return out


def _grid(used: Array) -> tuple[Array, F64]:
    """Return the subset index and the (g, most) volume shares of every grid point, sorted by subset."""
    most = used.shape[1]
    rows, shares = [], []
    for index, size in enumerate(used.sum(axis=1).tolist()):
        parts = _compositions(size)
        rows.append(np.full(len(parts), index))
        wide = np.zeros((len(parts), most))
        wide[:, :size] = parts
        shares.append(wide)
    return np.concatenate(rows), np.concatenate(shares)


@cache
def _compositions(size: int) -> F64:
    """Return compositions of ``size`` inks on log-spaced levels, the largest part of each being 1 before scaling."""
    levels = LEVELS if size <= 3 else LEVELS_OF_FOUR
    grids = np.stack(np.meshgrid(*[levels] * size, indexing="ij"), axis=-1).reshape(-1, size)
    top = grids[np.isclose(grids.max(axis=1), 1.0)]
    out: F64 = top / top.sum(axis=1, keepdims=True)
    return out


@dataclass(frozen=True, slots=True, eq=False)
class _Chosen:
    """The inks of each subset: K and S per coat, (m, most, 31), 0 where a subset is smaller, and which are ``used``."""

    absorption: F64
    scattering: F64
    used: Array
    view: View

    @staticmethod
    def of(ink_set: InkSet) -> _Chosen:
        pick, used = np.maximum(ink_set.subsets, 0), ink_set.used[:, :, None]
        return _Chosen(ink_set.absorption[pick] * used, ink_set.scattering[pick] * used, ink_set.used, ink_set.view)

    def rows(self, at: Array) -> _Chosen:
        """Return some of the subsets."""
        return _Chosen(self.absorption[at], self.scattering[at], self.used[at], self.view)

    def shares(self, logs: F64) -> F64:
        """Return volume shares (m, most) from their logarithms, up to scale."""
        most = np.max(np.where(self.used, logs, -np.inf), axis=1, keepdims=True)
        weight = np.where(self.used, np.exp(logs - most), 0.0)
        out: F64 = weight / weight.sum(axis=1, keepdims=True)
        return out

    def mixed(self, shares: F64) -> tuple[F64, F64]:
        """Return K and S of the blends, (m, 31) each."""
        return (shares[:, None, :] @ self.absorption)[:, 0], (shares[:, None, :] @ self.scattering)[:, 0]

    def lab(self, shares: F64) -> F64:
        """Return Lab of the blends, (m, 3)."""
        return reflectance_to_lab(seen(*self.mixed(shares), self.view))


def _step(chosen: _Chosen, shares: F64, off: F64, metric: F64, damping: F64) -> F64:
    """Return damped Gauss-Newton steps in log shares, (m, most)."""
    mixed_k, mixed_s = chosen.mixed(shares)
    view = chosen.view
    look = seen(mixed_k, mixed_s, view)
    slope_k = (seen(mixed_k * (1 + _STEP), mixed_s, view) - look) / (np.maximum(mixed_k, 1e-12) * _STEP)
    slope_s = (seen(mixed_k, mixed_s * (1 + _STEP), view) - look) / (np.maximum(mixed_s, 1e-12) * _STEP)
    away_k = (chosen.absorption - mixed_k[:, None]) * shares[:, :, None]
    away_s = (chosen.scattering - mixed_s[:, None]) * shares[:, :, None]
    look_slope = slope_k[:, None] * away_k + slope_s[:, None] * away_s
    root_slope, table = root_slopes(look)
    lab_slope = ((look_slope @ table) * root_slope[:, None]) @ LAB_OF_ROOTS.T
    jacobian = metric @ lab_slope.transpose(0, 2, 1)
    turned = jacobian.transpose(0, 2, 1)
    normal = turned @ jacobian
    size = np.einsum("mii->mi", normal)
    most = shares.shape[1]
    normal[:, range(most), range(most)] += damping[:, None] * (size + 1e-3 * size.max(axis=1, keepdims=True)) + 1e-10
    step: F64 = -np.linalg.solve(normal, turned @ off[:, :, None])[:, :, 0]
    return step
