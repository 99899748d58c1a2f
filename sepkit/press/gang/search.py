"""Which prints share a screen: as few screens as one mesh and ink family allow.

In: items of one mesh and family, the frames of that mesh, the rules. Out: groups with their layouts, the lower bound,
and whether the number is proven. Up to ``rules.most_exact`` items every partition is within reach: numbers of screens
are tried from the lower bound up, and each subset is packed once (`press.gang.packing`). Beyond, subsets are filled
from the largest print down in several orders. Deterministic: no clock, no chance; the order of the input changes
nothing.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field
from itertools import combinations, islice

from sepkit.jobs import Screen
from sepkit.press.gang.bounds import fewest_bins
from sepkit.press.gang.layout import Fit, Layout, fit, lay_out, may_turn, must_turn, poses_of
from sepkit.press.gang.packing import Budget, units
from sepkit.press.jobs import GangItem, GangRules

MOST_TURNINGS = 12
"""Ways to turn frames that are looked at for one sharing."""
NODES_PER_SUBSET = 3000
NODES_IN_ALL = 9000
NODES_AT_LEAST = 40
NODES_PER_FILLING = 300
"""Where there are too many prints to be exact."""
NODES_TO_LAY_OUT = 4000
MOST_PARTITIONS = 24
"""Partitions with the fewest screens that are laid out and compared."""

Subset = frozenset[int]


@dataclass(frozen=True, slots=True)
class Group:
    """One screen of a family: the frame and what lies where."""

    screen: Screen
    layout: Layout


@dataclass(frozen=True, slots=True)
class Family:
    """The screens of one mesh and ink family."""

    groups: tuple[Group, ...]
    least: int
    """Lower bound on the number of screens."""
    nodes: int
    """Search nodes used."""

    @property
    def proven(self) -> bool:
        """No plan has fewer screens."""
        return len(self.groups) <= self.least


def family_screens(
    items: Sequence[GangItem], screens: Sequence[Screen], rules: GangRules, *, stock: Counter[str] | None = None
) -> Family | None:
    """Return the fewest screens for items of one mesh and family; every item fits some screen alone.

    ``stock`` limits how many frames of each name may be used; None: as many as needed. None is returned when the stock
    does not hold them.
    """
    return _FamilySearch(sorted(items, key=_from_largest), sorted(screens, key=_from_smallest), rules, stock).run()


class FamilyChoices:
    """Every way to share screens within one family, laid out only when it is asked for."""

    def __init__(self, items: Sequence[GangItem], screens: Sequence[Screen], rules: GangRules) -> None:
        sorted_items = sorted(items, key=_from_largest)
        self._search = _FamilySearch(sorted_items, sorted(screens, key=_from_smallest), rules, None)
        self._search.budget = Budget(NODES_IN_ALL)
        self._turned: dict[Subset, bool] = {}
        self._turnings: dict[Subset, list[frozenset[str]]] = {}

    def partitions(self, count: int, *, most: int) -> list[tuple[Subset, ...]]:
        """Return up to ``most`` ways to put all items on ``count`` screens, each by the places of its items."""
        return [tuple(subsets) for subsets in islice(self._search._partitions(count), most)]

    def partitions_within(
        self, cost_of: Callable[[Sequence[GangItem], bool], float], most_cost: float, *, nodes: int
    ) -> tuple[list[tuple[float, tuple[Subset, ...]]], bool]:
        """Return the ways to share screens that cost less than ``most_cost``, each with its cost, and if these are all.

        The cost of a way is that of its subsets: of their items, and whether the frame must be turned between them.
        More items cost no less.
        """
        costs: dict[Subset, float] = {}

        def cost(subset: Subset) -> float:
            if subset not in costs:
                costs[subset] = cost_of(self.items_of(subset), self.must_turn(subset))
            return costs[subset]

        out: list[tuple[float, tuple[Subset, ...]]] = []
        budget = Budget(nodes)
        search = self._search

        def grow(k: int, subsets: list[Subset], so_far: float) -> None:
            if so_far >= most_cost or not budget.take():
                return
            if k == len(search.items):
                out.append((so_far, tuple(subsets)))
                return
            for place, subset in enumerate(subsets):
                grown = subset | {k}
                more = cost(grown) - cost(subset)
                if so_far + more < most_cost and search._fits(grown):
                    grow(k + 1, [*subsets[:place], grown, *subsets[place + 1 :]], so_far + more)
            alone = frozenset({k})
            grow(k + 1, [*subsets, alone], so_far + cost(alone))

        grow(0, [], 0.0)
        return out, not budget.spent_out and not search.unsure

    def items_of(self, subset: Subset) -> tuple[GangItem, ...]:
        """Return the items of a screen."""
        return tuple(self._search.items[k] for k in sorted(subset))

    def must_turn(self, subset: Subset) -> bool:
        """Tell whether a screen is turned between its items, in whatever frame and however they lie."""
        if subset not in self._turned:
            items = self.items_of(subset)
            self._turned[subset] = len(subset) > 1 and all(
                must_turn(items, screen, self._search.rules, budget=Budget(NODES_PER_FILLING))
                for screen in self._search.screens
                if self._search._found(screen, subset) is not None
            )
        return self._turned[subset]

    def turnings(self, subset: Subset) -> list[frozenset[str]]:
        """Return sets of items that are turned against the others in some frame; one empty set where none need be.

        No more than one beyond MOST_TURNINGS: so many are not looked at.
        """
        if subset not in self._turnings:
            items = self.items_of(subset)
            ways = [frozenset[str]()]
            if self.must_turn(subset):
                # Which end is called A does not matter, so the first item is never turned.
                others = range(1, len(items))
                sets = (frozenset(one) for count in range(1, len(items)) for one in combinations(others, count))
                turned = (frozenset(items[k].name for k in one) for one in sets if self._may_turn(subset, one))
                ways = list(islice(turned, MOST_TURNINGS + 1))
            self._turnings[subset] = ways
        return self._turnings[subset]

    def _may_turn(self, subset: Subset, turned: frozenset[int]) -> bool:
        frames = [one for one in self._search.screens if self._search._found(one, subset) is not None]
        return any(
            may_turn(self.items_of(subset), turned, screen, self._search.rules, budget=Budget(NODES_PER_FILLING))
            for screen in frames
        )

    def subset_of(self, names: Sequence[str]) -> Subset:
        """Return the places of items by their names."""
        return frozenset(k for k, item in enumerate(self._search.items) if item.name in names)

    def laid_out(self, subsets: Sequence[Subset], *, least: int) -> Family | None:
        """Return the screens of a partition; None when a frame lacks."""
        groups = self._search._framed(subsets)
        return None if groups is None else Family(tuple(groups), least, 0)


def _from_largest(item: GangItem) -> tuple[float, float, str]:
    return (-item.width_mm * item.height_mm, -item.width_mm, item.name)


def _from_smallest(screen: Screen) -> tuple[float, float, str]:
    return (screen.inside_width_mm * screen.inside_height_mm, screen.inside_width_mm, screen.name)


@dataclass(slots=True)
class _FamilySearch:
    """One family; remembers every subset that was packed."""

    items: list[GangItem]
    screens: list[Screen]
    rules: GangRules
    stock: Counter[str] | None
    budget: Budget = field(default_factory=lambda: Budget(NODES_IN_ALL))
    fitted: dict[tuple[str, Subset], Fit | None] = field(default_factory=dict)
    layouts: dict[tuple[str, Subset], Layout] = field(default_factory=dict)
    unsure: bool = False
    """Some subset was given up for want of nodes."""

    def run(self) -> Family | None:
        least = self._bound()
        if len(self.items) > self.rules.most_exact:
            parts = self._filled()
            found = self._best(iter(parts))
        else:
            found = None
            for count in range(least, len(self.items) + 1):
                found = self._best(self._partitions(count))
                if found is not None:
                    break
                if not self.unsure:
                    least = count + 1
        if found is None:
            return None
        return Family(tuple(found), min(least, len(found)), NODES_IN_ALL - self.budget.left)

    def _bound(self) -> int:
        """By area and by bonds: prints of one load each need a screen of their own."""
        by_bonds = max([1, *Counter(item.load for item in self.items if item.load).values()])
        return by_bonds if any(item.may_turn_90 for item in self.items) else max(by_bonds, self._bound_by_area())

    def _bound_by_area(self) -> int:
        """Return how many frames the prints fill at least; none of them may turn."""
        poses = [pose for s in self.screens for item in self.items for pose in poses_of(item, s, self.rules)]
        height = max(units(s.inside_height_mm) for s in self.screens) - 2 * units(self.rules.ends_mm)
        width = max(p.x_high + p.width - p.x_low for p in poses)
        sizes = [(units(i.width_mm), units(i.height_mm)) for i in self.items]
        lane = units(self.rules.lane_mm)
        return fewest_bins(sizes, (width, height), gap_x=lane, gap_y=lane)

    def _fits(self, subset: Subset) -> bool:
        return any(self._found(screen, subset) is not None for screen in self.screens)

    def _found(self, screen: Screen, subset: Subset) -> Fit | None:
        """Return how a subset fits one frame, from memory where it was tried."""
        key = (screen.name, subset)
        if key not in self.fitted:
            self.fitted[key] = self._fit(screen, subset)
        return self.fitted[key]

    def _fit(self, screen: Screen, subset: Subset) -> Fit | None:
        if len(subset) > 1 and any(self.fitted.get((screen.name, subset - {k}), ()) is None for k in subset):
            return None
        loads = [self.items[k].load for k in subset if self.items[k].load]
        if len(set(loads)) < len(loads):
            return None
        # Some nodes are always left for the easy ones, so that a plan is found whatever the proof has cost.
        most = NODES_PER_SUBSET if len(self.items) <= self.rules.most_exact else NODES_PER_FILLING
        own = Budget(max(NODES_AT_LEAST, min(most, self.budget.left)))
        start = own.left
        found = fit([self.items[k] for k in sorted(subset)], screen, self.rules, budget=own)
        self.budget.left = max(0, self.budget.left - start + own.left)
        self.unsure |= found is None and own.spent_out
        return found

    def _partitions(self, count: int) -> Iterator[list[Subset]]:
        """Yield partitions into ``count`` subsets that each fit some frame, the first item first."""
        yield from self._grown(0, [], count)

    def _grown(self, k: int, subsets: list[Subset], count: int) -> Iterator[list[Subset]]:
        if k == len(self.items):
            if len(subsets) == count:
                yield list(subsets)
            return
        if count - len(subsets) > len(self.items) - k:
            return
        for place, subset in enumerate(subsets):
            grown = subset | {k}
            if self._fits(grown):
                yield from self._grown(k + 1, [*subsets[:place], grown, *subsets[place + 1 :]], count)
        if len(subsets) < count:
            yield from self._grown(k + 1, [*subsets, frozenset({k})], count)

    def _best(self, partitions: Iterator[list[Subset]]) -> list[Group] | None:
        """Lay out the first partitions that the stock holds and return the one that costs the printer least."""
        best: list[Group] | None = None
        tried = 0
        for subsets in partitions:
            groups = self._framed(subsets)
            if groups is None:
                continue
            if best is None or _cost(groups) < _cost(best):
                best = groups
            tried += 1
            if tried >= MOST_PARTITIONS or _cost(best)[:2] == (0, 0):
                break
        return best

    def _framed(self, subsets: Sequence[Subset]) -> list[Group] | None:
        """Choose a frame for each subset, within the stock; None when there are not enough."""
        # Costs add up, so without a shortage each subset takes its own best frame.
        each = [min(self._groups(subset), key=lambda g: _cost([g]), default=None) for subset in subsets]
        best = [group for group in each if group is not None]
        if len(best) < len(subsets):
            return None
        if self.stock is None or not Counter(g.screen.name for g in best) - self.stock:
            return best
        return min(self._within_stock(subsets, Counter()), key=_cost, default=None)

    def _groups(self, subset: Subset) -> list[Group]:
        return [Group(s, self._layout(s, subset, found)) for s in self.screens if (found := self._found(s, subset))]

    def _within_stock(self, subsets: Sequence[Subset], used: Counter[str]) -> Iterator[list[Group]]:
        if not subsets:
            yield []
            return
        for group in self._groups(subsets[0]):
            name = group.screen.name
            if self.stock is None or used[name] < self.stock[name]:
                for rest in self._within_stock(subsets[1:], used + Counter([name])):
                    yield [group, *rest]

    def _layout(self, screen: Screen, subset: Subset, found: Fit) -> Layout:
        key = (screen.name, subset)
        if key not in self.layouts:
            members = [self.items[k] for k in sorted(subset)]
            self.layouts[key] = lay_out(members, screen, self.rules, found=found, budget=Budget(NODES_TO_LAY_OUT))
        return self.layouts[key]

    def _filled(self) -> list[list[Subset]]:
        """Fill screens from the largest print down, in several orders; the fewest screens first."""
        sides = [(item.width_mm, item.height_mm) for item in self.items]
        keys: tuple[Callable[[int], float], ...] = (
            lambda k: k,
            lambda k: -sides[k][1],
            lambda k: -sides[k][0],
            lambda k: -max(sides[k]),
        )
        found = [self._first_fit(sorted(range(len(self.items)), key=key)) for key in keys]
        fewest = min(map(len, found))
        return [subsets for subsets in found if len(subsets) == fewest]

    def _first_fit(self, order: Sequence[int]) -> list[Subset]:
        subsets: list[Subset] = []
        for k in order:
            for place, subset in enumerate(subsets):
                if self._fits(subset | {k}):
                    subsets[place] = subset | {k}
                    break
            else:
                subsets.append(frozenset({k}))
        return subsets


def _cost(groups: Sequence[Group]) -> tuple[int, int, float, float]:
    """Return prints off the centre line, prints turned, frame area, mm off the centre line."""
    off, turned, shift = (sum(values) for values in zip(*(g.layout.cost for g in groups), strict=True))
    area = sum(g.screen.inside_width_mm * g.screen.inside_height_mm for g in groups)
    return int(off), int(turned), area, float(shift)
