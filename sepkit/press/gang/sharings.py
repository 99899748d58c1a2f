"""Ways to share screens over all meshes and ink families, from the cheapest up, without laying them out.

In: the families of a job, what one screen costs at least with the images on it. Out: Sharings with the minutes of their
screens. A family's ways are found by branch and bound (`gang.search`); families are mixed best first.
"""

from __future__ import annotations

import heapq
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from itertools import product
from math import prod

from sepkit.press.gang.plan import FamilyKey, GangFamilies, GangPlan
from sepkit.press.gang.search import MOST_TURNINGS, FamilyChoices, Subset
from sepkit.press.jobs import GangItem

MOST_NODES = 12_000
"""Steps of the search within one family."""
MOST_MIXES = 20_000
"""Mixes of families that are looked at."""

CostOf = Callable[[Sequence[GangItem], bool], float]
"""Minutes that a screen with these images takes at least; whether its frame must be turned between them."""


@dataclass(frozen=True, slots=True)
class Sharing:
    """Which images share screens: for each family the places of its items, and what its screens take at least."""

    minutes: float
    parts: tuple[tuple[FamilyKey, tuple[Subset, ...]], ...]


class Sharings:
    """The ways to share screens whose screens alone take less than ``most_min``."""

    def __init__(self, families: GangFamilies, cost_of: CostOf, *, most_min: float) -> None:
        self.families = families
        self.choices: dict[FamilyKey, FamilyChoices] = {key: families.choices(key) for key in families.items}
        self.complete = True
        """All of them are within reach."""
        self._least = {key: self._cheapest(key, cost_of) for key in self.choices}
        spare = most_min - sum(self._least.values())
        self._ways = {key: self._within(key, cost_of, self._least[key] + spare) for key in self.choices}

    def from_cheapest(self) -> Iterator[Sharing]:
        """Yield the ways from the cheapest up."""
        keys = list(self._ways)
        rows = [self._ways[key] for key in keys]
        if not all(rows):
            return
        start = (0,) * len(rows)
        heap, seen = [(sum(row[0][0] for row in rows), start)], {start}
        for _ in range(MOST_MIXES):
            if not heap:
                return
            minutes, at = heapq.heappop(heap)
            parts = ((key, row[k][1]) for key, row, k in zip(keys, rows, at, strict=True))
            yield Sharing(minutes, tuple(parts))
            for nth, row in enumerate(rows):
                onward = (*at[:nth], at[nth] + 1, *at[nth + 1 :])
                if onward[nth] < len(row) and onward not in seen:
                    seen.add(onward)
                    heapq.heappush(heap, (minutes - row[at[nth]][0] + row[onward[nth]][0], onward))
        self.complete = False

    def names(self, sharing: Sharing) -> list[tuple[str, ...]]:
        """Return the images of each screen."""
        return [
            tuple(item.name for item in self.choices[key].items_of(subset))
            for key, subsets in sharing.parts
            for subset in subsets
        ]

    def turnings(self, sharing: Sharing) -> list[frozenset[str]]:
        """Return every set of images that the other end may be at the clamp for, where frames turn no more than needed.

        A frame that need not be turned is not; beyond MOST_TURNINGS ways none is, which is a bound.
        """
        each = [self.choices[key].turnings(subset) for key, subsets in sharing.parts for subset in subsets]
        if prod(len(ways) for ways in each) > MOST_TURNINGS:
            return [frozenset()]
        return [frozenset().union(*ways) for ways in product(*each)]

    def laid_out(self, sharing: Sharing) -> GangPlan | None:
        """Return the plan of its screens; None when a frame lacks."""
        plans = {}
        for key, subsets in sharing.parts:
            family = self.choices[key].laid_out(subsets, least=self.families.plans[key].least)
            if family is None:
                return None
            plans[key] = family
        return self.families.with_plans(plans)

    def _cheapest(self, key: FamilyKey, cost_of: CostOf) -> float:
        """Return what a family takes at least: by the screens that it has in the plan of the fewest."""
        single = min(cost_of([item], False) for item in self.families.items[key])
        return self.families.plans[key].least * single

    def _within(self, key: FamilyKey, cost_of: CostOf, most_min: float) -> list[tuple[float, tuple[Subset, ...]]]:
        choices = self.choices[key]
        found, whole = choices.partitions_within(cost_of, most_min, nodes=MOST_NODES)
        self.complete &= whole
        return sorted(found, key=lambda way: way[0])
