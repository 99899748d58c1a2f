"""From known colours to coverage: who shares each mixed pixel.

In: pixel vectors, the colours that may share them (members), and which members have solid areas nearby.
Out: up to three members and their shares per pixel. A mixed pixel of flat art is geometry: the area shares of the
shapes that meet there, so it is solved for the members near it, in the space the art was antialiased in. Transparent
is a member like any other (premultiplied colour 0, alpha 0), so edges on a transparent ground need no special case.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import combinations, permutations
from typing import TYPE_CHECKING, Any, Literal

import numpy as np

from sepkit.colorimetry.srgb import linear_table
from sepkit.separation import tuned_mixing as tuned
from sepkit.separation.fits import Fits, Local, Target

if TYPE_CHECKING:
    from sepkit.model import F32
    from sepkit.separation.tuned_colours import Art

Array = np.ndarray[Any, np.dtype[Any]]
Space = Literal["encoded", "linear"]
Rare = Literal["none", "bleeds", "all"]
"""Which rarer events may explain a pixel: none, buried fills, or members without a body nearby as well."""

MOST_LOCAL = 6  # members tried in threes per pixel, the best in pairs
MOST_RARE_LOCAL = 4  # and with rarer events
MOST_RARE_FITS = 400_000_000  # pixels times members: art that asks more is no flat art, and rare events are left out
CHUNK = 1 << 16  # pixels times members fitted at once: small for the cache, and for matrix products in one thread


@dataclass(frozen=True, slots=True)
class Metric:
    """How far apart two pixel vectors are: blend space, noise in 8-bit levels, weight of chroma against luma."""

    space: Space
    noise_levels: float
    chroma_weight: float = 1.0

    @classmethod
    def of(cls, art: Art, space: Space) -> Metric:
        """Return the metric of clean or of noisy art."""
        return cls(space, art.noise_levels, art.chroma_weight)


@dataclass(slots=True)
class Masks:
    """Which members may share each pixel, (n,) uint32, bit k for member k.

    near: it has a solid area next to the pixel; reach: a little farther; around: somewhere in the region, so that a
    hairline of it may run here.
    """

    near: Array
    reach: Array
    around: Array

    def of(self, rows: Array) -> Masks:
        """Return those of some rows."""
        return Masks(self.near[rows], self.reach[rows], self.around[rows])

    def joined(self, more: Masks) -> Masks:
        """Return both, those of ``more`` after these."""
        return Masks(
            np.concatenate([self.near, more.near]),
            np.concatenate([self.reach, more.reach]),
            np.concatenate([self.around, more.around]),
        )


@dataclass(slots=True)
class Mixture:
    """Members (n, 3) int16 (-1 = none), their shares (n, 3) float32, and cost (n,) float32 (``tuned_mixing.Odds``)."""

    member: Array
    share: Array
    cost: Array

    def joined(self, more: Mixture) -> Mixture:
        """Return both, those of ``more`` after these."""
        return Mixture(
            np.concatenate([self.member, more.member]),
            np.concatenate([self.share, more.share]),
            np.concatenate([self.cost, more.cost]),
        )


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
    a = np.maximum(alpha.astype(np.float32) / 255, 0.1)  # below, rounding of colour under alpha says nothing
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


def solve(
    pixels: tuple[Array, Array], members: tuple[Array, Array], masks: Masks, *, metric: Metric, rare: Rare = "all"
) -> Mixture:
    """Explain each pixel by at most three members.

    pixels: ((n, 3) uint8 sRGB, (n,) uint8 alpha); members likewise (m <= 32).
    Buried fills: where a shape and its outline end on the same edge, or two shapes abut, a renderer paints
    t top + (1-t)^2 under + t (1-t) buried although the buried colour covers nothing; t : 1 - t is the true share.
    Work is bounded: past the pairs each pixel is tried with the MOST_LOCAL members that pair best, for rare events with
    MOST_RARE_LOCAL of them, and not at all for those where that would take more than MOST_RARE_FITS.
    """
    parts = _parts(pixels, members, masks.near, masks.reach, metric)
    for fits in parts:
        _try_pairs(fits)
        fits.keep_best(MOST_LOCAL)
        _try_triples(fits)
        fits.keep_best(MOST_RARE_LOCAL)
    rare_fits = (
        sum(np.count_nonzero(fits.cost > tuned.ODDS.good) for fits in parts) * len(members[1]) * MOST_RARE_LOCAL**2
    )
    start = 0
    for fits in parts if rare != "none" else ():
        about = masks.around[start : start + len(fits.cost)]
        start += len(fits.cost)
        lost = fits.cost.copy()
        if rare_fits <= MOST_RARE_FITS:
            _try_bleeds(fits)
            _try_loose_bleeds(fits)
            lost = fits.cost.copy()
        if rare == "bleeds":
            continue
        if rare_fits <= MOST_RARE_FITS:
            _try_hairlines(fits, about, lost)
        _try_strangers(fits, about, lost)
    return _joined(parts)


def solve_pairs(pixels: tuple[Array, Array], members: tuple[Array, Array], near: Array, *, metric: Metric) -> Mixture:
    """Explain each pixel by at most two of the members in ``near`` (see :func:`solve`)."""
    parts = _parts(pixels, members, near, near, metric)
    for fits in parts:
        _try_pairs(fits)
    return _joined(parts)


def thin_fits(
    pixels: tuple[Array, Array], members: tuple[Array, Array], masks: Masks, *, metric: Metric, least: float
) -> Array:
    """Return (n, m) float32 cost of each pixel's best explanation with some of member k in it, whether near or not.

    What makes a hairline rare is not in the cost. k covers at least ``least`` of the pixel; where two others share it,
    more than a buried fill can show. Infinite where k is near anyway, and everywhere where this would be too much work.
    """
    count = len(members[1])
    out = np.full((len(masks.near), count), np.inf, np.float32)
    if out.size * MOST_RARE_LOCAL**2 > MOST_RARE_FITS:
        return out
    start = 0
    for fits in _parts(pixels, members, masks.near, masks.reach, metric):
        if fits.local.shape[1] > MOST_RARE_LOCAL:
            _try_pairs(fits)
            fits.keep_best(MOST_RARE_LOCAL)
        every = np.arange(len(fits.cost))
        best = fits.each_single(every)
        for slot in range(fits.local.shape[1]):
            at = fits.places(slot)
            t, r2 = fits.each_pair(at, slot)
            best[:, at] = np.minimum(best[:, at], np.where(t >= least, r2 + fits.price(at, slot), np.inf))
        for slots in combinations(range(fits.local.shape[1]), 2):
            at = fits.places(*slots)
            _, u, r2 = fits.each_triple(at, *slots)
            extra = tuned.ODDS.triple + fits.price(at, *slots)
            best[:, at] = np.minimum(best[:, at], np.where(u >= max(least, tuned.ODDS.bleed_share), r2 + extra, np.inf))
        out[start : start + len(every)] = np.where(fits.far(every), best, np.inf).T
        start += len(every)
    return out


def blend_levels(colours: Array, known: Array, space: Space, *, chroma_weight: float = 1.0) -> Array:
    """Return (n,) how many 8-bit levels (n, 3) colours lie from any mix of one or two of (m, 3) known ones."""
    every = np.full(len(colours), (1 << len(known)) - 1, np.uint32)
    pixels = (colours, np.full(len(colours), 255, np.uint8))
    mixture = solve_pairs(
        pixels, (known, np.full(len(known), 255, np.uint8)), every, metric=Metric(space, 1.0, chroma_weight)
    )
    return np.sqrt(mixture.cost)


def _parts(
    pixels: tuple[Array, Array], members: tuple[Array, Array], near: Array, reach: Array, metric: Metric
) -> list[Fits]:
    """Return the pixels, in parts that fit the cache, with nothing tried yet."""
    rgb, alpha = pixels
    v = vectors(*members, metric.space)
    if metric.chroma_weight != 1:
        v = luma_first(v, metric.chroma_weight)
    parts = []
    for start in range(0, max(1, len(rgb)), step := CHUNK // max(1, len(v))):
        here = slice(start, start + step)
        p = vectors(rgb[here], alpha[here], metric.space)
        if metric.chroma_weight != 1:
            p = luma_first(p, metric.chroma_weight)
        target = Target(p, weights(rgb[here], alpha[here], metric), metric.noise_levels)
        parts.append(Fits(target, v, Local(near[here], reach[here], tuned.ODDS.reach)))
    return parts


def _joined(parts: list[Fits]) -> Mixture:
    return Mixture(
        np.concatenate([fits.member for fits in parts]),
        np.concatenate([fits.share for fits in parts]),
        np.concatenate([fits.cost for fits in parts]),
    )


def _try_pairs(fits: Fits) -> None:
    slots = range(fits.local.shape[1])
    for slot in slots:
        at = fits.places(slot)
        fits.single(slot, at, fits.price(at, slot))
    for two in combinations(slots, 2):
        at = fits.places(*two, above=0)
        if at.size:
            fits.pair(two, at, fits.price(at, *two))


def _try_triples(fits: Fits) -> None:
    for three in combinations(range(fits.local.shape[1]), 3):
        at = fits.places(*three, above=tuned.ODDS.good)
        if at.size:
            fits.triple(three, at, tuned.ODDS.triple + fits.price(at, *three))


def _try_bleeds(fits: Fits) -> None:
    """Try buried fills. Nothing transparent lies on top, and where it is near it is no gap between two shapes."""
    every = np.arange(fits.v.shape[1])[:, None]
    clear = fits.v[3] == 0
    for top, under in permutations(range(fits.local.shape[1]), 2):
        at = fits.places(top, under, above=tuned.ODDS.good)
        at = at[~clear[fits.local[at, top]]]
        if at.size:
            t, r2 = fits.each_bleed(at, top, under)
            a, c = fits.local[at, top], fits.local[at, under]
            r2[(every == a) | (every == c) | (clear[:, None] & ~fits.far(at))] = np.inf
            fits.keep_each(at, r2 + tuned.ODDS.bleed + fits.price(at, top, under), (a, c), (t, 1 - t))


def _try_loose_bleeds(fits: Fits) -> None:
    """Try triples whose buried colour holds a little; its share goes to the colour it lay above."""
    for one, other in combinations(range(fits.local.shape[1]), 2):
        at = fits.places(one, other, above=tuned.ODDS.loose_bleed)
        if not at.size:
            continue
        t, u, r2 = fits.each_triple(at, one, other)
        cost = np.where(fits.far(at) & (u <= tuned.ODDS.bleed_share), r2, np.inf)
        cost += tuned.ODDS.loose_bleed + fits.price(at, one, other)
        w = 1 - t - u
        first_on_top = np.abs(u - w * (1 - w)) < np.abs(u - t * (1 - t))
        shares = np.where(first_on_top, w, w + u), np.where(first_on_top, t + u, t)
        fits.keep_each(at, cost, (fits.local[at, one], fits.local[at, other]), shares)


def _rarity(around: Array, count: int) -> Array:
    """Return (m, n) what it costs that a hairline of each member runs here."""
    known = around >> np.arange(count, dtype=np.uint32)[:, None] & 1 == 1
    odds = tuned.ODDS
    return np.where(known, np.float32(odds.hairline), np.float32(odds.hairline + odds.stranger))


def _try_strangers(fits: Fits, around: Array, start: Array) -> None:
    """Try every member that is not near alone, where the cost was bad to ``start`` with."""
    at = np.flatnonzero(start > tuned.ODDS.bad)
    if at.size:
        cost = np.where(fits.far(at), fits.each_single(at) + _rarity(around[at], fits.v.shape[1]), np.inf)
        fits.keep_each(at, cost, (), (np.ones_like(cost),))


def _try_hairlines(fits: Fits, around: Array, start: Array) -> None:
    """Try one and two local members with every member that is not near, where the cost was bad to ``start`` with."""
    slots, count = range(fits.local.shape[1]), fits.v.shape[1]
    bad = start > tuned.ODDS.bad
    for slot in slots:
        at = fits.places(slot)
        at = at[bad[at]]
        if at.size:
            t, r2 = fits.each_pair(at, slot)
            cost = r2 + _rarity(around[at], count) + fits.price(at, slot)
            cost[(t < tuned.ODDS.hairline_share) | ~fits.far(at)] = np.inf
            fits.keep_each(at, cost, (fits.local[at, slot],), (1 - t, t))
    for one, other in combinations(slots, 2):
        at = fits.places(one, other)
        at = at[bad[at]]
        if at.size:
            t, u, r2 = fits.each_triple(at, one, other)
            cost = r2 + _rarity(around[at], count) + tuned.ODDS.triple + fits.price(at, one, other)
            cost[(u < tuned.ODDS.hairline_share) | ~fits.far(at)] = np.inf
            fits.keep_each(at, cost, (fits.local[at, one], fits.local[at, other]), (1 - t - u, t, u))
