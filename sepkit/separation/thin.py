"""Inks used only in lines too thin to have a solid pixel block: found in what the other inks cannot explain.

In: the picture, the solved shares, the members. Out: one more :class:`~sepkit.separation.palette.Member`, or None.
A colour that known members mix to is never one: a half-covered line of one of them looks just the same.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from sepkit.separation.edges import CLEAN_NOISE, JPEG_NOISE, Members, Shares
from sepkit.separation.palette import (
    FLOOR_MM2,
    MAX_MEMBERS,
    MERGE_DE00,
    NOISY_FLOOR_MM2,
    NOISY_MERGE_DE00,
    PEEL_LEVELS,
    Member,
    de00_to,
    noisy_members,
    pack,
    unpack,
)
from sepkit.separation.unmix import Metric, Mixture, solve_pairs

if TYPE_CHECKING:
    from sepkit.model import U8

Array = np.ndarray[Any, np.dtype[Any]]

UNEXPLAINED_LEVELS = 12  # off anything the neighbours can mix: too far for a bad antialiaser
BLEND_LEVELS = 5  # within this of a mix of two members a colour is that mix
NOISY_UNEXPLAINED_LEVELS = 36
NOISY_BLEND_LEVELS = 24
CANDIDATES = 24
TIP_LEVELS = 60  # noisy lines are smeared towards their ground: their colour is the far end of this neighbourhood
TIP_PERCENTILE = 85


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
        return _noisy_member(colours, cost[bad], members, NOISY_FLOOR_MM2 / pixel_mm2)
    keys, counts = np.unique(pack(colours), return_counts=True)
    often = np.flatnonzero(counts >= FLOOR_MM2 / pixel_mm2)
    often = often[np.argsort(-counts[often], kind="stable")][:CANDIDATES]
    colours = unpack(keys[often])
    odd = _blend(colours, members, Metric(shares.space, CLEAN_NOISE)).cost > (BLEND_LEVELS / CLEAN_NOISE) ** 2
    for n in np.flatnonzero(odd):
        if _is_new(colours[n], members, MERGE_DE00):
            r, g, b = (int(v) for v in colours[n])
            return Member((r, g, b), int(counts[often[n]]), (int(keys[often[n]]),))
    return None


def _noisy_member(colours: U8, cost: Array, members: Members, floor_px: float) -> Member | None:
    keys, counts = np.unique(pack(colours), return_counts=True)
    for mode in noisy_members(keys, counts, floor_px=floor_px)[:CANDIDATES]:
        close = ((colours.astype(np.float32) - np.array(mode.rgb, np.float32)) ** 2).sum(1) <= TIP_LEVELS**2
        tip = close & (cost >= np.percentile(cost[close], TIP_PERCENTILE))
        one = np.median(colours[tip], axis=0).astype(np.uint8)
        if _blend(one[None], members, Metric("encoded", JPEG_NOISE)).cost[0] <= (NOISY_BLEND_LEVELS / JPEG_NOISE) ** 2:
            continue
        if _is_new(one, members, 2 * NOISY_MERGE_DE00):
            r, g, b = (int(v) for v in one)
            near = ((colours.astype(np.float32) - one) ** 2).sum(1) <= (2 * PEEL_LEVELS) ** 2
            return Member((r, g, b), int(near.sum()))
    return None


def _blend(colours: U8, members: Members, metric: Metric) -> Mixture:
    """Explain colours by any one or two opaque members."""
    opaque = members.alpha == 255
    every = np.full(len(colours), (1 << int(opaque.sum())) - 1, np.uint32)
    solid = np.full(len(colours), 255, np.uint8)
    return solve_pairs((colours, solid), (members.rgb[opaque], members.alpha[opaque]), every, metric=metric)


def _is_new(colour: Array, members: Members, least: float) -> bool:
    opaque = members.rgb[members.alpha == 255]
    return not len(opaque) or bool(de00_to(opaque, colour).min() >= least)
