"""Blocks: runs that follow one another without a change at the press, which an order is searched over.

In: runs. Out: blocks, and which must be done before which.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property

from sepkit.press.runs import MOUNT_MIN, Pull, Run, darkens, screens_hung


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


def around_min(run: Run, heads: int) -> float:
    """Return the minutes of hanging screens again where they go round, which no order changes."""
    count = len(run.pulls)
    if not run.batch or count <= heads:
        return 0.0
    return MOUNT_MIN * (screens_hung(count, heads, run.batches) - count)
