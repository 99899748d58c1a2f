"""Runs at the press: one print on one kind of garment, with the screens it pulls, and what changing over costs.

In: runs. Out: the state of the press after each, and a tally of minutes and changes. Minutes are common practice of one
person at a small manual press (from memory); replace them by a stopwatch.
"""

from __future__ import annotations

from collections.abc import Mapping
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
    tally = Tally()
    said: list[str] = []
    within: list[tuple[int, str]] = []
    if run.platen != state.platen:
        tally = replace(tally, minutes=tally.minutes + PLATEN_MIN, platens=tally.platens + 1)
        said.append(f"put on the {run.platen} platen")
    if run.cloth_lightness > state.cloth_lightness + DARKER_L:
        tally = replace(tally, minutes=tally.minutes + RETAPE_MIN, retapes=1)
        said.append("clean and re-tape the platen: lighter garments follow darker ones")
    state = replace(state, platen=run.platen, cloth_lightness=run.cloth_lightness)
    loads = -(-len(run.pulls) // heads)
    if loads > 1:
        tally = replace(
            tally,
            reloads=(loads - 1) * run.pieces,
            minutes=tally.minutes + (loads - 1) * run.pieces * RELOAD_MIN_PER_PIECE,
        )
    needed = {pull.screen for pull in run.pulls} if loads == 1 else set()
    for nth, pull in enumerate(run.pulls):
        state, cost, screen_words, blade_words = _ready(state, pull, heads, needed, trace)
        tally = tally.plus(cost)
        if not words:
            continue
        before = run.pulls[:nth]
        if nth and nth % heads == 0:
            within.append((nth, f"take the {run.pieces} garments off, and load each again in register"))
        if nth >= heads or any(one.screen == pull.screen for one in before):
            within += [(nth, text) for text in screen_words]
        else:
            said += screen_words
        if any(one.blade_mm == pull.blade_mm for one in before):
            within += [(nth, text) for text in blade_words]
        else:
            said += blade_words
    return state, replace(tally, words=tuple(said), within=tuple(within)) if words else tally


def _ready(
    state: PressState, pull: Pull, heads: int, needed: set[int], trace: Mapping[tuple[str, str], float]
) -> tuple[PressState, Tally, list[str], list[str]]:
    """Return the press ready for ``pull``, what that took, and the words about the screen and about the blade."""
    said: list[str] = []
    minutes, mounts, turns, tapings, washups, shift = 0.0, 0, 0, 0, 0, 0.0
    mounted = list(state.mounted)
    here = next((m for m in mounted if m[0] == pull.screen), None)
    if here is None:
        minutes, mounts = minutes + MOUNT_MIN, 1
        if len(mounted) >= heads:
            out = next((m for m in mounted if m[0] not in needed), mounted[0])
            mounted.remove(out)
            said.append(f"take off screen {out[0]}")
        said.append(f"hang screen {pull.screen}, end {pull.end} to the clamp, and register it")
    elif here[1] != pull.end:
        minutes, turns = minutes + TURN_MIN, 1
        mounted.remove(here)
        said.append(f"turn screen {pull.screen}: end {pull.end} to the clamp, and register it")
    else:
        mounted.remove(here)
    mounted.append((pull.screen, pull.end))
    inks, opened = dict(state.inks), dict(state.opened)
    if pull.taped and opened.get(pull.screen) != pull.image:
        minutes, tapings = minutes + TAPE_MIN, 1
        said.append(f"screen {pull.screen}: open {pull.image}, tape off {', '.join(pull.taped)}")
    before = inks.get(pull.screen, "")
    if before and before != pull.ink:
        shift = trace.get((before, pull.ink), 0.0)
        minutes, washups = minutes + WASH_MIN + min(TRACE_MIN_PER_DE00 * shift, MOST_TRACE_MIN), 1
        said.append(f"wash screen {pull.screen}: {before} out, {pull.ink} in")
    blades, washed = _blade(state.blades, pull)
    if washed:
        minutes += BLADE_MIN
    blade_words = [f"wash the {pull.blade_mm:.0f} mm blade: {washed} out"] if washed else []
    inks[pull.screen], opened[pull.screen] = pull.ink, pull.image
    after = PressState(
        tuple(mounted),
        tuple(sorted(inks.items())),
        tuple(sorted(opened.items())),
        state.platen,
        state.cloth_lightness,
        blades,
    )
    return after, Tally(minutes, washups, int(bool(washed)), mounts, turns, tapings, 0, 0, 0, shift), said, blade_words


def _blade(blades: tuple[tuple[float, str], ...], pull: Pull) -> tuple[tuple[tuple[float, str], ...], str]:
    """Return the blades after a pull, and the ink that had to be washed off one, or empty."""
    mine = (pull.blade_mm, pull.ink)
    same = [blade for blade in blades if blade[0] == pull.blade_mm]
    rest = tuple(blade for blade in blades if blade != mine)
    if mine in blades or len(same) < pull.blades:
        return (*rest, mine), ""
    oldest = same[0]
    return (*(blade for blade in rest if blade != oldest), mine), oldest[1]
