"""How many screens a print is worth: the knee, what fits one load of the press, and all inks, each decided whole.

In: ink areas, size, bench with the inks of a shelf. Out: Choices: for each number of inks what is kept, the plan at a
small size, minutes and what is lost. A screen is worth its price when what the eye gains by it is worth the minutes
that it takes: set-up, a flash, a change of screens with each garment on its platen.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from sepkit.colorimetry.spatial import pixels_per_degree
from sepkit.colorimetry.srgb import as_rgb8, linear_table, linear_to_srgb
from sepkit.coverage.squares import opened_by_square
from sepkit.coverage.sums import mean_level, total_level
from sepkit.decisions import BaseRules
from sepkit.model import Mesh
from sepkit.plates.decide import Plan, decide
from sepkit.plates.drafts import drafts_of, ink_of, lightness_of, wish_of
from sepkit.plates.grounds import with_coats
from sepkit.plates.knee import (
    OPEN,
    Reduction,
    Stand,
    error_to_art,
    hues_gone,
    missed,
    reductions,
    seen_beside_all,
    stand_colours,
)
from sepkit.plates.knee_view import KneeView
from sepkit.plates.reduced import stood_areas
from sepkit.plates.smaller import smaller_areas
from sepkit.plates.stock import MOST_INKS_MIXED
from sepkit.press.minutes import COOL_S, FILM_MIN, FLASH_LEAST_S, LOAD_S, PULL_S, SCREEN_MIN, UNLOAD_S, USUAL_RUN
from sepkit.press.runs import MOUNT_MIN, RELOAD_MIN_PER_PIECE

if TYPE_CHECKING:
    from sepkit.decisions import InkChoice
    from sepkit.model import RGB8, U8, Ink, InkArea, Size
    from sepkit.plates.bench import Bench

KNEE_PX = 200
"""Choices are compared at this size: a print of 300 mm then has 12 pixels to a degree at a metre."""
MOST_TRIED = 7
"""Numbers of inks that are planned, beside all of them."""
MOST_SCREENS = 6
"""No more by default, whatever is gained: six frames in register are what one person holds (common practice)."""
LOADS_FOR_HUES = 2
"""A hue of its own is kept whatever it costs where all of them fit so many loads of the press: gold never prints as
white to save a screen (common practice)."""
MOST_PLANNED = 14
"""Inks beyond which a plan of all is not made: the least seen are left out."""
CHANGE_MIN_PER_PIECE = 1.0
"""Screens changed with a garment on its platen, for each garment (from memory)."""
DE00_PER_HOUR = 2.5
"""What an hour at the press must gain to be worth it, in weighted ΔE00 (our own weight: with it a printer's usual
answers come out; held by the plans benchmark)."""
BEARABLE_TIMES, BEARABLE_DE00 = 1.5, 2.0
"""A default errs from the art at most so many times what all inks err, or is so near to their print, in S-CIELAB."""
CLOTH_HARDLY_DE00 = 12.0
"""What stays open and is nearer to the cloth than this hardly counts in that."""
STROKE_MM, BROAD_SHARE = 5.0, 0.5
"""Dots stand for an area only if this share of it is wider than so many mm, nine dots of 45 lpi: no lettering, no
lines, which would fray into dots."""
ALL_INKS_AT_ONCE = 6
"""Up to so many areas, recipes of three inks are searched for all of them before anything is left out."""
BASE_COVER, BASE_L, BASE_WHITE_SHARE = 0.3, 84.0, 0.85
"""An off-white mix that covers this much of the print, is this light and mostly white may be the base of the others."""


@dataclass(frozen=True, slots=True)
class PressTime:
    """Minutes of a plan at the press: before the first garment, and for each."""

    setup_min: float
    each_min: float

    def run_min(self, pieces: int = USUAL_RUN) -> float:
        """Return the minutes of a run."""
        return self.setup_min + pieces * self.each_min


@dataclass(frozen=True, slots=True, eq=False)
class Choice:
    """A print with some of its inks."""

    reduction: Reduction
    areas: tuple[InkArea, ...]
    """At the small size."""
    plan: Plan
    time: PressTime
    bench: Bench
    """With the inks that print."""
    seen_de00: float = 0.0
    """From the print with all inks, mean S-CIELAB ΔE00 over all that prints; what stays open near the cloth's colour is
    minded less."""
    times: float = 1.0
    """Its error from the art, over that of all inks."""

    hues_gone: tuple[int, ...] = ()
    """Areas whose hue is nowhere in the print."""

    @property
    def inks(self) -> int:
        """How many inks are kept."""
        return len(self.reduction.kept)

    @property
    def screens(self) -> int:
        """Screens, the base among them."""
        return len(self.plan.plates)

    @property
    def rounds(self) -> int:
        """Loads of the press."""
        return len(self.plan.rounds.rounds)

    @property
    def bearable(self) -> bool:
        """Whether it may be the default, whatever it saves."""
        return self.times <= BEARABLE_TIMES or self.seen_de00 <= BEARABLE_DE00

    @property
    def price_de00(self) -> float:
        """What is lost and what the press takes, in one number: less is better."""
        return self.reduction.lost + DE00_PER_HOUR * self.time.run_min() / 60


@dataclass(frozen=True, slots=True, eq=False)
class Choices:
    """Every number of inks that was tried, fewest first; the last has all inks."""

    each: tuple[Choice, ...]
    heads: int
    view: KneeView

    @property
    def knee(self) -> Choice:
        """The choice whose every screen is worth its price."""
        few = [one for one in self.each if one.screens <= MOST_SCREENS] or [self.each[0]]
        true = [one for one in few if not one.hues_gone]
        if any(one.screens <= LOADS_FOR_HUES * self.heads for one in true):
            few = true
        bearable = [one for one in few if one.bearable] or [min(few, key=lambda one: one.times)]
        return min(bearable, key=lambda one: (one.price_de00, one.screens))

    @property
    def one_load(self) -> Choice | None:
        """The best that fits the heads of the press at once; None when nothing does."""
        return self.within(self.heads)

    @property
    def all_inks(self) -> Choice:
        """The print with all inks."""
        return self.each[-1]

    @property
    def best(self) -> dict[RGB8, RGB8]:
        """What each colour of the art prints as when all inks have their screens."""
        shown = np.rint(255 * linear_to_srgb(np.clip(self.view.printed, 0, 1))).astype(int)
        art = np.rint(255 * linear_to_srgb(np.clip(self.view.art, 0, 1))).astype(int)
        return {as_rgb8(one): as_rgb8(other) for one, other in zip(art, shown, strict=True)}

    def within(self, screens: int) -> Choice | None:
        """Return the choice of at most so many screens that loses least; None when there is none."""
        fits = [one for one in self.each if one.screens <= screens]
        return min(fits, key=lambda one: (round(one.reduction.lost, 2), one.screens), default=None)

    def with_inks(self, count: int) -> Choice | None:
        """Return the choice of so many inks, if it was tried."""
        return next((one for one in self.each if one.inks == count), None)

    def default(self, most_screens: int | None) -> Choice:
        """Return the knee, or the best of at most so many screens; the fewest inks where even they take more."""
        if most_screens is None:
            return self.knee
        return self.within(most_screens) or min(self.each, key=lambda one: one.screens)


def choices_of(areas: Sequence[InkArea], size: Size, bench: Bench) -> Choices:
    """Return the choices for a print of ``areas``, at least one, on a bench that knows the inks of its shelf."""
    small, trial, stocked = _small(areas, bench)
    view = _view(small, size, stocked)
    pinned = _pinned(small, replace(stocked, wishes=bench.wishes))
    distinct = max(len({_ink_key(ink_of(area, stocked)) for area in small}), len(pinned))
    sizes = [*range(max(1, len(pinned)), min(distinct, MOST_TRIED) + 1)]
    wanted = bench.wishes.inks.count
    more = {min(distinct, MOST_PLANNED), *([min(wanted, distinct)] if wanted else [])}
    sizes += sorted(size for size in more if size > MOST_TRIED)
    found = [_choice(small, size, trial, view, one) for one in reductions(view, sizes=sizes, pinned=pinned)]
    return Choices(tuple(found), bench.press.heads, view)


def choices_again(areas: Sequence[InkArea], size: Size, bench: Bench, reductions: Sequence[Reduction]) -> Choices:
    """Return the choices of ``reductions`` of these areas, each decided with the wishes of the bench."""
    small, trial, stocked = _small(areas, bench)
    view = _view(small, size, stocked)
    return Choices(tuple(_choice(small, size, trial, view, one) for one in reductions), bench.press.heads, view)


def _small(areas: Sequence[InkArea], bench: Bench) -> tuple[tuple[InkArea, ...], Bench, Bench]:
    """Return the areas averaged down, the bench that they are tried on, and the same with inks for all of them."""
    small = smaller_areas(areas, max(1, -(-max(areas[0].coverage.shape) // KNEE_PX)))
    unnamed = {srgb: replace(wish, name="") for srgb, wish in bench.wishes.areas.items()}
    base = BaseRules(bench.wishes.base.every)
    wishes = replace(bench.wishes, areas=unnamed, mesh=Mesh(62, 60), trap_mm=0.0, choke_mm=0.0, base=base)
    trial = replace(bench, wishes=wishes, frames=())
    stocked = trial.stocked(small, most=MOST_INKS_MIXED if len(small) <= ALL_INKS_AT_ONCE else 2)
    return small, trial, stocked


def press_time(plan: Plan, flash_s: float = FLASH_LEAST_S) -> PressTime:
    """Return the minutes of a plan, each flash of ``flash_s``: common practice of one person at a hand press."""
    plates = plan.plates
    flashes = sum(plate.flash_after + plate.coats - 1 for plate in plates)
    pulls = sum(plate.coats for plate in plates)
    changes = 0.0
    for number in range(1, len(plan.rounds.rounds)):
        changes += RELOAD_MIN_PER_PIECE if plan.rounds.reload_after(number) else CHANGE_MIN_PER_PIECE
    each = (LOAD_S + UNLOAD_S + pulls * PULL_S + flashes * (flash_s + COOL_S)) / 60 + changes
    return PressTime(len(plates) * (SCREEN_MIN + FILM_MIN + MOUNT_MIN), each)


def with_light_base_ink(areas: Sequence[InkArea], bench: Bench) -> Bench:
    """Return the bench with an off-white of the print as its base where that covers much: it saves a screen."""
    cover = {area.asked_srgb: mean_level(area.coverage) for area in areas}
    total = max(sum(cover.values()), 1e-9)
    for srgb, share in sorted(cover.items(), key=lambda item: -item[1]):
        choice = bench.mixed.get(srgb)
        if choice is None or share / total < BASE_COVER or not _may_be_base(choice, bench.base_ink):
            continue
        return replace(bench, base_ink=choice.ink)
    return bench


def _may_be_base(choice: InkChoice, white: Ink) -> bool:
    mostly = sum(part.mass_share for part in choice.ink.parts if part.ink == white.name)
    return choice.how == "mixed" and mostly >= BASE_WHITE_SHARE and lightness_of(choice.ink.srgb) >= BASE_L


def _pinned(areas: Sequence[InkArea], bench: Bench) -> frozenset[int]:
    """Return the areas that a person has said something about, more than a name: their inks stay."""
    told = set(bench.wishes.base.single)
    return frozenset(
        k
        for k, row in enumerate(drafts_of(areas, bench))
        if not wish_of(areas[k], bench).only_named or areas[k].srgb in bench.wishes.order or row.called & told
    )


def _ink_key(ink: Ink) -> tuple[str, RGB8]:
    return (ink.name if not ink.parts else "", ink.srgb)


def _view(small: Sequence[InkArea], size: Size, bench: Bench) -> KneeView:
    table = linear_table().astype(np.float64)
    rows = with_coats(drafts_of(small, bench), bench)
    px_per_mm = small[0].coverage.shape[1] / size.width_mm
    return KneeView.of(
        np.stack([area.coverage for area in small]),
        table[np.array([area.srgb for area in small])],
        table[np.array([row.print_srgb for row in rows])],
        table[np.array(bench.garment.srgb)],
        flat=np.array([area.tone is None and _is_broad(area.coverage, px_per_mm) for area in small]),
        dotted=np.array([not row.based or row.ink is bench.base_ink for row in rows]),
        per_degree=pixels_per_degree(px_per_mm),
    )


def _is_broad(plane: U8, px_per_mm: float) -> bool:
    """Tell whether most of an area is wider than a stroke of lettering."""
    left = opened_by_square(plane, max(2, round(STROKE_MM * px_per_mm)))
    return float(left.sum()) >= BROAD_SHARE * float(plane.sum())


def _choice(small: Sequence[InkArea], size: Size, trial: Bench, view: KneeView, reduction: Reduction) -> Choice:
    areas = stood_areas(small, reduction)
    bench = with_light_base_ink(areas, trial.stocked(areas))
    fewer = without_twins(small, reduction, bench)
    areas, reduction = (areas if fewer is reduction else stood_areas(small, fewer)), fewer
    plan = decide(areas, size, bench)
    colours, minded = stand_colours(view, reduction.stands), missed(view, reduction.stands, CLOTH_HARDLY_DE00)
    times = error_to_art(view, colours, minded) / max(error_to_art(view, view.printed), 1e-9)
    time = press_time(plan, bench.measured.get("flash_s", FLASH_LEAST_S))
    gone = hues_gone(view, reduction.stands)
    return Choice(reduction, areas, plan, time, bench, seen_beside_all(view, colours, minded), times, gone)


def without_twins(areas: Sequence[InkArea], reduction: Reduction, bench: Bench) -> Reduction:
    """Return the reduction with inks joined that are one ink on the bench: two screens of it are never burned."""
    lead: dict[tuple[str, RGB8], int] = {}
    joined = {}
    for index in sorted(reduction.kept, key=lambda k: -total_level(areas[k].coverage)):
        joined[index] = lead.setdefault(_ink_key(ink_of(areas[index], bench)), index)
    if len(lead) == len(reduction.kept):
        return reduction
    stands = tuple(one if one.ink == OPEN else Stand(joined[one.ink], one.share) for one in reduction.stands)
    return Reduction(tuple(sorted(set(joined.values()))), stands, reduction.lost)
