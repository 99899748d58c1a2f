"""Which inks a tonal picture may be printed with: those on the shelf, transparent ones, a few mixes, or those named.

In: the bench, colours of the art that a mix might be made for. Out: candidates, stock before mixes.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np

from sepkit.colorimetry.difference import delta_e_2000
from sepkit.colorimetry.srgb import srgb8_to_lab
from sepkit.plates.tonal.choose import Candidate

if TYPE_CHECKING:
    from sepkit.model import RGB8, Ink
    from sepkit.plates.bench import Bench

MOST_MIXES = 5
APART_DE00 = 8.0
"""Mixes nearer to an ink that there is already are not worth a cup."""
MIXED_OF = 2
"""Inks of a mix while many are tried."""


def candidates_of(bench: Bench, colours: Sequence[RGB8]) -> list[Candidate]:
    """Return the inks that may be chosen; ``colours`` (most wanted first) are mixed for where the shelf has none."""
    if bench.wishes.inks.named:
        return [Candidate(ink, bool(ink.parts)) for ink in _named(bench)]
    shelf = _with_base(bench)
    out = [Candidate(ink) for ink in (*shelf, *bench.process)]
    known = [srgb8_to_lab(np.array(one.ink.srgb)) for one in out]
    mixes = 0
    for srgb in colours:
        lab = srgb8_to_lab(np.array(srgb))
        if mixes == MOST_MIXES or float(delta_e_2000(np.array(known), lab).min()) < APART_DE00:
            continue
        found = bench.stock({srgb: 0.0}, most=MIXED_OF)[srgb]
        if found.ink.parts:
            out.append(Candidate(found.ink, mixed=True))
            known.append(lab)
            mixes += 1
    return out


def _with_base(bench: Bench) -> list[Ink]:
    """Return the shelf with the base ink as the bench has it: one white, not two alike."""
    return [bench.base_ink, *(ink for ink in bench.shelf if ink.name != bench.base_ink.name)]


def _named(bench: Bench) -> list[Ink]:
    """Return the inks that a person named, each as the shelf has it or mixed for its colour."""
    out: list[Ink] = []
    for label, srgb in bench.wishes.inks.named:
        ink = bench.stock({srgb: 1.0})[srgb].ink if label.startswith("#") else bench.ink(label)
        ink = bench.base_ink if ink.name == bench.base_ink.name else ink
        if all(ink is not other for other in out):
            out.append(ink)
    return out
