"""What every order of runs must still do: the bound of the search for an order at the press.

In: blocks of runs, what is done, the press. Out: minutes that no way on is below. Each part is counted by itself:
screens hung and turned, images opened, inks washed out of screens, platens and their cleaning, blades, screens that go
round. A part asks only the blocks that use it, so that what was counted once is known for many presses.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import NamedTuple

from sepkit.press.hanging import Hanging
from sepkit.press.runs import (
    BLADE_MIN,
    DARKER_L,
    MOUNT_MIN,
    PLATEN_MIN,
    RETAPE_MIN,
    TAPE_MIN,
    TURN_MIN,
    Run,
    Trace,
    darkens,
)
from sepkit.press.sequence_blocks import Block, around_min
from sepkit.press.washes import least_washes

CLOSE_L, LIGHTEST_L = 1e-6, 100.0


class Part(NamedTuple):
    """One screen at the press: the end at the clamp, empty where it does not hang; the ink in it; the open image."""

    end: str
    ink: str
    image: str


class Press(NamedTuple):
    """The press between two blocks, as the search keeps it: screens and widths of blades by their places in Bound."""

    screens: tuple[Part, ...]
    platen: str
    cloth: float
    blades: tuple[tuple[str, ...], ...]
    """For each width the inks on the blades in use, the last used last."""


class PartLeft(NamedTuple):
    """A screen without what no later block asks, and minutes that it takes at least from there on."""

    part: Part
    once: float
    """Hung and turned, were it hung once."""
    more: float
    """Images opened, inks washed out."""


@dataclass(frozen=True, slots=True)
class _Left:
    """What the blocks that are not done ask, over all screens."""

    minutes: float
    """Of screens that go round, which no order changes."""
    screens: frozenset[int]
    platens: frozenset[str]
    cloths: tuple[float, ...]


NOTHING = Part("", "", "")


class Bound:
    """What every way on must still do."""

    def __init__(self, blocks: Sequence[Block], heads: int, trace: Trace) -> None:
        self.blocks, self.trace = blocks, trace
        self.screens = sorted({screen for block in blocks for screen in block.screens})
        self.place = {screen: k for k, screen in enumerate(self.screens)}
        self.widths = sorted({pull.blade_mm for block in blocks for pull in block.pulls})
        self.width_place = {width: k for k, width in enumerate(self.widths)}
        self._users = [
            sum(1 << nth for nth, block in enumerate(blocks) if screen in block.screens) for screen in self.screens
        ]
        self._width_users = [
            sum(1 << nth for nth, block in enumerate(blocks) if any(pull.blade_mm == width for pull in block.pulls))
            for width in self.widths
        ]
        self._left: dict[int, _Left] = {}
        self._parts: dict[tuple[int, int, Part], PartLeft] = {}
        self._blades: dict[tuple[int, int, tuple[str, ...]], tuple[tuple[str, ...], float]] = {}
        self._cloths: dict[tuple[int, float], tuple[float, float]] = {}
        self._hanging = Hanging(blocks, heads, trace)

    def start(self) -> Press:
        """Return the press before anything is done."""
        return Press((NOTHING,) * len(self.screens), "", LIGHTEST_L, ((),) * len(self.widths))

    def left(self, done: int) -> _Left:
        """Return what the blocks that are not done ask."""
        found = self._left.get(done)
        if found is None:
            left = [block for nth, block in enumerate(self.blocks) if not done >> nth & 1]
            found = self._left[done] = _Left(
                sum(around_min(run, self._hanging.heads) for block in left for run in block.runs),
                frozenset(screen for block in left for screen in block.screens),
                frozenset(block.runs[0].platen for block in left),
                tuple(sorted({run.cloth_lightness for block in left for run in block.runs})),
            )
        return found

    def part(self, place: int, done: int, part: Part) -> PartLeft:
        """Return what a screen takes at least, and the screen without what no later block asks."""
        users = self._users[place] & ~done
        key = (place, users, part)
        found = self._parts.get(key)
        if found is None:
            found = self._parts[key] = self._part_left(self.screens[place], users, part)
        return found

    def blade(self, place: int, done: int, inks: tuple[str, ...]) -> tuple[tuple[str, ...], float]:
        """Return blades of a width, none where there is one for each ink to come, and minutes of washing them."""
        users = self._width_users[place] & ~done
        key = (place, users, inks)
        found = self._blades.get(key)
        if found is None:
            pulls = [pull for block in self._of(users) for pull in block.pulls]
            pulls = [pull for pull in pulls if pull.blade_mm == self.widths[place]]
            used, held = {pull.ink for pull in pulls}, set(inks)
            count = max((pull.blades for pull in pulls), default=0)
            kept = inks if len(used | held) > count else ()
            found = kept, BLADE_MIN * max(0, len(used - held) - max(0, count - len(held)))
            self._blades[key] = found
        return found

    def cloth(self, done: int, cloth: float) -> tuple[float, float]:
        """Return the cloth that the platen last had, as far as it matters, and minutes of cleaning the platen.

        Cloths are equal that the same later ones are lighter than. Whatever is lightest is reached by steps that none
        of them needs cleaning for, or the platen is cleaned once.
        """
        found = self._cloths.get((done, cloth))
        if found is None:
            cloths = self.left(done).cloths
            lighter = [later for later in cloths if darkens(cloth, later)]
            alike = min(lighter) - DARKER_L - CLOSE_L if lighter else LIGHTEST_L
            reached = cloth
            for later in cloths:
                reached = max(reached, later) if not darkens(reached, later) else reached
            cleaned = bool(cloths) and darkens(reached, cloths[-1])
            found = self._cloths[done, cloth] = alike, RETAPE_MIN * cleaned
        return found

    def of(self, done: int, press: Press, once: float, more: float) -> float:
        """Return minutes; ``once`` and ``more`` are those of the screens together."""
        left = self.left(done)
        mounted = tuple(
            (screen, part.end, part.image) for screen, part in zip(self.screens, press.screens, strict=True) if part.end
        )
        minutes = left.minutes + max(once, self._hanging.least(done, mounted)) + more
        minutes += PLATEN_MIN * (len(left.platens) - (press.platen in left.platens))
        minutes += self.cloth(done, press.cloth)[1]
        for place, inks in enumerate(press.blades):
            minutes += self.blade(place, done, inks)[1]
        return minutes

    def at_start(self) -> tuple[float, float, float]:
        """Return minutes of everything, and those of the screens by themselves: once and more."""
        press = self.start()
        parts = [self.part(place, 0, part) for place, part in enumerate(press.screens)]
        once, more = sum(part.once for part in parts), sum(part.more for part in parts)
        return self.of(0, press, once, more), once, more

    def _of(self, users: int) -> list[Block]:
        return [block for nth, block in enumerate(self.blocks) if users >> nth & 1]

    def _part_left(self, screen: int, users: int, part: Part) -> PartLeft:
        pulls = [pull for block in self._of(users) for pull in block.pulls if pull.screen == screen]
        if not pulls:
            return PartLeft(NOTHING, 0.0, 0.0)
        ends, inks = {pull.end for pull in pulls}, frozenset(pull.ink for pull in pulls)
        images = {pull.image for pull in pulls if pull.taped}
        image = part.image if part.image in images else ""
        # A screen that is hung once is turned between its ends; one that is hung again is hung as it is needed.
        once = MOUNT_MIN * (not part.end) + TURN_MIN * (len(ends) - (not part.end or part.end in ends))
        more = TAPE_MIN * (len(images) - (image in images)) + least_washes(part.ink, inks, self.trace)
        return PartLeft(Part(part.end, part.ink, image), once, more)


def fixed_minutes(runs: Sequence[Run], *, heads: int, blades: bool) -> float:
    """Return the minutes that every order takes whichever screens images share: going round, platens, ``blades``."""
    bound = Bound([Block((run,), 0, run.risk) for run in runs], heads, {})
    left = bound.left(0)
    minutes = left.minutes + PLATEN_MIN * len(left.platens)
    if blades:
        minutes += sum(bound.blade(place, 0, ())[1] for place in range(len(bound.widths)))
    return minutes
