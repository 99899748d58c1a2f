"""Screens and their order at the press, chosen together for the least minutes.

In: the images of a job, its runs for any sharing of screens. Out: the plan of screens and the order of runs that take
least time together: a screen costs its coating, exposing and films, an order costs hanging, turning, taping, washing.

The plan with the fewest screens comes first. Others share screens differently, or take one screen more, which spares
taping and turning. They are looked at by what they cost at least, until none that is left can be better.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from itertools import islice, product, zip_longest
from typing import TYPE_CHECKING

from sepkit.press.gang.loads import loads_apart
from sepkit.press.gang.plan import GangFamilies, GangPlan, gang_families
from sepkit.press.minutes import FILM_MIN, SCREEN_MIN
from sepkit.press.runs import MOUNT_MIN, TAPE_MIN, WASH_MIN
from sepkit.press.sequence import Order, least_minutes, press_order

if TYPE_CHECKING:
    from sepkit.jobs import Screen
    from sepkit.press.gang.plan import FamilyKey
    from sepkit.press.gang.search import Subset
    from sepkit.press.jobs import GangItem, GangRules
    from sepkit.press.runs import Run, Trace

MOST_PLANS = 6
"""Plans that are laid out, and their order searched."""
STATES_OF_OTHERS = 250
"""States looked into for the order on a plan that is not the first."""
MOST_PARTITIONS = 40
"""Ways to share screens that are weighed in each family."""
MOST_MIXES = 2000
MOST_PARTED = 12
"""Ways to let loads share screens that are laid out where films of one load lay apart."""
MOST_LOADS = 7
"""Beyond, loads do not share screens then."""
FEW_ITEMS = 8
"""Families of more images are taken as the gang search left them."""
APART_MIN = 60.0
"""What films of one load at different places are worth avoiding (from memory)."""
RunsOf = Callable[[GangPlan], Sequence["Run"]]


@dataclass(frozen=True, slots=True)
class GangOrder:
    """Screens and the order of runs on them."""

    gang: GangPlan
    order: Order
    proven: bool
    """No other sharing of screens, with any order, takes less time."""

    @property
    def minutes(self) -> float:
        """Return what screens, films and changing over take."""
        return screens_min(self.gang) + self.order.tally.minutes


def screens_min(gang: GangPlan) -> float:
    """Return the minutes of making the screens; films of one load that lie apart count against a plan."""
    apart = sum(finding.code == "load-apart" for finding in gang.findings)
    return len(gang.screens) * (SCREEN_MIN + FILM_MIN) + apart * APART_MIN


def gang_order(
    items: Sequence[GangItem], screens: Sequence[Screen], rules: GangRules, runs_of: RunsOf, *, heads: int, trace: Trace
) -> GangOrder:
    """Return the screens and order of the least minutes together.

    ``runs_of`` gives the runs on a plan's screens. A plan that leaves images out is returned without an order.
    """
    families = gang_families(items, screens, rules=rules)
    first = families.with_plans({})
    if first.left_out:
        return GangOrder(first, press_order([], heads=heads, trace=trace), proven=False)
    best = GangOrder(first, press_order(runs_of(first), heads=heads, trace=trace), proven=False)
    best = _together(families, best, runs_of, heads=heads, trace=trace)
    laid_out, complete = 1, True
    for least, plans, whole in _others(families):
        complete &= whole
        if least >= best.minutes - 1e-6:
            break
        if laid_out >= MOST_PLANS:
            complete = False
            break
        laid_out += 1
        gang = plans()
        if gang is None or loads_apart(gang.screens):
            continue
        runs = runs_of(gang)
        if screens_min(gang) + least_minutes(runs) >= best.minutes - 1e-6:
            continue
        found = GangOrder(gang, press_order(runs, heads=heads, trace=trace, most_states=STATES_OF_OTHERS), proven=False)
        best = found if found.minutes < best.minutes - 1e-6 else best
        complete &= screens_min(gang) + found.order.least_min >= best.minutes - 1e-3
    small = all(len(members) <= FEW_ITEMS for members in families.items.values())
    return GangOrder(best.gang, best.order, complete and small and best.order.exact)


def _together(families: GangFamilies, best: GangOrder, runs_of: RunsOf, *, heads: int, trace: Trace) -> GangOrder:
    """Return a plan where films of one load lie at one place, the fewest screens first; ``best`` where it is one.

    Loads that share one screen share them all: what lies together once lies together everywhere, at the same places.
    """
    if not loads_apart(best.gang.screens):
        return best
    for clusters in islice(_clusters(families), MOST_PARTED):
        gang = _clustered(families, clusters)
        if gang is not None and not loads_apart(gang.screens):
            return GangOrder(gang, press_order(runs_of(gang), heads=heads, trace=trace), proven=False)
    return best


Clusters = Sequence[Sequence[str]]
"""Loads that share screens, by their names; an image without a load counts as one of its own name."""


def _load_of(item: GangItem) -> str:
    return item.load or item.name


def _clusters(families: GangFamilies) -> list[Clusters]:
    """Return ways to let loads share screens, the fewest screens first, each load by itself last."""
    loads = sorted({_load_of(item) for items in families.items.values() for item in items})
    counts = [Counter(_load_of(item) for item in items) for items in families.items.values()]

    def screens(clusters: Clusters) -> int:
        return sum(max(count[load] for load in cluster) for cluster in clusters for count in counts)

    ways = _partitions(loads) if len(loads) <= MOST_LOADS else [[[load] for load in loads]]
    return sorted(ways, key=screens)


def _partitions(names: Sequence[str]) -> list[list[list[str]]]:
    """Return every way to part names into groups."""
    if not names:
        return [[]]
    first, out = names[0], []
    for rest in _partitions(names[1:]):
        out.append([[first], *rest])
        out += [[*rest[:k], [first, *group], *rest[k + 1 :]] for k, group in enumerate(rest)]
    return out


def _clustered(families: GangFamilies, clusters: Clusters) -> GangPlan | None:
    """Return the plan in which these loads share screens; None when they do not fit one."""
    plans = {}
    for key, items in families.items.items():
        choices = families.choices(key)
        names: dict[str, list[str]] = {}
        for item in items:
            names.setdefault(_load_of(item), []).append(item.name)
        groups = [
            [name for name in row if name is not None]
            for cluster in clusters
            for row in zip_longest(*(names.get(load, []) for load in cluster))
        ]
        laid_out = choices.laid_out([choices.subset_of(group) for group in groups], least=families.plans[key].least)
        if laid_out is None:
            return None
        plans[key] = laid_out
    return families.with_plans(plans)


Choice = tuple[float, "tuple[Subset, ...] | None"]


def _others(families: GangFamilies) -> Iterator[tuple[float, Callable[[], GangPlan | None], bool]]:
    """Yield other plans from the cheapest bound up: the bound, how to lay it out, and whether all are weighed."""
    makers = {key: families.choices(key) for key, items in families.items.items() if 1 < len(items) <= FEW_ITEMS}
    options: dict[FamilyKey, list[Choice]] = {}
    whole = True
    for key, family in families.plans.items():
        now = [tuple(placed.item for placed in group.layout.placed) for group in family.groups]
        options[key] = [(_least(now), None)]
        if key not in makers:
            continue
        for count in (len(family.groups), len(family.groups) + 1):
            ways = makers[key].partitions(count, most=MOST_PARTITIONS)
            whole &= len(ways) < MOST_PARTITIONS
            options[key] += [(_least([makers[key].items_of(subset) for subset in way]), way) for way in ways]
        options[key].sort(key=lambda choice: choice[0])
    keys = list(options)
    mixes = list(islice(product(*(options[key] for key in keys)), MOST_MIXES))
    whole &= len(mixes) < MOST_MIXES

    def laid_out(mix: Sequence[Choice]) -> GangPlan | None:
        plans = {}
        for key, (_, way) in zip(keys, mix, strict=True):
            if way is not None:
                plans[key] = makers[key].laid_out(way, least=families.plans[key].least)
        if any(plan is None for plan in plans.values()):
            return None
        return families.with_plans({key: plan for key, plan in plans.items() if plan is not None})

    for mix in sorted(mixes, key=lambda mix: sum(choice[0] for choice in mix)):
        yield sum(choice[0] for choice in mix), lambda mix=mix: laid_out(mix), whole  # type: ignore[misc]


def _least(screens: Sequence[Sequence[GangItem]]) -> float:
    """Return the minutes that these screens take at least: made, hung once, each image opened, each ink washed out."""
    return sum(
        SCREEN_MIN
        + FILM_MIN
        + MOUNT_MIN
        + (TAPE_MIN * len(items) if len(items) > 1 else 0.0)
        + WASH_MIN * (len({item.ink for item in items}) - 1)
        for items in screens
    )
