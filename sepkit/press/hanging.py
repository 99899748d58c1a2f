"""How often screens are hung at least, whatever the order of blocks.

In: blocks, the heads of the press, what is done and what hangs. Out: minutes of hanging and turning that no way on is
below. Every block finds hanging at most what the block before it leaves: its own last screens, and others where heads
are free. Every block is before one other at most, so that the most that can be saved is an assignment (H. W. Kuhn,
1955, The Hungarian method for the assignment problem, Naval Research Logistics Quarterly 2).
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import reduce
from operator import or_

from sepkit.press.runs import MOUNT_MIN, TAPE_MIN, TURN_MIN, Trace
from sepkit.press.sequence_blocks import Block
from sepkit.press.washes import detour

SURELY, NEVER = 1e5, -1e6
"""Minutes by which the best assignment has what must be, and has not what cannot."""
Mounted = tuple[tuple[int, str, str], ...]
"""(screen, end at the clamp, image not taped) of what hangs."""


@dataclass(frozen=True, slots=True)
class _Ends:
    """What blocks begin and end with: how many with each (screen, image)."""

    firsts: Counter[tuple[int, str]]
    lasts: Counter[tuple[int, str]]
    again: dict[tuple[int, str], float]
    """Minutes that are saved where a screen hangs in another image, and the image is opened once more."""
    hung: float
    """Minutes of hanging every screen of every block."""


class Hanging:
    """Minutes of hanging screens for blocks that are left."""

    def __init__(self, blocks: Sequence[Block], heads: int, trace: Trace) -> None:
        self.blocks, self.heads, self.trace = blocks, heads, trace
        self._asks = [_asked(block, heads) for block in blocks]
        self._hung = [MOUNT_MIN * len(set(block.screens)) for block in blocks]
        self._saved = [[_saved(asks, *_left_by(block, heads)) for block in blocks] for asks in self._asks]
        for nth, before in enumerate(_all_before(blocks)):
            for other in range(len(blocks)):
                if other == nth or before >> other & 1:
                    self._saved[other][nth] = NEVER
        self._known: dict[tuple[int, Mounted], float] = {}
        self._ends: dict[int, _Ends] = {}

    def least(self, done: int, mounted: Mounted) -> float:
        """Return minutes."""
        key = (done, mounted)
        found = self._known.get(key)
        if found is None:
            found = self._known[key] = max(self._by_block(done, mounted), self._one_head(done, mounted))
        return found

    def _by_block(self, done: int, mounted: Mounted) -> float:
        """Return the minutes where every block finds what one other leaves, and one what hangs now."""
        from scipy.optimize import linear_sum_assignment

        left = [nth for nth in range(len(self.blocks)) if not done >> nth & 1]
        if len({screen for nth in left for screen in self.blocks[nth].screens}) <= self.heads:
            return 0.0
        now = {screen: end for screen, end, _ in mounted}
        saved = [[*(self._saved[nth][before] for before in left), self._first(nth, done, now)] for nth in left]
        rows, columns = linear_sum_assignment(saved, maximize=True)
        most = sum(saved[row][column] for row, column in zip(rows, columns, strict=True)) - SURELY
        return float(sum(self._hung[nth] for nth in left) - most)

    def _first(self, nth: int, done: int, now: Mapping[int, str]) -> float:
        """Return what a block finds hanging as the next one, which one of them is."""
        return NEVER if self.blocks[nth].after & ~done else SURELY + _saved(self._asks[nth], now, 0)

    def _one_head(self, done: int, mounted: Mounted) -> float:
        """Return the minutes where one screen hangs at a time: what a block ends with, one other block begins with.

        It does so in the same image, or in another: then the image is opened there, and where that is not the one time
        that it must be, opening and washing go off what is saved.
        """
        if self.heads > 1:
            return 0.0
        ends = self._ends_of(done)
        hangs = {screen: image for screen, _, image in mounted}
        saved = 0.0
        for (screen, image), count in ends.firsts.items():
            opened = hangs.get(screen)
            same = min(count, ends.lasts[screen, image] + (opened == image))
            others = [key for key in ends.lasts if key[0] == screen and key[1] != image]
            cross = min(count - same, sum(ends.lasts[key] for key in others) + (opened is not None))
            once = min(cross, opened != image)
            saved += MOUNT_MIN * (same + once) + ends.again[screen, image] * (cross - once)
        return ends.hung - saved

    def _ends_of(self, done: int) -> _Ends:
        found = self._ends.get(done)
        if found is None:
            left = [nth for nth in range(len(self.blocks)) if not done >> nth & 1]
            found = self._ends[done] = self._ends_among([self.blocks[nth] for nth in left])
        return found

    def _ends_among(self, left: Sequence[Block]) -> _Ends:
        pulls = [pull for block in left for pull in block.pulls]
        firsts = Counter((block.pulls[0].screen, block.pulls[0].image) for block in left)
        lasts = Counter((block.pulls[-1].screen, block.pulls[-1].image) for block in left)
        ink_of = {(pull.screen, pull.image): pull.ink for pull in pulls}
        taped = {(pull.screen, pull.image) for pull in pulls if pull.taped}
        again = {}
        for screen, image in firsts:
            minutes = MOUNT_MIN - TAPE_MIN * ((screen, image) in taped)
            others = [key for key in lasts if key[0] == screen and key[1] != image]
            if others and all(ink_of[key] != ink_of[screen, image] for key in others):
                minutes -= detour(frozenset(pull.ink for pull in pulls if pull.screen == screen), self.trace)
            again[screen, image] = max(0.0, minutes)
        hung = MOUNT_MIN * sum(len(set(block.screens)) for block in left)
        return _Ends(firsts, lasts, again, hung)


def _all_before(blocks: Sequence[Block]) -> list[int]:
    """Return for each block all that must be done before it, as bits."""
    before = [block.after for block in blocks]
    for _ in blocks:
        before = [reduce(or_, (before[k] for k in range(len(blocks)) if one >> k & 1), one) for one in before]
    return before


def _asked(block: Block, heads: int) -> dict[int, str]:
    """Return the screens that a block may find hanging, each with the end that it needs first."""
    asked: dict[int, str] = {}
    for pull in block.pulls[:heads]:
        asked.setdefault(pull.screen, pull.end)
    return asked


def _left_by(block: Block, heads: int) -> tuple[dict[int, str], int]:
    """Return the screens that a block leaves hanging, each with its end, and for how many others there is room."""
    last = {pull.screen for pull in block.pulls[-heads:]}
    ends: dict[int, str] = {pull.screen: pull.end for pull in block.pulls if pull.screen in last}
    return ends, heads - len(ends)


def _saved(asked: Mapping[int, str], hanging: Mapping[int, str], room: int) -> float:
    """Return the minutes that are saved where these screens hang and ``room`` others that are asked for."""
    at = [MOUNT_MIN - TURN_MIN * (hanging[screen] != end) for screen, end in asked.items() if screen in hanging]
    return sum(at) + MOUNT_MIN * min(room, len(asked) - len(at))
