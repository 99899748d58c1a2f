"""Inks used only in lines too thin to have a solid pixel block: found in what the other inks cannot explain.

In: the picture, the solved shares, the members. Out: one more :class:`~sepkit.separation.palette.Member`, or None.
A colour that known members mix to is never one: a half-covered line of one of them looks just the same.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from sepkit.coverage.channels import pack
from sepkit.separation import tuned_colours as tuned
from sepkit.separation.palette import MAX_MEMBERS, Member, de00_to, noisy_members, unpack
from sepkit.separation.unmix import Metric, blend_levels, vectors, weights

if TYPE_CHECKING:
    from sepkit.model import U8
    from sepkit.separation.picture import Picture
    from sepkit.separation.shares import Members, Solved
    from sepkit.separation.unmix import Space

Array = np.ndarray[Any, np.dtype[Any]]

CANDIDATES = 24  # colours of each kind that are tried
SAMPLE = 3000  # most colours that candidates are held against
WINDOW_SAMPLES = 8000  # windows that a colour is refined from at most
STRIP_ROWS = 48  # of which all but the outer window radius are asked
STRIP_PIXELS = 15_000  # mixed pixels in the strips together, enough to settle a colour


def thin_member(picture: Picture, solved: Solved, *, skip: Array | None = None) -> Member | None:
    """Return the colour that most unexplained pixels outside ``skip`` carry, if they add up to an ink."""
    members, shares = solved.members, solved.shares
    if len(members) >= MAX_MEMBERS:
        return None
    art = tuned.of_art(picture.kind.noisy)
    cost = shares.cost()
    bad = (cost > (art.unexplained_levels / art.noise_levels) ** 2) & (picture.alpha.ravel()[shares.at] == 255)
    if skip is not None:
        bad &= ~skip.ravel()[shares.at]
    if not bad.any():
        return None
    colours = picture.rgb.reshape(-1, 3)[shares.at[bad]]
    floor_px = max(art.floor_mm2 / picture.pixel_mm2, art.thin_floor_px)
    if picture.kind.noisy:
        return _noisy_member(colours, cost[bad], members, floor_px)
    return _clean_member(colours, members, shares.space, floor_px)


def _clean_member(bad: U8, members: Members, space: Space, floor_px: float) -> Member | None:
    """Return the colour that, mixed with known ones, explains most bad pixels: seldom the commonest, often the end."""
    art = tuned.CLEAN
    keys, counts = np.unique(pack(bad), return_counts=True)
    order = np.argsort(-counts, kind="stable")[:SAMPLE]
    keys, counts = keys[order], counts[order]
    colours, known = unpack(keys), members.opaque
    off = _blend(colours, known)
    often = np.flatnonzero((counts >= floor_px) & (off > art.blend_levels))[:CANDIDATES]
    seen = np.flatnonzero(counts >= tuned.FLATS.least_seen_px)
    tips = seen[np.argsort(-off[seen], kind="stable")][:CANDIDATES]
    ends = [
        n
        for n in dict.fromkeys([*often.tolist(), *tips.tolist()])
        if off[n] > art.blend_levels and _is_new(colours[n], members, art.part_merge_de00)
    ]
    if not ends:
        return None
    explained = np.array(
        [counts[_on_the_way(colours, colours[n], known, space) <= art.blend_levels].sum() for n in ends]
    )
    if explained.max() < floor_px:
        return None
    nearly = np.flatnonzero(explained >= explained.max() * tuned.THIN_INKS.nearly_most_share)
    best = max((ends[n] for n in nearly), key=lambda n: int(counts[n]))
    r, g, b = (int(v) for v in colours[best])
    return Member((r, g, b), int(counts[best]), (int(keys[best]),))


def _on_the_way(colours: U8, end: U8, known: U8, space: Space) -> Array:
    """Return (n,) levels of colours off the nearest mix of ``end`` with one of ``known``."""
    solid = np.full(1, 255, np.uint8)
    p, e = vectors(colours, np.full(len(colours), 255, np.uint8), space), vectors(end[None], solid, space)
    weight = weights(colours, np.full(len(colours), 255, np.uint8), Metric(space, 1.0))
    least = (((p - e) * weight) ** 2).sum(1)
    for one in known:
        d = (e - vectors(one[None], solid, space)) * weight
        q = (e - p) * weight
        t = np.clip((d * q).sum(1) / np.maximum((d * d).sum(1), 1e-9), 0, 1)
        least = np.minimum(least, ((q - t[:, None] * d) ** 2).sum(1))
    return np.asarray(np.sqrt(least))


def mixed_after_all(members: list[Member], first: int, made_of: Members) -> int | None:
    """Return the place of a thin clean member, from ``first`` on, that others mix to: a crossing, a half line."""
    opaque = np.flatnonzero(made_of.alpha == 255)
    for n in range(first, len(members)):
        if _blend(made_of.rgb[n : n + 1], made_of.rgb[opaque[opaque != n]])[0] <= tuned.CLEAN.blend_levels:
            return n
    return None


def _blend(colours: U8, known: U8) -> Array:
    """Levels off the nearest mix in either space: which one the art has is not sure before all its inks are known."""
    return np.minimum(blend_levels(colours, known, "encoded"), blend_levels(colours, known, "linear"))


def _noisy_member(colours: U8, cost: Array, members: Members, floor_px: float) -> Member | None:
    art, thin = tuned.NOISY, tuned.THIN_INKS
    keys, counts = np.unique(pack(colours), return_counts=True)
    for mode in noisy_members(keys, counts, floor_px=floor_px)[:CANDIDATES]:
        close = ((colours.astype(np.float32) - np.array(mode.rgb, np.float32)) ** 2).sum(1) <= thin.tip_levels**2
        tip = close & (cost >= np.percentile(cost[close], thin.tip_percentile))
        one = np.median(colours[tip], axis=0).astype(np.uint8)
        off = blend_levels(one[None], members.opaque, "encoded", chroma_weight=art.chroma_weight)[0]
        if off > art.blend_levels and _is_new(one, members, art.part_merge_de00):
            r, g, b = (int(v) for v in one)
            near = ((colours.astype(np.float32) - one) ** 2).sum(1) <= tuned.FLATS.line_peel_levels**2
            return Member((r, g, b), int(near.sum()))
    return None


def sample_strips(height: int, mixed: int) -> Array:
    """Return (height,) bool: all rows, or evenly spaced strips of them where ``mixed`` pixels are many."""
    every = max(1, mixed // STRIP_PIXELS)
    return np.asarray(np.arange(height) // STRIP_ROWS % every == every // 2)


def refine_colour(rgb: U8, solved: Solved, number: int, *, strips: Array | None = None) -> Array:
    """Return the (3,) colour of noisy member ``number`` that best restores window sums around its lines.

    Compression moves colour between neighbours but hardly changes the sum over a window: with the shares known, the
    sums of the picture less those of the other members are the sums of this one. strips: rows where they are known.
    """
    shares, members = solved.shares, solved.members
    radius = tuned.THIN_INKS.window_radius_px
    at = shares.at[shares.of(number) >= tuned.THIN_INKS.solid_share]
    height, width = solved.label.shape
    if strips is not None:
        known = np.convolve(strips, np.ones(2 * radius + 1), "same") > 2 * radius
        at = at[known[at // width]]
    at = at[:: max(1, at.size // WINDOW_SAMPLES)]
    if not at.size:
        return np.asarray(members.rgb[number])
    y, x = at // width, at % width
    spread = np.arange(-radius, radius + 1)
    inside = (y >= radius) & (y < height - radius) & (x >= radius) & (x < width - radius)
    window = (at[inside, None] + (spread[:, None] * width + spread).ravel()).ravel()
    picture = rgb.reshape(-1, 3)[window].reshape(inside.sum(), -1, 3).astype(np.float64).sum(axis=1)
    held = _held(window, solved).reshape(inside.sum(), -1, len(members)).sum(axis=1)
    mine = held[:, number].copy()
    held[:, number] = 0
    rest = picture - held @ members.rgb.astype(np.float64)
    if (mine * mine).sum() < 1:
        return np.asarray(members.rgb[number])
    colour = (mine[:, None] * rest).sum(axis=0) / (mine * mine).sum()
    return np.asarray(np.rint(np.clip(colour, 0, 255)).astype(np.uint8))


def worth_keeping(solved: Solved, number: int) -> bool:
    """Tell whether a refined noisy member still differs from the others and covers an area worth a screen."""
    members, shares = solved.members, solved.shares
    if not _is_new(members.rgb[number], members.without(number), tuned.NOISY.part_merge_de00):
        return False
    solid = np.count_nonzero(shares.core & (solved.label == number))
    return bool(float(shares.of(number).sum()) + solid >= tuned.NOISY.thin_floor_px)


def _held(at: Array, solved: Solved) -> Array:
    """(n, m) shares of every member at flat indices ``at``."""
    shares = solved.shares
    out = np.zeros((len(at), len(solved.members)), np.float64)
    core = shares.core.ravel()[at]
    out[np.flatnonzero(core), solved.label.ravel()[at[core]]] = 1
    order = np.argsort(shares.at, kind="stable")
    place = np.minimum(np.searchsorted(shares.at, at, sorter=order), len(order) - 1)
    solved_too = ~core & (shares.at[order[place]] == at)
    key = shares.key[order[place[solved_too]]]
    for slot in range(3):
        who = shares.mixture.member[key, slot]
        out[np.flatnonzero(solved_too)[who >= 0], who[who >= 0]] += shares.mixture.share[key[who >= 0], slot]
    return out


def _is_new(colour: Array, members: Members, least: float) -> bool:
    opaque = members.opaque
    return not len(opaque) or bool(de00_to(opaque, colour).min() >= least)
