"""Fits of pixels to mixes of a few members, many pixels at a time, and the best explanation found so far.

In: pixel vectors (n, 4), their weights, member vectors (m, 4), which members may share each pixel. Out: for each
hypothesis squared residuals in units of noise, and the cheapest explanation of each pixel. Hypotheses that try every
member in turn are polynomials in one or two shares: their coefficients are inner products, found for all members by
one matrix product, so that no (n, m, 4) arrays are made. Channels and members come first within: rows are long.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

Array = np.ndarray[Any, np.dtype[Any]]

BLEED_STARTS = (0.1, 0.3, 0.5, 0.7, 0.9)  # shares from the nearest of which
BLEED_STEPS = 4  # Gauss-Newton steps settle to well under one level


@dataclass(frozen=True, slots=True, eq=False)
class Target:
    """Pixels to explain: (n, 4) vectors, (n, 4) weights that turn a residual into levels, and the noise in levels."""

    pixels: Array
    weight: Array
    noise_levels: float


@dataclass(frozen=True, slots=True, eq=False)
class Local:
    """Members that may share each pixel: (n,) uint32 bit sets near and in reach, and what being only in reach costs."""

    near: Array
    reach: Array
    reach_price: float


class Fits:
    """Holds the best explanation so far of each pixel while hypotheses are tried.

    cost (n,) float32; member (n, 3) int16, -1 = none; share (n, 3) float32. local (n, r) int16: the members that may
    share each pixel, rising, -1 beyond the last. rank (n, r) float32: cost of the best single or pair with each.
    """

    def __init__(self, target: Target, members: Array, allowed: Local) -> None:
        rows = (np.ascontiguousarray(x.T) for x in (target.pixels, target.weight, members))
        self.p, self.s, self.v = rows  # (4, n), (4, n), (4, m)
        self.noise2 = np.float32(target.noise_levels**2)
        self.near, self.reach = allowed.near, allowed.near | allowed.reach
        self.reach_price = np.float32(allowed.reach_price)
        n = len(target.pixels)
        self.cost = np.full(n, np.inf, np.float32)
        self.member = np.full((n, 3), -1, np.int16)
        self.share = np.zeros((n, 3), np.float32)
        self.local = local_members(self.reach)
        self.rank = np.full(self.local.shape, np.inf, np.float32)

    def places(self, *slots: int, above: float = -1.0) -> Array:
        """Return the pixels with members in all ``slots`` whose cost is above a limit."""
        here = self.cost > above
        for slot in slots:
            here &= self.local[:, slot] >= 0
        return np.flatnonzero(here)

    def price(self, at: Array, *slots: int) -> Array:
        """Return (n,) what it costs that members in ``slots`` are only in reach, not near."""
        total = np.zeros(len(at), np.float32)
        for slot in slots:
            total += self.reach_price * (1 - (self.near[at] >> self.local[at, slot].astype(np.uint32) & 1))
        return total

    def far(self, at: Array) -> Array:
        """Return (m, n) bool: members neither near nor in reach."""
        return np.asarray(self.reach[at] >> np.arange(self.v.shape[1], dtype=np.uint32)[:, None] & 1 == 0)

    def keep_best(self, most: int) -> None:
        """Leave each pixel at most so many local members: those that explain it best alone or in a pair."""
        if self.local.shape[1] <= most:
            return
        chosen = np.sort(np.argsort(self.rank, axis=1, kind="stable")[:, :most], axis=1)
        rows = np.arange(len(chosen))[:, None]
        self.local, self.rank = self.local[rows, chosen], self.rank[rows, chosen]

    def keep(self, at: Array, cost: Array, members: tuple[Array, ...], shares: tuple[Array, ...]) -> None:
        """Record an explanation where it is cheaper."""
        better = cost < self.cost[at]
        if not better.any():
            return
        where = at[better]
        self.cost[where] = cost[better]
        self.member[where] = -1
        self.share[where] = 0
        for k, (m, w) in enumerate(zip(members, shares, strict=True)):
            self.member[where, k] = m[better]
            self.share[where, k] = w[better]

    def keep_each(self, at: Array, cost: Array, members: tuple[Array, ...], shares: tuple[Array, ...]) -> None:
        """Record the cheapest of (m, n) explanations with every member; ``members`` beside it have (m, n) ``shares``.

        The last of the shares is that of the member tried in turn, where there is one more than of ``members``.
        """
        if not cost.size:  # a photograph may have no flat colour at all
            return
        k = cost.argmin(0)
        column = np.arange(len(at))
        every = (*members, k) if len(shares) > len(members) else members
        self.keep(at, cost[k, column], every, tuple(w[k, column] for w in shares))

    def single(self, slot: int, at: Array, extra: Array) -> None:
        """Try the member in ``slot`` alone."""
        i = self.local[at, slot]
        r = (self.p[:, at] - self.v[:, i]) * self.s[:, at]
        cost = (r * r).sum(0) / self.noise2 + extra
        self.rank[at, slot] = cost
        self.keep(at, cost, (i,), (np.ones(len(at), np.float32),))

    def pair(self, slots: tuple[int, int], at: Array, extra: Array) -> None:
        """Try the members in two slots."""
        i, j = (self.local[at, slot] for slot in slots)
        s, first = self.s[:, at], self.v[:, i]
        d, q = (self.v[:, j] - first) * s, (self.p[:, at] - first) * s
        t = np.clip((d * q).sum(0) / np.maximum((d * d).sum(0), 1e-9), 0, 1)
        r = q - t * d
        cost = (r * r).sum(0) / self.noise2 + extra
        for slot in slots:
            self.rank[at, slot] = np.minimum(self.rank[at, slot], cost)
        self.keep(at, cost, (i, j), (1 - t, t))

    def triple(self, slots: tuple[int, int, int], at: Array, extra: Array) -> None:
        """Try the members in three slots inside their simplex."""
        i, j, k = (self.local[at, slot] for slot in slots)
        s, first = self.s[:, at], self.v[:, i]
        d, e, q = (self.v[:, j] - first) * s, (self.v[:, k] - first) * s, (self.p[:, at] - first) * s
        dd, ee, de = (d * d).sum(0), (e * e).sum(0), (d * e).sum(0)
        t, u, ok = _two_shares(dd, ee, de, (d * q).sum(0), (e * q).sum(0))
        r = q - t * d - u * e
        ok &= (t >= 0) & (u >= 0) & (t + u <= 1)
        cost = np.where(ok, (r * r).sum(0) / self.noise2 + extra, np.inf)
        self.keep(at, cost, (i, j, k), (1 - t - u, t, u))

    def each_single(self, at: Array) -> Array:
        """Return (m, n) squared residuals of every member alone."""
        return np.maximum(_Products(self, at, np.zeros((4, len(at)))).from_pixel(), 0) / self.noise2

    def each_pair(self, at: Array, slot: int) -> tuple[Array, Array]:
        """Return (m, n) shares t of every member k beside the one in a slot, and squared residuals."""
        g = _Products(self, at, self.v[:, self.local[at, slot]])
        t = np.clip(g.qx / np.maximum(g.xx, 1e-9), 0, 1)
        return t, np.maximum(g.qq + t * (t * g.xx - 2 * g.qx), 0) / self.noise2

    def each_triple(self, at: Array, one: int, other: int) -> tuple[Array, Array, Array]:
        """Return (m, n) shares t of ``other`` and u of every member k (``one`` has the rest), and squared residuals.

        These are infinite where the fit is ill posed or leaves the simplex.
        """
        g = _Products(self, at, self.v[:, self.local[at, one]])
        qd, dd, de = g.to(self.v[:, self.local[at, other]])
        t, u, ok = _two_shares(dd, g.xx, de, qd, g.qx)
        r2 = g.qq + t * (t * dd - 2 * qd) + u * (u * g.xx - 2 * g.qx) + 2 * t * u * de
        ok &= (t >= 0) & (u >= 0) & (t + u <= 1)
        return t, u, np.where(ok, np.maximum(r2, 0) / self.noise2, np.inf)

    def each_bleed(self, at: Array, top: int, under: int) -> tuple[Array, Array]:
        """Return (m, n) t in t top + (1-t)^2 under + t (1-t) k for every member k, and squared residuals.

        With A = top - under, X = k - under, B = A + X the model less ``under`` is the parabola t B - t^2 X.
        """
        g = _Products(self, at, self.v[:, self.local[at, under]])
        qa, aa, ax = g.to(self.v[:, self.local[at, top]])
        qb, bb, bx = qa + g.qx, aa + 2 * ax + g.xx, ax + g.xx

        def off(t: Array | float) -> Array:
            return np.asarray(g.qq - t * (2 * qb - t * (bb + 2 * g.qx - t * (2 * bx - t * g.xx))))

        starts = np.array([off(t) for t in BLEED_STARTS])  # a light fill under two dark ones bends the curve back
        t = np.asarray(BLEED_STARTS)[starts.argmin(0)]
        for _ in range(BLEED_STEPS):
            slope = qb - t * (2 * g.qx + bb - t * (3 * bx - 2 * t * g.xx))
            t = np.clip(t + slope / np.maximum(bb - 4 * t * (bx - t * g.xx), 1e-9), 0, 1)
        return t, np.maximum(off(t), 0) / self.noise2


class _Products:
    """Weighted inner products about an origin c of each pixel: q = pixel - c, and x = member - c for every member."""

    def __init__(self, fits: Fits, at: Array, origin: Array) -> None:
        self.c = origin.astype(np.float64)
        self.weight = fits.s[:, at].astype(np.float64) ** 2
        self.v = fits.v.astype(np.float64).T
        self.q = fits.p[:, at] - self.c
        wq, wc = self.weight * self.q, self.weight * self.c
        self.qq = (wq * self.q).sum(0)
        self.qx = self.v @ wq - (wq * self.c).sum(0)
        self.xx = self.v**2 @ self.weight - 2 * (self.v @ wc) + (wc * self.c).sum(0)

    def from_pixel(self) -> Array:
        """Return (m, n) squared distances of the members from the pixels."""
        return np.asarray(self.qq - 2 * self.qx + self.xx)

    def to(self, other: Array) -> tuple[Array, Array, Array]:
        """Return (n,) q.a and a.a and (m, n) a.x of a = other - c."""
        a = other - self.c
        wa = self.weight * a
        return (wa * self.q).sum(0), (wa * a).sum(0), self.v @ wa - (wa * self.c).sum(0)


def _two_shares(dd: Array, ee: Array, de: Array, dq: Array, eq: Array) -> tuple[Array, Array, Array]:
    """Return least squares shares along d and e, and where they are well posed."""
    det = dd * ee - de * de
    ok = det > 1e-4 * dd * ee  # squared sine of the angle between the two: half a degree
    det = np.where(ok, det, 1)
    return (dq * ee - eq * de) / det, (eq * dd - dq * de) / det, ok


def local_members(bits: Array) -> Array:
    """Return (n, r) int16 of (n,) uint32 bit sets: the numbers of their bits, rising, -1 beyond the last.

    >>> local_members(np.array([0b101, 0b10], np.uint32)).tolist()
    [[0, 2], [1, -1]]
    """
    sets, place = np.unique(bits, return_inverse=True)
    present = (sets[:, None] >> np.arange(32, dtype=np.uint32) & 1).astype(bool)
    width = int(present.sum(1).max(initial=0))
    order = np.argsort(~present, axis=1, kind="stable")[:, :width].astype(np.int16)
    order[np.arange(width) >= present.sum(1)[:, None]] = -1
    return np.asarray(order[place])
