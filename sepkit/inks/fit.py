"""Find K and S of several inks at once from measured films of known composition.

In: amounts (n films, p inks) in coats of each ink; measured reflectance in air (n, 31); what each film lies on (n, 31).
Out: K and S per coat, (p, 31) each. Films may be single inks at several thicknesses, tints and mixtures.
One damped least-squares search (Levenberg-Marquardt) over ln K and ln S of all inks and bands. It weighs three things:
square roots of reflectance band by band, the colour difference of each film (a band that the eye hardly uses may err
more), and smooth curves (second differences), which carry a band where the films are opaque and only K/S is seen.
The weights were chosen by cross-validation on training rows of measured mixtures, never on rows held out.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Literal

import numpy as np

from sepkit.colorimetry.difference import difference_vector
from sepkit.colorimetry.spectral import LAB_OF_ROOTS, reflectance_to_lab, root_slopes
from sepkit.inks.layers import film, film_in_air

if TYPE_CHECKING:
    from sepkit.model import F64

Array = np.ndarray[Any, np.dtype[Any]]

BANDS = 31
START_ABSORPTION, START_SCATTERING = 0.5, 0.3
_STEP = 1e-5
DRAWN_FILM_GAP = 0.03
"""Share of its ground that a paint film lets be seen as it is, where draw-downs are fitted: 780 measured mixtures
(arXiv:1904.00275), held out, are told better with it than with 0.01."""


@dataclass(frozen=True, slots=True)
class FitSettings:
    """What is searched: weights, the share of ground that a film leaves bare, and how many constants an ink has."""

    colour_weight: float = 1e-2
    """Weight of ΔE00² against squared differences of sqrt(R)."""
    roughness_weight: float = 3e-3
    prior_weight: float = 1e-4
    """Pull of ln K and ln S towards the start."""
    bare_share: float = DRAWN_FILM_GAP
    rounds: int = 25
    model: Literal["two constants", "one constant"] = "two constants"
    """"one constant" gives all inks the same S per band and serves comparisons."""


def fit_coefficients(
    amounts: Array,
    measured: Array,
    grounds: Array,
    *,
    start: tuple[Array, Array] | None = None,
    known: Sequence[int] = (),
    settings: FitSettings | None = None,
) -> tuple[F64, F64]:
    """Return K and S per coat, (p, 31) each, that explain the measured films best.

    ``known`` lists inks whose start values are kept. Raises ValueError when the shapes do not fit.
    """
    films = _Films(amounts, measured, grounds, settings or FitSettings())
    count = films.amounts.shape[1]
    if start is None:
        start = np.full((count, BANDS), START_ABSORPTION), np.full((count, BANDS), START_SCATTERING)
    logs = np.log(np.maximum(np.concatenate([np.broadcast_to(v, (count, BANDS)) for v in start]), 1e-9))
    free = np.ones(2 * count, bool)
    free[list(known)] = free[[count + i for i in known]] = False
    fitted = np.exp(_search(films, logs, free))
    return fitted[:count], fitted[count:]


def predict(amounts: Array, absorption: Array, scattering: Array, grounds: Array, *, bare_share: float) -> F64:
    """Return reflectance in air (n, 31) of films of given composition on their grounds."""
    mixed = film(np.asarray(amounts) @ absorption, np.asarray(amounts) @ scattering)
    return (1 - bare_share) * film_in_air(mixed, grounds) + bare_share * np.asarray(grounds)


class _Films:
    """The measured films, and what does not change during the search."""

    def __init__(self, amounts: Array, measured: Array, grounds: Array, settings: FitSettings) -> None:
        self.amounts = np.asarray(amounts, np.float64)
        self.measured = np.maximum(np.asarray(measured, np.float64), 1e-6)
        if self.amounts.ndim != 2 or self.measured.shape != (len(self.amounts), BANDS):
            raise ValueError(f"amounts {self.amounts.shape} and measured {self.measured.shape} do not fit")
        self.grounds = np.broadcast_to(np.asarray(grounds, np.float64), self.measured.shape)
        self.settings = settings
        self.shared_scattering = settings.model == "one constant"
        self.lab = reflectance_to_lab(self.measured)
        self.metric = _metric(self.lab)
        bend = np.diff(np.eye(BANDS), 2, axis=0)
        self.bend = bend.T @ bend

    def reflectance(self, absorption: F64, scattering: F64) -> F64:
        bare = self.settings.bare_share
        printed = film_in_air(film(absorption, scattering), self.grounds)
        return np.maximum((1 - bare) * printed + bare * self.grounds, 1e-6)

    def cost(self, logs: F64, start: F64) -> float:
        count = len(logs) // 2
        seen = self.reflectance(self.amounts @ np.exp(logs[:count]), self.amounts @ np.exp(logs[count:]))
        bands = np.sum((np.sqrt(seen) - np.sqrt(self.measured)) ** 2)
        colour = np.sum(np.einsum("nij,nj->ni", self.metric, reflectance_to_lab(seen) - self.lab) ** 2)
        rough = np.einsum("pb,bc,pc->", logs, self.bend, logs)
        s = self.settings
        total = bands + s.colour_weight * colour + s.roughness_weight * rough
        return float(total + s.prior_weight * np.sum((logs - start) ** 2))

    def normal_equations(self, logs: F64, start: F64) -> tuple[F64, F64]:
        """Return the Gauss-Newton matrix and gradient over (band, unknown), unknowns ordered K of inks, S of inks."""
        count = len(logs) // 2
        k, s = self.amounts @ np.exp(logs[:count]), self.amounts @ np.exp(logs[count:])
        seen = self.reflectance(k, s)
        slope_k = (self.reflectance(k * (1 + _STEP), s) - seen) / (np.maximum(k, 1e-12) * _STEP)
        slope_s = (self.reflectance(k, s * (1 + _STEP)) - seen) / (np.maximum(s, 1e-12) * _STEP)
        parts = self.amounts[:, None, :]
        each_k, each_s = parts * np.exp(logs[:count]).T, parts * np.exp(logs[count:]).T
        slope = np.concatenate([slope_k[:, :, None] * each_k, slope_s[:, :, None] * each_s], axis=2)
        unknowns, weights = 2 * count, self.settings
        by_root = slope * (0.5 / np.sqrt(seen))[:, :, None]
        by_band = by_root.transpose(1, 0, 2)
        blocks = np.zeros((BANDS, unknowns, BANDS, unknowns))
        bands = np.arange(BANDS)
        blocks[bands, :, bands, :] = by_band.transpose(0, 2, 1) @ by_band
        smooth = weights.roughness_weight * self.bend + weights.prior_weight * np.eye(BANDS)
        for i in range(unknowns):
            blocks[:, i, :, i] += smooth
        matrix: F64 = blocks.reshape(BANDS * unknowns, -1)
        gradient = np.einsum("nbi,nb->bi", by_root, np.sqrt(seen) - np.sqrt(self.measured))
        gradient += weights.roughness_weight * self.bend @ logs.T + weights.prior_weight * (logs - start).T
        root_slope, table = root_slopes(seen)
        lab_slope = np.einsum("nij,jk,nk,bk->nib", self.metric, LAB_OF_ROOTS, root_slope, table)
        by_colour = (lab_slope[:, :, :, None] * slope[:, None]).reshape(-1, BANDS * unknowns)
        off = np.einsum("nij,nj->ni", self.metric, reflectance_to_lab(seen) - self.lab).reshape(-1)
        matrix += weights.colour_weight * (by_colour.T @ by_colour)
        return matrix, gradient.reshape(-1) + weights.colour_weight * (by_colour.T @ off)


def _search(films: _Films, start: F64, free: np.ndarray[Any, np.dtype[np.bool_]]) -> F64:
    """Return ln K and ln S, (2 p, 31), at the least cost found."""
    count = len(start) // 2
    join = _joined(count, films.shared_scattering)[:, _joined_free(free, count, films.shared_scattering)]
    wide = np.kron(np.eye(BANDS), join)
    logs, damping, cost = start.copy(), 1e-2, films.cost(start, start)
    for _ in range(films.settings.rounds):
        matrix, gradient = films.normal_equations(logs, start)
        if join.shape != (2 * count, 2 * count):
            matrix, gradient = wide.T @ matrix @ wide, wide.T @ gradient
        before = cost
        while damping < 1e6:
            damped = matrix + damping * np.diag(np.diag(matrix))
            step = np.clip(-np.linalg.solve(damped, gradient), -1, 1).reshape(BANDS, -1)
            tried = logs + join @ step.T
            tried_cost = films.cost(tried, start)
            if tried_cost < cost:
                logs, cost, damping = tried, tried_cost, max(damping / 4, 1e-7)
                break
            damping *= 8
        if before - cost < 1e-5 * before:
            break
    return logs


def _joined(count: int, shared_scattering: object) -> F64:
    """Return the (2 p, unknowns) map from free unknowns to ln K, ln S: the identity, or one S for all inks."""
    if not shared_scattering:
        return np.eye(2 * count)
    out = np.zeros((2 * count, count + 1))
    out[:count, :count] = np.eye(count)
    out[count:, count] = 1
    return out


def _joined_free(
    free: np.ndarray[Any, np.dtype[np.bool_]], count: int, shared_scattering: object
) -> np.ndarray[Any, np.dtype[np.bool_]]:
    return np.append(free[:count], True) if shared_scattering else free


def _metric(lab: F64) -> F64:
    """Return (n, 3, 3) matrices that turn a small Lab difference at ``lab`` into one whose length is ΔE00."""
    out = np.zeros((len(lab), 3, 3))
    small = 0.05
    for axis in range(3):
        moved = lab.copy()
        moved[:, axis] += small
        out[:, :, axis] = np.stack(difference_vector(lab, moved), axis=-1) / small
    return out
