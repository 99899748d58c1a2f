"""Inks used only in lines too thin to have a solid pixel block: found in what the other inks cannot explain.

In: the picture, the solved shares, the members. Out: one more :class:`~sepkit.separation.palette.Member`, or None.
A colour that known members mix to is never one: a half-covered line of one of them looks just the same.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from sepkit.separation.edges import CLEAN_NOISE, JPEG_CHROMA, JPEG_NOISE, Members, Shares
from sepkit.separation.palette import (
    FLOOR_MM2,
    MAX_MEMBERS,
    MERGE_DE00,
    NOISY_BLEND_LEVELS,
    NOISY_FLOOR_MM2,
    NOISY_MERGE_DE00,
    PEEL_LEVELS,
    Member,
    de00_to,
    floor_pixels,
    noisy_members,
    pack,
    unpack,
)
from sepkit.separation.unmix import Metric, blend_levels, vectors, weights

if TYPE_CHECKING:
    from sepkit.model import U8
    from sepkit.separation.unmix import Space

Array = np.ndarray[Any, np.dtype[Any]]

UNEXPLAINED_LEVELS = 12  # off anything the neighbours can mix: too far for a bad antialiaser
BLEND_LEVELS = 5  # within this of a mix of two members a colour is that mix
NOISY_UNEXPLAINED_LEVELS = 36
NOISY_LEAST_PX = 40  # fewer noisy pixels than this agree on a colour by chance
CANDIDATES = 24
SAMPLE = 3000  # most colours that candidates are held against
LEAST_SEEN = 2  # px: a colour seen once may be any accident
NEARLY_MOST = 0.67  # of the colours that explain nearly most, the one seen most is an ink
TIP_LEVELS = 60  # noisy lines are smeared towards their ground: their colour is the far end of this neighbourhood
TIP_PERCENTILE = 85
WINDOW_RADIUS = 4  # px: 9x9 windows, wider than the 16x16 blocks' chroma smear reaches in practice
WINDOW_SAMPLES = 8000
STRIP_ROWS = 48  # of which all but the outer WINDOW_RADIUS are asked
STRIP_PIXELS = 15_000  # mixed pixels in the strips together, enough to settle a colour


def thin_member(
    rgb: U8,
    alpha: U8,
    shares: Shares,
    members: Members,
    *,
    noisy: bool,
    pixel_mm2: float,
    skip: Array | None = None,
) -> Member | None:
    """Return the colour that most unexplained pixels outside ``skip`` carry, if they add up to an ink."""
    if len(members) >= MAX_MEMBERS:
        return None
    noise, levels = (JPEG_NOISE, NOISY_UNEXPLAINED_LEVELS) if noisy else (CLEAN_NOISE, UNEXPLAINED_LEVELS)
    cost = shares.cost()
    bad = (cost > (levels / noise) ** 2) & (alpha.ravel()[shares.at] == 255)
    if skip is not None:
        bad &= ~skip.ravel()[shares.at]
    if not bad.any():
        return None
    colours = rgb.reshape(-1, 3)[shares.at[bad]]
    if noisy:
        return _noisy_member(colours, cost[bad], members, max(NOISY_FLOOR_MM2 / pixel_mm2, NOISY_LEAST_PX))
    return _clean_member(colours, members, shares.space, floor_pixels(FLOOR_MM2, pixel_mm2))


def _clean_member(bad: U8, members: Members, space: Space, floor_px: float) -> Member | None:
    """Return the colour that, mixed with known ones, explains most bad pixels: seldom the commonest, often the end."""
    keys, counts = np.unique(pack(bad), return_counts=True)
    order = np.argsort(-counts, kind="stable")[:SAMPLE]
    keys, counts = keys[order], counts[order]
    colours, known = unpack(keys), members.rgb[members.alpha == 255]
    off = _blend(colours, known)
    often = np.flatnonzero((counts >= floor_px) & (off > BLEND_LEVELS))[:CANDIDATES]
    seen = np.flatnonzero(counts >= LEAST_SEEN)
    tips = seen[np.argsort(-off[seen], kind="stable")][:CANDIDATES]
    ends = [
        n
        for n in dict.fromkeys([*often.tolist(), *tips.tolist()])
        if off[n] > BLEND_LEVELS and _is_new(colours[n], members, MERGE_DE00)
    ]
    explained = [counts[_on_the_way(colours, colours[n], known, space) <= BLEND_LEVELS].sum() for n in ends]
    most = max(explained, default=0)
    if most < floor_px:
        return None
    best = max((n for n, e in zip(ends, explained, strict=True) if e >= most * NEARLY_MOST), key=lambda n: counts[n])
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
        if _blend(made_of.rgb[n : n + 1], made_of.rgb[opaque[opaque != n]])[0] <= BLEND_LEVELS:
            return n
    return None


def _blend(colours: U8, known: U8) -> Array:
    """Levels off the nearest mix in either space: which one the art has is not sure before all its inks are known."""
    return np.minimum(blend_levels(colours, known, "encoded"), blend_levels(colours, known, "linear"))


def _noisy_member(colours: U8, cost: Array, members: Members, floor_px: float) -> Member | None:
    keys, counts = np.unique(pack(colours), return_counts=True)
    for mode in noisy_members(keys, counts, floor_px=floor_px)[:CANDIDATES]:
        close = ((colours.astype(np.float32) - np.array(mode.rgb, np.float32)) ** 2).sum(1) <= TIP_LEVELS**2
        tip = close & (cost >= np.percentile(cost[close], TIP_PERCENTILE))
        one = np.median(colours[tip], axis=0).astype(np.uint8)
        known = members.rgb[members.alpha == 255]
        if blend_levels(one[None], known, "encoded", chroma_weight=JPEG_CHROMA)[0] <= NOISY_BLEND_LEVELS:
            continue
        if _is_new(one, members, 2 * NOISY_MERGE_DE00):
            r, g, b = (int(v) for v in one)
            near = ((colours.astype(np.float32) - one) ** 2).sum(1) <= (2 * PEEL_LEVELS) ** 2
            return Member((r, g, b), int(near.sum()))
    return None


def sample_strips(height: int, mixed: int) -> Array:
    """Return (height,) bool: all rows, or evenly spaced strips of them where ``mixed`` pixels are many."""
    every = max(1, mixed // STRIP_PIXELS)
    return np.asarray(np.arange(height) // STRIP_ROWS % every == every // 2)


def refine_colour(
    rgb: U8, label: U8, shares: Shares, members: Members, number: int, *, strips: Array | None = None
) -> Array:
    """Return the (3,) colour of noisy member ``number`` that best restores window sums around its lines.

    Compression moves colour between neighbours but hardly changes the sum over a window: with the shares known, the
    sums of the picture less those of the other members are the sums of this one. strips: rows where they are known.
    """
    mixture = shares.mixture
    own = np.where(mixture.member == number, mixture.share, 0).max(axis=1)[shares.key]
    at = shares.at[own >= 0.5]
    if strips is not None:
        known = np.convolve(strips, np.ones(2 * WINDOW_RADIUS + 1), "same") > 2 * WINDOW_RADIUS
        at = at[known[at // label.shape[1]]]
    at = at[:: max(1, at.size // WINDOW_SAMPLES)]
    if not at.size:
        return np.asarray(members.rgb[number])
    height, width = label.shape
    y, x = at // width, at % width
    spread = np.arange(-WINDOW_RADIUS, WINDOW_RADIUS + 1)
    inside = (y >= WINDOW_RADIUS) & (y < height - WINDOW_RADIUS) & (x >= WINDOW_RADIUS) & (x < width - WINDOW_RADIUS)
    window = (at[inside, None] + (spread[:, None] * width + spread).ravel()).ravel()
    picture = rgb.reshape(-1, 3)[window].reshape(inside.sum(), -1, 3).astype(np.float64).sum(axis=1)
    held = _held(window, label, shares, len(members)).reshape(inside.sum(), -1, len(members)).sum(axis=1)
    mine = held[:, number].copy()
    held[:, number] = 0
    rest = picture - held @ members.rgb.astype(np.float64)
    if (mine * mine).sum() < 1:
        return np.asarray(members.rgb[number])
    colour = (mine[:, None] * rest).sum(axis=0) / (mine * mine).sum()
    return np.asarray(np.rint(np.clip(colour, 0, 255)).astype(np.uint8))


def worth_keeping(shares: Shares, label: U8, members: Members, number: int) -> bool:
    """Tell whether a refined noisy member still differs from the others and covers an area worth a screen."""
    others = np.delete(np.arange(len(members)), number)
    rest = Members(members.rgb[others], members.alpha[others])
    if not _is_new(members.rgb[number], rest, 2 * NOISY_MERGE_DE00):
        return False
    own = np.where(shares.mixture.member == number, shares.mixture.share, 0).sum(axis=1)
    solid = np.count_nonzero(shares.core & (label == number))
    return bool(float(own[shares.key].sum()) + solid >= NOISY_LEAST_PX)


def _held(at: Array, label: U8, shares: Shares, count: int) -> Array:
    """(n, count) shares of every member at flat indices ``at``."""
    out = np.zeros((len(at), count), np.float64)
    core = shares.core.ravel()[at]
    out[np.flatnonzero(core), label.ravel()[at[core]]] = 1
    order = np.argsort(shares.at, kind="stable")
    place = np.minimum(np.searchsorted(shares.at, at, sorter=order), len(order) - 1)
    solved = ~core & (shares.at[order[place]] == at)
    key = shares.key[order[place[solved]]]
    for slot in range(3):
        who = shares.mixture.member[key, slot]
        out[np.flatnonzero(solved)[who >= 0], who[who >= 0]] += shares.mixture.share[key[who >= 0], slot]
    return out


def _is_new(colour: Array, members: Members, least: float) -> bool:
    opaque = members.rgb[members.alpha == 255]
    return not len(opaque) or bool(de00_to(opaque, colour).min() >= least)
