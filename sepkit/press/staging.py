"""How a print of more screens than heads is carried out, and what each way costs.

In: the screens of a print by the load that they print in, the press, pieces, prices. Out: Staged, its stages and
batches, or None where the press cannot do it as a run; WayOut for each way there is.

Screens that keep their distance may print in loads of their own: the garment is loaded again between. Screens that
touch may not, for a garment loaded again falls 2 to 4 mm off: then garments wait on their platens while screens change,
as many as there are platens, or base and white are printed and cured on one day and the colours on another, against
stops.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from sepkit.press.minutes import LONG_DAY_MIN
from sepkit.press.runs import MOUNT_MIN, PLATEN_OFF_MIN, screens_hung

Carrying = Literal["one load", "loads", "batches", "two days"]
USUAL_HOUR = 15.0
"""What an hour counts where the job does not say (from memory)."""
MOST_PLATENS = 24
"""More garments than this do not wait beside a press (from memory)."""


@dataclass(frozen=True, slots=True)
class PrintScreens:
    """The screens of a print, in print order."""

    count: int
    rounds: tuple[tuple[int, ...], ...]
    """Places of screens by load, where those of one load fit the heads."""
    parted: bool
    """Screens of different loads touch."""
    bases: int
    """How many of the first are base or white, which one day may print by themselves."""


@dataclass(frozen=True, slots=True)
class Staged:
    """Stages of a print: places of its screens for each, and how many garments wait while screens change."""

    way: Carrying
    stages: tuple[tuple[int, ...], ...]
    batch: int = 0
    pause: str = ""
    """What lies between two stages."""


@dataclass(frozen=True, slots=True)
class HeadsAndPlatens:
    """What of a press decides: heads, garments that can wait on platens, and whether platens come off for that."""

    heads: int
    held: int
    come_off: bool = False


@dataclass(frozen=True, slots=True)
class Prices:
    """What an hour of work and one more platen cost."""

    hour: float
    platen: float

    def of(self, minutes: float) -> float:
        """Return what minutes cost."""
        return minutes / 60.0 * (self.hour or USUAL_HOUR)


@dataclass(frozen=True, slots=True)
class WayOut:
    """One way to print what does not fit the heads: what it takes beyond a press with enough of them."""

    way: Literal["fewer inks", "platens", "batches", "two days"]
    possible: bool
    minutes: float
    money: float
    words: str


def staged(screens: PrintScreens, press: HeadsAndPlatens, *, way: str, pieces: int) -> Staged | None:
    """Return how a print is carried out, by the ``way`` asked for or the best there is; None when it cannot be.

    Left to itself it takes loads where screens keep their distance, else batches that change screens for no longer than
    a day, else two days, else batches.
    """
    everything = (tuple(range(screens.count)),)
    if screens.count <= press.heads:
        return Staged("one load", everything)
    if not screens.parted:
        return Staged("loads", screens.rounds, pause="let the print dry, load each garment again")
    batches = Staged("batches", everything, press.held) if press.held > 1 else None
    days = _two_days(screens, press.heads)
    if way == "batches":
        return batches
    if way == "two days":
        return days
    if way == "fewer inks":
        return None
    long = batches is not None and change_min(screens.count, press, pieces) > LONG_DAY_MIN
    return (days or batches) if long else (batches or days)


def change_min(count: int, press: HeadsAndPlatens, pieces: int) -> float:
    """Return the minutes of screens hung again, batch after batch, and of platens taken off and put back."""
    again = screens_hung(count, press.heads, -(-pieces // press.held)) - count
    visits = -(-count // press.heads)
    return again * MOUNT_MIN + (pieces * (visits - 1) * PLATEN_OFF_MIN if press.come_off else 0.0)


def best_platens(count: int, press: HeadsAndPlatens, pieces: int, prices: Prices) -> tuple[int, float, float]:
    """Return how many platens that come off pay most at this size of run, with minutes and money."""
    best: tuple[float, int, float] | None = None
    for held in range(2, max(2, min(MOST_PLATENS, pieces)) + 1):
        minutes = change_min(count, HeadsAndPlatens(press.heads, held, come_off=True), pieces)
        money = prices.of(minutes) + prices.platen * max(0, held - press.held)
        if best is None or money < best[0] - 1e-9:
            best = (money, held, minutes)
    assert best is not None
    return best[1], best[2], best[0]


def _two_days(screens: PrintScreens, heads: int) -> Staged | None:
    """Return base and white on one day and the colours on another; None when either does not fit the heads."""
    first = screens.bases
    if not 0 < first <= heads or not 0 < screens.count - first <= heads:
        return None
    stages = (tuple(range(first)), tuple(range(first, screens.count)))
    return Staged("two days", stages, pause="cure; on the next day load each garment against the stops of the jig")
