"""In which order the plates print: base first, then light before dark, with small areas before large.

Each pair has a cost for printing one before the other: a dark ink before a lighter one dirties it (the screen's
underside picks up wet ink and carries it on), and a large wet area before a small one is picked up most. The order of
least total cost is found exactly for up to ten inks, and by lightness beyond.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

EXACT_UP_TO = 10
DIRT_PER_L = 1.0
"""Cost per unit of L* that the later ink is lighter than the earlier."""
PICK_UP = 12.0
"""Cost of printing full coverage before none: about a difference of 12 in L*; common practice, small before large."""


@dataclass(frozen=True, slots=True)
class InkInOrder:
    """What order asks of an ink: its lightness L* as printed, and the share of the print it covers (0..1)."""

    lightness: float
    cover: float


def pair_cost(first: InkInOrder, second: InkInOrder) -> float:
    """Return the cost of printing ``first`` before ``second``."""
    dirt = DIRT_PER_L * max(0.0, second.lightness - first.lightness)
    return dirt + PICK_UP * max(0.0, first.cover - second.cover)


def print_order(inks: Sequence[InkInOrder]) -> list[int]:
    """Return indices of ``inks`` in the order of least total pair cost; ties keep the lighter first.

    >>> print_order([InkInOrder(20, 0.1), InkInOrder(90, 0.2), InkInOrder(60, 0.2)])
    [1, 2, 0]
    """
    by_lightness = sorted(range(len(inks)), key=lambda i: (-inks[i].lightness, inks[i].cover))
    if len(inks) > EXACT_UP_TO or len(inks) < 2:
        return by_lightness
    count = len(inks)
    best: dict[int, tuple[float, tuple[int, ...]]] = {0: (0.0, ())}
    for chosen in range(1, 1 << count):
        found: tuple[float, tuple[int, ...]] | None = None
        for place, index in enumerate(by_lightness):
            if not chosen >> place & 1:
                continue
            cost, before = best[chosen & ~(1 << place)]
            cost += sum(pair_cost(inks[b], inks[index]) for b in before)
            if found is None or cost < found[0] - 1e-9:
                found = (cost, (*before, index))
        if found is not None:
            best[chosen] = found
    return list(best[(1 << count) - 1][1])


def why_order(inks: Sequence[InkInOrder], order: Sequence[int]) -> str:
    """Return one line that says why the order is so.

    >>> why_order([InkInOrder(20, 0.1), InkInOrder(90, 0.2)], [1, 0])
    'light before dark, so that no screen carries dark ink into a lighter one'
    """
    lights = [inks[i].lightness for i in order]
    if all(a >= b for a, b in pairwise(lights)):
        return "light before dark, so that no screen carries dark ink into a lighter one"
    return "light before dark, but a large area after a much smaller one of nearly its lightness"
