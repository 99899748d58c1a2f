"""Spots of a buried fill in clean art: where a renderer let more of it through an edge than the law of bleeds tells.

In: solved shares of clean art. Out: the same, in which a spot too small to hold on a screen, of an ink that has no body
beside it and lies between two that have, goes to the one that lies above. Bad antialiasing of a fill and of its
outline, which end on one edge, leaves a row of such spots; a line of the ink is longer than a spot and stays.
"""

from __future__ import annotations

import math
from dataclasses import replace
from typing import TYPE_CHECKING, Any

import numpy as np

from sepkit.coverage.hanging_together import groups
from sepkit.separation import tuned_colours
from sepkit.separation import tuned_mixing as tuned
from sepkit.separation.cores import NONE, neighbours, solid_labels

if TYPE_CHECKING:
    from sepkit.separation.shares import Solved

Array = np.ndarray[Any, np.dtype[Any]]

AROUND = tuple((y, x) for y in (-1, 0, 1) for x in (-1, 0, 1) if y or x)


def without_buried_spots(solved: Solved, *, pixel_mm2: float) -> Solved:
    """Return ``solved`` with small spots of buried fills given to what lies above them."""
    shares = solved.shares
    mixture, order = shares.mixture, np.argsort(shares.at, kind="stable")
    lead = mixture.share.argmax(axis=1)
    rows = np.arange(len(lead))
    member = mixture.member[rows, lead]
    opaque = solved.members.alpha == 255
    rare = (mixture.cost >= tuned.ODDS.reach) & (mixture.member >= 0).all(axis=1)
    rare &= (mixture.share[rows, lead] >= tuned.SPECKS.buried_share) & opaque[member]
    spot = np.flatnonzero(rare[shares.key])
    spot = spot[np.argsort(shares.at[spot], kind="stable")]
    if not spot.size:
        return solved
    solid = solid_labels(solved.label, shares.core)
    beside = neighbours(solid, shares.at[spot], radii=(tuned_colours.CLEAN.far_px,))[0]
    spot = spot[beside >> member[shares.key[spot]].astype(np.uint32) & 1 == 0]
    if not spot.size:
        return solved
    at, own = shares.at[spot], member[shares.key[spot]]
    most = math.pi / 4 * tuned.SPECKS.dot_mm**2 / pixel_mm2
    alone = _alone(at, own, solved, order)
    number, size = _grouped(at, own, solved.label.shape[1])
    held = np.bincount(number, alone, len(size)) == size
    small = (held & (size < most))[number]
    if not small.any():
        return solved
    changed = np.unique(shares.key[spot[small]])
    given = _given(mixture.member[changed], mixture.share[changed], lead[changed], opaque)
    new = np.full(len(lead), -1, np.int64)
    new[changed] = len(lead) + np.arange(len(changed))
    key = shares.key.copy()
    key[spot[small]] = new[key[spot[small]]]
    more = type(mixture)(mixture.member[changed], given, mixture.cost[changed])
    return replace(solved, shares=replace(shares, key=key, mixture=mixture.joined(more)))


def _alone(at: Array, own: Array, solved: Solved, order: Array) -> Array:
    """(n,) bool: no pixel around is led by the same member but for other spots."""
    height, width = solved.label.shape
    y, x = at // width, at % width
    alone = np.ones(len(at), bool)
    for dy, dx in AROUND:
        inside = (y + dy >= 0) & (y + dy < height) & (x + dx >= 0) & (x + dx < width)
        beside = np.where(inside, at + dy * width + dx, at)
        alone &= ~inside | (_leader(beside, solved, order) != own) | np.isin(beside, at)
    return alone


def _leader(at: Array, solved: Solved, order: Array) -> Array:
    """(n,) the member that covers half of each pixel and more, NONE where none does."""
    shares = solved.shares
    core = shares.core.ravel()[at]
    place = order[np.minimum(np.searchsorted(shares.at, at, sorter=order), len(order) - 1)]
    key = shares.key[place]
    slot = shares.mixture.share.argmax(axis=1)[key]
    leads = (shares.at[place] == at) & (shares.mixture.share[key, slot] >= 0.5)
    return np.where(core, solved.label.ravel()[at], np.where(leads, shares.mixture.member[key, slot], NONE))


def _grouped(at: Array, own: Array, width: int) -> tuple[Array, Array]:
    """Return (n,) the number of each pixel's 8-connected spot, of rising flat indices ``at``, and the spots' sizes."""
    ends: list[tuple[Array, Array]] = []
    for step in (1, width - 1, width, width + 1):
        place = np.minimum(np.searchsorted(at, at + step), len(at) - 1)
        joined = (at[place] == at + step) & (own[place] == own) & (np.abs(at[place] % width - at % width) <= 1)
        ends.append((np.flatnonzero(joined), place[joined]))
    one, other = (np.concatenate(side) for side in zip(*ends, strict=True))
    number, _ = groups(one, other, len(at))
    return number, np.bincount(number)


def _given(member: Array, share: Array, lead: Array, opaque: Array) -> Array:
    """Return (n, 3) shares with that of ``lead`` given to the greatest of the other opaque members."""
    rows = np.arange(len(lead))
    rest = np.where(opaque[member], share, -1.0)
    rest[rows, lead] = -2.0
    top = rest.argmax(axis=1)
    out = share.copy()
    out[rows, top] += share[rows, lead]
    out[rows, lead] = 0
    return out
