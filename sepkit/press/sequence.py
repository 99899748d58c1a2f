"""The order at the press: which run comes when, so that least time goes into changing over.

In: runs in the order in which they were written; a print in stages has its stages in their order. Out: steps with what
to change before each, what the order costs against the order as written, and the least that any order can take. Among
orders of equal minutes the riskiest placement comes first, so that a spoiled piece has cost little.

Runs that pull the same screens on cloth that the platen treats alike follow one another without a change, so they are
searched as one. The search is A* (P. Hart, N. Nilsson, B. Raphael, 1968) over sets of runs done and the state of the
press, with a bound that counts what every way on must still do once: it is exact when it ends. Beyond MOST_STATES a
beam finds a good order, and the bound says how far from the best it can be. The order as written is always tried.
"""

from __future__ import annotations

import heapq
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import count

from sepkit.press.runs import (
    START,
    PressState,
    Run,
    Tally,
    Trace,
    darkens,
    told,
    ways_on,
)
from sepkit.press.sequence_blocks import Block, blocks_of
from sepkit.press.sequence_bound import LIGHTEST_L, Bound, Part, Press

MOST_STATES = 3000
"""States looked into before the search gives way to a beam."""
BEAM = 24
MOST_BY_RISK = 8
"""Blocks up to which all orders of equal minutes are weighed by their risks; beyond, the riskier run is tried first."""
RISK_WEIGHT = 1e-7
"""Minutes that putting off a risky run costs: less than any change, so that it decides among equals only."""
CLOSE_MIN = 1e-4
"""Minutes within which two orders count as equal."""


@dataclass(frozen=True, slots=True)
class Step:
    """One run in its place, and what to do before it."""

    number: int
    run: Run
    changes: tuple[str, ...]
    tally: Tally

    def before_pull(self, nth: int) -> tuple[str, ...]:
        """Return what to do within the run before its pull ``nth``, from 0."""
        return tuple(text for at, text in self.tally.within if at == nth)


@dataclass(frozen=True, slots=True)
class Order:
    """The steps, what they cost, what the order as written would have cost, and the least that any order takes."""

    steps: tuple[Step, ...]
    tally: Tally
    as_written: Tally
    least_min: float = 0.0
    """No order changes over in fewer minutes."""
    states: int = 0
    """States that were looked into."""

    @property
    def exact(self) -> bool:
        """Whether no better order exists."""
        return self.tally.minutes <= self.least_min + CLOSE_MIN


def press_order(runs: Sequence[Run], *, heads: int, trace: Trace, most_states: int = MOST_STATES) -> Order:
    """Return the best order of ``runs``, or a good one with a bound."""
    if not runs:
        return Order((), Tally(), Tally())
    search = _Search(blocks_of(runs), heads, trace)
    written = _kept_order(runs, heads, trace)
    best, least = search.best(most_states)
    steps = _steps(_hanging(best, heads, trace), heads, trace)
    tally = _sum(steps)
    as_written = _sum(_steps(written, heads, trace))
    if as_written.minutes < tally.minutes - CLOSE_MIN:
        steps, tally = _steps(written, heads, trace), as_written
    return Order(steps, tally, as_written, min(least, tally.minutes), search.opened)


def least_minutes(blocks: Sequence[Block], *, heads: int, trace: Trace) -> float:
    """Return a number of minutes that no order of ``blocks`` can be below, without a search."""
    return Bound(blocks, heads, trace).at_start()[0]


def least_below(
    blocks: Sequence[Block], *, heads: int, trace: Trace, most_min: float, most_states: int
) -> tuple[float, int]:
    """Return minutes that no order of ``blocks`` is below, searched up to ``most_min``, and the states looked into."""
    search = _Search(blocks, heads, trace, by_risk=False)
    return search.least(most_min, most_states), search.opened


def tally_of(runs: Sequence[Run], *, heads: int, trace: Trace) -> Tally:
    """Return what ``runs`` cost in the order given."""
    return _sum(_steps(_kept_order(runs, heads, trace), heads, trace))


Way = list[tuple[Run, PressState]]
"""Runs in order, each with the press that it leaves."""
Kept = list[tuple[Run, frozenset[int]]]
"""Runs in order, each with the screens that hang on after it because they are needed again."""


def _steps(way: Way, heads: int, trace: Trace) -> tuple[Step, ...]:
    steps: list[Step] = []
    state = START
    for number, (run, after) in enumerate(way, 1):
        tally = told(state, after, run, heads=heads, trace=trace)
        steps.append(Step(number, run, tally.words, tally))
        state = after
    return tuple(steps)


def _sum(steps: Sequence[Step]) -> Tally:
    total = Tally()
    for step in steps:
        total = total.plus(step.tally)
    return total


def _kept_order(runs: Sequence[Run], heads: int, trace: Trace) -> Way:
    """Return the runs as they are, with the screens that a printer would leave hanging: those needed soonest."""
    way: Way = []
    state = START
    for nth, run in enumerate(runs):
        after = runs[nth + 1 :]
        soon = {pull.screen: at for at, later in reversed(list(enumerate(after))) for pull in later.pulls}
        ways = ways_on(state, run, heads=heads, trace=trace, later=frozenset(soon))
        state, _ = min(ways, key=lambda w: sorted(soon.get(screen, len(runs)) for screen, _ in w[0].mounted))
        way.append((run, state))
    return way


def _hanging(kept: Kept, heads: int, trace: Trace) -> Way:
    """Return an order with the press after each run; screens that nobody needs hang on where there is room."""
    way: Way = []
    state = START
    for nth, (run, stay) in enumerate(kept):
        later = frozenset(pull.screen for one, _ in kept[nth + 1 :] for pull in one.pulls)
        ways = [now for now, _ in ways_on(state, run, heads=heads, trace=trace, later=later)]
        state = next(now for now in ways if stay == _among(now, later))
        way.append((run, state))
    return way


@dataclass(frozen=True, slots=True)
class _Node:
    minutes: float
    done: int
    press: Press
    once: float
    """Least minutes of hanging and turning the screens from here on, were each hung once; and of the rest of them."""
    more: float
    parent: _Node | None
    left: Kept
    """The runs of the last block, each with the screens that hang on after it."""


@dataclass(frozen=True, slots=True)
class _After:
    """A way through a block, from a press that held what the block asks."""

    minutes: float
    parts: tuple[tuple[int, Part], ...]
    """The block's own screens after it, by their places."""
    off: tuple[int, ...]
    """Places of other screens that came off."""
    blades: tuple[tuple[int, tuple[str, ...]], ...]
    left: Kept


class _Search:
    """A* over (blocks done, press)."""

    def __init__(self, blocks: Sequence[Block], heads: int, trace: Trace, *, by_risk: bool = True) -> None:
        self.blocks, self.heads, self.trace = blocks, heads, trace
        self.bound = Bound(blocks, heads, trace)
        self.all = (1 << len(blocks)) - 1
        self.through: dict[tuple[object, ...], list[_After]] = {}
        self.opened = 0
        self.by_risk = by_risk and len(blocks) <= MOST_BY_RISK
        self.least_min, once, more = self.bound.at_start()
        self.start = _Node(0.0, 0, self.bound.start(), once, more, None, [])
        self.risk = max((block.risk for block in blocks), default=0.0) if by_risk else 0.0
        self.own = [tuple(dict.fromkeys(self.bound.place[screen] for screen in block.screens)) for block in blocks]
        self.widths = [
            tuple(dict.fromkeys(self.bound.width_place[pull.blade_mm] for pull in block.pulls)) for block in blocks
        ]

    def best(self, most_states: int) -> tuple[Kept, float]:
        """Return the best way found, and the minutes that no way is below."""
        least, node = self._explored(float("inf"), most_states)
        return (self._beam() if node is None else _way(node)), least

    def least(self, most_min: float, most_states: int) -> float:
        """Return minutes that no way is below, without looking for more than ``most_min``."""
        return self._explored(most_min, most_states)[0]

    def _explored(self, most_min: float, most_states: int) -> tuple[float, _Node | None]:
        """Return the minutes that no way is below, and the end of the best way where it was reached."""
        start = self.start
        turn = count()
        heap = [(self._rank(self.least_min, start), next(turn), start)]
        known: dict[tuple[int, Press], float] = {(0, start.press): 0.0}
        while heap:
            (least, *_), _, node = heapq.heappop(heap)
            if node.done == self.all:
                return node.minutes - CLOSE_MIN / 10, node
            if node.minutes > known[node.done, node.press]:
                continue
            self.opened += 1
            if self.opened > most_states or least >= most_min + CLOSE_MIN:
                return least - CLOSE_MIN / 10, None
            for child in self._children(node):
                key = (child.done, child.press)
                if child.minutes < known.get(key, float("inf")):
                    known[key] = child.minutes
                    least = self._least(child)
                    heapq.heappush(heap, (self._rank(least, child), next(turn), child))
        raise AssertionError("stages wait for one another")

    def _least(self, node: _Node) -> float:
        return node.minutes + self.bound.of(node.done, node.press, node.once, node.more)

    def _rank(self, least: float, node: _Node) -> tuple[float, float]:
        """Return what is looked into first: the least minutes; among equals the riskiest, or where many the farthest.

        Minutes count in steps below any change, so that what the order of risks costs parts equals only.
        """
        far = float(-node.done.bit_count())
        return (least, far) if self.by_risk else (round(least, 3), far)

    def _beam(self) -> Kept:
        layer = [self.start]
        while layer[0].done != self.all:
            found: dict[tuple[int, Press], _Node] = {}
            for node in layer:
                for child in self._children(node):
                    key = (child.done, child.press)
                    if key not in found or child.minutes < found[key].minutes:
                        found[key] = child
            layer = sorted(found.values(), key=self._least)[:BEAM]
        return _way(min(layer, key=lambda n: n.minutes))

    def _children(self, node: _Node) -> Iterator[_Node]:
        place = node.done.bit_count()
        for nth, block in enumerate(self.blocks):
            if node.done >> nth & 1 or block.after & ~node.done:
                continue
            done = node.done | 1 << nth
            late = RISK_WEIGHT * (self.risk - block.risk) * (len(self.blocks) - place) if self.risk else 0.0
            for after in self._through(nth, node.press, self.bound.left(done).screens):
                yield self._after(node, nth, after, late)

    def _after(self, node: _Node, nth: int, after: _After, late: float) -> _Node:
        """Return the press after a way through a block, without what no later block asks."""
        bound, now = self.bound, node.press
        done, once, more = node.done | 1 << nth, node.once, node.more
        screens, blades = list(now.screens), list(now.blades)
        off = tuple((place, now.screens[place]._replace(end="")) for place in after.off)
        for place, part in (*after.parts, *off):
            before, left = bound.part(place, node.done, now.screens[place]), bound.part(place, done, part)
            once += left.once - before.once
            more += left.more - before.more
            screens[place] = left.part
        for place, inks in after.blades:
            blades[place], _ = bound.blade(place, done, inks)
        block = self.blocks[nth]
        platen = block.runs[0].platen if block.runs[0].platen in bound.left(done).platens else ""
        cloth, _ = bound.cloth(done, block.runs[-1].cloth_lightness)
        press = Press(tuple(screens), platen, cloth, tuple(blades))
        return _Node(node.minutes + after.minutes + late, done, press, once, more, node, after.left)

    def _through(self, nth: int, press: Press, later: frozenset[int]) -> list[_After]:
        """Return every way through a block: minutes, and what it changes at the press."""
        block, own = self.blocks[nth], self.own[nth]
        parts = tuple(press.screens[place] for place in own)
        others = tuple(place for place, part in enumerate(press.screens) if part.end and place not in own)
        wanted = tuple(place for place in own if self.bound.screens[place] in later)
        dirty = darkens(press.cloth, block.runs[0].cloth_lightness)
        blades = tuple(press.blades[place] for place in self.widths[nth])
        key = (nth, parts, others, wanted, press.platen == block.runs[0].platen, dirty, blades)
        found = self.through.get(key)
        if found is None:
            state = self._state(nth, press, others, dirty=dirty)
            found = self.through[key] = list(self._ways(nth, state, others, later))
        return found

    def _state(self, nth: int, press: Press, others: Sequence[int], *, dirty: bool) -> PressState:
        """Return the press as runs know it, with what the block asks and all that hangs."""
        bound, own = self.bound, [(self.bound.screens[place], press.screens[place]) for place in self.own[nth]]
        hanging = [(screen, part.end) for screen, part in own if part.end]
        hanging += [(bound.screens[place], press.screens[place].end) for place in others]
        return PressState(
            tuple(sorted(hanging)),
            tuple((screen, part.ink) for screen, part in own if part.ink),
            tuple((screen, part.image) for screen, part in own if part.image),
            press.platen,
            0.0 if dirty else LIGHTEST_L,
            tuple((bound.widths[place], ink) for place in self.widths[nth] for ink in press.blades[place]),
        )

    def _ways(self, nth: int, state: PressState, others: Sequence[int], later: frozenset[int]) -> Iterator[_After]:
        # While the block goes on its own screens are needed; all its runs pull the same ones, so none comes off in it.
        block = self.blocks[nth]
        own = later | set(block.screens)
        needed = [own] * (len(block.runs) - 1) + [later]
        first, *rest = block.runs
        for now, tally in ways_on(state, first, heads=self.heads, trace=self.trace, later=needed[0]):
            minutes, left = tally.minutes, [(first, _among(now, needed[0]))]
            for run, soon in zip(rest, needed[1:], strict=True):
                now, more = ways_on(now, run, heads=self.heads, trace=self.trace, later=soon)[0]
                minutes += more.minutes
                left.append((run, _among(now, soon)))
            yield self._as_after(nth, minutes, now, others, left)

    def _as_after(self, nth: int, minutes: float, now: PressState, others: Sequence[int], left: Kept) -> _After:
        bound = self.bound
        mounted, inks, opened = dict(now.mounted), dict(now.inks), dict(now.opened)

        def part(screen: int) -> Part:
            return Part(mounted.get(screen, ""), inks.get(screen, ""), opened.get(screen, ""))

        return _After(
            minutes,
            tuple((place, part(bound.screens[place])) for place in self.own[nth]),
            tuple(place for place in others if bound.screens[place] not in mounted),
            tuple(
                (place, tuple(ink for width, ink in now.blades if width == bound.widths[place]))
                for place in self.widths[nth]
            ),
            left,
        )


def _among(state: PressState, screens: frozenset[int]) -> frozenset[int]:
    return screens & {screen for screen, _ in state.mounted}


def _way(node: _Node | None) -> Kept:
    parts = []
    while node is not None:
        parts.append(node.left)
        node = node.parent
    return [pair for left in reversed(parts) for pair in left]
