"""How stiff cloth is and how ragged edges are in one photograph: what makes its tiles likeliest.

In: equations of tiles. Out: a Cloth. Too stiff, and stretch is told as register; too soft, and
nothing is told; edges taken for too sharp make bands too narrow.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from sepkit.reading.solve import System

if TYPE_CHECKING:
    from sepkit.model import F64
    from sepkit.reading.subject import Subject
    from sepkit.reading.tiles import Equation, State

STIFFS = (16.0, 4.0, 1.0, 0.25, 0.06)
"""Stiffness of cloth, as a share of that of smooth cloth; the last is folded."""
RAGGED_MM = (0.01, 0.02, 0.04, 0.08)
"""How far a tile's edge of a screen lies beside its place: mesh, mixed colours, a camera's sharpening."""


@dataclass(frozen=True, slots=True)
class Cloth:
    """Stiffness, and the spread of edges in mm."""

    stiff: float = 1.0
    ragged_mm: float = 0.02


def likeliest(subject: Subject, state: State, equations: Sequence[Equation], *, slack_mm: float) -> Cloth:
    """Return the likeliest cloth, tiles that disagree weighing less, the same for every cloth tried."""
    usual = Cloth()
    first = System(subject, state, ragged_edges(equations, usual.ragged_mm), slack_mm=slack_mm, stiff=usual.stiff)
    first.step()
    weighed = [
        replace(one, normal=w * one.normal, right=w * one.right)
        for one, w in zip(equations, first.tile_weights(), strict=True)
    ]
    best, beforehand = (-np.inf, usual), first.beforehand(STIFFS)
    for ragged in RAGGED_MM:
        system = System(subject, state, ragged_edges(weighed, ragged), slack_mm=slack_mm)
        edges = sum(_likely_edges(one, ragged) for one in weighed)
        likely = [edges + one for one in system.likely(STIFFS, beforehand)]
        most = int(np.argmax(likely))
        if likely[most] > best[0]:
            best = likely[most], Cloth(STIFFS[most], ragged)
    return best[1]


def ragged_edges(equations: Sequence[Equation], ragged_mm: float) -> list[Equation]:
    """Return equations of tiles in which each screen may lie, and have grown, ``ragged_mm`` elsewhere."""
    return [loosened(one, range(len(one.right)), np.full(len(one.right), ragged_mm)) for one in equations]


def _likely_edges(one: Equation, ragged_mm: float) -> float:
    """Return what integrating a tile's ragged edges out leaves, beside its loosened equation."""
    own = one.normal + np.eye(len(one.right)) / ragged_mm**2
    log = float(np.linalg.slogdet(own)[1]) + 2 * len(one.right) * float(np.log(ragged_mm))
    return (float(one.right @ np.linalg.solve(own, one.right)) - log) / 2


def loosened(one: Equation, loose: Sequence[int], far_mm: F64) -> Equation:
    """Return an equation whose numbers ``loose`` have errors of ``far_mm``, integrated out (Schur complement)."""
    own = one.normal[np.ix_(loose, loose)] + np.diag(1 / far_mm**2)
    Y = np.linalg.solve(own, np.column_stack([one.normal[loose], one.right[loose]]))
    across = one.normal[:, loose]
    return replace(one, normal=one.normal - across @ Y[:, :-1], right=one.right - across @ Y[:, -1])
