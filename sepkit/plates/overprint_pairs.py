"""Which inks of a print may be saved: where two transparent inks printed one over the other have a third one's colour.

In: an ink for each area of the art, transparent or not, and what each colour is meant to be. Out: pairs by index.
Each stack's colour comes from layer optics on this garment or base. An overprint's colour cannot be mixed to order, so
more difference passes than for an ink of its own; the gain is a screen. Of all choices the one that saves most screens
is taken, and of those the one with the least ΔE00 in all. Exact: every set of saved inks is tried (2^12 at most).
"""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass
from itertools import combinations
from typing import TYPE_CHECKING

import numpy as np

from sepkit.colorimetry.spectral import reflectance_to_srgb8
from sepkit.colorimetry.srgb import as_rgb8
from sepkit.inks.transparent import is_transparent
from sepkit.plates.coats import meant_colours, nearest_de00

if TYPE_CHECKING:
    from sepkit.model import F64, RGB8, U8, Bool, Ink
    from sepkit.plates.coats import Ground

LIMIT_FACTOR = 2.0
"""An overprint may differ twice the tolerance of an ink from what is meant: our own choice, seen but not wrong."""
MOST_AREAS = 12


@dataclass(frozen=True, slots=True)
class OverprintPair:
    """``first`` and ``second`` (in print order) printed over each other stand for ``saved``; all are area indices."""

    saved: int
    first: int
    second: int
    srgb: RGB8
    de00: float
    alone_de00: float = float("inf")
    """ΔE00 of the nearer of the two by itself: where that is no more, the pair would be a merge of two colours."""


@dataclass(frozen=True, slots=True)
class Overprints:
    """The ink of each area of a print, transparent where it is a parent, and the pairs."""

    inks: tuple[Ink, ...]
    pairs: tuple[OverprintPair, ...]

    @property
    def saved(self) -> dict[int, OverprintPair]:
        """The pair that stands for each area without an ink of its own."""
        return {pair.saved: pair for pair in self.pairs}


@dataclass(frozen=True, slots=True, eq=False)
class PairInk:
    """An ink of a print and the index of its area."""

    index: int
    ink: Ink


def one_over_other(first: Ink, second: Ink, ground: Ground, *, base_coats: int) -> F64:
    """Return the reflectance (31,) of one coat of ``second`` over one of ``first``, on the base or the cloth."""
    return ground.seen([(first, 1.0), (second, 1.0)], base_coats=base_coats)


def pair_candidates(
    parents: Sequence[PairInk], saveable: Sequence[PairInk], ground: Ground, *, base_coats: int
) -> list[OverprintPair]:
    """Return each pair of transparent ``parents``, its colour, and ΔE00 for each ink of ``saveable``, nearest first.

    ``parents`` are in print order, with K and S as one coat of them prints; those that hide are skipped. The inks of
    ``saveable`` say what colour each area is meant to have. Pairs no nearer than one of their inks alone come last.
    """
    parents = [parent for parent in parents if is_transparent(parent.ink)]
    meant = {one.index: meant_colours(one.ink, ground.white_cloth) for one in saveable}
    alone = {one.index: ground.seen([(one.ink, 1.0)], base_coats=base_coats) for one in parents}
    found = []
    for first, second in combinations(parents, 2):
        seen = one_over_other(first.ink, second.ink, ground, base_coats=base_coats)
        srgb = as_rgb8(reflectance_to_srgb8(seen))
        own = (first.index, second.index)
        for saved in (one.index for one in saveable if one.index not in own):
            by_itself = min(nearest_de00(meant[saved], alone[i]) for i in own)
            found.append(OverprintPair(saved, *own, srgb, nearest_de00(meant[saved], seen), by_itself))
    return sorted(found, key=lambda pair: (pair.de00 >= pair.alone_de00, pair.de00))


def choose_pairs(
    candidates: Sequence[OverprintPair], *, limit_de00: float, always: Collection[int] = ()
) -> tuple[OverprintPair, ...]:
    """Return the pairs within the limit that save most inks, then have the least ΔE00 in all; no parent is saved.

    Areas of ``always`` are saved however far their pair is.
    """
    near = [
        pair for pair in candidates if pair.saved in always or (pair.de00 <= limit_de00 and pair.de00 < pair.alone_de00)
    ]
    saveable = sorted({pair.saved for pair in near})
    for count in range(min(len(saveable), MOST_AREAS), 0, -1):
        best: tuple[float, tuple[OverprintPair, ...]] | None = None
        for dropped in combinations(saveable, count):
            chosen = _pairs_for(dropped, near)
            total = sum(pair.de00 for pair in chosen)
            if len(chosen) == count and (best is None or total < best[0]):
                best = (total, chosen)
        if best is not None:
            return best[1]
    return ()


def not_under(pairs: Sequence[OverprintPair]) -> dict[int, set[int]]:
    """Return, for traps, under which inks a saved area does not grow: its own parents, which print there already.

    Between an overprint and a parent's area that parent runs on without an edge: no gap can open, and a trap would
    only shift the other parent's edge.
    """
    return {pair.saved: {pair.first, pair.second} for pair in pairs}


def with_overprints(planes: Sequence[U8], pairs: Sequence[OverprintPair]) -> list[U8]:
    """Return planes (h, w) uint8 with each saved area added to both of its parents; the saved planes stay in place.

    Shares of one pixel add up, at most to solid: a pixel half yellow and half green is all yellow.
    """
    out = list(planes)
    for pair in pairs:
        for parent in (pair.first, pair.second):
            out[parent] = out[parent] + np.minimum(planes[pair.saved], 255 - out[parent])
    return out


def apart_from_tones(planes: Sequence[U8], tones: Sequence[Bool | None]) -> list[int]:
    """Return the areas that have no tone and share no pixel with one: dots of tones are solved with their own inks."""
    masks = [mask for mask in tones if mask is not None]
    if not masks:
        return list(range(len(planes)))
    tone = np.logical_or.reduce(masks)
    return [i for i, plane in enumerate(planes) if tones[i] is None and not (plane[tone] > 0).any()]


def _pairs_for(dropped: Sequence[int], near: Sequence[OverprintPair]) -> tuple[OverprintPair, ...]:
    """Return the nearest pair for each of ``dropped`` whose parents stay; ``near`` is sorted by ΔE00."""
    found = []
    for saved in dropped:
        pair = next((p for p in near if p.saved == saved and not {p.first, p.second} & set(dropped)), None)
        if pair is not None:
            found.append(pair)
    return tuple(found)
