"""Runs at the press: one print on one kind of garment, with the screens it pulls, and what changing over costs.

In: runs. Out: the press before and after each, and a tally of minutes and changes. Which screens come off when heads
lack is a choice: ``ways_on`` returns every press that may be left. Minutes are common practice of one person at a small
manual press (from memory); replace them by a stopwatch.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, replace
from functools import lru_cache
from itertools import combinations
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
PLATEN_OFF_MIN = 0.5
"""Taking a platen off with its garment on, and putting it back, for one garment."""
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
    """How many blades of that width are there."""


@dataclass(frozen=True, slots=True)
class Run:
    """One round: a print, or a part of its screens, on one garment line; its pulls in print order."""

    print_name: str
    placement: str
    garment: str
    cloth_lightness: float
    pieces: int
    platen: str
    pulls: tuple[Pull, ...]
    risk: float
    """Chance to lose the garment here over the minutes that it takes: of equal orders the highest comes first."""
    minutes_per_piece: float = 1.0
    stage: int = 1
    stages: int = 1
    """A print in several stages is loaded again for each, the first stage done on all garments before."""
    batch: int = 0
    """Garments that stay on their platens while screens are changed; 0 where all screens hang at once."""
    pause: str = ""
    """What lies between this stage and the one before, such as curing."""

    @property
    def batches(self) -> int:
        """How often the screens go round."""
        return -(-self.pieces // self.batch) if self.batch else 1


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
    changes: int = 0
    """Screens hung again within runs, batch after batch."""
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
            self.changes + other.changes,
            self.trace_de00 + other.trace_de00,
        )


@dataclass(frozen=True, slots=True)
class PressState:
    """The press between two runs. Sorted tuples, so that equal presses compare equal."""

    mounted: tuple[tuple[int, str], ...] = ()
    """(screen, end at the clamp); at most as many as heads."""
    inks: tuple[tuple[int, str], ...] = ()
    """(screen, ink in it)."""
    opened: tuple[tuple[int, str], ...] = ()
    """(screen, image not taped)."""
    platen: str = ""
    cloth_lightness: float = 100.0
    blades: tuple[tuple[float, str], ...] = ()
    """(width, ink) of blades in use."""


START = PressState()
Trace = Mapping[tuple[str, str], float]
"""ΔE00 that a trace of one ink causes in another, by (before, after)."""


@lru_cache(maxsize=4096)
def screens_hung(count: int, heads: int, batches: int) -> int:
    """Return how many screens are hung when ``count`` go round ``batches`` times on ``heads``, each batch in order.

    The screen that comes off is the one needed last again, which is the least that can be (L. A. Belady, 1966, A study
    of replacement algorithms for a virtual-storage computer, IBM Systems Journal 5): here always the one pulled last.

    >>> screens_hung(3, 2, 1), screens_hung(3, 2, 4), screens_hung(3, 3, 4)
    (3, 7, 3)
    """
    hanging: set[int] = set()
    hung = 0
    for now in range(count * batches):
        screen = now % count
        if screen in hanging:
            continue
        hung += 1
        if len(hanging) == heads:
            hanging.remove(max(hanging, key=lambda s: (s - screen) % count))
        hanging.add(screen)
    return hung


def ways_on(
    state: PressState, run: Run, *, heads: int, trace: Trace, later: frozenset[int] = frozenset()
) -> list[tuple[PressState, Tally]]:
    """Return every press that ``run`` may leave, with what it took.

    They differ in the screens that hang on beside the run's own. Those not needed ``later`` come off first.
    """
    work = _MadeReady(state, run, heads)
    work.platen()
    for pull in run.pulls:
        work.ready(pull, trace)
    work.go_round()
    own = {pull.screen for pull in run.pulls[-heads:]}
    room = heads - len(own)
    others = [place for place in state.mounted if place[0] not in {pull.screen for pull in run.pulls}]
    wanted = [place for place in others if place[0] in later]
    stay: list[tuple[tuple[int, str], ...]] = [tuple(others)]
    if len(others) > room:
        stay = list(combinations(wanted, room)) if len(wanted) > room else [tuple(wanted)]
    tally = work.tally()
    return [(work.press(own, kept), tally) for kept in stay]


def told(before: PressState, after: PressState, run: Run, *, heads: int, trace: Trace) -> Tally:
    """Return what ``run`` takes on the way from one press to the next, in words too."""
    work = _MadeReady(before, run, heads)
    work.platen()
    first = {pull.screen for pull in run.pulls[:heads]}
    stay = first | ({screen for screen, _ in after.mounted} if len(run.pulls) <= heads else set())
    words = [*work.about_platen, *(f"take off screen {s}" for s, _ in before.mounted if s not in stay)]
    within: list[tuple[int, str]] = []
    for nth, pull in enumerate(run.pulls):
        earlier = run.pulls[:nth]
        work.ready(pull, trace)
        if nth >= heads and any("hang screen" in text for text in work.about_screen):
            off = f"take off screen {earlier[-1].screen}, the garments stay on their platens"
            work.about_screen.insert(0, off)
        busy_screen = nth >= heads or any(one.screen == pull.screen for one in earlier)
        busy_blade = (pull.blade_mm, work.washed) in {(one.blade_mm, one.ink) for one in earlier}
        for busy, texts in ((busy_screen, work.about_screen), (busy_blade, work.about_blade)):
            if busy:
                within += [(nth, text) for text in texts]
            else:
                words += texts
    work.go_round()
    return replace(work.tally(), words=tuple(words), within=tuple(within))


_COUNTS = ("washups", "blade_washes", "mounts", "turns", "tapings", "platens", "retapes", "changes")


class _MadeReady:
    """The press being made ready for the pulls of a run, and the words for it.

    Minutes are summed in the order of the work, so that equal ways stay equal to the last bit.
    """

    def __init__(self, state: PressState, run: Run, heads: int) -> None:
        self.state, self.run, self.heads = state, run, heads
        # Screens that the first batch needs only when the heads are full do not stay for it.
        early, all_own = ({pull.screen for pull in pulls} for pulls in (run.pulls[:heads], run.pulls))
        self.hanging = {screen: end for screen, end in state.mounted if screen in early or screen not in all_own}
        self.blades = state.blades
        self.inks, self.opened = dict(state.inks), dict(state.opened)
        self.minutes = self.trace_de00 = 0.0
        self.counts = dict.fromkeys(_COUNTS, 0)
        self.about_platen: list[str] = []
        self.about_screen: list[str] = []
        self.about_blade: list[str] = []
        self.washed = ""
        self.own = frozenset((pull.blade_mm, pull.ink) for pull in run.pulls)

    def ready(self, pull: Pull, trace: Trace) -> None:
        """Make the press ready for a pull."""
        self.about_screen, self.about_blade = [], []
        self.hang(pull)
        self.open_image(pull)
        self.wash(pull, trace)
        self.take_blade(pull)

    def took(self, what: str, minutes: float, times: int = 1) -> None:
        """Count something done."""
        self.counts[what] += times
        self.minutes += minutes * times

    def platen(self) -> None:
        """Have the right platen on, and a clean one where lighter garments follow darker ones."""
        if self.run.platen != self.state.platen:
            self.took("platens", PLATEN_MIN)
            self.about_platen.append(f"put on the {self.run.platen} platen")
        if darkens(self.state.cloth_lightness, self.run.cloth_lightness):
            self.took("retapes", RETAPE_MIN)
            self.about_platen.append("clean and re-tape the platen: lighter garments follow darker ones")

    def hang(self, pull: Pull) -> None:
        """Have the screen hang with its end at the clamp."""
        end = self.hanging.get(pull.screen)
        if end is None:
            self.took("mounts", MOUNT_MIN)
            self.about_screen.append(f"hang screen {pull.screen}, end {pull.end} to the clamp, and register it")
        elif end != pull.end:
            self.took("turns", TURN_MIN)
            self.about_screen.append(f"turn screen {pull.screen}: end {pull.end} to the clamp, and register it")
        self.hanging[pull.screen] = pull.end

    def open_image(self, pull: Pull) -> None:
        """Have this image open and the others on its screen taped."""
        if pull.taped and self.opened.get(pull.screen) != pull.image:
            self.took("tapings", TAPE_MIN)
            self.about_screen.append(f"screen {pull.screen}: open {pull.image}, tape off {', '.join(pull.taped)}")
        self.opened[pull.screen] = pull.image

    def wash(self, pull: Pull, trace: Trace) -> None:
        """Have no other ink in the screen."""
        before = self.inks.get(pull.screen, "")
        if before and before != pull.ink:
            self.trace_de00 += trace.get((before, pull.ink), 0.0)
            self.took("washups", wash_min(before, pull.ink, trace))
            self.about_screen.append(f"wash screen {pull.screen}: {before} out, {pull.ink} in")
        self.inks[pull.screen] = pull.ink

    def take_blade(self, pull: Pull) -> None:
        """Take a blade of the ink, a clean one, or one washed."""
        self.blades, self.washed = _blade(self.blades, pull, self.own)
        if self.washed:
            self.took("blade_washes", BLADE_MIN)
            self.about_blade.append(f"wash the {pull.blade_mm:.0f} mm blade: {self.washed} out")

    def go_round(self) -> None:
        """Hang the screens again for each further batch."""
        count = len(self.run.pulls)
        if self.run.batch and count > self.heads:
            self.took("changes", MOUNT_MIN, screens_hung(count, self.heads, self.run.batches) - count)

    def press(self, own: set[int], stay: Sequence[tuple[int, str]]) -> PressState:
        """Return the press after the run, with its own last screens and those that stay hanging."""
        hanging = {**{screen: self.hanging[screen] for screen in own}, **dict(stay)}
        return PressState(
            tuple(sorted(hanging.items())),
            tuple(sorted(self.inks.items())),
            tuple(sorted(self.opened.items())),
            self.run.platen,
            self.run.cloth_lightness,
            self.blades,
        )

    def tally(self) -> Tally:
        """Return what it took."""
        one = self.counts
        return Tally(
            self.minutes,
            one["washups"],
            one["blade_washes"],
            one["mounts"],
            one["turns"],
            one["tapings"],
            one["platens"],
            one["retapes"],
            one["changes"],
            self.trace_de00,
        )


def wash_min(before: str, after: str, trace: Trace) -> float:
    """Return the minutes of washing one ink out of a screen for another."""
    return WASH_MIN + min(TRACE_MIN_PER_DE00 * trace.get((before, after), 0.0), MOST_TRACE_MIN)


def darkens(before: float, after: float) -> bool:
    """Tell whether the platen must be cleaned between cloths of these L*."""
    return after > before + DARKER_L


def _blade(
    blades: tuple[tuple[float, str], ...], pull: Pull, needed: frozenset[tuple[float, str]]
) -> tuple[tuple[tuple[float, str], ...], str]:
    """Return the blades after a pull, the last used last, and the ink that had to be washed off one, or empty.

    The blade longest unused is washed, if there is one that the run itself does not need.
    """
    mine = (pull.blade_mm, pull.ink)
    same = [blade for blade in blades if blade[0] == pull.blade_mm]
    rest = tuple(blade for blade in blades if blade != mine)
    if mine in blades or len(same) < pull.blades:
        return (*rest, mine), ""
    oldest = next((blade for blade in same if blade not in needed), same[0])
    return (*(blade for blade in rest if blade != oldest), mine), oldest[1]
