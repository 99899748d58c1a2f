"""Uneven light and the photographed colours of the stacks, told apart: cloth and inks are the known patches.

In: a photograph laid on the film. Out: Look: each stack's colour in the photograph's own linear light, and a smooth
light field (a polynomial of the fourth degree in the logarithm) over the cloth. Both are fitted together, robustly
(Cauchy weights), from points well inside one stack.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from sepkit.reading.mixing import stack_codes
from sepkit.reading.subject import Array, sampled
from sepkit.reading.warp import applied

if TYPE_CHECKING:
    from sepkit.model import F32, F64, Bool
    from sepkit.reading.subject import Patch, Subject

DEGREE = 4
PURE_MM = 0.8
"""A point this far from every edge is inside its stack."""
MOST_POINTS = 9000
LEAST_POINTS = 30
FLOOR = 0.004
LIGHT_RIDGE, CHANNEL_RIDGE = 2.0, 60.0
"""Light bends little, and its colour less."""


@dataclass(frozen=True, slots=True, eq=False)
class Look:
    """What a photograph shows of the stacks."""

    colours: F64
    """(2^n, 3) in the photograph's linear light where the light field is 1."""
    seen: F64
    """(2^n,) samples that showed each stack alone."""
    light: F64
    """(k, 3) coefficients of the logarithm of light."""
    spread: F64
    """(2^n,) relative spread of lightness within a stack, NaN for one not seen."""

    def light_over(self, subject: Subject, patch: Patch) -> F32:
        """Return the light (h, w, 3) over a grid of the cloth."""
        nx, ny = max(2, patch.width // 16), max(2, patch.height // 16)
        xs = np.linspace(patch.xs[0], patch.xs[-1], nx)
        ys = np.linspace(patch.ys[0], patch.ys[-1], ny)
        x, y = np.meshgrid(*_units(subject, xs, ys))
        coarse = np.exp(_powers(x.ravel(), y.ravel()) @ self.light).reshape(ny, nx, 3).astype(np.float32)
        at = np.meshgrid(np.linspace(0, nx - 1, patch.width), np.linspace(0, ny - 1, patch.height))
        return np.stack([sampled(np.ascontiguousarray(coarse[..., c]), *at) for c in range(3)], -1)

    def range_of_light(self, subject: Subject) -> float:
        """Return the brightest light over the darkest within the art."""
        patch = subject.whole(0.2, 0.0)
        light = self.light_over(subject, patch).mean(-1)
        return float(light.max() / max(light.min(), 1e-6))


def light_at(subject: Subject, look: Look, homography: F64, xy: F64) -> F64:
    """Return the light (n, 3), against that of the colours read, at photo pixels (n, 2) beside a print.

    The light over the print is carried on as a plane of its logarithm, for more would run away.
    """
    grid = subject.whole(12 / max(subject.width_mm, subject.height_mm), 0.0)
    points = np.stack(np.meshgrid(grid.xs, grid.ys), -1)
    logs = np.log(np.maximum(look.light_over(subject, grid), 1e-4)).reshape(-1, 3)
    at = applied(homography, points).reshape(-1, 2)
    middle, size = at.mean(axis=0), float(at.std())
    plane = np.column_stack([np.ones(len(at)), (at - middle) / size])
    found, *_ = np.linalg.lstsq(plane, logs, rcond=None)
    beside = np.column_stack([np.ones(len(xy)), (xy - middle) / size])
    return np.asarray(np.exp(beside @ found), np.float64)


def _units(subject: Subject, x_mm: F64, y_mm: F64) -> tuple[F64, F64]:
    x, y = x_mm / subject.width_mm * 2 - 1, y_mm / subject.height_mm * 2 - 1
    return np.clip(x, -1.15, 1.15), np.clip(y, -1.15, 1.15)


def _powers(x: F64, y: F64) -> F64:
    powers = [(i, j) for i in range(DEGREE + 1) for j in range(DEGREE + 1 - i) if i + j]
    return np.stack([x**i * y**j for i, j in powers], -1)


def look_of(subject: Subject, patch: Patch, planes: Sequence[F32], seen: F32, old: Look | None = None) -> Look:
    """Return the look of a photograph from samples ``seen`` (h, w, 3) on a grid, and coverage as printed there.

    A stack that no point shows alone takes the colour that ``old`` has, else the predicted one through the map that
    the seen ones set.
    """
    code, pure = _pure(subject, patch, planes, np.isfinite(seen[..., 0]))
    points, stacks = _chosen(code, pure)
    ids = np.unique(stacks)
    x, y = np.meshgrid(*_units(subject, patch.xs, patch.ys))
    P = _powers(x.ravel()[points], y.ravel()[points])
    G = (stacks[:, None] == ids[None]).astype(np.float64)
    A = np.concatenate([P, G], 1)
    values = seen.reshape(-1, 3)[points].astype(np.float64)
    logs = np.log(np.maximum(values, 0) + FLOOR)
    trust = (np.maximum(values, 0) / (np.maximum(values, 0) + 0.03)) ** 2 + 1e-3
    ridge = np.concatenate([np.full(P.shape[1], LIGHT_RIDGE), np.zeros(len(ids))])
    # One light for all channels first, then what differs by channel: dark cloth is noisy.
    common = _robust(A, logs.mean(1), trust.mean(1), ridge)
    colours = np.full((1 << subject.count, 3), np.nan)
    light = np.zeros((P.shape[1], 3))
    ridge[: P.shape[1]] = CHANNEL_RIDGE
    for c in range(3):
        solved = common + _robust(A, logs[:, c] - A @ common, trust[:, c], ridge)
        light[:, c] = solved[: P.shape[1]]
        rest = logs[:, c] - P @ light[:, c]
        for stack in ids:
            colours[stack, c] = np.exp(np.median(rest[stacks == stack])) - FLOOR
    spread = np.full(1 << subject.count, np.nan)
    rest = logs.mean(1) - (P @ light).mean(1)
    for stack in ids:
        mine = rest[stacks == stack]
        spread[stack] = np.median(np.abs(mine - np.median(mine))) * 1.48
    if old is not None:
        missing = ~np.isfinite(colours[:, 0])
        ratio = np.nanmedian(colours / old.colours) if len(ids) else 1.0
        colours[missing] = old.colours[missing] * ratio
    count = np.bincount(code[pure], minlength=1 << subject.count).astype(np.float64)
    return Look(np.maximum(_with_unseen(subject.colours, colours), 0.0005), count, light, spread)


def _pure(subject: Subject, patch: Patch, planes: Sequence[F32], valid: Bool) -> tuple[Array, Bool]:
    from scipy.ndimage import maximum_filter, minimum_filter

    pure = valid & ~subject.tones(patch)
    side = 2 * max(1, round(PURE_MM * patch.px_per_mm)) + 1
    for plane in planes:
        pure &= (minimum_filter(plane, side) > 0.97) | (maximum_filter(plane, side) < 0.03)
    return stack_codes(planes), pure


def _chosen(code: Array, pure: Bool) -> tuple[Array, Array]:
    """Return points inside one stack, evenly from each that shows enough of them, and their stacks."""
    rng = np.random.default_rng(0)
    points, stacks = [], []
    for stack in np.unique(code[pure]):
        at = np.flatnonzero(pure & (code == stack))
        if len(at) >= LEAST_POINTS:
            at = np.sort(rng.choice(at, min(len(at), MOST_POINTS), replace=False))
            points.append(at)
            stacks.append(np.full(len(at), stack))
    if not points:
        return np.zeros(0, np.int64), np.zeros(0, np.int64)
    return np.concatenate(points), np.concatenate(stacks)


def _robust(A: F64, b: F64, trust: F64, ridge: F64, rounds: int = 6) -> F64:
    weight: F64 = trust.copy()
    solved: F64 = np.zeros(A.shape[1])
    for _ in range(rounds):
        weighted = (A * weight[:, None]).T
        solved = np.asarray(np.linalg.solve(weighted @ A + np.diag(ridge + 1e-9), weighted @ b), np.float64)
        rest = b - A @ solved
        scale = np.median(np.abs(rest)) * 1.48 + 1e-6 if len(rest) else 1.0
        weight = trust / (1 + (rest / (2 * scale)) ** 2)
    return solved


def _with_unseen(predicted: F64, colours: F64) -> F64:
    """Return colours with the missing ones predicted, by a power law for each channel through those that are seen."""
    known = np.isfinite(colours[:, 0])
    if known.all() or not known.any():
        return colours if known.any() else predicted.copy()
    out = colours.copy()
    for c in range(3):
        p, v = np.log(np.maximum(predicted[:, c], 1e-4)), np.log(np.maximum(colours[known, c], 1e-4))
        slope = 1.0
        if known.sum() >= 3:
            slope = float(np.clip(np.polyfit(p[known], v, 1, w=np.exp(p[known] / 2))[0], 0.6, 1.5))
        out[~known, c] = np.exp(slope * p[~known] + np.mean(v - slope * p[known]))
    return out
