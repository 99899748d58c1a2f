"""Which inks a print is made with: the knee, or as many as are asked for, from the inks of the shelf.

In: areas as found, the art, the bench. Out: the areas that print, the bench with their inks, and the choices that were
weighed. Inks that a person named are taken as they are.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from sepkit.colorimetry.names import colour_word
from sepkit.model import Finding
from sepkit.plates.choices import KNEE_PX, Choices, choices_of, with_light_base_ink
from sepkit.plates.knee import hues_left_open
from sepkit.plates.reduced import stood_areas
from sepkit.plates.stock import stock_findings
from sepkit.separation.again import tones_again

BYTES_A_SMALL_PIXEL = 4
"""Of each choice and plate, roughly: coverage, what prints, what is seen."""

if TYPE_CHECKING:
    from sepkit.decisions import AreaWish
    from sepkit.model import Artwork, InkArea
    from sepkit.plates.bench import Bench
    from sepkit.plates.choices import Choice
    from sepkit.plates.instead import Instead


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
    instead: Instead | None = None
    """Dots that print in the place of solid inks."""


def inks_chosen(areas: tuple[InkArea, ...], art: Artwork, bench: Bench, choices: Choices | None = None) -> InksChosen:
    """Return the inks of a print. Inks for overprint colours are mixed for it and no shelf has them.

    Plates that the art brings are all printed, in the inks that they were matched to. ``choices`` are those of these
    areas, where they are known already.
    """
    wishes = bench.wishes
    if not bench.shelf or wishes.overprint_colours or wishes.as_brought or wishes.solved:
        return InksChosen(areas, areas, bench)
    if wishes.inks.named:
        return _stocked(areas, bench)
    choices = _choices(areas, art, bench) if choices is None else choices
    chosen = _wanted(choices, bench)
    kept = stood_areas(areas, chosen.reduction)
    if len(kept) < len(areas):
        kept = tones_again(art, bench.garment.srgb, areas, kept)
    found = _stocked(kept, bench)
    bench = replace(found.bench, best=choices.best)
    told = (*found.findings, *_hues_left(areas, choices, chosen))
    return replace(found, found=areas, bench=bench, findings=told, choices=choices, chosen=chosen)


def _choices(areas: tuple[InkArea, ...], art: Artwork, bench: Bench) -> Choices:
    """Return the choices, kept while only names, choke, trap or how many screens change: none of these is weighed."""
    wishes = bench.wishes
    told = bool(wishes.base.single)  # a rule names inks as they are called
    each = tuple(sorted((srgb, _wished(wish, named=told)) for srgb, wish in wishes.areas.items()))
    rest = replace(wishes, areas={}, all_inks=False, most_screens=None, mesh=None, trap_mm=None, choke_mm=None)
    planes = tuple(plane for area in areas for plane in (area.coverage, area.tone) if plane is not None)
    if any(plane.flags.writeable for plane in planes):
        return choices_of(areas, art.size, bench)
    found = tuple((area.srgb, area.name, id(area.coverage), id(area.tone)) for area in areas)
    key = ("choices", art.size, found, each, repr(rest), bench.garment.name, bench.press, bench.base_ink.name)
    least = len(areas) ** 2 * KNEE_PX**2 * BYTES_A_SMALL_PIXEL
    return bench.keep.of(key, planes, lambda: choices_of(areas, art.size, bench), bytes_more=least)


def _wished(wish: AreaWish, *, named: bool) -> str:
    ink = None if wish.ink is None else (wish.ink.name, wish.ink.srgb, wish.ink.parts)
    return repr((ink, wish.base, wish.coats, wish.mesh, wish.name if named else bool(wish.name)))


def _hues_left(areas: tuple[InkArea, ...], choices: Choices, chosen: Choice) -> tuple[Finding, ...]:
    """Tell of strong hues that stay bare cloth."""
    left = hues_left_open(choices.view, chosen.reduction.stands)
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
