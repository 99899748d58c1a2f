"""The ladder: for 1, 2, ... inks, what the print would look like, what it takes at the press and what is lost.

In: a planned print. Out: a rung for each number of inks that was weighed, with its predicted colour. Everything is
computed on a picture averaged down to RUNG_PX, through the same decisions as the print itself but without trap and
choke. Three of the rungs are the choices that a person has: what fits one load of the press, what is worth its
screens, all inks.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from sepkit.colorimetry.difference import delta_e_2000
from sepkit.colorimetry.names import colour_word
from sepkit.colorimetry.srgb import srgb8_to_lab
from sepkit.coverage.sums import any_ink, mean_level
from sepkit.model import Finding
from sepkit.plates.choices import Choice, choices_of, press_time
from sepkit.plates.decide import decide
from sepkit.plates.knee import OPEN, Reduction, Stand
from sepkit.plates.reduced import stood_areas
from sepkit.plates.smaller import smaller, smaller_areas, smaller_art
from sepkit.plates.tonal.flat_dots import dotted_areas
from sepkit.plates.tonal.price import chosen_set
from sepkit.plates.tonal.screens import SmallPicture, set_screens
from sepkit.press.minutes import FLASH_LEAST_S, USUAL_RUN
from sepkit.preview.difference import FAR_DE00, Difference, difference_stats
from sepkit.preview.seen import blocks_averaged
from sepkit.preview.stack import printed_rgb
from sepkit.separation.again import tones_again
from sepkit.workshop.print.inks import ChoicesShown
from sepkit.workshop.print.many_colours import RUNG_PX, rung_factors

if TYPE_CHECKING:
    from sepkit.model import RGB8, U8, Artwork, Bool, InkArea, Size
    from sepkit.plates.bench import Bench
    from sepkit.plates.instead import Instead
    from sepkit.plates.tonal.choose import ScreenSet
    from sepkit.workshop.print.plan import PlannedPrint

    Screens = Callable[[ScreenSet, Bench], tuple[tuple[InkArea, ...], Bench]]
    """Makes the areas and the bench of a set of screens."""

ONE_LOAD, WORTH, EVERY_INK, AS_ASKED = "Fits one load", "Worth its screens", "All inks", "As asked"
SOLID = "Solid inks"
"""What the choices are called."""
TONE_RUNG_PX = 220
"""Tones are solved pixel by pixel: a smaller picture keeps the ladder within seconds."""


HARDLY_DE00 = 0.05
"""So much nothing loses."""
MUCH_DE00 = 3.0
"""A print that loses more than this to the print of all inks, as a mean to the eye, is seen to be another (our own
limit: what is told as close on one colour)."""


@dataclass(frozen=True, slots=True, eq=False)
class Rung:
    """A print with this many inks: its screens and rounds, how far it is from the art, what is lost, a picture."""

    choice: Choice
    colours: tuple[RGB8, ...]
    """Inks as printed, in print order, the base left out."""
    difference: Difference
    lost: tuple[str, ...]
    picture: U8

    @property
    def inks(self) -> int:
        """How many inks are kept."""
        return self.choice.inks

    @property
    def screens(self) -> int:
        """Screens, the base among them."""
        return self.choice.screens

    @property
    def rounds(self) -> int:
        """Loads of the press."""
        return self.choice.rounds

    def figures(self) -> str:
        """Return mean, 95th percentile and far share in words."""
        d = self.difference
        return f"ΔE00 {d.mean_de00:.1f} on average, {d.p95_de00:.1f} or less on 95 %, {100 * d.far_share:.0f} % above 5"

    def effort(self) -> str:
        """Return screens, rounds and minutes in words."""
        time = self.choice.time
        screens = "1 screen" if self.screens == 1 else f"{self.screens} screens"
        rounds = "1 round" if self.rounds == 1 else f"{self.rounds} rounds"
        return f"{screens}, {rounds}; {time.run_min():.0f} min for {USUAL_RUN} garments"


@dataclass(frozen=True, slots=True, eq=False)
class Ladder:
    """Rungs from the fewest inks up; the last has all inks."""

    rungs: tuple[Rung, ...]
    heads: int
    """Print heads of the press."""
    worth: Choice
    """What is worth its screens."""
    one_load: Choice | None
    """The best that fits the heads of the press at once; None when nothing does."""
    chosen: Choice
    """What the print is made with."""
    art: U8
    """The art on the garment, at the rungs' size."""
    solid: Rung | None = None
    """Solid inks, where the print is in dots of a few in their place."""

    @property
    def knee(self) -> Rung:
        """What is worth its screens."""
        return self._rung(self.worth)

    @property
    def within_heads(self) -> Rung | None:
        """The best that fits one load of the press; None when nothing does."""
        return None if self.one_load is None else self._rung(self.one_load)

    @property
    def printed(self) -> Rung:
        """The rung of the print as planned."""
        return self._rung(self.chosen)

    def named(self) -> tuple[tuple[tuple[str, ...], Rung], ...]:
        """Return the choices that a person has, each rung once with all that it is called."""
        asked: list[tuple[str, Rung | None]] = [
            (ONE_LOAD, self.within_heads),
            (WORTH, self.knee),
            (EVERY_INK, self.rungs[-1]),
            (AS_ASKED, self.printed),
        ]
        if self.solid is not None:
            asked = [(WORTH, self.knee), (SOLID, self.solid), (ONE_LOAD, self.within_heads), (AS_ASKED, self.printed)]
        together: dict[int, tuple[list[str], Rung]] = {}
        for words, rung in asked:
            if rung is not None and not (words == AS_ASKED and id(rung) in together):
                together.setdefault(id(rung), ([], rung))[0].append(words)
        return tuple((tuple(words), rung) for words, rung in together.values())

    def _rung(self, choice: Choice) -> Rung:
        return next((rung for rung in self.rungs if rung.choice is choice), self.rungs[-1])


@dataclass(frozen=True, slots=True, eq=False)
class _Seen:
    """The art at the rungs' size."""

    art: Artwork | None
    """Itself, to solve its tones again; None where it has none."""
    there: Bool
    """(h, w) where it is."""
    size: Size
    areas: tuple[InkArea, ...]
    """As found."""
    on_garment: U8


def ladder_of(planned: PlannedPrint) -> Ladder | None:
    """Return the ladder of a print; None for one ink to begin with, plates that were brought, or one decided again."""
    if planned.bench.wishes.solved:
        return _tonal_ladder(planned)
    if planned.found is None or planned.bench.wishes.as_brought or len(planned.found.found) < 2:
        return None
    areas = planned.found.found
    toned = any(area.tone is not None for area in areas)
    whole = planned.separation.artwork
    panel, more = rung_factors(whole, TONE_RUNG_PX if toned else RUNG_PX)
    factor = panel * more  # so that the picture of the panels is averaged on
    art = smaller_art(whole, factor) if toned else None
    there = (smaller(whole.alpha, factor) if art is None else art.alpha) > 0
    seen = _Seen(art, there, whole.size, smaller_areas(areas, factor), blocks_averaged(planned.seen.art, more))
    shown = planned.found.choices_shown(whole.size)
    if shown is None:
        choices = choices_of(areas, whole.size, planned.bench)
        shown = ChoicesShown(choices, choices.knee, choices.one_load, choices.all_inks)
    rungs = tuple(_rung(planned, seen, choice) for choice in shown.choices.each)
    return Ladder(rungs, shown.choices.heads, shown.worth, shown.one_load, shown.chosen, seen.on_garment)


def _tonal_ladder(planned: PlannedPrint) -> Ladder | None:
    """Return the ladder of tonal art: a rung for each number of screens that was tried; None for less than two."""
    weighed = planned.bench.weighed
    if planned.found is None or planned.edited is not None or weighed is None or len(weighed.tried) < 2:
        return None
    whole, instead = planned.separation.artwork, planned.found.instead
    shown, more = rung_factors(whole, RUNG_PX if instead is not None else TONE_RUNG_PX)
    art = blocks_averaged(planned.seen.art, more)
    there = smaller(whole.alpha, shown * more) > 0
    by_screens: dict[int, Rung] = {}  # a screen that stays empty is none
    rungs: dict[int, Rung] = {}
    screens = _screens_on(art, there) if instead is None else _instead_on(instead)
    for one in weighed.tried:
        rung = _tonal_rung(planned, one, screens, art, there)
        rungs[id(one)] = by_screens.setdefault(rung.screens, rung)
    wishes = planned.bench.wishes
    free = replace(wishes, most_screens=None, all_inks=False, inks=replace(wishes.inks, count=None))
    worth = chosen_set(weighed.tried, replace(planned.bench, wishes=free))
    heads = planned.bench.press.heads
    fits = min((one for one in weighed.tried if len(one.places) <= heads), key=lambda one: one.loss, default=None)
    return Ladder(
        tuple(by_screens.values()),
        heads,
        rungs[id(worth)].choice,
        None if fits is None else rungs[id(fits)].choice,
        rungs[id(weighed.chosen)].choice,
        art,
        None if instead is None else _rung(planned, _Seen(None, there, whole.size, instead.small, art), instead.solid),
    )


def ladder_finding(ladder: Ladder) -> Finding | None:
    """Return what was left out, or what one load of the press would lose; None when there is nothing to say."""
    made, every, load = ladder.printed, ladder.rungs[-1], ladder.within_heads
    if made is not every:
        much = made.choice is ladder.worth and made.choice.reduction.lost >= MUCH_DE00  # asked for, it is known
        return Finding(
            "inks-left-out",
            "warn" if much else "info",
            f"{made.inks} of {every.inks} inks print: colours are seen to change"
            if much
            else f"{made.inks} of {every.inks} inks are worth their screens",
            f"--inks all prints {every.screens} screens in {every.rounds} rounds: see choices.png",
            more="; ".join(made.lost),
        )
    if made.screens <= ladder.heads or load is None or load is made:
        return None
    return Finding(
        "fewer-inks",
        "info",
        f"{load.inks} {'ink fits' if load.inks == 1 else 'inks fit'} one load of the press",
        f"--screens {ladder.heads} prints that: see choices.png",
        more="; ".join(load.lost),
    )


def _rung(planned: PlannedPrint, seen: _Seen, choice: Choice) -> Rung:
    areas = stood_areas(seen.areas, choice.reduction)
    if len(areas) < len(seen.areas) and seen.art is not None:
        areas = tones_again(seen.art, planned.flat.ground, seen.areas, areas)
    plan = decide(areas, seen.size, choice.bench)
    printed = printed_rgb(plan.plates, choice.bench.garment)
    where = any_ink([plate.printed for plate in plan.plates]) | seen.there
    return Rung(
        choice,
        tuple(plate.print_srgb for plate in plan.plates if plate.role != "underbase"),
        difference_stats(seen.on_garment, printed, where=where, attainable=planned.seen.attainable),
        _lost(seen.areas, choice),
        printed,
    )


def _tonal_rung(planned: PlannedPrint, one: ScreenSet, screens: Screens, art: U8, there: Bool) -> Rung:
    bench = replace(planned.bench, wishes=replace(planned.bench.wishes, trap_mm=0.0, choke_mm=0.0))
    areas, bench = screens(one, bench)
    plan = decide(areas, planned.separation.artwork.size, bench)
    printed = printed_rgb(plan.plates, bench.garment)
    best = min(tried.loss for tried in planned.bench.weighed.tried) if planned.bench.weighed else one.loss
    kept = tuple(range(max(1, sum(bench.wishes.areas[area.srgb].name != "underbase" for area in areas))))
    reduction = Reduction(kept, tuple(Stand(k, 1.0) for k in kept), one.loss - best)
    lost = (f"seen error dE00 {one.loss:.1f}; {best:.1f} at best",) if one.loss > best + HARDLY_DE00 else ()
    return Rung(
        Choice(reduction, areas, plan, press_time(plan, bench.measured.get("flash_s", FLASH_LEAST_S)), bench),
        tuple(plate.print_srgb for plate in plan.plates if plate.role != "underbase"),
        difference_stats(
            art,
            printed,
            where=any_ink([plate.printed for plate in plan.plates]) | there,
            attainable=planned.seen.attainable,
        ),
        lost,
        printed,
    )


def _screens_on(art: U8, there: Bool) -> Screens:
    """Return what makes the screens of a set on a small picture of the art."""
    small = SmallPicture.of(art, there)
    return lambda one, bench: set_screens(one, small, bench)


def _instead_on(instead: Instead) -> Screens:
    """Return what makes the screens of a set for flat art in dots."""

    def screens(one: ScreenSet, bench: Bench) -> tuple[tuple[InkArea, ...], Bench]:
        dotted = next(tried for tried in instead.tried if tried.one is one)
        bench = replace(bench, wishes=replace(bench.wishes, areas={}))
        return dotted_areas(instead.small, instead.parts, dotted, bench, dpi=0)

    return screens


def _lost(areas: Sequence[InkArea], choice: Choice) -> tuple[str, ...]:
    """Return in words what became of inks that are not kept, largest first; those hardly seen are left out."""
    names = [colour_word(area.srgb) for area in areas]
    labs = srgb8_to_lab(np.array([area.srgb for area in areas], np.uint8))
    cloth = srgb8_to_lab(np.array(choice.bench.garment.srgb))
    covers = [mean_level(area.coverage) for area in areas]
    out = []
    for at in sorted(range(len(areas)), key=lambda k: -covers[k]):
        stand = choice.reduction.stands[at]
        if stand.ink == at:
            continue
        if stand.ink != OPEN and names[stand.ink] == names[at] and stand.share == 1:
            continue
        other = cloth if stand.ink == OPEN else labs[stand.ink]
        if stand.share == 1 and float(delta_e_2000(labs[at], other)) <= FAR_DE00:
            continue
        as_what = "stays open" if stand.ink == OPEN else f"prints as {names[stand.ink]}"
        out.append(f"{names[at]} {as_what}" + (f" dots of {100 * stand.share:.0f} %" if stand.share < 1 else ""))
    return tuple(dict.fromkeys(out))
