"""Mixed pixels of a labelled picture: each unlike (colour, alpha, neighbours) is solved once, then spread back.

In: picture, labels, member colours. Out: :class:`Shares`: for each pixel that is no core, up to three members and
how much of the pixel each covers, with the cost of that explanation.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from sepkit.separation.cores import NONE, around, cores, deep, gather, neighbours
from sepkit.separation.palette import pack, unpack
from sepkit.separation.straight import LEAST_PLACES, roughness
from sepkit.separation.thin_lines import THIN_SHARE, lines_through
from sepkit.separation.unmix import (
    BAD,
    COST_LOOSE_BLEED,
    GOOD,
    HAIRLINE_SHARE,
    Masks,
    Metric,
    Mixture,
    Space,
    solve,
    solve_pairs,
    thin_fits,
)

if TYPE_CHECKING:
    from sepkit.model import U8

Array = np.ndarray[Any, np.dtype[Any]]

CLEAN_NOISE = 1.5  # 8-bit levels: rounding of colour, alpha and premultiplication
JPEG_NOISE = 6.0
JPEG_CHROMA = 0.6  # weight of chroma against luma: 4:2:0 carries a quarter of it
SPACE_LEAST_PIXELS = 40  # fewer two-colour pixels than this say nothing: encoded, as renderers do
SPACE_MOST_PIXELS = 60_000
SPACE_LEAST_SHARE = 0.7
DEEP_RADIUS = 3  # px from a mixed pixel to 3x3 solid areas of both its colours
SPACE_LEAN = 300.0  # cost of mean coverage off one half, squared: 0.1 off weighs as two levels of residual
HAIRLINE_STEPS = 2
LINE_STEPS = 3
LINE_COST = 1.0  # beside a line, pixels explained worse than this are solved with it
STRAIGHTER = 0.9  # linear light must make edges this much straighter to be believed
CLEAN_RADII = (1, 2, 4)  # px to cores that share a pixel freely, at a price, and when there are none nearer
NOISY_RADII = (2, 3, 6)  # compression makes edges two pixels wider


@dataclass(frozen=True, slots=True, eq=False)
class Members:
    """Colours that pixels are made of: (m, 3) uint8 sRGB and (m,) uint8 alpha, transparent last where there is one."""

    rgb: U8
    alpha: U8

    def __len__(self) -> int:
        return len(self.alpha)


@dataclass(frozen=True, slots=True, eq=False)
class Shares:
    """Solved pixels: flat indices ``at`` (n,), the key of each (n,), and a mixture per key."""

    at: Array
    key: Array
    mixture: Mixture
    space: Space
    core: Array
    """(h, w) bool: pixels that need no solving, their label stands."""

    def cost(self) -> Array:
        """(n,) cost of each solved pixel's explanation."""
        return np.asarray(self.mixture.cost[self.key])


@dataclass(slots=True)
class Keys:
    """Unlike (colour, alpha, neighbours) and, per pixel, which of them it is."""

    rgb: U8
    alpha: U8
    masks: Masks
    of_pixel: Array

    def joined(self, more: Keys) -> Keys:
        """Return both, those of ``more`` after these; ``of_pixel`` stays as it was."""
        a, b = self.masks, more.masks
        pairs = ((a.near, b.near), (a.reach, b.reach), (a.around, b.around))
        return Keys(
            np.concatenate([self.rgb, more.rgb]),
            np.concatenate([self.alpha, more.alpha]),
            Masks(*(np.concatenate(p) for p in pairs)),
            self.of_pixel,
        )


def solve_edges(
    rgb: U8, alpha: U8, label: Array, members: Members, *, noisy: bool, skip: Array | None = None
) -> Shares:
    """Solve every pixel that is no core of a member (and not in ``skip``)."""
    core = cores(label)
    radii = NOISY_RADII if noisy else CLEAN_RADII
    skip = np.zeros(core.shape, bool) if skip is None else skip
    at = np.flatnonzero(~(core | skip))
    if noisy:
        keys = _keys(rgb, alpha, label, core, at, radii=radii, region=True)
        return _solved(keys, at, core, members, Metric("encoded", JPEG_NOISE, JPEG_CHROMA))
    space = blend_space(rgb, alpha, label, members, at)
    at = _add_thin_cores(rgb, alpha, core, at, label, members, Metric(space or "encoded", CLEAN_NOISE))
    keys = _keys(rgb, alpha, label, core, at, radii=radii, region=True)
    if space is not None:
        return _solved(keys, at, core, members, Metric(space, CLEAN_NOISE))
    encoded = _solved(keys, at, core, members, Metric("encoded", CLEAN_NOISE))
    if np.count_nonzero(members.alpha == 255) < 2:
        return encoded
    linear = _solved(keys, at, core, members, Metric("linear", CLEAN_NOISE))
    (rough, places), (other, _) = roughness(encoded, label, members), roughness(linear, label, members)
    return linear if places >= LEAST_PLACES and other < STRAIGHTER * rough else encoded


def _solved(keys: Keys, at: Array, core: Array, members: Members, metric: Metric) -> Shares:
    shares = Shares(at, keys.of_pixel, solve_keys(keys, members, metric), metric.space, core)
    shares, keys = _on_thin_lines(shares, keys, members, metric)
    for _ in range(HAIRLINE_STEPS):
        shares, keys = _beside_hairlines(shares, keys, members, metric)
    return shares


def _on_thin_lines(shares: Shares, keys: Keys, members: Members, metric: Metric) -> tuple[Shares, Keys]:
    """Solve pixels again with the members whose lines run through or beside them, though no core of those is near."""
    todo = np.flatnonzero(shares.cost() >= COST_LOOSE_BLEED)
    if not todo.size:
        return shares, keys
    own, place = np.unique(shares.key[todo], return_inverse=True)
    masks = Masks(keys.masks.near[own], keys.masks.reach[own], keys.masks.around[own])
    pixels = (keys.rgb[own], keys.alpha[own])
    fits = thin_fits(pixels, (members.rgb, members.alpha), masks, metric=metric, least=THIN_SHARE)
    line = np.zeros(len(shares.at), np.uint32)
    line[todo] = lines_through(
        shares.at[todo], place, shares.mixture.cost[own], fits, masks.around, width=shares.core.shape[1]
    )
    for _ in range(LINE_STEPS):
        todo = np.flatnonzero(shares.cost() > LINE_COST)
        todo, more = _fresh(shares, keys, todo, line)
        if not todo.size:
            break
        own, masks = shares.key[todo], keys.masks
        wider = Masks(masks.near[own] | more, masks.reach[own], masks.around[own])
        shares, keys = _again(shares, keys, todo, wider, members, metric)
        held = np.zeros(len(line), np.uint32)
        held[todo] = _held(shares.mixture, THIN_SHARE)[shares.key[todo]] & more
        line |= held
    return shares, keys


def _beside_hairlines(shares: Shares, keys: Keys, members: Members, metric: Metric) -> tuple[Shares, Keys]:
    """Solve badly explained pixels again with the members that their solved neighbours turned out to hold."""
    held = _held(shares.mixture, HAIRLINE_SHARE)[shares.key]
    todo, beside = _fresh(shares, keys, np.flatnonzero(shares.cost() > GOOD), held)
    if not todo.size:
        return shares, keys
    own, masks = shares.key[todo], keys.masks
    wider = Masks(masks.near[own], masks.reach[own] | beside, masks.around[own])
    return _again(shares, keys, todo, wider, members, metric)


def _held(mixture: Mixture, least: float) -> Array:
    """(n,) uint32: bit k where member k covers at least ``least``."""
    bits = np.uint32(1) << np.maximum(mixture.member, 0).astype(np.uint32)
    held = np.where((mixture.share >= least) & (mixture.member >= 0), bits, np.uint32(0))
    return np.asarray(np.bitwise_or.reduce(held, axis=1))


def _fresh(shares: Shares, keys: Keys, todo: Array, bits: Array) -> tuple[Array, Array]:
    """Return those of the pixels ``todo`` with ``bits`` (one per solved pixel) on or beside them that they lack."""
    none = todo[:0], bits[:0]
    sets, place = np.unique(bits, return_inverse=True)
    if len(sets) > NONE or not todo.size or not sets.any():
        return none
    plane = np.full(shares.core.shape, NONE, np.uint8)
    plane.ravel()[shares.at] = place
    table = np.zeros(256, np.uint32)
    table[: len(sets)] = sets
    beside = gather(plane, shares.at[todo], table, radius=1)
    own, masks = shares.key[todo], keys.masks
    fresh = beside & ~(masks.near[own] | masks.reach[own]) != 0
    return todo[fresh], beside[fresh]


def _again(
    shares: Shares, keys: Keys, todo: Array, wider: Masks, members: Members, metric: Metric
) -> tuple[Shares, Keys]:
    """Solve the pixels ``todo`` with wider masks and keep what is cheaper than before."""
    own, mixture = shares.key[todo], shares.mixture
    again = grouped(keys.rgb[own], keys.alpha[own], wider)
    more = solve_keys(again, members, metric)
    better = more.cost[again.of_pixel] < mixture.cost[own]
    key = shares.key.copy()
    key[todo[better]] = again.of_pixel[better] + len(mixture.cost)
    joined = Mixture(
        np.concatenate([mixture.member, more.member]),
        np.concatenate([mixture.share, more.share]),
        np.concatenate([mixture.cost, more.cost]),
    )
    return Shares(shares.at, key, joined, shares.space, shares.core), keys.joined(again)


def blend_space(rgb: U8, alpha: U8, label: Array, members: Members, at: Array) -> Space | None:
    """Return the space in which mixed pixels of two opaque members fit best and cover half a pixel on average.

    Renderers mostly blend encoded values, downsampled art is mostly blended in linear light. In the wrong space
    two-colour edges leave residuals where the colours are not in line, and their mean coverage is off one half.
    Only pixels between deep areas are asked: beside a thin line coverage is less than half in either space. None when
    there are too few.
    """
    opaque = [1 << int(k) for k in np.flatnonzero(members.alpha == 255)]
    pairs = np.array([a | b for n, a in enumerate(opaque) for b in opaque[n + 1 :]], np.uint32)
    at = at[alpha.ravel()[at] == 255]
    at = at[:: max(1, at.size // SPACE_MOST_PIXELS)]
    near = neighbours(label, deep(label), at, radii=(DEEP_RADIUS,))[0]
    two = np.isin(near, pairs)
    at, near = at[two], near[two]
    if at.size < SPACE_LEAST_PIXELS:
        return None
    pixels = (rgb.reshape(-1, 3)[at], alpha.ravel()[at])
    light = members.rgb.astype(np.float32).sum(1)
    spaces: tuple[Space, Space] = ("encoded", "linear")
    tried = [solve_pairs(pixels, (members.rgb, members.alpha), near, metric=Metric(s, CLEAN_NOISE)) for s in spaces]
    explained = np.minimum(tried[0].cost, tried[1].cost) < BAD
    masks, group = np.unique(near, return_inverse=True)
    share = np.bincount(group, explained, len(masks)) / np.bincount(group, minlength=len(masks))
    explained &= share[group] > SPACE_LEAST_SHARE  # else a line of a third colour runs between the two
    if explained.sum() < SPACE_LEAST_PIXELS:
        return None
    score = []
    for mixture in tried:
        first, second = mixture.member[:, 0], mixture.member[:, 1]
        lighter = np.where(light[second] > light[first], mixture.share[:, 1], mixture.share[:, 0])
        mixed = explained & (second >= 0) & (lighter > 0.02) & (lighter < 0.98)
        lean = float(lighter[mixed].mean()) - 0.5 if mixed.any() else 0.0
        score.append(float(np.minimum(mixture.cost[explained], BAD).mean()) + SPACE_LEAN * lean**2)
    return spaces[int(np.argmin(score))]


def _add_thin_cores(
    rgb: U8, alpha: U8, core: Array, at: Array, label: Array, members: Members, metric: Metric
) -> Array:
    """Count pixels of exactly a member's colour as cores when no solid neighbours explain them: thin lines.

    Sets ``core`` in place and returns the other flat indices of ``at``.
    """
    own = label.ravel()[at]
    exact = np.flatnonzero(own != NONE)
    if not exact.size:
        return at
    keys = _keys(rgb, alpha, label, core, at[exact], radii=CLEAN_RADII, region=False)
    mixture = solve_keys(keys, members, metric, rare=False)
    key = keys.of_pixel
    alone = (mixture.member[key, 0] == own[exact]) & (mixture.member[key, 1] < 0)
    thin = exact[alone | (mixture.cost[key] > GOOD)]
    core.ravel()[at[thin]] = True
    return np.delete(at, thin)


def solve_keys(keys: Keys, members: Members, metric: Metric, *, rare: bool = True) -> Mixture:
    """Return a mixture per key."""
    pixels, colours = (keys.rgb, keys.alpha), (members.rgb, members.alpha)
    return solve(pixels, colours, keys.masks, metric=metric, rare=rare)


def _keys(
    rgb: U8, alpha: U8, label: Array, core: Array, at: Array, *, radii: tuple[int, int, int], region: bool
) -> Keys:
    near, reach = neighbours(label, core, at, radii=radii[:2])
    lonely = np.flatnonzero(reach == 0)
    if lonely.size:
        reach[lonely] = neighbours(label, core, at[lonely], radii=radii[2:])[0]
    wide = around(label, core, at) if region else np.zeros_like(near)
    return grouped(rgb.reshape(-1, 3)[at], alpha.ravel()[at], Masks(near, reach, wide))


def grouped(rgb: U8, alpha: U8, masks: Masks) -> Keys:
    """Return the unlike keys of n pixels."""
    colour = pack(rgb).astype(np.uint64) | alpha.astype(np.uint64) << np.uint64(24)
    wide = np.uint64(32)
    pairs, pair_of = np.unique(masks.near.astype(np.uint64) << wide | masks.reach, return_inverse=True)
    sets, set_of = np.unique(pair_of.astype(np.uint64) << wide | masks.around, return_inverse=True)
    full, of_pixel = np.unique(colour | set_of.astype(np.uint64) << wide, return_inverse=True)
    chosen = sets[(full >> wide).astype(np.int64)]
    pair = pairs[(chosen >> wide).astype(np.int64)]
    low = np.uint64(0xFFFFFFFF)
    return Keys(
        unpack(full & np.uint64(0xFFFFFF)),
        (full >> np.uint64(24) & np.uint64(255)).astype(np.uint8),
        Masks((pair >> wide).astype(np.uint32), (pair & low).astype(np.uint32), (chosen & low).astype(np.uint32)),
        of_pixel,
    )
