"""Which inks a print is made with: the knee, or as many as are asked for, from the inks of the shelf.

In: areas as found, the art, the bench. Out: the areas that print, the bench with their inks, and the choices that were
weighed. Inks that a person named are taken as they are.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from sepkit.colorimetry.names import colour_word
from sepkit.model import Finding
from sepkit.plates.choices import (
    KNEE_PX,
    Choices,
    choices_again,
    choices_of,
    with_light_base_ink,
    without_twins,
)
from sepkit.plates.knee import hues_left_open
from sepkit.plates.reduced import stood_areas
from sepkit.plates.stock import stock_findings
from sepkit.separation.again import tones_again

BYTES_A_SMALL_PIXEL = 4
"""Of each choice and plate, roughly: coverage, what prints, what is seen."""

if TYPE_CHECKING:
    from sepkit.decisions import AreaWish
    from sepkit.model import Artwork, InkArea, Size
    from sepkit.plates.bench import Bench
    from sepkit.plates.choices import Choice
    from sepkit.plates.followed import Before
    from sepkit.plates.instead import Instead
    from sepkit.plates.knee import Reduction


@dataclass(frozen=True, slots=True, eq=False)
class InksChosen:
    """What prints, and what was weighed for it."""

    areas: tuple[InkArea, ...]
    found: tuple[InkArea, ...]
    """Areas before any ink was left out."""
    bench: Bench
    findings: tuple[Finding, ...] = ()
    choices: Choices | None = None
    """None where the inks were named."""
    chosen: Choice | None = None
    reduction: Reduction | None = None
    """What prints each of ``found``."""
    instead: Instead | None = None
    """Dots that print in the place of solid inks."""
    before: Before | None = None
    """What ``choices`` were weighed on, where changes by hand were made since."""
    asked: Bench | None = None
    """The bench before any ink was found for it."""

    def choices_shown(self, size: Size) -> ChoicesShown | None:
        """Return the choices as they print with the changes that were made since; None where there are none."""
        choices, chosen = self.choices, self.chosen
        if choices is None or chosen is None:
            return None
        if self.before is None or self.asked is None:
            return ChoicesShown(choices, choices.knee, choices.one_load, chosen)
        before, bench = self.before, self.asked
        each = before.all_followed(self.found, bench)
        again = choices_again(self.found, size, bench, each)
        place = {one.kept: k for k, one in enumerate(each)}

        def of(choice: Choice | None) -> Choice | None:
            made = None if choice is None else before.followed(choice.reduction, self.found, bench)
            return None if made is None else again.each[place[made.kept]]

        load = of(choices.one_load) or again.one_load
        return ChoicesShown(again, of(choices.knee) or again.knee, load, of(chosen) or again.all_inks)


@dataclass(frozen=True, slots=True, eq=False)
class ChoicesShown:
    """The choices as they print, and which of them a person is offered."""

    choices: Choices
    worth: Choice
    one_load: Choice | None
    chosen: Choice


def weighs(bench: Bench) -> bool:
    """Tell whether it is chosen which inks print: nobody named them, and there is a shelf to choose from."""
    return _of_shelf(bench) and not bench.wishes.inks.named


def _of_shelf(bench: Bench) -> bool:
    """Tell whether inks come from the shelf.

    Inks for overprint colours are mixed for them and no shelf has them; plates that the art brings are all printed, in
    the inks that they were matched to.
    """
    wishes = bench.wishes
    return bool(bench.shelf) and not (wishes.overprint_colours or wishes.as_brought or wishes.solved)


def inks_chosen(
    areas: tuple[InkArea, ...],
    art: Artwork,
    bench: Bench,
    choices: Choices | None = None,
    before: Before | None = None,
) -> InksChosen:
    """Return the inks of a print.

    ``choices`` are those of these areas, where they are known already; ``before`` what was weighed before changes by
    hand, which stands where it can be followed.
    """
    if not _of_shelf(bench):
        return InksChosen(areas, areas, bench)
    if not weighs(bench):
        return _stocked(areas, bench)
    if before is not None:
        chosen = _wanted(before.choices, bench)
        followed = before.followed(chosen.reduction, areas, bench)
        if followed is not None:
            found = _kept(areas, art, bench, _joined(areas, followed, bench))
            told = (*found.findings, *_hues_left(before.areas, before.choices, chosen, areas))
            found = replace(found, findings=told, choices=before.choices, chosen=chosen, before=before)
            return _with_best(found, before.choices)
    choices = choices_kept(areas, art.size, bench) if choices is None else choices
    chosen = _wanted(choices, bench)
    found = _kept(areas, art, bench, chosen.reduction)
    told = (*found.findings, *_hues_left(areas, choices, chosen, areas))
    best = choices if before is None else before.choices
    return replace(_with_best(found, best), findings=told, choices=choices, chosen=chosen)


def _kept(areas: tuple[InkArea, ...], art: Artwork, bench: Bench, reduction: Reduction) -> InksChosen:
    """Return what a reduction prints, with its inks."""
    kept = stood_areas(areas, reduction)
    if len(kept) < len(areas):
        kept = tones_again(art, bench.garment.srgb, areas, kept)
    return replace(_stocked(kept, bench), found=areas, reduction=reduction, asked=bench)


def _joined(areas: tuple[InkArea, ...], reduction: Reduction, bench: Bench) -> Reduction:
    """Return the reduction with areas joined that a person gave one ink."""
    if not any(wish.ink for wish in bench.wishes.areas.values()):
        return reduction
    return without_twins(areas, reduction, bench.stocked(stood_areas(areas, reduction)))


def _with_best(found: InksChosen, choices: Choices) -> InksChosen:
    return replace(found, bench=replace(found.bench, best=choices.best))


def choices_kept(areas: tuple[InkArea, ...], size: Size, bench: Bench) -> Choices:
    """Return the choices, kept while only names, choke, trap or how many screens change: none of these is weighed."""
    wishes = bench.wishes
    told = bool(wishes.base.single)  # a rule names inks as they are called
    said = {srgb: wish for srgb, wish in wishes.areas.items() if told or not wish.only_named}
    each = tuple(sorted((srgb, _wished(wish, named=told)) for srgb, wish in said.items()))
    rest = replace(wishes, areas={}, all_inks=False, most_screens=None, mesh=None, trap_mm=None, choke_mm=None)
    planes = tuple(plane for area in areas for plane in (area.coverage, area.tone) if plane is not None)
    if any(plane.flags.writeable for plane in planes):
        return choices_of(areas, size, bench)
    found = tuple((area.srgb, area.name, id(area.coverage), id(area.tone)) for area in areas)
    key = ("choices", size, found, each, repr(rest), bench.garment.name, bench.press, bench.base_ink.name)
    least = len(areas) ** 2 * KNEE_PX**2 * BYTES_A_SMALL_PIXEL
    return bench.keep.of(key, planes, lambda: choices_of(areas, size, bench), bytes_more=least)


def _wished(wish: AreaWish, *, named: bool) -> str:
    ink = None if wish.ink is None else (wish.ink.name, wish.ink.srgb, wish.ink.parts)
    return repr((ink, wish.base, wish.coats, wish.mesh, wish.name if named else ""))


def _hues_left(
    areas: tuple[InkArea, ...], choices: Choices, chosen: Choice, now: tuple[InkArea, ...]
) -> tuple[Finding, ...]:
    """Tell of strong hues that stay bare cloth; of areas that a person left open nobody is told."""
    there = {area.srgb for area in now}
    left = [k for k in hues_left_open(choices.view, chosen.reduction.stands) if areas[k].srgb in there]
    if not left:
        return ()
    words = list(dict.fromkeys(colour_word(areas[k].srgb) for k in left))
    shown = words if len(words) < 3 else [*words[:2], f"{len(words) - 2} more"]
    text = f"{' and '.join(shown)} stay{'s' * (len(words) == 1)} bare cloth"
    return (Finding("hue-left-open", "warn", text, "--inks all prints it", more=", ".join(words)),)


def _wanted(choices: Choices, bench: Bench) -> Choice:
    wishes = bench.wishes
    if wishes.all_inks:
        return choices.all_inks
    if wishes.inks.count is not None:
        return choices.with_inks(wishes.inks.count) or choices.all_inks
    return choices.default(wishes.most_screens)


def _stocked(areas: tuple[InkArea, ...], bench: Bench) -> InksChosen:
    stocked = with_light_base_ink(areas, bench.stocked(areas))
    found = [choice for srgb, choice in stocked.mixed.items() if not _named(srgb, areas)]
    return InksChosen(areas, areas, stocked, stock_findings(found))


def _named(srgb: tuple[int, int, int], areas: tuple[InkArea, ...]) -> bool:
    return any(area.srgb == srgb and area.name and not area.name.startswith("#") for area in areas)
