"""Minutes and money: how long a job takes alone, what one garment costs, and from how many on it pays.

In: runs, screens, changes, prices. Out: minutes and cost with their parts. Times are common practice of one person at a
one-platen manual press with a heat gun and a heat press (from memory): replace them by a stopwatch.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from sepkit.jobs import Money

SCREEN_MIN = 35.0
"""Degrease, coat, expose, wash out, tape, and strip in the end: attended minutes of one screen."""
FILM_MIN = 4.0
LOAD_S, LOAD_FLEECE_S = 25.0, 52.0
PULL_S = 10.0
FLASH_LEAST_S, FLASH_MOST_S = 45.0, 120.0
FLASH_FULL_CM2 = 1050.0
"""A print of 300 x 350 mm takes the longest flash."""
COOL_S = 12.0
UNLOAD_S = 10.0
PRESS_HANDLING_S = 15.0
PACK_MIN = 2.0
LONG_DAY_MIN = 360.0
USUAL_RUN = 12
"""Garments that minutes and grams are told for when nothing is known of the run."""


@dataclass(frozen=True, slots=True)
class Part:
    """One term of a sum."""

    what: str
    amount: float


@dataclass(frozen=True, slots=True)
class PieceWork:
    """What is done to one garment at one placement."""

    pulls: int
    flashes: int
    box_cm2: float
    fleece: bool
    presses: int
    press_s: float
    factor: float = 1.0


@dataclass(frozen=True, slots=True)
class Spent:
    """What a whole job takes beside its prices."""

    screens: int
    film_m2: float
    setup_min: float
    """Work before and between runs."""
    piece_min: float
    """All printing and packing."""
    ink_g: float
    lost_paid: float
    """Price of spares and tests."""
    blank_price: float
    """What one blank costs."""
    pieces: int
    """Garments sold."""


@dataclass(frozen=True, slots=True)
class Costs:
    """What the job costs. ``break_even`` is None when each garment sells below what it costs to make."""

    fixed: tuple[Part, ...]
    each: tuple[Part, ...]
    pieces: int
    break_even: int | None
    price: float

    @property
    def fixed_sum(self) -> float:
        """What the job costs before the first garment."""
        return sum(part.amount for part in self.fixed)

    @property
    def each_sum(self) -> float:
        """What each garment adds."""
        return sum(part.amount for part in self.each)

    @property
    def per_garment(self) -> float:
        """The whole job over the garments sold."""
        return self.each_sum + self.fixed_sum / self.pieces if self.pieces else self.each_sum


def minutes_per_piece(work: PieceWork) -> float:
    """Return the minutes of one garment at one placement: load, pulls, flashes, unload, cure."""
    return sum(part.amount for part in piece_parts(work))


def piece_parts(work: PieceWork) -> tuple[Part, ...]:
    """Return the minutes of one garment at one placement, part by part."""
    share = min(1.0, work.box_cm2 / FLASH_FULL_CM2)
    flash = FLASH_LEAST_S + share * (FLASH_MOST_S - FLASH_LEAST_S) + COOL_S
    load = (LOAD_FLEECE_S if work.fleece else LOAD_S) * work.factor
    seconds = (
        ("load and smooth", load),
        ("pulls", work.pulls * PULL_S),
        ("flash and cool", work.flashes * flash),
        ("unload", UNLOAD_S),
        ("heat press", work.presses * (work.press_s + PRESS_HANDLING_S)),
    )
    return tuple(Part(what, s / 60.0) for what, s in seconds if s)


def costs(spent: Spent, money: Money) -> Costs:
    """Return what a job costs at these prices."""
    fixed = (
        Part("screens", spent.screens * money.screen),
        Part("film", spent.film_m2 * money.film_m2),
        Part("work before and between runs", spent.setup_min / 60.0 * money.hour),
        Part("spare and test garments", spent.lost_paid),
    )
    over = max(spent.pieces, 1)
    each = (
        Part("garment", spent.blank_price),
        Part("ink", spent.ink_g / 1000.0 * money.ink_kg / over),
        Part("paper, adhesive, energy, packing", money.piece),
        Part("work", spent.piece_min / 60.0 * money.hour / over),
    )
    margin = money.price - sum(part.amount for part in each)
    fixed_sum = sum(part.amount for part in fixed)
    even = math.ceil(fixed_sum / margin - 1e-9) if money.price and margin > 0 else None
    return Costs(fixed, each, spent.pieces, even, money.price)


def setup_share(costs_of: Costs, counts: Sequence[int] = (10, 20, 40, 80)) -> list[tuple[int, float]]:
    """Return what the set-up adds to each garment at several sizes of job."""
    return [(count, costs_of.fixed_sum / count) for count in counts]
