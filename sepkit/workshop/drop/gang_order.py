"""Screens and their order at the press, chosen together for the least minutes.

In: the images of a job, its runs for any sharing of screens. Out: the plan of screens and the order of runs that take
least time together: a screen costs its coating, exposing and films, an order costs hanging, turning, taping, washing.

The plan with the fewest screens comes first. Others share screens differently, or take more of them, which spares
taping and washing. They are looked at from the cheapest screens up: by what they cost at least, then by the least that
an order takes were no frame turned more than it must; what is left is laid out, until none can be better.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Collection, Sequence
from dataclasses import dataclass, replace
from itertools import islice, zip_longest
from typing import TYPE_CHECKING

from sepkit.press.gang.loads import loads_apart
from sepkit.press.gang.plan import GangFamilies, GangPlan, gang_families
from sepkit.press.gang.sharings import Sharing, Sharings
from sepkit.press.minutes import FILM_MIN, SCREEN_MIN
from sepkit.press.runs import MOUNT_MIN, TAPE_MIN, TURN_MIN
from sepkit.press.sequence import Order, least_below, least_minutes, press_order
from sepkit.press.sequence_blocks import Block, blocks_of
from sepkit.press.sequence_bound import fixed_minutes
from sepkit.press.washes import least_washes

if TYPE_CHECKING:
    from sepkit.jobs import Screen
    from sepkit.press.jobs import FrameEnd, GangItem, GangRules
    from sepkit.press.runs import Run, Trace

MOST_PLANS = 80
"""Plans that are laid out, and their order searched."""
STATES_OF_OTHERS = 3000
"""States looked into for the order on a plan that is not the first."""
STATES_OF_ALL = 8000
"""States looked into for all plans: some ten seconds; fewer left generated drops of up to eight screens unproven."""
CLOSE_MIN = 1e-6
MANY = 99
MOST_PARTED = 12
"""Ways to let loads share screens that are laid out where films of one load lay apart."""
MOST_LOADS = 7
"""Beyond, loads do not share screens then."""
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
    return _Chooser(families, best, runs_of, heads, trace).best()


class _Chooser:
    """Weighs all ways to share screens that could take less time than the best plan known."""

    def __init__(self, families: GangFamilies, best: GangOrder, runs_of: RunsOf, heads: int, trace: Trace) -> None:
        self.found, self.runs_of, self.heads, self.trace = best, runs_of, heads, trace
        runs = list(runs_of(best.gang))
        # Which runs go in a row asks for images, not for the screens that hold them.
        self.blocks = blocks_of(runs)
        self.proven = True
        # What no sharing changes: screens that go round, platens, blades.
        self.always = fixed_minutes(runs, heads=heads, blades=_one_width_each(families.screens))
        most = best.minutes - self.always - CLOSE_MIN
        self.sharings = Sharings(families, lambda items, turned: _least(items, turned, trace), most_min=most)
        self.too_few = _too_few(best.gang)
        self.blades = _one_width_each(families.screens)

    def best(self) -> GangOrder:
        """Return the plan and order of the least minutes, and whether that is proven."""
        states, plans = STATES_OF_ALL, 0
        for sharing in self.sharings.from_cheapest():
            if sharing.minutes + self.always >= self.found.minutes - CLOSE_MIN:
                break
            if states <= 0 or plans >= MOST_PLANS:
                self.proven = False
                break
            states -= 1
            better, opened = self.may_be_better(sharing, min(states, STATES_OF_OTHERS))
            states -= opened
            if not better:
                continue
            plans += 1
            self.weigh(sharing)
        proven = self.proven and self.sharings.complete and self.found.order.exact
        return GangOrder(self.found.gang, self.found.order, proven)

    def may_be_better(self, sharing: Sharing, most_states: int) -> tuple[bool, int]:
        """Tell whether some order on a sharing, were it laid out at best, beats the plan found, and states used."""
        names = self.sharings.names(sharing)
        room = self.found.minutes - len(names) * (SCREEN_MIN + FILM_MIN)
        states = 0
        for turned in self.sharings.turnings(sharing):
            blocks = shared_by(self.blocks, names, turned, blades=self.blades)
            if least_minutes(blocks, heads=self.heads, trace=self.trace) >= room - CLOSE_MIN:
                continue
            most = max(1, most_states - states)
            least, opened = least_below(blocks, heads=self.heads, trace=self.trace, most_min=room, most_states=most)
            states += opened
            if least < room - 1e-3:
                return True, states
        return False, states

    def weigh(self, sharing: Sharing) -> None:
        """Lay a sharing out, search its order, and keep it where it takes less time."""
        gang = self.sharings.laid_out(sharing)
        if gang is None or loads_apart(gang.screens) or _too_few(gang) > self.too_few:
            return
        runs, room = self.runs_of(gang), self.found.minutes - screens_min(gang)
        blocks = blocks_of(runs)
        if least_minutes(blocks, heads=self.heads, trace=self.trace) >= room - CLOSE_MIN:
            return
        least, _ = least_below(blocks, heads=self.heads, trace=self.trace, most_min=room, most_states=STATES_OF_OTHERS)
        if least >= room - 1e-3:
            return
        order = press_order(runs, heads=self.heads, trace=self.trace, most_states=STATES_OF_OTHERS)
        found = GangOrder(gang, order, proven=False)
        if found.minutes < self.found.minutes - CLOSE_MIN:
            self.found = found
        self.proven &= screens_min(gang) + order.least_min >= self.found.minutes - 1e-3


def _too_few(gang: GangPlan) -> int:
    return sum(finding.code == "too-few-frames" for finding in gang.findings)


def _one_width_each(screens: Sequence[Screen]) -> bool:
    """Tell whether the frames of each mesh have one width, so that no layout changes which blades serve."""
    return len({(one.mesh, one.inside_width_mm) for one in screens}) == len({one.mesh for one in screens})


def shared_by(
    blocks: Sequence[Block], screens: Sequence[Sequence[str]], turned: Collection[str], *, blades: bool
) -> list[Block]:
    """Return blocks on other screens, given by their images, as they are at best: only ``turned`` images need end B.

    Without ``blades`` there is always a clean one.
    """
    at = {name: (number, names) for number, names in enumerate(screens, 1) for name in names}
    out = []
    for block in blocks:
        pulls = []
        for pull in block.pulls:
            number, names = at[pull.image]
            taped = tuple(name for name in names if name != pull.image)
            end: FrameEnd = "B" if pull.image in turned else "A"
            pulls.append(replace(pull, screen=number, end=end, taped=taped, blades=pull.blades if blades else MANY))
        runs = tuple(replace(run, pulls=tuple(pulls)) for run in block.runs)
        out.append(Block(runs, block.after, block.risk))
    return out


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


def _least(items: Sequence[GangItem], turned: bool, trace: Trace) -> float:
    """Return the minutes that a screen takes at least: made, hung, turned, each image opened, each ink washed out."""
    inks = frozenset(item.ink for item in items)
    tapes = TAPE_MIN * len(items) if len(items) > 1 else 0.0
    turns = TURN_MIN if turned else 0.0
    return SCREEN_MIN + FILM_MIN + MOUNT_MIN + turns + tapes + least_washes("", inks, trace)
