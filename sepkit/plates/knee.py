"""Which inks of a print earn their screens: for every number of inks, the choice that loses least to the eye.

In: a KneeView, the numbers of inks asked for, the inks that stay. Out: for each number a Reduction: the areas whose ink
is kept, and what stands for every other area: a kept ink, its halftone tint, or open cloth.
What is lost is what the eye sees from across a table (S-CIELAB) beyond what all inks lose already, by area, where
small areas that stand out from their surroundings (an eye, lettering) count for more than their size. Up to
EXACT_UP_TO inks every choice is weighed with a table of single changes, and the best are looked at as whole pictures;
of more inks the cheapest goes, one after another, and each is tried again in the place of another.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import combinations
from typing import TYPE_CHECKING, Any

import numpy as np

from sepkit.colorimetry.difference import delta_e_2000
from sepkit.colorimetry.srgb import linear_to_lab
from sepkit.plates.knee_view import alone

if TYPE_CHECKING:
    from sepkit.model import F64
    from sepkit.plates.knee_view import KneeView

Array = np.ndarray[Any, np.dtype[Any]]

OPEN = -1
"""The ink of an area that is left to the cloth."""
TINTS = (0.3, 0.4, 0.5, 0.6, 0.7)
"""Tints that may stand for a flat colour: below and above, dots at 35 to 55 lpi are lost or fill (trade studies)."""
TINT_DE00 = 3.0
"""What dots in the place of a flat colour cost: they are seen in the hand (our own weight)."""
TINT_REACH = 0.75
"""An area that keeps less of itself in the blur is too fine for dots."""
ACCENT_COST, ACCENT_DE00 = 3.0, 15.0
"""Losing an accent (``knee_view``) costs so much, all of it from this ΔE00 on: it is what is looked at, whatever its
size."""
HUE_SHARE, HUE_ALONE, HUE_DE00 = 0.005, 0.8, 20.0
"""A hue that covers this much, is alone to this degree and comes out this far off is gone: gold printed as white."""
LEFT_CHROMA, LEFT_SHARE = 35.0, 0.02
"""A colour of this chroma that covers this much is never left to the cloth without a word."""
TINT_HUE_SHARE, TINT_HUE_LEAST = 0.35, 8.0
"""A tint stands for a colour only within this share of its chroma in a*, b*: a teal never becomes a grey of dots."""
CLOTH_SAVES_DE00 = 30.0
"""A colour nearer to the cloth than this is missed less when it stays open: navy on a black tee is left to the cloth
(common practice). How much it is missed falls with the square of its distance."""
TIE_TIMES, TIE_CHROMA = 1.7, 15.0
"""Inks that stand for an area within so many times the least cost, and no farther off in a*, b* than so much, are told
apart by the whole picture: a grey never turns blue for it."""
EXACT_UP_TO = 9
LOOKED_AT = 6
"""Choices of each number of inks that are looked at as whole pictures."""


@dataclass(frozen=True, slots=True)
class Stand:
    """What prints an area: the ink of an area (its own, another's, OPEN) and its tint, 1 for solid."""

    ink: int
    share: float = 1.0


@dataclass(frozen=True, slots=True)
class Reduction:
    """Inks kept, as indices of their areas, and what stands for each area."""

    kept: tuple[int, ...]
    stands: tuple[Stand, ...]
    lost: float
    """What the eye loses on top of what all inks lose, weighted ΔE00."""


def reductions(view: KneeView, *, sizes: Sequence[int], pinned: frozenset[int] = frozenset()) -> list[Reduction]:
    """Return the best choice found for each number of inks of ``sizes``, in their order; ``pinned`` inks stay."""
    count = len(view.art)
    table = _Table.of(view)
    wanted = [size for size in sizes if max(1, len(pinned)) <= size <= count]
    if count <= EXACT_UP_TO:
        found = {size: _best_of_all(table, count, size, pinned) for size in wanted}
    else:
        found = _by_elimination(table, count, wanted, pinned)
    usual = delta_e_2000(view.wish, view.usual)
    out = []
    for size in wanted:
        looked = [_looked_at(view, usual, kept, table.stands(kept)) for kept in found[size]]
        best = min(looked, key=lambda one: one.lost)
        for one in looked:  # what nearly ties in the table is decided by the whole picture
            ties = table.near_ties(one)
            if one.lost - sum(table.cost[area, table.column(one.stands[area])] for area, _ in ties) < best.lost:
                for area, other in ties:
                    stands = (*one.stands[:area], other, *one.stands[area + 1 :])
                    one = min(one, _looked_at(view, usual, one.kept, stands), key=lambda other: other.lost)
                best = min(best, one, key=lambda other: other.lost)
        out.append(best)
    return out


def stand_colours(view: KneeView, stands: Sequence[Stand]) -> F64:
    """Return (n, 3) linear colours of areas printed as ``stands`` say."""
    return np.array(
        [
            view.cloth if one.ink == OPEN else one.share * view.printed[one.ink] + (1 - one.share) * view.cloth
            for one in stands
        ]
    )


def error_to_art(view: KneeView, colours: F64, minded: F64 | float = 1.0) -> float:
    """Return the mean ΔE00 from the art, over all that prints, of areas in ``colours`` (n, 3), as the eye sees it.

    ``minded`` (n,) 0..1 tells how much each area's error counts.
    """
    return _mean_over(view, view.wish, view.lab(colours), minded)


def error_by_colour(view: KneeView, colours: F64) -> float:
    """Return the mean ΔE00 from the art of areas in ``colours`` (n, 3), as the eye sees it, area beside area.

    Each counts with the root of its size: a ground that fills most of a print hides nothing of what its flags lose.
    """
    away = delta_e_2000(view.wish, view.lab(colours))
    size = view.parts.sum(axis=1)
    own = view.parts @ away / np.maximum(size, 1e-6)
    return float(own @ np.sqrt(size) / np.sqrt(size).sum())


def seen_beside_all(view: KneeView, colours: F64, minded: F64 | float = 1.0) -> float:
    """Return the mean ΔE00 from the print with all inks, over all that prints, as the eye sees it."""
    return _mean_over(view, view.usual, view.lab(colours), minded)


def _mean_over(view: KneeView, one: Array, other: Array, minded: F64 | float) -> float:
    where = np.broadcast_to(minded, len(view.parts)) @ view.parts
    return float(delta_e_2000(one, other) @ where / view.parts.sum())


def lost_to(view: KneeView, colours: F64, *, usual: Array, missed: F64 | float = 1.0) -> float:
    """Return what the eye loses with ``colours`` beyond ``usual``, its ΔE00 (u,) with all inks; weighted ΔE00.

    ``missed`` (n,) 0..1 tells how much each area's loss is minded.
    """
    beyond = np.maximum(delta_e_2000(view.wish, view.lab(colours)) - usual, 0)
    own = view.parts @ beyond / np.maximum(view.parts.sum(axis=1), 1e-6)
    gone = np.minimum(own / np.maximum(view.reach, 1e-6) / ACCENT_DE00, 1.0)
    return float((own * missed) @ view.weight + ACCENT_COST * (gone * missed) @ view.accent)


def missed(view: KneeView, stands: Sequence[Stand], near_de00: float = CLOTH_SAVES_DE00) -> F64:
    """Return (n,) how much the loss of an area is minded: less where it is left open and near the cloth."""
    near = _cloth_share(view, near_de00)
    return np.array([near[k] if one.ink == OPEN else 1.0 for k, one in enumerate(stands)])


def hues_gone(view: KneeView, stands: Sequence[Stand]) -> tuple[int, ...]:
    """Return the areas whose hue is nowhere in a print with these stands; open ones near the cloth are not missed."""
    shares = view.parts.sum(axis=1) / view.parts.sum()
    away = delta_e_2000(linear_to_lab(view.printed), linear_to_lab(stand_colours(view, stands)))
    gone = (shares >= HUE_SHARE) & (alone(view.art) >= HUE_ALONE) & (away * missed(view, stands) >= HUE_DE00)
    return tuple(int(k) for k in np.flatnonzero(gone))


def hues_left_open(view: KneeView, stands: Sequence[Stand]) -> tuple[int, ...]:
    """Return the broad areas of a strong hue that stay bare cloth of another colour, largest first."""
    shares = view.parts.sum(axis=1) / view.parts.sum()
    lab = linear_to_lab(view.art)
    strong = (np.hypot(lab[:, 1], lab[:, 2]) >= LEFT_CHROMA) & (shares >= LEFT_SHARE)
    away = delta_e_2000(lab, linear_to_lab(view.cloth)) >= HUE_DE00
    bare = np.array([one.ink == OPEN for one in stands])
    return tuple(sorted((int(k) for k in np.flatnonzero(strong & away & bare)), key=lambda k: -shares[k]))


def _cloth_share(view: KneeView, near_de00: float = CLOTH_SAVES_DE00) -> F64:
    away = delta_e_2000(linear_to_lab(view.art), linear_to_lab(view.cloth))
    return np.minimum(away / near_de00, 1.0) ** 2


def _looked_at(view: KneeView, usual: Array, kept: tuple[int, ...], stands: tuple[Stand, ...]) -> Reduction:
    lost = lost_to(view, stand_colours(view, stands), usual=usual, missed=missed(view, stands))
    dots = sum(view.weight[k] * TINT_DE00 for k, one in enumerate(stands) if one.share < 1)
    return Reduction(kept, stands, lost + float(dots))


def _near_in_hue(art_lab: Array, tint_lab: Array) -> Array:
    """Return (n, m) whether a tint is of an area's own hue."""
    away = np.hypot(*np.moveaxis(art_lab[:, None, 1:] - tint_lab[None, :, 1:], -1, 0))
    chroma = np.hypot(art_lab[:, 1], art_lab[:, 2])
    near: Array = away <= np.maximum(TINT_HUE_SHARE * chroma, TINT_HUE_LEAST)[:, None]
    return near


@dataclass(frozen=True, slots=True, eq=False)
class _Table:
    """What each area costs in each ink and open, alone: rows areas, columns inks and at last the cloth."""

    cost: F64
    share: F64
    """Of the best tint, 1 where solid is best."""
    apart: F64
    """In a*, b*."""

    @staticmethod
    def of(view: KneeView) -> _Table:
        count = len(view.art)
        art = linear_to_lab(view.art)
        own = delta_e_2000(art, linear_to_lab(view.printed))
        cost, share = np.zeros((count, count + 1)), np.ones((count, count + 1))
        for tint in (1.0, *TINTS):
            colours = tint * view.printed + (1 - tint) * view.cloth
            away = delta_e_2000(art[:, None], linear_to_lab(colours)[None])
            extra = 0.0 if tint == 1 else TINT_DE00
            beyond = np.maximum(away - own[:, None], 0) + extra
            if tint == 1:
                cost[:, :count] = beyond
                continue
            fits = (beyond < cost[:, :count]) & ((view.reach >= TINT_REACH) & view.flat)[:, None] & view.dotted
            fits &= _near_in_hue(art, linear_to_lab(colours))
            cost[:, :count][fits], share[:, :count][fits] = beyond[fits], tint
        bare = np.maximum(delta_e_2000(art, linear_to_lab(view.cloth)) - own, 0)
        cost[:, count] = bare * _cloth_share(view)
        np.fill_diagonal(cost, 0.0)
        np.fill_diagonal(share, 1.0)
        gone = np.minimum(cost / ACCENT_DE00, 1.0) * (ACCENT_COST * view.accent)[:, None]
        inks = np.vstack([linear_to_lab(view.printed), linear_to_lab(view.cloth)])
        apart = np.hypot(*np.moveaxis(art[:, None, 1:] - inks[None, :, 1:], -1, 0))
        return _Table(cost * (view.weight * view.reach)[:, None] + gone, share, apart)

    def total(self, kept: Sequence[int]) -> float:
        """Return the cost of all areas with the inks kept."""
        return float(self.cost[:, [*kept, -1]].min(axis=1).sum())

    def stands(self, kept: tuple[int, ...]) -> tuple[Stand, ...]:
        """Return what stands for each area with the inks kept; an ink that is kept prints its own area."""
        columns = np.array([*kept, self.cost.shape[1] - 1])
        chosen = columns[self.cost[:, columns].argmin(axis=1)]
        out = []
        for area, ink in enumerate(chosen):
            if area in kept:
                out.append(Stand(area))
            elif ink == self.cost.shape[1] - 1:
                out.append(Stand(OPEN))
            else:
                out.append(Stand(int(ink), float(self.share[area, ink])))
        return tuple(out)

    def column(self, stand: Stand) -> int:
        """Return the column of what stands for an area."""
        return self.cost.shape[1] - 1 if stand.ink == OPEN else stand.ink

    def near_ties(self, one: Reduction) -> list[tuple[int, Stand]]:
        """Return areas, and what might stand for them as well as what does: as near, and no farther in hue."""
        last = self.cost.shape[1] - 1
        columns, out = np.array([*one.kept, last]), []
        for area in sorted(set(range(last)) - set(one.kept)):
            now = self.column(one.stands[area])
            as_near = self.cost[area, columns] <= TIE_TIMES * self.cost[area, now]
            as_hued = self.apart[area, columns] <= self.apart[area, now] + TIE_CHROMA
            out += [
                (area, Stand(OPEN if k == last else int(k), float(self.share[area, k])))
                for k in columns[as_near & as_hued & (columns != now)]
            ]
        return out


def _best_of_all(table: _Table, count: int, size: int, pinned: frozenset[int]) -> list[tuple[int, ...]]:
    every = [kept for kept in combinations(range(count), size) if pinned <= set(kept)]
    return sorted(every, key=table.total)[:LOOKED_AT]


def _by_elimination(
    table: _Table, count: int, sizes: Sequence[int], pinned: frozenset[int]
) -> dict[int, list[tuple[int, ...]]]:
    kept = tuple(range(count))
    found = {count: [kept]}
    while len(kept) > max(1, len(pinned)):
        kept = min((tuple(k for k in kept if k != gone) for gone in kept if gone not in pinned), key=table.total)
        kept = _exchanged(table, kept, count, pinned)
        found[len(kept)] = [kept]
    return {size: found[size] for size in sizes}


def _exchanged(table: _Table, kept: tuple[int, ...], count: int, pinned: frozenset[int]) -> tuple[int, ...]:
    """Return the choice after exchanges of one kept ink for another, as long as that helps."""
    best = table.total(kept)
    while True:
        tried = [
            tuple(sorted((set(kept) - {out}) | {into}))
            for out in set(kept) - pinned
            for into in range(count)
            if into not in kept
        ]
        better = min(tried, key=table.total, default=kept)
        if table.total(better) >= best - 1e-9:
            return kept
        kept, best = better, table.total(better)
