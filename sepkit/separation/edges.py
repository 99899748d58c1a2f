"""Mixed pixels of a labelled picture: each unlike (colour, alpha, neighbours) is solved once, then spread back.

In: picture, labels, member colours. Out: :class:`~.shares.Shares`: for each pixel that is no core, up to three members
and how much of the pixel each covers, with the cost of that explanation.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np

from sepkit.coverage.channels import pixels_at
from sepkit.separation import tuned_mixing as tuned
from sepkit.separation.between import Marked, Middle, clear_false_bodies, forbidden, middles
from sepkit.separation.cores import NONE, around, cores, deep_neighbours, gather, neighbours, solid_labels
from sepkit.separation.shares import Keys, Members, Pixels, Shares, grouped, joined, solve_keys
from sepkit.separation.straight import roughness
from sepkit.separation.thin_lines import lines_through
from sepkit.separation.tuned_colours import Art, of_art
from sepkit.separation.unmix import Masks, Metric, Mixture, Space, solve_pairs, thin_fits

Array = np.ndarray[Any, np.dtype[Any]]

SPACE_MOST_PIXELS = 60_000  # two-colour pixels asked for the blend space, of more every so many


@dataclass(frozen=True, slots=True, eq=False)
class _Labelled:
    """A picture with the (h, w) labels of its members and the (h, w) bool cores, which grow by thin lines."""

    pixels: Pixels
    label: Array
    core: Array
    solid: Array
    """(h, w) uint8: the labels of cores, NONE elsewhere."""

    @staticmethod
    def of(pixels: Pixels, label: Array, core: Array) -> _Labelled:
        """Return it for these labels and cores."""
        return _Labelled(pixels, label, core, solid_labels(label, core))

    def add_cores(self, at: Array) -> None:
        """Count labelled pixels as cores, in place."""
        self.core.ravel()[at] = True
        self.solid.ravel()[at] = self.label.ravel()[at]

    def keys(self, at: Array, *, radii: tuple[int, int, int], region: bool) -> Keys:
        """Return the keys of pixels ``at``: radii to cores that share one freely, at a price, when none is nearer.

        region: whether hairlines of members in the region may run there too.
        """
        near, reach = neighbours(self.solid, at, radii=radii[:2])
        lonely = np.flatnonzero(reach == 0)
        if lonely.size:
            reach[lonely] = neighbours(self.solid, at[lonely], radii=radii[2:])[0]
        wide = around(self.solid, at) if region else np.zeros_like(near)
        return self.pixels.keys_at(at, Masks(near, reach, wide))


def _radii(art: Art) -> tuple[int, int, int]:
    return art.near_px, art.reach_px, art.far_px


def solve_edges(pixels: Pixels, label: Array, members: Members, *, noisy: bool, skip: Array | None = None) -> Shares:
    """Solve every pixel that is no core of a member (and not in ``skip``)."""
    art = of_art(noisy)
    marked = _Labelled.of(pixels, label, cores(label))
    at = np.flatnonzero(~(marked.core if skip is None else marked.core | skip))
    space: Space | None = "encoded"
    if not noisy:
        space = blend_space(pixels, label, members, at)
        block = marked.core.copy()
        at = _add_thin_cores(marked, at, members, Metric.of(art, space or "encoded"))
        if found := middles(members, space or "encoded"):
            return _solved_apart(marked, at, members, (block, found), space or "encoded")
    keys = marked.keys(at, radii=_radii(art), region=True)
    if space is not None:
        return _solved(keys, at, marked.core, members, Metric.of(art, space))
    encoded = _solved(keys, at, marked.core, members, Metric.of(art, "encoded"))
    if len(members.opaque) < 2:
        return encoded
    linear = _solved(keys, at, marked.core, members, Metric.of(art, "linear"))
    (rough, places), (other, _) = roughness(encoded, label, members), roughness(linear, label, members)
    straighter = places >= tuned.BLEND.least_places and other < tuned.BLEND.straighter * rough
    return linear if straighter else encoded


def _solved_apart(
    marked: _Labelled, at: Array, members: Members, between: tuple[Array, tuple[Middle, ...]], space: Space
) -> Shares:
    """Solve clean art some of whose members others mix to: each pixel without those that its place rules out."""
    block, found = between
    scene = Marked(marked.pixels, members, space, marked.label, marked.core)
    at = np.sort(np.concatenate([at, clear_false_bodies(scene, block, found)]))
    cannot = forbidden(scene, at, found)
    art, parts = of_art(noisy=False), list[Shares]()
    for bits in np.unique(cannot) if at.size else np.zeros(1, np.uint32):
        kept = np.flatnonzero(bits >> np.arange(len(members), dtype=np.uint32) & 1 == 0)
        number = np.full(256, NONE, np.uint8)
        number[kept] = np.arange(len(kept))
        label = number[marked.label]
        some = at[cannot == bits]
        fewer = Members(members.rgb[kept], members.alpha[kept])
        part = _Labelled.of(marked.pixels, label, marked.core & (label != NONE))
        keys = part.keys(some, radii=_radii(art), region=True)
        solved = _solved(keys, some, part.core, fewer, Metric.of(art, space))
        parts.append(solved.renumbered(kept))
    return joined(parts, space, marked.core)


def _solved(keys: Keys, at: Array, core: Array, members: Members, metric: Metric) -> Shares:
    shares = Shares(at, keys.of_pixel, solve_keys(keys, members, metric), metric.space, core)
    shares, keys = _on_thin_lines(shares, keys, members, metric)
    for _ in range(tuned.LINES.hairline_steps):
        shares, keys = _beside_hairlines(shares, keys, members, metric)
    return shares


def _on_thin_lines(shares: Shares, keys: Keys, members: Members, metric: Metric) -> tuple[Shares, Keys]:
    """Solve pixels again with the members whose lines run through or beside them, though no core of those is near."""
    todo = np.flatnonzero(shares.cost() >= tuned.ODDS.loose_bleed)
    if not todo.size:
        return shares, keys
    own, place = np.unique(shares.key[todo], return_inverse=True)
    masks, least = keys.masks.of(own), tuned.LINES.least_share
    pixels = (keys.rgb[own], keys.alpha[own])
    fits = thin_fits(pixels, (members.rgb, members.alpha), masks, metric=metric, least=least)
    line = np.zeros(len(shares.at), np.uint32)
    line[todo] = lines_through(
        shares.at[todo], place, shares.mixture.cost[own], fits, masks.around, width=shares.core.shape[1]
    )
    for _ in range(tuned.LINES.steps):
        todo = np.flatnonzero(shares.cost() > tuned.LINES.cost)
        todo, more = _fresh(shares, keys, todo, line)
        if not todo.size:
            break
        own, masks = shares.key[todo], keys.masks
        wider = Masks(masks.near[own] | more, masks.reach[own], masks.around[own])
        shares, keys = _again(shares, keys, todo, wider, members, metric)
        held = np.zeros(len(line), np.uint32)
        held[todo] = _held(shares.mixture, least)[shares.key[todo]] & more
        line |= held
    return shares, keys


def _beside_hairlines(shares: Shares, keys: Keys, members: Members, metric: Metric) -> tuple[Shares, Keys]:
    """Solve badly explained pixels again with the members that their solved neighbours turned out to hold."""
    held = _held(shares.mixture, tuned.ODDS.hairline_share)[shares.key]
    todo, beside = _fresh(shares, keys, np.flatnonzero(shares.cost() > tuned.ODDS.good), held)
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
    return Shares(shares.at, key, mixture.joined(more), shares.space, shares.core), keys.joined(again)


def blend_space(pixels: Pixels, label: Array, members: Members, at: Array) -> Space | None:
    """Return the space in which mixed pixels of two opaque members fit best and cover half a pixel on average.

    Renderers mostly blend encoded values, downsampled art is mostly blended in linear light. In the wrong space
    two-colour edges leave residuals where the colours are not in line, and their mean coverage is off one half.
    Only pixels between deep areas are asked: beside a thin line coverage is less than half in either space. None when
    there are too few.
    """
    opaque = [1 << int(k) for k in np.flatnonzero(members.alpha == 255)]
    pairs = np.array([a | b for n, a in enumerate(opaque) for b in opaque[n + 1 :]], np.uint32)
    at = at[pixels.alpha.ravel()[at] == 255]
    at = at[:: max(1, at.size // SPACE_MOST_PIXELS)]
    near = deep_neighbours(label, at, radius=tuned.BLEND.deep_px)
    two = np.isin(near, pairs)
    at, near = at[two], near[two]
    if at.size < tuned.BLEND.least_pixels:
        return None
    asked = (pixels_at(pixels.rgb, at), pixels.alpha.ravel()[at])
    spaces: tuple[Space, Space] = ("encoded", "linear")
    art, colours = of_art(noisy=False), (members.rgb, members.alpha)
    tried = [solve_pairs(asked, colours, near, metric=Metric.of(art, s)) for s in spaces]
    explained = np.minimum(tried[0].cost, tried[1].cost) < tuned.ODDS.bad
    masks, group = np.unique(near, return_inverse=True)
    share = np.bincount(group, explained, len(masks)) / np.bincount(group, minlength=len(masks))
    explained &= share[group] > tuned.BLEND.least_share
    if explained.sum() < tuned.BLEND.least_pixels:
        return None
    score = [_misfit(mixture, explained, members) for mixture in tried]
    return spaces[int(np.argmin(score))]


def _misfit(mixture: Mixture, explained: Array, members: Members) -> float:
    """Return the mean cost of pixels of two colours, and what it costs that their mean coverage is off one half."""
    blend = tuned.BLEND
    light = members.rgb.astype(np.float32).sum(1)
    first, second = mixture.member[:, 0], mixture.member[:, 1]
    lighter = np.where(light[second] > light[first], mixture.share[:, 1], mixture.share[:, 0])
    mixed = explained & (second >= 0) & (lighter > blend.mixed_share) & (lighter < 1 - blend.mixed_share)
    lean = float(lighter[mixed].mean()) - 0.5 if mixed.any() else 0.0
    return float(np.minimum(mixture.cost[explained], tuned.ODDS.bad).mean()) + blend.lean_cost * lean**2


def _add_thin_cores(marked: _Labelled, at: Array, members: Members, metric: Metric) -> Array:
    """Count pixels of exactly a member's colour as cores when no solid neighbours explain them: thin lines.

    Sets the cores in place and returns the other flat indices of ``at``.
    """
    own = marked.label.ravel()[at]
    exact = np.flatnonzero(own != NONE)
    if not exact.size:
        return at
    keys = marked.keys(at[exact], radii=_radii(of_art(noisy=False)), region=False)
    mixture = solve_keys(keys, members, metric, rare="none")
    key = keys.of_pixel
    alone = (mixture.member[key, 0] == own[exact]) & (mixture.member[key, 1] < 0)
    thin = exact[alone | (mixture.cost[key] > tuned.ODDS.good)]
    marked.add_cores(at[thin])
    return np.delete(at, thin)
