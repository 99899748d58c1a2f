"""The order at the press: which run comes when, so that wash-ups, changes of screen and soiled inks are few.

In: runs in the order in which they were written. Out: steps with what to change before each, and what the order costs
against the order as written. On each garment the riskiest placement comes first, so that a spoiled piece has cost
little. Among the orders that keep to that, the one of the fewest minutes is searched: exact as long as the
states of the press are few enough, else the best of a wide beam, and it says so.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from sepkit.press.runs import MOUNT_MIN, START, PressState, Run, Tally, change_over

MOST_STATES = 4000
"""States kept for each number of runs done; below this the search is exact."""
FIRST_BEAM = 24


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
    """The steps, what they cost, what the order as written would have cost, and whether no better order exists."""

    steps: tuple[Step, ...]
    tally: Tally
    as_written: Tally
    exact: bool


def press_order(
    runs: Sequence[Run], *, heads: int, trace: Mapping[tuple[str, str], float], most_states: int = MOST_STATES
) -> Order:
    """Return the best order of ``runs``.

    ``trace`` gives the ΔE00 that a trace of one ink causes in another, by (before, after).
    """
    if not runs:
        return Order((), Tally(), Tally(), exact=True)
    chains = _chains(runs)
    search = _Search(chains, heads, trace)
    best, _ = search.best(FIRST_BEAM, limit=float("inf"))
    better, exact = search.best(most_states, limit=search.minutes_of(best))
    found = better or best
    steps: list[Step] = []
    state, total = START, Tally()
    for number, run in enumerate(found, 1):
        state, tally = change_over(state, run, heads=heads, trace=trace, words=True)
        steps.append(Step(number, run, tally.words, tally))
        total = total.plus(tally)
    return Order(tuple(steps), total, tally_of(runs, heads=heads, trace=trace), exact)


def tally_of(runs: Sequence[Run], *, heads: int, trace: Mapping[tuple[str, str], float]) -> Tally:
    """Return what ``runs`` cost in the order given."""
    state, total = START, Tally()
    for run in runs:
        state, tally = change_over(state, run, heads=heads, trace=trace)
        total = total.plus(tally)
    return total


def _chains(runs: Sequence[Run]) -> tuple[tuple[Run, ...], ...]:
    """Return the runs of each garment, riskiest first; equal ones as written."""
    garments = dict.fromkeys(run.garment for run in runs)
    return tuple(
        tuple(sorted((run for run in runs if run.garment == garment), key=lambda run: -round(run.risk, 9)))
        for garment in garments
    )


@dataclass(frozen=True, slots=True)
class _Node:
    minutes: float
    state: PressState
    done: tuple[int, ...]
    parent: _Node | None
    run: Run | None


class _Search:
    """Layer by layer over how many runs of each garment are done; equal states keep the cheaper way."""

    def __init__(self, chains: tuple[tuple[Run, ...], ...], heads: int, trace: Mapping[tuple[str, str], float]) -> None:
        self.chains, self.heads, self.trace = chains, heads, trace
        self.count = sum(len(chain) for chain in chains)

    def best(self, width: int, *, limit: float) -> tuple[list[Run], bool]:
        """Return the best order with at most ``width`` states a layer, and whether none was dropped.

        Ways that cannot come below ``limit`` minutes are cut; empty when nothing comes below it.
        """
        layer = [_Node(0.0, START, (0,) * len(self.chains), None, None)]
        exact = True
        for _ in range(self.count):
            found: dict[tuple[tuple[int, ...], PressState], _Node] = {}
            for node in layer:
                for child in self._children(node):
                    if child.minutes + self._still_to_mount(child) >= limit - 1e-9:
                        continue
                    key = (child.done, child.state)
                    known = found.get(key)
                    if known is None or child.minutes < known.minutes:
                        found[key] = child
            layer = list(found.values())
            if len(layer) > width:
                exact = False
                layer = sorted(layer, key=lambda n: n.minutes + self._still_to_mount(n))[:width]
        if not layer:
            return [], exact
        last: _Node | None = min(layer, key=lambda n: n.minutes)
        way: list[Run] = []
        while last is not None and last.run is not None:
            way.append(last.run)
            last = last.parent
        return way[::-1], exact

    def minutes_of(self, way: Sequence[Run]) -> float:
        """Return the minutes of an order."""
        return tally_of(way, heads=self.heads, trace=self.trace).minutes

    def _children(self, node: _Node) -> list[_Node]:
        out = []
        for nth, chain in enumerate(self.chains):
            at = node.done[nth]
            if at == len(chain):
                continue
            state, tally = change_over(node.state, chain[at], heads=self.heads, trace=self.trace)
            done = (*node.done[:nth], at + 1, *node.done[nth + 1 :])
            out.append(_Node(node.minutes + tally.minutes, state, done, node, chain[at]))
        return out

    def _still_to_mount(self, node: _Node) -> float:
        """Return the least minutes that every way on needs: screens not on the press must be hung once."""
        mounted = {screen for screen, _ in node.state.mounted}
        needed = {
            pull.screen
            for chain, at in zip(self.chains, node.done, strict=True)
            for run in chain[at:]
            for pull in run.pulls
        }
        return MOUNT_MIN * len(needed - mounted)
