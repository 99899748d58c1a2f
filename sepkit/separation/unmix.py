"""From known colours to coverage: who shares each mixed pixel.

In: pixel vectors, the colours that may share them (members), and which members have solid areas nearby.
Out: up to three members and their shares per pixel. A mixed pixel of flat art is geometry: the area shares of the
shapes that meet there, so it is solved for the members near it, in the space the art was antialiased in. Transparent
is a member like any other (premultiplied colour 0, alpha 0), so edges on a transparent ground need no special case.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import combinations
from typing import TYPE_CHECKING, Any, Literal

import numpy as np

from sepkit.colorimetry.srgb import linear_table

if TYPE_CHECKING:
    from sepkit.model import F32

Array = np.ndarray[Any, np.dtype[Any]]
Space = Literal["encoded", "linear"]

# Costs are squared residuals over squared noise, as in a log likelihood; the rest are odds against rarer events.
COST_TRIPLE = 4.0  # three shapes meet in one pixel
COST_REACH = 6.0  # a member whose solid area is two pixels away, not next to the pixel
COST_BLEED = 3.0  # a buried fill shows through an edge, by the law in _try_bleeds
COST_LOOSE_BLEED = 9.0  # the same where fill and outline end on slightly different edges
BLEED_SHARE = 0.36  # at most: t (1-t) peaks at a quarter, two fills of one edge reach a little more
COST_HAIRLINE = 30.0  # a member with no solid area nearby: a hairline
COST_STRANGER = 15.0  # and none in the whole region either
HAIRLINE_SHARE = 0.35  # and it must cover this much of the pixel
GOOD = 4.0  # a cost so small that rarer events are not looked at
BAD = 25.0  # a cost so high that hairlines are looked for


@dataclass(frozen=True, slots=True)
class Metric:
    """How far apart two pixel vectors are: blend space, noise in 8-bit levels, weight of chroma against luma."""

    space: Space
    noise_levels: float
    chroma_weight: float = 1.0


@dataclass(slots=True)
class Masks:
    """Which members may share each pixel, (n,) uint32, bit k for member k.

    near: it has a solid area next to the pixel; reach: a little farther; around: somewhere in the region, so that a
    hairline of it may run here.
    """

    near: Array
    reach: Array
    around: Array


@dataclass(slots=True)
class Mixture:
    """Members (n, 3) int16 (-1 = none), their shares (n, 3) float32, and cost (n,) float32 (see COST_...)."""

    member: Array
    share: Array
    cost: Array


def vectors(rgb: Array, alpha: Array, space: Space) -> F32:
    """Return (n, 4) premultiplied vectors 0..1 in ``space`` of (n, 3) uint8 sRGB and (n,) uint8 alpha."""
    a = alpha.astype(np.float32) / 255
    colour = linear_table()[rgb] if space == "linear" else rgb.astype(np.float32) / 255
    return np.concatenate([colour * a[:, None], a[:, None]], axis=1).astype(np.float32)


def weights(rgb: Array, alpha: Array, metric: Metric) -> F32:
    """Return (n, 4) what one unit of each channel weighs, so that a residual comes out in 8-bit encoded levels."""
    if metric.space == "encoded":
        return np.full((len(rgb), 4), 255, np.float32)
    step = np.gradient(linear_table().astype(np.float64))  # linear light per level
    a = np.maximum(alpha.astype(np.float32) / 255, 0.1)
    weight = np.empty((len(rgb), 4), np.float32)
    weight[:, :3] = 1 / (step[np.maximum(rgb, 4)] * a[:, None])
    weight[:, 3] = 255
    return weight


# Luma and colour differences of JPEG (ITU-R BT.601), scaled so that a grey step keeps its length
YCC = np.sqrt(3) * np.array([[0.299, 0.587, 0.114], [-0.168736, -0.331264, 0.5], [0.5, -0.418688, -0.081312]])


def luma_first(v: Array, chroma_weight: float) -> F32:
    """Return (n, 4) as Y, Cb, Cr, alpha with chroma weakened: JPEG keeps luma fine and smears chroma."""
    turn = YCC.astype(np.float32).copy()
    turn[1:] *= np.float32(chroma_weight)
    return np.concatenate([v[:, :3] @ turn.T, v[:, 3:]], axis=1).astype(np.float32)


class _Solver:
    """Holds the best explanation so far of each pixel while hypotheses are tried."""

    def __init__(self, pixels: Array, weight: Array, members: Array, metric: Metric) -> None:
        self.p, self.s, self.v = pixels, weight, members
        self.noise2 = np.float32(metric.noise_levels**2)
        n = len(pixels)
        self.cost = np.full(n, np.inf, np.float32)
        self.member = np.full((n, 3), -1, np.int16)
        self.share = np.zeros((n, 3), np.float32)

    def keep(self, at: Array, cost: Array, members: tuple[int, ...], shares: tuple[Array, ...]) -> None:
        """Record an explanation where it is cheaper."""
        better = cost < self.cost[at]
        if not better.any():
            return
        where = at[better]
        self.cost[where] = cost[better]
        self.member[where] = -1
        self.share[where] = 0
        for k, (m, w) in enumerate(zip(members, shares, strict=True)):
            self.member[where, k] = m
            self.share[where, k] = w[better]

    def single(self, at: Array, i: int, extra: Array) -> None:
        r = (self.p[at] - self.v[i]) * self.s[at]
        self.keep(at, (r * r).sum(1) / self.noise2 + extra, (i,), (np.ones(len(at), np.float32),))

    def pair(self, at: Array, i: int, j: int, extra: Array) -> None:
        s = self.s[at]
        d, q = (self.v[j] - self.v[i]) * s, (self.p[at] - self.v[i]) * s
        t = np.clip((d * q).sum(1) / np.maximum((d * d).sum(1), 1e-9), 0, 1)
        r = q - t[:, None] * d
        self.keep(at, (r * r).sum(1) / self.noise2 + extra, (i, j), (1 - t, t))

    def pair_shares(self, at: Array, i: int, j: int, extra: Array, least: float) -> None:
        """Try a pair in which member ``j`` covers at least ``least`` of the pixel."""
        s = self.s[at]
        d, q = (self.v[j] - self.v[i]) * s, (self.p[at] - self.v[i]) * s
        t = np.clip((d * q).sum(1) / np.maximum((d * d).sum(1), 1e-9), 0, 1)
        r = q - t[:, None] * d
        cost = np.where(t >= least, (r * r).sum(1) / self.noise2 + extra, np.inf)
        self.keep(at, cost, (i, j), (1 - t, t))

    def triple(self, at: Array, ijk: tuple[int, int, int], extra: Array, least: float = 0.0) -> None:
        """Try three members inside their simplex; the last covers at least ``least``."""
        t, u, residual, ok = self._triple_fit(at, *ijk)
        ok &= (t >= 0) & (u >= least) & (t + u <= 1)
        cost = np.where(ok, residual / self.noise2 + extra, np.inf)
        self.keep(at, cost, ijk, (1 - t - u, t, u))

    def loose_bleed(self, at: Array, first: int, second: int, buried: int, extra: Array) -> None:
        """Try a triple whose buried colour holds a little; its share goes to the colour it lay above."""
        i, j, k = first, second, buried
        t, u, residual, ok = self._triple_fit(at, i, j, k)
        ok &= (t >= 0) & (u >= 0) & (u <= BLEED_SHARE) & (t + u <= 1)
        cost = np.where(ok, residual / self.noise2 + extra, np.inf)
        w = 1 - t - u
        first_on_top = np.abs(u - w * (1 - w)) < np.abs(u - t * (1 - t))
        self.keep(at, cost, (i, j), (np.where(first_on_top, w, w + u), np.where(first_on_top, t + u, t)))

    def _triple_fit(self, at: Array, i: int, j: int, k: int) -> tuple[Array, Array, Array, Array]:
        """Least squares shares of j and k (i has the rest), squared residual, and where it is well posed."""
        s = self.s[at]
        d, e, q = (self.v[j] - self.v[i]) * s, (self.v[k] - self.v[i]) * s, (self.p[at] - self.v[i]) * s
        dd, ee, de = (d * d).sum(1), (e * e).sum(1), (d * e).sum(1)
        dq, eq = (d * q).sum(1), (e * q).sum(1)
        det = dd * ee - de * de
        ok = det > 1e-4 * dd * ee
        det = np.where(ok, det, 1)
        t, u = (dq * ee - eq * de) / det, (eq * dd - dq * de) / det
        r = q - t[:, None] * d - u[:, None] * e
        return t, u, (r * r).sum(1), ok

    def bleed(self, at: Array, top: int, under: int, buried: int, extra: Array) -> None:
        """Fit t in t top + (1-t)^2 under + t (1-t) buried; the pixel is then shared t : 1 - t by top and under."""
        s = self.s[at]
        a, c, x, p = self.v[top], self.v[under], self.v[buried], self.p[at]
        t = np.full(len(at), 0.5, np.float32)
        for _ in range(4):
            u = 1 - t
            model = t[:, None] * a + (u * u)[:, None] * c + (t * u)[:, None] * x
            slope = a - 2 * u[:, None] * c + (1 - 2 * t)[:, None] * x
            rs, ds = (p - model) * s, slope * s
            t = np.clip(t + (rs * ds).sum(1) / np.maximum((ds * ds).sum(1), 1e-9), 0, 1)
        u = 1 - t
        r = (p - t[:, None] * a - (u * u)[:, None] * c - (t * u)[:, None] * x) * s
        self.keep(at, (r * r).sum(1) / self.noise2 + extra, (top, under), (t, u))


def solve(
    pixels: tuple[Array, Array], members: tuple[Array, Array], masks: Masks, *, metric: Metric, rare: bool = True
) -> Mixture:
    """Explain each pixel by at most three members.

    pixels: ((n, 3) uint8 sRGB, (n,) uint8 alpha); members likewise (m <= 32).
    Buried fills: where a shape and its outline end on the same edge, or two shapes abut, a renderer paints
    t top + (1-t)^2 under + t (1-t) buried although the buried colour covers nothing; t : 1 - t is the true share.
    """
    solver, is_reach, price = _start(pixels, members, masks.near, masks.reach, metric)
    _try_pairs(solver, is_reach, price)
    _try_triples(solver, is_reach, price)
    if rare:
        _try_bleeds(solver, is_reach, price)
        _try_loose_bleeds(solver, is_reach, price)
        _try_hairlines(solver, is_reach, masks.around, price)
    return Mixture(solver.member, solver.share, solver.cost)


def solve_pairs(pixels: tuple[Array, Array], members: tuple[Array, Array], near: Array, *, metric: Metric) -> Mixture:
    """Explain each pixel by at most two of the members in ``near`` (see :func:`solve`)."""
    solver, is_reach, price = _start(pixels, members, near, near, metric)
    _try_pairs(solver, is_reach, price)
    return Mixture(solver.member, solver.share, solver.cost)


def thin_fits(
    pixels: tuple[Array, Array], members: tuple[Array, Array], masks: Masks, *, metric: Metric, least: float
) -> Array:
    """Return (n, m) cost of each pixel's best explanation with some of member k in it, whether it is near or not.

    What makes a hairline rare is not in the cost. k covers at least ``least`` of the pixel; where two others share it,
    more than a buried fill can show. Infinite where k is near anyway.
    """
    solver, is_reach, price = _start(pixels, members, masks.near, masks.reach, metric)
    count = len(is_reach)
    out = np.full((len(solver.p), count), np.inf, np.float32)
    for k in range(count):
        solver.cost[:] = np.inf
        at = np.flatnonzero(~is_reach[k])
        if not at.size:
            continue
        solver.single(at, k, np.zeros(at.size, np.float32))
        others = [(m, at[is_reach[m][at]]) for m in range(count) if m != k]
        for i, sub in others:
            if sub.size:
                solver.pair_shares(sub, i, k, price[i][sub], least)
        for (i, first), (j, _) in combinations(others, 2):
            sub = first[is_reach[j][first]]
            if sub.size:
                extra = COST_TRIPLE + price[i][sub] + price[j][sub]
                solver.triple(sub, (i, j, k), extra, max(least, BLEED_SHARE))
        out[:, k] = solver.cost
    return out


def blend_levels(colours: Array, known: Array, space: Space, *, chroma_weight: float = 1.0) -> Array:
    """Return (n,) how many 8-bit levels (n, 3) colours lie from any mix of one or two of (m, 3) known ones."""
    every = np.full(len(colours), (1 << len(known)) - 1, np.uint32)
    pixels = (colours, np.full(len(colours), 255, np.uint8))
    mixture = solve_pairs(
        pixels, (known, np.full(len(known), 255, np.uint8)), every, metric=Metric(space, 1.0, chroma_weight)
    )
    return np.sqrt(mixture.cost)


def _start(
    pixels: tuple[Array, Array], members: tuple[Array, Array], near: Array, reach: Array, metric: Metric
) -> tuple[_Solver, list[Array], list[Array]]:
    rgb, alpha = pixels
    p, v = vectors(rgb, alpha, metric.space), vectors(*members, metric.space)
    weight = weights(rgb, alpha, metric)
    if metric.chroma_weight != 1:
        p, v = luma_first(p, metric.chroma_weight), luma_first(v, metric.chroma_weight)
    count = len(v)
    is_near = [(near >> np.uint32(k) & 1).astype(bool) for k in range(count)]
    is_reach = [((near | reach) >> np.uint32(k) & 1).astype(bool) for k in range(count)]
    price = [np.where(is_near[k], 0, COST_REACH).astype(np.float32) for k in range(count)]
    return _Solver(p, weight, v, metric), is_reach, price


def _try_pairs(solver: _Solver, is_reach: list[Array], price: list[Array]) -> None:
    count = len(is_reach)
    for k in range(count):
        at = np.flatnonzero(is_reach[k])
        solver.single(at, k, price[k][at])
    for i, j in combinations(range(count), 2):
        at = np.flatnonzero(is_reach[i] & is_reach[j] & (solver.cost > 0))
        if at.size:
            solver.pair(at, i, j, price[i][at] + price[j][at])


def _try_triples(solver: _Solver, is_reach: list[Array], price: list[Array]) -> None:
    for i, j, k in combinations(range(len(is_reach)), 3):
        at = np.flatnonzero(is_reach[i] & is_reach[j] & is_reach[k] & (solver.cost > GOOD))
        if at.size:
            solver.triple(at, (i, j, k), COST_TRIPLE + price[i][at] + price[j][at] + price[k][at])


def _try_bleeds(solver: _Solver, is_reach: list[Array], price: list[Array]) -> None:
    count = len(is_reach)
    for top in range(count):
        for under in range(count):
            if top == under:
                continue
            at = np.flatnonzero(is_reach[top] & is_reach[under] & (solver.cost > GOOD))
            for buried in range(count) if at.size else ():
                if buried not in (top, under):
                    solver.bleed(at, top, under, buried, COST_BLEED + price[top][at] + price[under][at])


def _try_loose_bleeds(solver: _Solver, is_reach: list[Array], price: list[Array]) -> None:
    count = len(is_reach)
    for i, j in combinations(range(count), 2):
        at = np.flatnonzero(is_reach[i] & is_reach[j] & (solver.cost > COST_LOOSE_BLEED))
        for buried in range(count) if at.size else ():
            sub = at[~is_reach[buried][at]]
            if sub.size:
                solver.loose_bleed(sub, i, j, buried, COST_LOOSE_BLEED + price[i][sub] + price[j][sub])


def _try_hairlines(solver: _Solver, is_reach: list[Array], around: Array, price: list[Array]) -> None:
    count = len(is_reach)
    start = solver.cost.copy()
    for k in range(count):
        at = np.flatnonzero(~is_reach[k] & (start > BAD))
        if not at.size:
            continue
        rare = np.where(around >> np.uint32(k) & 1, COST_HAIRLINE, COST_HAIRLINE + COST_STRANGER).astype(np.float32)
        solver.single(at, k, rare[at])
        for i in range(count):
            sub = at[is_reach[i][at]]
            if i != k and sub.size:
                solver.pair_shares(sub, i, k, rare[sub] + price[i][sub], HAIRLINE_SHARE)
        for i, j in combinations([m for m in range(count) if m != k], 2):
            sub = at[is_reach[i][at] & is_reach[j][at]]
            if sub.size:
                extra = rare[sub] + COST_TRIPLE + price[i][sub] + price[j][sub]
                solver.triple(sub, (i, j, k), extra, HAIRLINE_SHARE)
