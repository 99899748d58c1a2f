"""Runs at the press: one print on one kind of garment, with the screens it pulls, and what changing over costs.

In: runs. Out: the state of the press after each, and a tally of minutes and changes. Minutes are common practice of one
person at a small manual press (from memory); replace them by a stopwatch.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from sepkit.press.jobs import FrameEnd

MOUNT_MIN = 12.0
"""Hang a frame, set off-contact, register it."""
TURN_MIN = 8.0
"""Unclamp a frame, turn it half round, clamp and register again."""
TAPE_MIN = 4.0
"""Open one image and tape the others."""
WASH_MIN = 12.0
"""Card out, wipe, two scrap pulls."""
PLATEN_MIN = 3.0
"""Change between body, sleeve and label platen."""
RETAPE_MIN = 5.0
"""Clean or re-tape the platen before lighter garments: lint and ink of dark ones show on light ones."""
TRACE_MIN_PER_DE00 = 2.0
"""More cleaning when the ink before shows in the ink after."""
BLADE_MIN = 3.0
"""Wash a blade that was in another ink, when no clean one of that width is left."""
MOST_TRACE_MIN = 30.0
RELOAD_MIN_PER_PIECE = 0.8
"""Taking a garment off and loading it again in register."""
DARKER_L = 20.0
"""Cloth lightness that must fall short by this much before the platen is cleaned."""


@dataclass(frozen=True, slots=True)
class Pull:
    """One screen image in one ink within a run."""

    screen: int
    end: FrameEnd
    image: str
    ink: str
    blade_mm: float
    coats: int
    flash_after: bool
    taped: tuple[str, ...] = ()
    """Other images on that screen, taped off meanwhile."""
    blades: int = 1
    """How many blades of that width are owned."""


@dataclass(frozen=True, slots=True)
class Run:
    """One print on one garment line; its pulls in print order."""

    print_name: str
    placement: str
    garment: str
    cloth_lightness: float
    pieces: int
    platen: str
    pulls: tuple[Pull, ...]
    risk: float
    """Chance to lose the garment here over the minutes that it takes: the highest comes first."""
    minutes_per_piece: float = 1.0


@dataclass(frozen=True, slots=True)
class Tally:
    """What an order of runs costs beside the printing itself."""

    minutes: float = 0.0
    washups: int = 0
    """Screens washed for another ink."""
    blade_washes: int = 0
    mounts: int = 0
    turns: int = 0
    tapings: int = 0
    platens: int = 0
    retapes: int = 0
    reloads: int = 0
    trace_de00: float = 0.0
    """Sum of the colour shifts that traces of ink would cause, at wash-ups."""
    words: tuple[str, ...] = field(default=(), compare=False)
    """What to do before the run."""
    within: tuple[tuple[int, str], ...] = field(default=(), compare=False)
    """(number of a pull from 0, what to do before it) for what cannot be done before the run."""

    def plus(self, other: Tally) -> Tally:
        """Return the sum."""
        return Tally(
            self.minutes + other.minutes,
            self.washups + other.washups,
            self.blade_washes + other.blade_washes,
            self.mounts + other.mounts,
            self.turns + other.turns,
            self.tapings + other.tapings,
            self.platens + other.platens,
            self.retapes + other.retapes,
            self.reloads + other.reloads,
            self.trace_de00 + other.trace_de00,
        )


@dataclass(frozen=True, slots=True)
class PressState:
    """The press between two runs. Tuples, so that equal presses compare equal."""

    mounted: tuple[tuple[int, str], ...] = ()
    """(screen, end at the clamp), the longest unused first; at most as many as heads."""
    inks: tuple[tuple[int, str], ...] = ()
    """(screen, ink in it)."""
    opened: tuple[tuple[int, str], ...] = ()
    """(screen, image not taped)."""
    platen: str = ""
    cloth_lightness: float = 100.0
    blades: tuple[tuple[float, str], ...] = ()
    """(width, ink) of blades in use, the longest unused first."""


START = PressState()


def change_over(
    state: PressState, run: Run, *, heads: int, trace: Mapping[tuple[str, str], float], words: bool = False
) -> tuple[PressState, Tally]:
    """Return the press ready for and after ``run``, and what that took; ``words`` fills in Tally.words and within."""
    tally, said = _platen(state, run)
    loads = -(-len(run.pulls) // heads)
    reloads = (loads - 1) * run.pieces
    if loads > 1:
        tally = replace(tally, reloads=reloads, minutes=tally.minutes + reloads * RELOAD_MIN_PER_PIECE)
    state = replace(state, platen=run.platen, cloth_lightness=run.cloth_lightness)
    needed = {pull.screen for pull in run.pulls} if loads == 1 else set()
    made: list[_MadeReady] = []
    for pull in run.pulls:
        ready = _MadeReady(state, pull)
        ready.hang(heads, needed)
        ready.open_image()
        ready.wash(trace)
        ready.take_blade()
        state, tally = ready.press(), tally.plus(ready.tally())
        made.append(ready)
    if not words:
        return state, tally
    before, within = _told(run, made, heads)
    return state, replace(tally, words=(*said, *before), within=within)


def _platen(state: PressState, run: Run) -> tuple[Tally, list[str]]:
    """Return what the platen takes before a run, and the words for it."""
    said: list[str] = []
    minutes, platens, retapes = 0.0, 0, 0
    if run.platen != state.platen:
        minutes, platens = PLATEN_MIN, 1
        said.append(f"put on the {run.platen} platen")
    if run.cloth_lightness > state.cloth_lightness + DARKER_L:
        minutes, retapes = minutes + RETAPE_MIN, 1
        said.append("clean and re-tape the platen: lighter garments follow darker ones")
    return Tally(minutes, platens=platens, retapes=retapes), said


def _told(run: Run, made: Sequence[_MadeReady], heads: int) -> tuple[tuple[str, ...], tuple[tuple[int, str], ...]]:
    """Return what to do before the run, and what only at one of its pulls, for its screen or blade is in use before."""
    before: list[str] = []
    within: list[tuple[int, str]] = []
    for nth, (pull, ready) in enumerate(zip(run.pulls, made, strict=True)):
        earlier = run.pulls[:nth]
        if nth and nth % heads == 0:
            within.append((nth, f"take the {run.pieces} garments off, and load each again in register"))
        busy_screen = nth >= heads or any(one.screen == pull.screen for one in earlier)
        busy_blade = any(one.blade_mm == pull.blade_mm for one in earlier)
        for busy, texts in ((busy_screen, ready.about_screen), (busy_blade, ready.about_blade)):
            if busy:
                within += [(nth, text) for text in texts]
            else:
                before += texts
    return tuple(before), tuple(within)


class _MadeReady:
    """The press being made ready for one pull: its new state, what that takes, and the words for it.

    Minutes are summed in the order of the work, so that equal ways stay equal to the last bit.
    """

    def __init__(self, state: PressState, pull: Pull) -> None:
        self.state, self.pull = state, pull
        self.mounted, self.blades = state.mounted, state.blades
        self.inks, self.opened = dict(state.inks), dict(state.opened)
        self.minutes = self.trace_de00 = 0.0
        self.mounts = self.turns = self.tapings = self.washups = self.washed_blades = 0
        self.about_screen: list[str] = []
        self.about_blade: list[str] = []

    def hang(self, heads: int, needed: set[int]) -> None:
        """Have the screen hang with its end at the clamp; where heads lack, one that is not ``needed`` comes off."""
        pull, mounted = self.pull, list(self.state.mounted)
        hung = next((place for place in mounted if place[0] == pull.screen), None)
        if hung is not None:
            mounted.remove(hung)
            if hung[1] != pull.end:
                self.minutes, self.turns = self.minutes + TURN_MIN, 1
                self.about_screen.append(f"turn screen {pull.screen}: end {pull.end} to the clamp, and register it")
        else:
            self.minutes, self.mounts = self.minutes + MOUNT_MIN, 1
            if len(mounted) >= heads:
                out = next((place for place in mounted if place[0] not in needed), mounted[0])
                mounted.remove(out)
                self.about_screen.append(f"take off screen {out[0]}")
            self.about_screen.append(f"hang screen {pull.screen}, end {pull.end} to the clamp, and register it")
        self.mounted = (*mounted, (pull.screen, pull.end))

    def open_image(self) -> None:
        """Have this image open and the others on its screen taped."""
        pull = self.pull
        if pull.taped and self.opened.get(pull.screen) != pull.image:
            self.minutes, self.tapings = self.minutes + TAPE_MIN, 1
            self.about_screen.append(f"screen {pull.screen}: open {pull.image}, tape off {', '.join(pull.taped)}")
        self.opened[pull.screen] = pull.image

    def wash(self, trace: Mapping[tuple[str, str], float]) -> None:
        """Have no other ink in the screen."""
        pull, before = self.pull, self.inks.get(self.pull.screen, "")
        if before and before != pull.ink:
            self.trace_de00 = trace.get((before, pull.ink), 0.0)
            self.minutes += WASH_MIN
            self.minutes += min(TRACE_MIN_PER_DE00 * self.trace_de00, MOST_TRACE_MIN)
            self.washups = 1
            self.about_screen.append(f"wash screen {pull.screen}: {before} out, {pull.ink} in")
        self.inks[pull.screen] = pull.ink

    def take_blade(self) -> None:
        """Take a blade of the ink, a clean one, or one washed."""
        self.blades, washed = _blade(self.state.blades, self.pull)
        if washed:
            self.minutes, self.washed_blades = self.minutes + BLADE_MIN, 1
            self.about_blade.append(f"wash the {self.pull.blade_mm:.0f} mm blade: {washed} out")

    def press(self) -> PressState:
        """Return the press after the pull."""
        return PressState(
            self.mounted,
            tuple(sorted(self.inks.items())),
            tuple(sorted(self.opened.items())),
            self.state.platen,
            self.state.cloth_lightness,
            self.blades,
        )

    def tally(self) -> Tally:
        """Return what it took."""
        return Tally(
            self.minutes,
            self.washups,
            self.washed_blades,
            self.mounts,
            self.turns,
            self.tapings,
            trace_de00=self.trace_de00,
        )


def _blade(blades: tuple[tuple[float, str], ...], pull: Pull) -> tuple[tuple[tuple[float, str], ...], str]:
    """Return the blades after a pull, and the ink that had to be washed off one, or empty."""
    mine = (pull.blade_mm, pull.ink)
    same = [blade for blade in blades if blade[0] == pull.blade_mm]
    rest = tuple(blade for blade in blades if blade != mine)
    if mine in blades or len(same) < pull.blades:
        return (*rest, mine), ""
    oldest = same[0]
    return (*(blade for blade in rest if blade != oldest), mine), oldest[1]
