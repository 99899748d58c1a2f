"""Dots for colours: the coverage of each screen that comes nearest to every wanted colour, many sets of inks at once.

In: stacks (..., 2^n, 3) of linear light, wanted colours (m). Out: dots (..., m, n) in 0..1. Damped Gauss-Newton
(Levenberg, Marquardt) on residuals of ``metric``, kept to 0..1; ink has a price, so that of many ways to a colour the
one with least ink is taken, the same everywhere: no two inks trade places.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from sepkit.coverage.channels import total
from sepkit.plates.tonal.optics import mean_light, steps_of, weights_without

if TYPE_CHECKING:
    from sepkit.plates.tonal.metric import Wanted

Array = np.ndarray[Any, np.dtype[Any]]

INK_PRICE = 1.0
"""What one solid coat of ink costs, as a squared residual: fewer inks where the eye sees no difference (our own)."""
MOST_INK = 2.6
"""Coats at one place beyond which a print is heavy and dries badly (common practice: 240 to 280 % on paper)."""
HEAVY_PRICE = 60.0
RIDGE = 0.02


@dataclass(frozen=True, slots=True, eq=False)
class Pull:
    """Where dots are drawn to, and how strongly, (m, n) and (m, 1): neighbours in a table of colours."""

    towards: Array
    strength: Array


def solve_dots(
    stacks: Array, wanted: Wanted, *, start: Array, steps: int, coats: Array | None = None, pull: Pull | None = None
) -> Array:
    """Return dots (..., m, n) near ``start`` that come nearest to ``wanted`` in so many steps.

    ``coats`` (n,) weigh each screen's ink in its price.
    """
    return _Solver(stacks, wanted, coats, pull).run(start, steps)


class _Solver:
    def __init__(self, stacks: Array, wanted: Wanted, coats: Array | None, pull: Pull | None) -> None:
        count = stacks.shape[-2].bit_length() - 1
        self.stacks, self.wanted, self.pull = stacks, wanted, pull
        self.ways = steps_of(stacks)
        self.price = np.full(count, INK_PRICE) if coats is None else INK_PRICE * coats

    def cost(self, dots: Array, light: Array) -> Array:
        """Return the cost of dots that average to this light."""
        away = self.wanted.away(light)
        return np.asarray(total(away * away) + self._side_cost(dots))

    def _side_cost(self, dots: Array) -> Array:
        out = dots @ self.price + HEAVY_PRICE * np.maximum(total(dots) - MOST_INK, 0) ** 2
        if self.pull is not None:
            out = out + total(self.pull.strength * (dots - self.pull.towards) ** 2)
        return np.asarray(out)

    def run(self, start: Array, steps: int) -> Array:
        dots = np.clip(start, 0, 1)
        light = mean_light(dots, self.stacks)
        cost = self.cost(dots, light)
        damping = np.full(cost.shape, 0.05)
        for _ in range(steps):
            tried = np.clip(dots - self._step(dots, light, damping), 0, 1)
            tried_light = mean_light(tried, self.stacks)
            tried_cost = self.cost(tried, tried_light)
            better = tried_cost < cost
            dots = np.where(better[..., None], tried, dots)
            light = np.where(better[..., None], tried_light, light)
            cost = np.where(better, tried_cost, cost)
            damping = np.clip(np.where(better, damping * 0.3, damping * 6), 1e-4, 1e4)
        return dots

    def _step(self, dots: Array, light: Array, damping: Array) -> Array:
        """Return the step back from ``dots``; screens held at their end of 0..1 stay out of it."""
        away, slope = self.wanted.away_and_slope(light)
        change = np.stack([weights_without(dots, k) @ way for k, way in enumerate(self.ways)], axis=-1)
        turn = slope @ change
        heavy = np.maximum(total(dots)[..., None] - MOST_INK, 0)
        gradient = 2 * np.einsum("...ik,...i->...k", turn, away) + self.price + 2 * HEAVY_PRICE * heavy
        normal = 2 * np.swapaxes(turn, -1, -2) @ turn
        normal += 2 * HEAVY_PRICE * (heavy > 0)[..., None]
        if self.pull is not None:
            gradient = gradient + 2 * self.pull.strength * (dots - self.pull.towards)
            extra = 2 * self.pull.strength[..., None]
        else:
            extra = np.zeros(1)
        held = ((dots <= 0) & (gradient > 0)) | ((dots >= 1) & (gradient < 0))
        free = ~held
        count = dots.shape[-1]
        eye = np.eye(count)
        size = np.einsum("...kk->...k", normal)
        normal = normal * (free[..., None] & free[..., None, :])
        normal = normal + eye * (
            extra + RIDGE + damping[..., None, None] * (size[..., None] + 1.0) + held[..., None] * 1.0
        )
        return np.linalg.solve(normal, (gradient * free)[..., None])[..., 0]
