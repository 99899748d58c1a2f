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
from sepkit.separation.unmix import blend_levels

if TYPE_CHECKING:
    from sepkit.model import U8

Array = np.ndarray[Any, np.dtype[Any]]

UNEXPLAINED_LEVELS = 12  # off anything the neighbours can mix: too far for a bad antialiaser
BLEND_LEVELS = 5  # within this of a mix of two members a colour is that mix
NOISY_UNEXPLAINED_LEVELS = 36
NOISY_LEAST_PX = 40  # fewer noisy pixels than this agree on a colour by chance
CANDIDATES = 24
TIP_LEVELS = 60  # noisy lines are smeared towards their ground: their colour is the far end of this neighbourhood
TIP_PERCENTILE = 85
WINDOW_RADIUS = 4  # px: 9x9 windows, wider than the 16x16 blocks' chroma smear reaches in practice
WINDOW_SAMPLES = 8000


def thin_member(
    rgb: U8, alpha: U8, shares: Shares, members: Members, *, noisy: bool, pixel_mm2: float
) -> Member | None:
    """Return the colour that most unexplained pixels carry, if they add up to an ink."""
    if len(members) >= MAX_MEMBERS:
        return None
    noise, levels = (JPEG_NOISE, NOISY_UNEXPLAINED_LEVELS) if noisy else (CLEAN_NOISE, UNEXPLAINED_LEVELS)
    cost = shares.cost()
    bad = (cost > (levels / noise) ** 2) & (alpha.ravel()[shares.at] == 255)
    if not bad.any():
        return None
    colours = rgb.reshape(-1, 3)[shares.at[bad]]
    if noisy:
        return _noisy_member(colours, cost[bad], members, max(NOISY_FLOOR_MM2 / pixel_mm2, NOISY_LEAST_PX))
    keys, counts = np.unique(pack(colours), return_counts=True)
    often = np.flatnonzero(counts >= floor_pixels(FLOOR_MM2, pixel_mm2))
    often = often[np.argsort(-counts[often], kind="stable")][:CANDIDATES]
    colours = unpack(keys[often])
    odd = _blend(colours, members.rgb[members.alpha == 255]) > BLEND_LEVELS
    for n in np.flatnonzero(odd):
        if _is_new(colours[n], members, MERGE_DE00):
            r, g, b = (int(v) for v in colours[n])
            return Member((r, g, b), int(counts[often[n]]), (int(keys[often[n]]),))
    return None


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


def refine_colour(rgb: U8, label: U8, shares: Shares, members: Members, number: int) -> Array:
    """Return the (3,) colour of noisy member ``number`` that best restores window sums around its lines.

    Compression moves colour between neighbours but hardly changes the sum over a window: with the shares known, the
    sums of the picture less those of the other members are the sums of this one.
    """
    mixture = shares.mixture
    own = np.where(mixture.member == number, mixture.share, 0).max(axis=1)[shares.key]
    at = shares.at[own >= 0.5]
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
