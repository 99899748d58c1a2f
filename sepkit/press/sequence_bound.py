"""What every order of runs must still do: the bound of the search for an order at the press.

In: blocks of runs, what is done, the press. Out: minutes that no way on is below. Each part is counted by itself:
screens hung and turned, images opened, inks washed out of screens, platens, blades, screens that go round.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Collection, Mapping, Sequence
from dataclasses import dataclass
from functools import cached_property

from sepkit.press.runs import (
    BLADE_MIN,
    DARKER_L,
    MOUNT_MIN,
    PLATEN_MIN,
    TAPE_MIN,
    TURN_MIN,
    PressState,
    Pull,
    Run,
    Trace,
    darkens,
    screens_hung,
    wash_min,
)

CLOSE_L, LIGHTEST_L = 1e-6, 100.0


@dataclass(frozen=True)
class Block:
    """Runs that follow one another without a change; ``after`` are the blocks that must be done before, as bits."""

    runs: tuple[Run, ...]
    after: int
    risk: float

    @property
    def pulls(self) -> tuple[Pull, ...]:
        """Return what each of its runs pulls."""
        return self.runs[0].pulls

    @cached_property
    def screens(self) -> tuple[int, ...]:
        """Return the screens it pulls, in order."""
        return tuple(pull.screen for pull in self.pulls)


def blocks_of(runs: Sequence[Run]) -> list[Block]:
    """Return the runs joined where any order may as well do them in a row, in the order of their first runs.

    Blocks that differ in nothing that an order asks for are done in one order: the riskier first.
    """
    groups: dict[tuple[object, ...], list[Run]] = {}
    for run in runs:
        alike = _alike(run, runs)
        groups.setdefault((*alike, run.garment if run.batch else ""), []).append(run)
    members = [tuple(sorted(group, key=lambda run: (-run.cloth_lightness, -run.risk))) for group in groups.values()]
    risks = [max(run.risk for run in group) for group in members]
    twins: dict[tuple[object, ...], list[int]] = {}
    for nth in sorted(range(len(members)), key=lambda k: -risks[k]):
        twins.setdefault(_alike(members[nth][0], runs), []).append(nth)
    out = []
    for nth, group in enumerate(members):
        before = {(run.print_name, run.garment, run.stage - 1) for run in group}
        after = sum(
            1 << other
            for other, runs_there in enumerate(members)
            if any((run.print_name, run.garment, run.stage) in before for run in runs_there)
        )
        same = twins[_alike(group[0], runs)]
        at = same.index(nth)
        if at and group[0].stages == 1:
            after |= 1 << same[at - 1]
        out.append(Block(group, after, risks[nth]))
    return out


def _alike(run: Run, runs: Sequence[Run]) -> tuple[object, ...]:
    """Return what runs have in common where an order treats them alike.

    Screens, platen, stage, and how their cloth stands to all others.
    """
    lightnesses = [run.cloth_lightness, *(other.cloth_lightness for other in runs)]
    before = tuple(darkens(other, lightnesses[0]) for other in lightnesses[1:])
    after = tuple(darkens(lightnesses[0], other) for other in lightnesses[1:])
    pulls = tuple((pull.screen, pull.end, pull.image, pull.ink, pull.blade_mm) for pull in run.pulls)
    return pulls, run.platen, run.stage, run.stages, bool(run.batch), before, after


@dataclass(frozen=True, slots=True)
class _Needs:
    """What a set of blocks uses."""

    ends: dict[int, set[str]]
    images: dict[int, set[str]]
    """Images that share their screen."""
    inks: dict[int, frozenset[str]]
    platens: set[str]
    blades: dict[float, tuple[set[str], int]]
    screens: frozenset[int]
    minutes: float
    """Of screens that go round, which no order changes."""
    blocks: tuple[Block, ...]
    cloths: frozenset[float]
    firsts: Counter[tuple[int, str]]
    """Screen and image that blocks pull first, and below last."""
    lasts: Counter[tuple[int, str]]
    ink_of: dict[tuple[int, str], str]
    pulled: int
    beyond: int
    """Screens beyond the heads, summed over the blocks."""


class Bound:
    """What every way on must still do."""

    def __init__(self, blocks: Sequence[Block], heads: int, trace: Trace) -> None:
        self.blocks, self.heads, self.trace = blocks, heads, trace
        self._needs: dict[int, _Needs] = {}
        self._washes: dict[tuple[str, frozenset[str]], float] = {}
        self._detours: dict[frozenset[str], float] = {}

    def needs(self, done: int) -> _Needs:
        """Return what the blocks that are not done use."""
        found = self._needs.get(done)
        if found is None:
            left = [block for nth, block in enumerate(self.blocks) if not done >> nth & 1]
            found = self._needs[done] = _needs_of(left, self.heads)
        return found

    def needed(self, done: int, state: PressState) -> PressState:
        """Return a press without what no later block asks: presses that differ in nothing else are one to the search.

        Blades of a width do not count where there is one for each ink to come, nor a cloth that nothing comes after
        for which the platen is cleaned.
        """
        needs = self.needs(done)
        short = {
            width
            for width, (used, blades) in needs.blades.items()
            if len(used.union(ink for at, ink in state.blades if at == width)) > blades
        }
        lighter = [cloth for cloth in needs.cloths if darkens(state.cloth_lightness, cloth)]
        return PressState(
            tuple(place for place in state.mounted if place[0] in needs.ends),
            tuple(place for place in state.inks if place[0] in needs.ends),
            tuple((screen, image) for screen, image in state.opened if image in needs.images.get(screen, ())),
            state.platen if state.platen in needs.platens else "",
            min(lighter) - DARKER_L - CLOSE_L if lighter else LIGHTEST_L,
            tuple(blade for blade in state.blades if blade[0] in short),
        )

    def of(self, done: int, state: PressState) -> float:
        """Return minutes."""
        needs = self.needs(done)
        mounted, opened, inks = dict(state.mounted), dict(state.opened), dict(state.inks)
        hung = float(needs.beyond)
        if self.heads == 1:
            hung = needs.pulled - self._hanging_on(needs, mounted, opened) / MOUNT_MIN
        # A screen that is hung once is turned between its ends; one that is hung again is hung as it is needed.
        once = MOUNT_MIN * sum(screen not in mounted for screen in needs.ends)
        for screen, ends in needs.ends.items():
            end = mounted.get(screen)
            once += TURN_MIN * (len(ends) - (end is None or end in ends))
        minutes = needs.minutes + max(once, MOUNT_MIN * hung)
        for screen, images in needs.images.items():
            minutes += TAPE_MIN * (len(images) - (opened.get(screen) in images))
        for screen, taken in needs.inks.items():
            minutes += self.washes(inks.get(screen, ""), taken)
        minutes += PLATEN_MIN * (len(needs.platens) - (state.platen in needs.platens))
        for width, (used, blades) in needs.blades.items():
            held = {ink for at, ink in state.blades if at == width}
            minutes += BLADE_MIN * max(0, len(used - held) - max(0, blades - len(held)))
        return minutes

    def _hanging_on(self, needs: _Needs, mounted: Collection[int], opened: Mapping[int, str]) -> float:
        """Return minutes that at most are saved where one head finds the first screen of a block hanging.

        The block before pulled it last, in the same image, or in another: then the image is opened there, and where
        that is not the one time that it must be, opening and washing go off what is saved.
        """
        saved = 0.0
        for (screen, image), count in needs.firsts.items():
            same = min(count, needs.lasts[screen, image] + (screen in mounted and opened.get(screen) == image))
            others = [key for key in needs.lasts if key[0] == screen and key[1] != image]
            cross = min(count - same, sum(needs.lasts[key] for key in others) + (screen in mounted))
            once = min(cross, opened.get(screen) != image)
            again = MOUNT_MIN - (TAPE_MIN if image in needs.images.get(screen, ()) else 0.0)
            if others and all(needs.ink_of[key] != needs.ink_of[screen, image] for key in others):
                again -= self.detour(needs.inks[screen])
            saved += MOUNT_MIN * (same + once) + max(0.0, again) * (cross - once)
        return saved

    def detour(self, inks: frozenset[str]) -> float:
        """Return the least minutes that an ink taken once more adds to the washing of a screen."""
        found = self._detours.get(inks)
        if found is None:
            ways = ((a, i, b) for a in inks for i in inks for b in inks if i not in (a, b))
            more = (
                wash_min(a, i, self.trace)
                + wash_min(i, b, self.trace)
                - (0.0 if a == b else wash_min(a, b, self.trace))
                for a, i, b in ways
            )
            found = self._detours[inks] = max(0.0, min(more, default=0.0))
        return found

    def washes(self, now: str, used: frozenset[str]) -> float:
        """Return the least minutes of washing in which a screen with the ink ``now`` takes all of ``used``."""
        key = (now if now in used or not now else "\0", used)
        if len(used) < 2 and key[0] != "\0":
            return 0.0
        found = self._washes.get((now, used))
        if found is None:
            found = self._washes[now, used] = least_washes(now, used, self.trace)
        return found


def fixed_minutes(runs: Sequence[Run], *, heads: int, blades: bool) -> float:
    """Return the minutes that every order takes whichever screens images share: going round, platens, ``blades``."""
    needs = _needs_of([Block((run,), 0, run.risk) for run in runs], heads)
    minutes = needs.minutes + PLATEN_MIN * len(needs.platens)
    if blades:
        minutes += sum(BLADE_MIN * max(0, len(used) - count) for used, count in needs.blades.values())
    return minutes


def least_washes(now: str, used: Collection[str], trace: Trace) -> float:
    """Return the least minutes of washing in which one screen takes all inks of ``used``, from the ink ``now`` on.

    An empty ``now`` is a clean screen. The shortest walk through all of them, by subsets (M. Held, R. M. Karp, 1962, A
    dynamic programming approach to sequencing problems, J. SIAM 10) over distances that may go by others of ``used``.
    """
    inks = sorted(set(used) | ({now} if now else set()))
    cost = [[0.0 if a == b else wash_min(a, b, trace) for b in inks] for a in inks]
    for k in (inks.index(ink) for ink in used):
        for a in range(len(inks)):
            for b in range(len(inks)):
                cost[a][b] = min(cost[a][b], cost[a][k] + cost[k][b])
    wanted = sum(1 << inks.index(ink) for ink in used)
    starts = [inks.index(now)] if now else [inks.index(ink) for ink in used]
    best = {(1 << at & wanted, at): 0.0 for at in starts}
    for _ in range(wanted.bit_count()):
        further: dict[tuple[int, int], float] = {}
        for (taken, at), minutes in best.items():
            for to in range(len(inks)):
                if wanted >> to & 1 and not taken >> to & 1:
                    key = (taken | 1 << to, to)
                    further[key] = min(further.get(key, float("inf")), minutes + cost[at][to])
        best = further | {key: minutes for key, minutes in best.items() if key[0] == wanted}
    return min(best.values())


def _needs_of(blocks: Sequence[Block], heads: int) -> _Needs:
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
    return _Needs(
        ends,
        images,
        {screen: frozenset(used) for screen, used in inks.items()},
        {b.runs[0].platen for b in blocks},
        blades,
        frozenset(ends),
        sum(_around_min(run, heads) for block in blocks for run in block.runs),
        tuple(blocks),
        frozenset(run.cloth_lightness for block in blocks for run in block.runs),
        Counter((block.pulls[0].screen, block.pulls[0].image) for block in blocks),
        Counter((block.pulls[-1].screen, block.pulls[-1].image) for block in blocks),
        {(pull.screen, pull.image): pull.ink for block in blocks for pull in block.pulls},
        sum(len(set(block.screens)) for block in blocks),
        sum(max(0, len(set(block.screens)) - heads) for block in blocks),
    )


def _around_min(run: Run, heads: int) -> float:
    count = len(run.pulls)
    if not run.batch or count <= heads:
        return 0.0
    return MOUNT_MIN * (screens_hung(count, heads, run.batches) - count)
