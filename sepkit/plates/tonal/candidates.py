"""Which inks a tonal picture may be printed with: those on the shelf, transparent ones, a few mixes, or those named.

In: the bench, colours of the art that a mix might be made for. Out: candidates, stock before mixes. ``with_missed``
adds mixes for what a few screens of all these miss most.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np

from sepkit.colorimetry.difference import delta_e_2000
from sepkit.colorimetry.srgb import as_rgb8, lab_to_srgb8, srgb8_to_lab
from sepkit.plates.tonal.choose import Candidate, screen_sets
from sepkit.plates.tonal.metric import Wanted
from sepkit.plates.tonal.optics import mean_light, stack_light

if TYPE_CHECKING:
    from sepkit.model import RGB8, Ink
    from sepkit.plates.bench import Bench
    from sepkit.plates.tonal.choose import Task

MOST_MIXES = 5
APART_DE00 = 8.0
"""Mixes nearer to an ink that there is already are not worth a cup."""
MIX_APART_DE00 = 4.0
"""Mixes for what is missed may be nearer."""
MIXED_OF = 2
"""Inks of a mix while many are tried."""
FIRST_SCREENS = 4
"""What so many screens miss is mixed for:"""
MOST_MISSED, MISSED_DE00 = 4, 2.5
"""so many colours at most, each missed by more than so much,"""
ALIKE_LAB = 14.0
"""each for those that lie so near to it in Lab."""


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


def with_missed(candidates: Sequence[Candidate], task: Task, bench: Bench) -> list[Candidate]:
    """Return the candidates and mixes for the colours of the task that a few screens of them miss most."""
    out = list(candidates)
    if bench.wishes.inks.named or not out:
        return out
    best = screen_sets(task, out, most=FIRST_SCREENS, quick=True)[-1]
    light = mean_light(best.dots, stack_light(best.films, task.cloth))
    away = np.linalg.norm(Wanted.of(task.cloud.lab).away(light), axis=-1)
    lab, lost = task.cloud.lab, task.cloud.weight * away**2
    near = np.linalg.norm(lab[:, None] - lab[None], axis=-1) < ALIKE_LAB
    known = [srgb8_to_lab(np.array(one.ink.srgb)) for one in out]
    for _ in range(MOST_MISSED):
        worst = int(np.where(away > MISSED_DE00, near @ lost, 0.0).argmax())
        if away[worst] <= MISSED_DE00:
            break
        lost = np.where(near[worst], 0.0, lost)
        away = np.where(near[worst], 0.0, away)
        srgb = as_rgb8(lab_to_srgb8(lab[worst]))
        found = bench.stock({srgb: 0.0}, most=MIXED_OF)[srgb]
        own = srgb8_to_lab(np.array(found.ink.srgb))
        if found.ink.parts and float(delta_e_2000(np.array(known), own).min()) >= MIX_APART_DE00:
            out.append(Candidate(found.ink, mixed=True))
            known.append(own)
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
