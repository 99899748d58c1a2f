"""Specks in noisy art: spots of an ink too small to hold on a screen, which compression noise explains as well.

In: solved shares and labels. Out: shares in which such spots, and traces of an ink with no spot of it nearby, are
solved again without that ink, where that explains the pixels nearly as well. True small dots keep their ink.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any

import numpy as np

from sepkit.separation.cores import NONE, around, bit_table, components, gather, neighbours
from sepkit.separation.edges import JPEG_CHROMA, JPEG_NOISE, NOISY_RADII, Members, Shares, grouped, solve_keys
from sepkit.separation.unmix import Masks, Metric, Mixture

if TYPE_CHECKING:
    from sepkit.model import U8

Array = np.ndarray[Any, np.dtype[Any]]

SPECK_MM = 0.3  # diameter of the finest dot a garment screen holds (common practice)
SPECK_PX = 4.0  # in coarse art, where one pixel is bigger than that
SPECK_COST = 16.0  # mean cost that leaving the ink out may add: about 24 levels at JPEG_NOISE
TRACE_SHARE = 0.1


def settle_specks(rgb: U8, alpha: U8, label: U8, shares: Shares, members: Members, *, pixel_mm2: float) -> Shares:
    """Return shares without specks; ``label`` and the cores of dropped specks are cleared in place."""
    speck_px = max(math.pi / 4 * SPECK_MM**2 / pixel_mm2, SPECK_PX)
    spots = _small_spots(_dominant(label, shares), len(members), speck_px)
    if not spots[0].size:
        return shares
    at, member, number = spots
    was_core = shares.core.ravel()[at].copy()
    keep_label = label.ravel()[at].copy()
    shares.core.ravel()[at] = False
    again, mixture = _without(rgb, alpha, label, shares, members, at, member)
    with_it = _own_cost(rgb, alpha, at, member, members)
    more = np.bincount(number, mixture.cost[again] - with_it) / np.maximum(np.bincount(number), 1)
    drop = more[number] < SPECK_COST
    stays = ~drop
    shares.core.ravel()[at[stays]] = was_core[stays]
    label.ravel()[at[stays]] = keep_label[stays]
    label.ravel()[at[drop]] = NONE
    shares = _replace(shares, at[drop], again[drop], mixture)
    return _without_traces(rgb, alpha, label, shares, members)


def _dominant(label: U8, shares: Shares) -> U8:
    """(h, w) the member that covers at least half of each pixel, NONE where none does."""
    out = np.where(shares.core, label, NONE)
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
        numbered, size = components(dominant == m)
        small = size < speck_px
        small[0] = False
        here = np.flatnonzero(small[numbered.ravel()])
        at.append(here)
        member.append(np.full(len(here), m))
        number.append(numbered.ravel()[here] + used)
        used += len(size)
    return np.concatenate(at), np.concatenate(member), np.concatenate(number)


def _bits(members: Array) -> Array:
    return np.asarray(np.uint32(1) << members.astype(np.uint32))


def _without(
    rgb: U8, alpha: U8, label: U8, shares: Shares, members: Members, at: Array, member: Array
) -> tuple[Array, Mixture]:
    """Solve pixels again with the cores around them but for ``member``: (n,) key of each pixel, and the mixtures."""
    near, reach = neighbours(label, shares.core, at, radii=NOISY_RADII[::2])
    region = around(label, shares.core, at)
    key = np.zeros(len(at), np.int64)
    solved: list[Mixture] = []
    for m in np.unique(member):
        here = np.flatnonzero(member == m)
        fewer = Members(np.delete(members.rgb, m, axis=0), np.delete(members.alpha, m))
        masks = Masks(*(_drop_bit(mask[here], int(m)) for mask in (near, reach, region)))
        again = grouped(rgb.reshape(-1, 3)[at[here]], alpha.ravel()[at[here]], masks)
        mixture = solve_keys(again, fewer, Metric("encoded", JPEG_NOISE, JPEG_CHROMA))
        mixture.member = np.where(mixture.member >= m, mixture.member + 1, mixture.member).astype(np.int16)
        key[here] = again.of_pixel + sum(len(s.cost) for s in solved)
        solved.append(mixture)
    return key, Mixture(
        np.concatenate([s.member for s in solved]),
        np.concatenate([s.share for s in solved]),
        np.concatenate([s.cost for s in solved]),
    )


def _drop_bit(mask: Array, bit: int) -> Array:
    """Remove one bit and close the gap."""
    low = np.uint32((1 << bit) - 1)
    return np.asarray((mask & low) | (mask >> np.uint32(bit + 1)) << np.uint32(bit))


def _own_cost(rgb: U8, alpha: U8, at: Array, member: Array, members: Members) -> Array:
    """Cost of each pixel being its spot's ink alone."""
    bits = _bits(member)
    own = grouped(rgb.reshape(-1, 3)[at], alpha.ravel()[at], Masks(bits, bits, bits))
    mixture = solve_keys(own, members, Metric("encoded", JPEG_NOISE, JPEG_CHROMA), rare=False)
    return np.asarray(mixture.cost[own.of_pixel])


def _without_traces(rgb: U8, alpha: U8, label: U8, shares: Shares, members: Members) -> Shares:
    """Solve again pixels that hold a little of an ink which covers no pixel nearby."""
    around = gather(_dominant(label, shares), shares.at, bit_table(), radius=NOISY_RADII[0])
    mixture = shares.mixture
    for slot in range(3):
        member = np.maximum(mixture.member[:, slot], 0)[shares.key]
        trace = (mixture.share[:, slot][shares.key] >= TRACE_SHARE) & (around & _bits(member) == 0)
        where = np.flatnonzero(trace)
        if not where.size:
            continue
        at = shares.at[where]
        again, more = _without(rgb, alpha, label, shares, members, at, member[where])
        better = more.cost[again] - mixture.cost[shares.key[where]] < SPECK_COST
        shares = _replace(shares, at[better], again[better], more)
        mixture = shares.mixture
    return shares


def _replace(shares: Shares, at: Array, key: Array, more: Mixture) -> Shares:
    """Give pixels ``at`` the mixtures ``more[key]``; pixels not solved before join."""
    size = shares.core.size
    place = np.full(size, -1, np.int64)
    place[shares.at] = np.arange(len(shares.at))
    known = place[at] >= 0
    keys = shares.key.copy()
    offset = len(shares.mixture.cost)
    keys[place[at[known]]] = key[known] + offset
    joined = Mixture(
        np.concatenate([shares.mixture.member, more.member]),
        np.concatenate([shares.mixture.share, more.share]),
        np.concatenate([shares.mixture.cost, more.cost]),
    )
    return Shares(
        np.concatenate([shares.at, at[~known]]),
        np.concatenate([keys, key[~known] + offset]),
        joined,
        shares.space,
        shares.core,
    )
