"""Inks that were never drawn: what compression smears along edges, which adds up to an ink's worth of one colour.

In: a noisy picture and what its colours explain. Out: the member that is ringing, if any. Ringing has no body, it lies
along edges everywhere; and the inks that meet there explain its pixels as well without it. A thin line has no body
either, but nothing else explains it.
"""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Any

import numpy as np

from sepkit.separation import tuned_mixing as tuned
from sepkit.separation.cores import NONE, deep
from sepkit.separation.specks import dominant, own_cost, solved_without

if TYPE_CHECKING:
    from sepkit.separation.picture import Picture
    from sepkit.separation.shares import Solved

Array = np.ndarray[Any, np.dtype[Any]]

SAMPLE = 4000  # pixels of a member that are asked at most


def phantom(picture: Picture, solved: Solved) -> int | None:
    """Return the number of a member that is ringing, the least needed first; None where every one is needed."""
    most = dominant(solved)
    body = deep(np.where(deep(most), most, NONE))
    count = len(solved.members)
    size = np.bincount(most.ravel(), minlength=256)[:count]
    bodies = np.bincount(most[body], minlength=256)[:count]
    bodiless = np.flatnonzero((size > 0) & (bodies < tuned.PHANTOMS.body_share * size) & (solved.members.alpha == 255))
    least, number = min(((_gain(picture, solved, most == m, m), m) for m in bodiless.tolist()), default=(np.inf, -1))
    return number if least < tuned.PHANTOMS.gain else None


def _gain(picture: Picture, solved: Solved, mine: Array, number: int) -> float:
    """Return by how much a member explains its pixels better than the others do, where it does so well.

    Most pixels of a thin line after compression are smeared and say little; the quarter that gains most tells.
    """
    at = np.flatnonzero(mine)
    at = at[:: max(1, at.size // SAMPLE)]
    members = np.full(len(at), number)
    bare = replace(solved, shares=replace(solved.shares, core=solved.shares.core & ~mine))
    again, mixture = solved_without(picture, bare, at, members, rare="all")
    return float(np.percentile(mixture.cost[again] - own_cost(picture, solved, at, members), tuned.PHANTOMS.percentile))
