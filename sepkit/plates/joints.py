"""Where inks meet: traps of all areas, and the order in which the screens print.

Rows in, rows out: ``printed`` carries the trap, ``place`` the order.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from sepkit.coverage.bands import row_bands
from sepkit.coverage.keep import kept
from sepkit.coverage.sums import CACHED_PIXELS, mean_share
from sepkit.plates.order import InkInOrder, print_order, why_order
from sepkit.plates.overprint_pairs import not_under, with_overprints
from sepkit.plates.rounds import overlap_shares
from sepkit.plates.traps import trapped
from sepkit.units import mm_to_px

if TYPE_CHECKING:
    from sepkit.model import RGB8, U8
    from sepkit.plates.bench import Bench
    from sepkit.plates.drafts import PlateDraft
    from sepkit.plates.overprint_pairs import OverprintPair


def pairs_of(rows: Sequence[PlateDraft]) -> list[OverprintPair]:
    """Return the pairs of inks that stand for a third."""
    return [row.pair for row in rows if row.pair is not None]


def with_traps(rows: Sequence[PlateDraft], bench: Bench, *, dpi: float) -> list[PlateDraft]:
    """Return each row with its trap; parents of an overprint carry its area and its trap too."""
    pairs = pairs_of(rows)
    grown = trapped(
        [row.coverage for row in rows],
        lightness=[row.lightness for row in rows],
        trap_px=mm_to_px(bench.trap_mm, dpi),
        overprint_px=mm_to_px(bench.wishes.overprint_mm, dpi),
        tones=[row.tone for row in rows],
        not_under=not_under(pairs),
    )
    carried = with_overprints([row.coverage for row in rows], pairs)
    for pair in pairs:
        for parent in (pair.first, pair.second):
            grown[parent] = np.maximum.reduce([grown[parent], grown[pair.saved], carried[parent]])
    return [
        replace(row, coverage=carried[at], printed=grown[at], trap_mm=_trap_mm(carried[at], grown[at], bench.trap_mm))
        for at, row in enumerate(rows)
    ]


def _trap_mm(coverage: U8, printed: U8, trap_mm: float) -> float:
    return trap_mm if printed is not coverage and kept(_differ, coverage, printed) else 0.0


def _differ(first: U8, second: U8) -> bool:
    bands = row_bands(len(first), max(1, CACHED_PIXELS // max(first.shape[1], 1)))
    return any(not np.array_equal(first[b.start : b.stop], second[b.start : b.stop]) for b in bands)


@dataclass(frozen=True, slots=True, eq=False)
class Ordered:
    """Rows in print order, and why."""

    rows: list[PlateDraft]
    why: str


def in_print_order(rows: Sequence[PlateDraft], order: Sequence[RGB8] = (), *, dpi: float) -> Ordered:
    """Return the rows in print order; areas of the colours of ``order`` take their places in that order."""
    overlaps = overlap_shares([row.printed for row in rows], dpi=dpi)
    inks = [InkInOrder(row.lightness, kept(mean_share, row.coverage), row.ink) for row in rows]
    decided = print_order(inks, overlaps=np.maximum(overlaps, overlaps.T).tolist())
    placed = _as_wished(rows, decided, order)
    why = why_order(inks, placed, names=[row.name for row in rows])
    return Ordered(
        [replace(rows[at], place=place) for place, at in enumerate(placed)], why if placed == decided else "as asked"
    )


def _as_wished(rows: Sequence[PlateDraft], decided: list[int], order: Sequence[RGB8]) -> list[int]:
    """Return ``decided`` with the areas of ``order`` in that order, in the places that they hold together."""
    wanted = {srgb: place for place, srgb in enumerate(order)}
    colour = {at: row.area.srgb for at, row in enumerate(rows) if row.area is not None}
    named = sorted((at for at in decided if colour[at] in wanted), key=lambda at: wanted[colour[at]])
    moved = iter(named)
    return [next(moved) if colour[at] in wanted else at for at in decided]
