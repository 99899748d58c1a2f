"""Specks in noisy art: spots of an ink too small to hold on a screen, which compression noise explains as well.

In: solved shares and labels. Out: shares in which such spots, and traces of an ink with no spot of it nearby, are
solved again without that ink, where that explains the pixels nearly as well. True small dots keep their ink.
"""

from __future__ import annotations

import math
from dataclasses import replace
from typing import TYPE_CHECKING, Any

import numpy as np

from sepkit.coverage.parts import Parts
from sepkit.separation import tuned_colours
from sepkit.separation import tuned_mixing as tuned
from sepkit.separation.cores import NONE, around, bit_table, gather, neighbours, solid_labels
from sepkit.separation.shares import Shares, Solved, solve_keys
from sepkit.separation.unmix import Masks, Metric, Mixture

if TYPE_CHECKING:
    from sepkit.model import U8
    from sepkit.separation.picture import Picture
    from sepkit.separation.shares import Pixels
    from sepkit.separation.unmix import Rare

Array = np.ndarray[Any, np.dtype[Any]]


def settle_specks(picture: Picture, solved: Solved) -> Solved:
    """Return ``solved`` without specks: neither labels, nor cores, nor shares of them."""
    specks = tuned.SPECKS
    speck_px = max(math.pi / 4 * specks.dot_mm**2 / picture.pixel_mm2, specks.dot_px)
    at, member, number = _small_spots(dominant(solved), len(solved.members), speck_px)
    if not at.size:
        return solved
    bare = solved.shares.core.copy()
    bare.ravel()[at] = False
    again, mixture = solved_without(picture, replace(solved, shares=replace(solved.shares, core=bare)), at, member)
    added = mixture.cost[again] - own_cost(picture, solved, at, member)
    more = np.bincount(number, added) / np.maximum(np.bincount(number), 1)
    drop = more[number] < specks.cost
    label, core = solved.label.copy(), solved.shares.core.copy()
    label.ravel()[at[drop]] = NONE
    core.ravel()[at[drop]] = False
    shares = _replace(replace(solved.shares, core=core), at[drop], again[drop], mixture)
    return _without_traces(picture, Solved(label, shares, solved.members))


def dominant(solved: Solved) -> U8:
    """Return (h, w) uint8: the member that covers at least half of each pixel, NONE where none does."""
    shares = solved.shares
    out = np.where(shares.core, solved.label, NONE)
    mixture = shares.mixture
    first = mixture.share.argmax(axis=1)
    rows = np.arange(len(first))
    best = np.where(mixture.share[rows, first] >= 0.5, mixture.member[rows, first], NONE)
    out.ravel()[shares.at] = best[shares.key].astype(np.uint8)
    return np.asarray(out, np.uint8)


def _small_spots(dominant: U8, count: int, speck_px: float) -> tuple[Array, Array, Array]:
    """Flat indices, member and spot number of all pixels in spots smaller than ``speck_px``."""
    at: list[Array] = [np.zeros(0, np.int64)]
    member: list[Array] = [np.zeros(0, np.int64)]
    number: list[Array] = [np.zeros(0, np.int64)]
    used = 0
    for m in range(count):
        parts = Parts.of(dominant == m)
        rows, columns, part = parts.pixels(parts.areas < speck_px)
        at.append(rows * dominant.shape[1] + columns)
        member.append(np.full(len(rows), m))
        number.append(part + used)
        used += parts.count + 1
    return np.concatenate(at), np.concatenate(member), np.concatenate(number)


def _bits(members: Array) -> Array:
    return np.asarray(np.uint32(1) << members.astype(np.uint32))


def solved_without(
    pixels: Pixels, solved: Solved, at: Array, member: Array, *, rare: Rare = "bleeds"
) -> tuple[Array, Mixture]:
    """Return (n,) keys of pixels solved again with the cores around them but for ``member`` of each, and mixtures.

    What lies around takes its place, and what that buries; never another ink without a body there, unless ``rare``.
    """
    solid, art = solid_labels(solved.label, solved.shares.core), tuned_colours.NOISY
    near, reach = neighbours(solid, at, radii=(art.near_px, art.far_px))
    masks = Masks(near, reach, around(solid, at))
    key = np.zeros(len(at), np.int64)
    mixture: Mixture | None = None
    for m in np.unique(member).tolist():
        here = np.flatnonzero(member == m)
        fewer = Masks(*(_drop_bit(mask[here], m) for mask in (masks.near, masks.reach, masks.around)))
        again = pixels.keys_at(at[here], fewer)
        solution = solve_keys(again, solved.members.without(m), Metric.of(art, "encoded"), rare=rare)
        solution.member = np.where(solution.member >= m, solution.member + 1, solution.member).astype(np.int16)
        key[here] = again.of_pixel + (0 if mixture is None else len(mixture.cost))
        mixture = solution if mixture is None else mixture.joined(solution)
    if mixture is None:
        raise ValueError("no pixels to solve again")
    return key, mixture


def _drop_bit(mask: Array, bit: int) -> Array:
    """Remove one bit and close the gap."""
    low = np.uint32((1 << bit) - 1)
    return np.asarray((mask & low) | (mask >> np.uint32(bit + 1)) << np.uint32(bit))


def own_cost(pixels: Pixels, solved: Solved, at: Array, member: Array) -> Array:
    """Return (n,) what it costs that each pixel is of its ``member`` alone."""
    bits = _bits(member)
    own = pixels.keys_at(at, Masks(bits, bits, bits))
    mixture = solve_keys(own, solved.members, Metric.of(tuned_colours.NOISY, "encoded"), rare="none")
    return np.asarray(mixture.cost[own.of_pixel])


def _without_traces(pixels: Pixels, solved: Solved) -> Solved:
    """Solve again pixels that hold a little of an ink which covers no pixel nearby."""
    specks, shares = tuned.SPECKS, solved.shares
    near = gather(dominant(solved), shares.at, bit_table(), radius=tuned_colours.NOISY.near_px)
    for slot in range(3):
        mixture = shares.mixture
        member = np.maximum(mixture.member[:, slot], 0)[shares.key]
        trace = (mixture.share[:, slot][shares.key] >= specks.trace_share) & (near & _bits(member) == 0)
        where = np.flatnonzero(trace)
        if not where.size:
            continue
        at = shares.at[where]
        again, more = solved_without(pixels, replace(solved, shares=shares), at, member[where])
        better = more.cost[again] - mixture.cost[shares.key[where]] < specks.cost
        shares = _replace(shares, at[better], again[better], more)
    return replace(solved, shares=shares)


def _replace(shares: Shares, at: Array, key: Array, more: Mixture) -> Shares:
    """Give pixels ``at`` the mixtures ``more[key]``; pixels not solved before join."""
    size = shares.core.size
    place = np.full(size, -1, np.int64)
    place[shares.at] = np.arange(len(shares.at))
    known = place[at] >= 0
    keys = shares.key.copy()
    offset = len(shares.mixture.cost)
    keys[place[at[known]]] = key[known] + offset
    return Shares(
        np.concatenate([shares.at, at[~known]]),
        np.concatenate([keys, key[~known] + offset]),
        shares.mixture.joined(more),
        shares.space,
        shares.core,
    )
