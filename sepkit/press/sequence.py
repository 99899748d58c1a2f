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
from dataclasses import dataclass, replace
from itertools import count

from sepkit.press.runs import (
    BLADE_MIN,
    MOUNT_MIN,
    PLATEN_MIN,
    START,
    TAPE_MIN,
    TURN_MIN,
    WASH_MIN,
    PressState,
    Pull,
    Run,
    Tally,
    Trace,
    darkens,
    told,
    ways_on,
)

MOST_STATES = 2000
"""States looked into before the search gives way to a beam."""
BEAM = 24
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

    @property
    def exact(self) -> bool:
        """Whether no better order exists."""
        return self.tally.minutes <= self.least_min + CLOSE_MIN


def press_order(runs: Sequence[Run], *, heads: int, trace: Trace, most_states: int = MOST_STATES) -> Order:
    """Return the best order of ``runs``, or a good one with a bound."""
    if not runs:
        return Order((), Tally(), Tally())
    search = _Search(_blocks(runs), heads, trace)
    written = _kept_order(runs, heads, trace)
    best, least = search.best(most_states)
    steps = _steps(_hanging(best, heads, trace), heads, trace)
    tally = _sum(steps)
    as_written = _sum(_steps(written, heads, trace))
    if as_written.minutes < tally.minutes - CLOSE_MIN:
        steps, tally = _steps(written, heads, trace), as_written
    return Order(steps, tally, as_written, min(least, tally.minutes))


def least_minutes(runs: Sequence[Run]) -> float:
    """Return a number of minutes that no order of ``runs`` can be below, without a search."""
    return _Bound(_blocks(runs)).of(0, START)


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


def _needed(state: PressState, later: frozenset[int]) -> PressState:
    """Return a press without what no later run asks: presses that differ in nothing else are one to the search."""
    return replace(
        state,
        mounted=tuple(place for place in state.mounted if place[0] in later),
        inks=tuple(place for place in state.inks if place[0] in later),
        opened=tuple(place for place in state.opened if place[0] in later),
    )


@dataclass(frozen=True, slots=True)
class _Block:
    """Runs that follow one another without a change; ``after`` are the blocks that must be done before, as bits."""

    runs: tuple[Run, ...]
    after: int
    risk: float

    @property
    def pulls(self) -> tuple[Pull, ...]:
        return self.runs[0].pulls


def _blocks(runs: Sequence[Run]) -> list[_Block]:
    """Return the runs joined where any order may as well do them in a row, in the order of their first runs."""
    groups: dict[tuple[object, ...], list[Run]] = {}
    for run in runs:
        groups.setdefault(_joins(run, runs), []).append(run)
    members = [tuple(sorted(group, key=lambda run: (-run.cloth_lightness, -run.risk))) for group in groups.values()]
    out = []
    for group in members:
        before = {(run.print_name, run.garment, run.stage - 1) for run in group}
        after = sum(
            1 << nth
            for nth, other in enumerate(members)
            if any((run.print_name, run.garment, run.stage) in before for run in other)
        )
        out.append(_Block(group, after, max(run.risk for run in group)))
    return out


def _joins(run: Run, runs: Sequence[Run]) -> tuple[object, ...]:
    """Return what runs of one block have in common: screens, platen, stage, and how their cloth stands to all others.

    A run that goes round in batches is a block of its own.
    """
    cloth = [run.cloth_lightness, *(other.cloth_lightness for other in runs)]
    before = tuple(darkens(other, cloth[0]) for other in cloth[1:])
    after = tuple(darkens(cloth[0], other) for other in cloth[1:])
    pulls = tuple((pull.screen, pull.end, pull.image, pull.ink, pull.blade_mm) for pull in run.pulls)
    alone = (run.garment,) if run.batch else ()
    return pulls, run.platen, run.stage, run.stages, before, after, alone


class _Bound:
    """What every way on must still do once: hang, turn, open and wash screens, change platens, wash blades."""

    def __init__(self, blocks: Sequence[_Block]) -> None:
        self.blocks = blocks
        self._needs: dict[int, _Needs] = {}

    def needs(self, done: int) -> _Needs:
        """Return what the blocks that are not done use."""
        found = self._needs.get(done)
        if found is None:
            found = self._needs[done] = _needs_of([b for nth, b in enumerate(self.blocks) if not done >> nth & 1])
        return found

    def of(self, done: int, state: PressState) -> float:
        """Return minutes."""
        needs = self.needs(done)
        mounted, opened, inks = dict(state.mounted), dict(state.opened), dict(state.inks)
        minutes = 0.0
        for screen, ends in needs.ends.items():
            end = mounted.get(screen)
            minutes += MOUNT_MIN if end is None else 0.0
            minutes += TURN_MIN * (len(ends) - (end is None or end in ends))
        for screen, images in needs.images.items():
            minutes += TAPE_MIN * (len(images) - (opened.get(screen) in images))
        for screen, used in needs.inks.items():
            ink = inks.get(screen, "")
            minutes += WASH_MIN * (len(used) - (not ink or ink in used))
        minutes += PLATEN_MIN * (len(needs.platens) - (state.platen in needs.platens))
        for width, (used, blades) in needs.blades.items():
            held = {ink for at, ink in state.blades if at == width}
            minutes += BLADE_MIN * max(0, len(used - held) - max(0, blades - len(held)))
        return minutes


@dataclass(frozen=True, slots=True)
class _Needs:
    """What a set of blocks uses."""

    ends: dict[int, set[str]]
    images: dict[int, set[str]]
    """Images that share their screen."""
    inks: dict[int, set[str]]
    platens: set[str]
    blades: dict[float, tuple[set[str], int]]
    screens: frozenset[int]


def _needs_of(blocks: Sequence[_Block]) -> _Needs:
    ends: dict[int, set[str]] = {}
    images: dict[int, set[str]] = {}
    inks: dict[int, set[str]] = {}
    blades: dict[float, tuple[set[str], int]] = {}
    for block in blocks:
        for pull in block.pulls:
            ends.setdefault(pull.screen, set()).add(pull.end)
            inks.setdefault(pull.screen, set()).add(pull.ink)
            if pull.taped:
                images.setdefault(pull.screen, set()).add(pull.image)
            blades.setdefault(pull.blade_mm, (set(), pull.blades))[0].add(pull.ink)
    return _Needs(ends, images, inks, {b.runs[0].platen for b in blocks}, blades, frozenset(ends))


@dataclass(frozen=True, slots=True)
class _Node:
    minutes: float
    done: int
    state: PressState
    parent: _Node | None
    left: tuple[tuple[Run, frozenset[int]], ...]
    """The runs of the last block, each with the screens that hang on after it."""


class _Search:
    """A* over (blocks done, press)."""

    def __init__(self, blocks: Sequence[_Block], heads: int, trace: Trace) -> None:
        self.blocks, self.heads, self.trace = blocks, heads, trace
        self.bound = _Bound(blocks)
        self.all = (1 << len(blocks)) - 1
        self.risk = max((block.risk for block in blocks), default=0.0)

    def best(self, most_states: int) -> tuple[Kept, float]:
        """Return the best way found, and the minutes that no way is below."""
        start = _Node(0.0, 0, START, None, ())
        turn = count()
        heap = [(self.bound.of(0, START), next(turn), start)]
        known: dict[tuple[int, PressState], float] = {(0, START): 0.0}
        opened = 0
        while heap:
            least, _, node = heapq.heappop(heap)
            if node.done == self.all:
                return _way(node), node.minutes - CLOSE_MIN / 10
            if node.minutes > known[node.done, node.state]:
                continue
            opened += 1
            if opened > most_states:
                return self._beam(start), least - CLOSE_MIN / 10
            for child in self._children(node):
                key = (child.done, child.state)
                if child.minutes < known.get(key, float("inf")):
                    known[key] = child.minutes
                    heapq.heappush(heap, (child.minutes + self.bound.of(child.done, child.state), next(turn), child))
        raise AssertionError("stages wait for one another")

    def _beam(self, start: _Node) -> Kept:
        layer = [start]
        while layer[0].done != self.all:
            found: dict[tuple[int, PressState], _Node] = {}
            for node in layer:
                for child in self._children(node):
                    key = (child.done, child.state)
                    if key not in found or child.minutes < found[key].minutes:
                        found[key] = child
            layer = sorted(found.values(), key=lambda n: n.minutes + self.bound.of(n.done, n.state))[:BEAM]
        return _way(min(layer, key=lambda n: n.minutes))

    def _children(self, node: _Node) -> Iterator[_Node]:
        place = node.done.bit_count()
        for nth, block in enumerate(self.blocks):
            if node.done >> nth & 1 or block.after & ~node.done:
                continue
            done = node.done | 1 << nth
            later = self.bound.needs(done).screens
            late = RISK_WEIGHT * (self.risk - block.risk) * (len(self.blocks) - place)
            for minutes, state, left in self._through(block, node.state, later):
                yield _Node(node.minutes + minutes + late, done, state, node, left)

    def _through(
        self, block: _Block, state: PressState, later: frozenset[int]
    ) -> Iterator[tuple[float, PressState, tuple[tuple[Run, frozenset[int]], ...]]]:
        """Yield minutes and presses after all runs of a block."""
        # While the block goes on its own screens are needed; all its runs pull the same ones, so none comes off in it.
        own = later | {pull.screen for pull in block.pulls}
        needed = [own] * (len(block.runs) - 1) + [later]
        first, *others = block.runs
        for now, tally in ways_on(state, first, heads=self.heads, trace=self.trace, later=needed[0]):
            minutes, left = tally.minutes, [(first, _among(now, needed[0]))]
            for run, soon in zip(others, needed[1:], strict=True):
                now, more = ways_on(now, run, heads=self.heads, trace=self.trace, later=soon)[0]
                minutes += more.minutes
                left.append((run, _among(now, soon)))
            yield minutes, _needed(now, later), tuple(left)


def _among(state: PressState, screens: frozenset[int]) -> frozenset[int]:
    return screens & {screen for screen, _ in state.mounted}


def _way(node: _Node | None) -> Kept:
    parts = []
    while node is not None:
        parts.append(node.left)
        node = node.parent
    return [pair for left in reversed(parts) for pair in left]
