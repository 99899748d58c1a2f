"""What of the screens can be seen on the print: how long their edges are that change its look, and where.

In: a state of the fit. Out: mm of edges and their middles, screens that nothing shows, the screen to tell others by.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from sepkit.reading.mixing import encoded

if TYPE_CHECKING:
    from sepkit.model import F64
    from sepkit.reading.light import Look
    from sepkit.reading.subject import Subject
    from sepkit.reading.tiles import State

HIDDEN, SHOWN = 0.06, 0.1
"""Ink that changes the look (cube root of light) by less does not show; by more it does, on a disc as well."""
HIDDEN_MM = 10.0
"""With less edge of twice SHOWN a screen whose discs do not show is held where the reference lies."""


@dataclass(frozen=True, slots=True, eq=False)
class SeenEdges:
    """Edges of screens that show."""

    mm: F64
    """(n,) their length, contrast weighed."""
    middle: F64
    """(n, 2) their middle on the film, mm; the art's where none shows."""


def seen_edges(subject: Subject, state: State, least: float = HIDDEN) -> SeenEdges:
    """Return each screen's edges that change the look by more than ``least``, check discs' edges not counted."""
    r = 3.0
    planes = subject.coarse(r)
    grid = subject.whole(r)
    inside = ~subject.tones(grid)
    edge = round(max(0.0, subject.margin_mm - 1.0) * r)
    if edge:
        inside[:edge] = inside[-edge:] = False
        inside[:, :edge] = inside[:, -edge:] = False
    lengths, middles = [], []
    for k, plane in enumerate(planes):
        gy, gx = np.gradient(plane)
        slope = np.hypot(gx, gy)
        at = (slope > 0.15) & inside
        under = np.zeros(int(at.sum()), np.int64)
        for i, other in enumerate(planes):
            if i != k:
                under |= (other[at] > 0.5).astype(np.int64) << i
        step = _contrast(state.look, k)[under]
        shown = slope[at] * np.clip((step - least) / 0.08, 0, 1)
        whole = float(shown.sum())
        rows, columns = np.nonzero(at)
        places = np.stack([grid.xs[columns], grid.ys[rows]], -1)
        lengths.append(whole / r)
        middles.append(shown @ places / whole if whole > 0 else subject.middle)
    return SeenEdges(np.array(lengths), np.array(middles))


def _contrast(look: Look, screen: int) -> F64:
    """Return, for each stack, how much a screen's ink changes its look."""
    seen = encoded(look.colours.astype(np.float32))
    every = np.arange(len(seen))
    return np.asarray(np.linalg.norm(seen[every | 1 << screen] - seen[every & ~(1 << screen)], axis=1), np.float64)


def hidden_screens(subject: Subject, state: State) -> frozenset[int]:
    """Return screens that nothing shows, in the art or on their discs: white on a white base. They are held still."""
    out, edges = set(), seen_edges(subject, state, 2 * SHOWN)
    for k in range(subject.count):
        under = {0 if disc.on is None else 1 << disc.on for disc in subject.discs if disc.plate == k}
        on_discs = max((_contrast(state.look, k)[stack] for stack in under), default=0.0)
        if k != state.reference and edges.mm[k] < HIDDEN_MM and on_discs < SHOWN:
            out.add(k)
    return frozenset(out)


def reference_screen(subject: Subject, edges: SeenEdges) -> int:
    """Return the screen that shows best; a base where its edges show, or the one that frames check discs."""
    for base in subject.bases:
        if edges.mm[base] > 0.25 * edges.mm.max() or subject.discs:
            return base
    for disc in subject.discs:
        if disc.framed is not None:
            return disc.framed
    return int(np.argmax(edges.mm))
