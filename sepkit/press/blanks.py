"""How many blanks to buy: by what a shortage costs, over the whole run, and not line by line.

In: pieces ordered of each garment and size, the share lost on the way, prices, what a missing piece costs. Out:
spares for each line, the chance of being short, money.

A garment is good with chance q = 1 - p over its placements. Of n + s blanks the number spoiled is binomial; k pieces
are missing when s + k are spoiled. Printing stops at the n-th good one, so that j of the spares are used with the
chance that j fail before it (negative binomial), and the rest are kept for another day. Missing pieces are refunded, or
bought late: one order, one evening at the press for all of them, whatever their number. The cheaper of the two is done,
so what a spare is worth depends on all other lines: the whole run's missing pieces are convolved. The search moves
single spares and pairs from the expected losses on until nothing is gained. Spares of the least money stay within a
share of the orders: beyond, money is tied up in sizes that the next drop may not ask for (common practice).
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from functools import lru_cache
from itertools import permutations
from typing import Literal

import numpy as np
import numpy.typing as npt

Level = Literal["lean", "least cost", "safe"]
LEVELS: tuple[Level, ...] = ("lean", "least cost", "safe")
RARE = 1e-9
MOST_SPARES = 400
GAIN = 1e-9
Dist = npt.NDArray[np.float64]


@dataclass(frozen=True, slots=True)
class Wanted:
    """One garment and size: pieces ordered, share lost on the way, price of a blank, value of an order."""

    garment: str
    size: str
    ordered: int
    loss: float
    price: float
    value: float


@dataclass(frozen=True, slots=True)
class Shortage:
    """What missing pieces cost beside their value."""

    late: bool = True
    """Blanks can be bought late, at their price."""
    late_order: float = 0.0
    """What a late order costs whatever its size: postage, and setting the press up again."""
    kept: float = 0.5
    """Share of its price that a blank left over is worth in the next drop (common practice)."""
    most: float = 0.2
    """Spares over orders that are not gone beyond."""

    def most_spares(self, lines: Sequence[Wanted]) -> int:
        """Return how many spares that is, at least one."""
        return max(1, int(self.most * sum(line.ordered for line in lines) + GAIN))


@dataclass(frozen=True, slots=True)
class Spares:
    """Spares for each line, and what they come to."""

    spares: tuple[int, ...]
    chance: float
    """Chance that the whole run is filled."""
    missing: float
    """Pieces missing on average."""
    paid: float
    """Price of the spares."""
    money: float
    """Expected: spares without what is kept, and missing pieces."""

    @property
    def count(self) -> int:
        """All spares."""
        return sum(self.spares)


def least_cost(lines: Sequence[Wanted], shortage: Shortage) -> Spares:
    """Return the spares of the least expected money.

    >>> least_cost([Wanted("tee", "M", 20, 0.0, 4.0, 28.0)], Shortage()).spares
    (0,)
    """
    most = shortage.most_spares(lines)
    now = [round(line.ordered * line.loss) for line in lines]
    while sum(now) > most:
        now[now.index(max(now))] -= 1
    best = valued(lines, now, shortage)
    improved = True
    while improved:
        improved = False
        for spares in _neighbours(best.spares):
            found = valued(lines, spares, shortage) if sum(spares) <= most else best
            if found.money < best.money - GAIN:
                best, improved = found, True
    return best


def lost_on_average(lines: Sequence[Wanted], shortage: Shortage, *, most: int) -> Spares:
    """Return as many spares as the run loses on average, ``most`` at most, each where it saves most money."""
    wanted = min(most, round(sum(line.ordered * line.loss for line in lines)))
    best = valued(lines, [0] * len(lines), shortage)
    for _ in range(wanted):
        more = (valued(lines, [n + (k == at) for k, n in enumerate(best.spares)], shortage) for at in range(len(lines)))
        best = min(more, key=lambda found: found.money)
    return best


def filled(lines: Sequence[Wanted], shortage: Shortage, *, chance: float) -> Spares:
    """Return few spares with which the whole run is filled with ``chance`` or more: most chance for money first."""
    spares = [0] * len(lines)
    while valued(lines, spares, shortage).chance < chance and sum(spares) < MOST_SPARES:
        gains = [
            (math.log(chance_filled(one, n + 1)) - math.log(max(chance_filled(one, n), RARE))) / max(one.price, 1e-3)
            for one, n in zip(lines, spares, strict=True)
        ]
        spares[gains.index(max(gains))] += 1
    for at in sorted(range(len(lines)), key=lambda k: -lines[k].price):
        while (
            spares[at] and valued(lines, [*spares[:at], spares[at] - 1, *spares[at + 1 :]], shortage).chance >= chance
        ):
            spares[at] -= 1
    return valued(lines, spares, shortage)


def levels(lines: Sequence[Wanted], shortage: Shortage, *, certainty: float) -> dict[Level, Spares]:
    """Return the spares at three levels: what is lost on average, the least money, the run filled with ``certainty``.

    None has more spares than the next.
    """
    least = least_cost(lines, shortage)
    return {
        "lean": lost_on_average(lines, shortage, most=least.count),
        "least cost": least,
        "safe": least if least.chance >= certainty else filled(lines, shortage, chance=certainty),
    }


def valued(lines: Sequence[Wanted], spares: Sequence[int], shortage: Shortage) -> Spares:
    """Return what these spares come to."""
    chance, missing, paid, kept = 1.0, 0.0, 0.0, 0.0
    kinds: dict[tuple[float, float], Dist] = {}
    for line, count in zip(lines, spares, strict=True):
        short = _short(line.ordered, count, line.loss)
        chance *= float(short[0])
        missing += float(short @ np.arange(len(short)))
        paid += line.price * count
        kept += shortage.kept * line.price * _left_over(line.ordered, count, line.loss)
        key = (line.value, line.price)
        known = kinds.get(key)
        kinds[key] = short if known is None else _cut(np.convolve(known, short))
    return Spares(tuple(spares), chance, missing, paid, paid - kept + _of_missing(kinds, shortage))


def chance_filled(line: Wanted, spares: int) -> float:
    """Return the chance that the spares fill a line."""
    return float(_short(line.ordered, spares, line.loss)[0])


def kinds_to_test(prints_on: Sequence[frozenset[str]], prices: Sequence[float]) -> tuple[int, ...]:
    """Return which garments give a test piece so that every print is tested once, for the least money.

    ``prints_on`` are the prints that each garment carries. One piece carries all prints of its garment: what the first
    pulls of one print spoiled serves for those of the next.
    """
    wanted = frozenset().union(*prints_on) if prints_on else frozenset()
    best: tuple[float, int, tuple[int, ...]] | None = None
    for chosen in _subsets(len(prints_on)):
        if frozenset().union(*(prints_on[k] for k in chosen)) >= wanted:
            cost = (sum(prices[k] for k in chosen), len(chosen), chosen)
            best = cost if best is None else min(best, cost)
    return () if best is None else best[2]


def _subsets(count: int) -> Iterable[tuple[int, ...]]:
    return (tuple(k for k in range(count) if bits >> k & 1) for bits in range(1 << min(count, 12)))


def _neighbours(spares: tuple[int, ...]) -> Iterable[tuple[int, ...]]:
    """Yield one spare more, one less, one moved."""
    for at in range(len(spares)):
        for step in (1, -1):
            if spares[at] + step >= 0:
                yield (*spares[:at], spares[at] + step, *spares[at + 1 :])
    for a, b in permutations(range(len(spares)), 2):
        if spares[a]:
            moved = list(spares)
            moved[a], moved[b] = moved[a] - 1, moved[b] + 1
            yield tuple(moved)


@lru_cache(maxsize=20_000)
def _short(ordered: int, spares: int, loss: float) -> Dist:
    """Return the chances that 0, 1, 2, ... pieces of a line are missing."""
    total = ordered + spares
    if not ordered or loss <= 0:
        return np.ones(1)
    if loss >= 1:
        return np.array([0.0] * ordered + [1.0])
    k = range(spares + 1, total + 1)
    log_q, log_p = math.log1p(-loss), math.log(loss)
    log_n = math.lgamma(total + 1)
    tail = [
        math.exp(log_n - math.lgamma(j + 1) - math.lgamma(total - j + 1) + j * log_p + (total - j) * log_q) for j in k
    ]
    return _cut(np.array([max(0.0, 1.0 - math.fsum(tail)), *tail]))


@lru_cache(maxsize=20_000)
def _left_over(ordered: int, spares: int, loss: float) -> float:
    """Return how many spares are not printed, on average: printing stops at the last good piece."""
    if not ordered or loss <= 0:
        return float(spares)
    if loss >= 1:
        return 0.0
    total, log_q, log_p = 0.0, ordered * math.log1p(-loss), math.log(loss)
    for j in range(spares):
        ways = math.lgamma(ordered + j) - math.lgamma(ordered) - math.lgamma(j + 1)
        total += (spares - j) * math.exp(ways + log_q + j * log_p)
    return total


def _cut(chances: Dist) -> Dist:
    """Return a distribution without its rare end, which goes to the last number that stays."""
    above = np.cumsum(chances[::-1])[::-1]
    keep = max(1, int(np.count_nonzero(above > RARE)))
    if keep == len(chances):
        return chances
    out: Dist = chances[:keep].copy()
    out[-1] += float(above[keep])
    return out


def _of_missing(kinds: dict[tuple[float, float], Dist], shortage: Shortage) -> float:
    """Return the expected cost of missing pieces: refunds, or one late order for all where that is cheaper."""
    value, late, chance = np.zeros(1), np.zeros(1), np.ones(1)
    for (worth, price), short in kinds.items():
        count = np.arange(len(short))
        value = (value[:, None] + worth * count).ravel()
        late = (late[:, None] + price * count).ravel()
        chance = (chance[:, None] * short).ravel()
        likely = chance > RARE
        value, late, chance = value[likely], late[likely], chance[likely]
    bought = np.where(late > 0, shortage.late_order + late, np.where(value > 0, shortage.late_order, 0.0))
    return float((chance * (np.minimum(value, bought) if shortage.late else value)).sum())
