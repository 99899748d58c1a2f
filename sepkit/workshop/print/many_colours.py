"""Flat art of more colours than a press has screens for: printed in dots of a few inks where that is clearly nearer.

In: areas as found, the art, options, bench. Out: what prints, and what was weighed for it.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from sepkit.intake.kinds import CODE, WORDS, KindOfArt
from sepkit.plates.instead import dots_instead
from sepkit.plates.smaller import smaller_areas
from sepkit.plates.tonal.flat_dots import dotted_areas
from sepkit.preview.seen import PANEL_PX, factor_for
from sepkit.workshop.print.inks import choices_kept
from sepkit.workshop.print.tones import ANSWERED, set_findings

if TYPE_CHECKING:
    from sepkit.model import Artwork, Finding, FlatSeparation, InkArea
    from sepkit.plates.bench import Bench
    from sepkit.plates.choices import Choices
    from sepkit.plates.instead import Instead
    from sepkit.workshop.print.options import PrintOptions


RUNG_PX = 480
"""Size of the pictures that numbers of inks are shown at."""


@dataclass(frozen=True, slots=True, eq=False)
class Settled:
    """What the art asks as it prints: as found, or its dots."""

    flat: FlatSeparation
    areas: tuple[InkArea, ...]
    bench: Bench
    choices: Choices | None = None
    """Numbers of solid inks, where they were weighed."""
    instead: Instead | None = None


def settled(
    areas: tuple[InkArea, ...], art: Artwork, flat: FlatSeparation, options: PrintOptions, bench: Bench
) -> Settled:
    """Return flat art in dots where solid inks are too few for its hues; all other art as it is."""
    if not _may_be_dotted(flat, options, bench):
        return Settled(flat, areas, bench)
    choices = choices_kept(areas, art.size, bench)
    found = dots_instead(areas, art.size, choices, choices.default(bench.wishes.most_screens), bench)
    if found is None:
        return Settled(flat, areas, bench, choices)
    shown, more = rung_factors(art, RUNG_PX)
    found = replace(found, small=smaller_areas(areas, shown * more))
    screens, dotted = dotted_areas(areas, found.parts, found.chosen, bench, dpi=art.dpi)
    told = [_kind(found, len(areas)) if one.code == CODE else one for one in flat.findings if one.code not in ANSWERED]
    flat = replace(flat, areas=screens, findings=(*told, *set_findings(found.weighed)))
    return Settled(flat, screens, replace(dotted, weighed=found.weighed, best=choices.best), choices, found)


def rung_factors(art: Artwork, most_px: int) -> tuple[int, int]:
    """Return by how much panels are smaller than the art, and by how much a picture of ``most_px`` than these."""
    shape = (art.alpha.shape[0], art.alpha.shape[1])
    shown = factor_for(shape, PANEL_PX)
    return shown, max(1, round(factor_for(shape, most_px) / shown))


def _may_be_dotted(flat: FlatSeparation, options: PrintOptions, bench: Bench) -> bool:
    """Tell whether nobody asked for anything else: flat art as it looks, of inks that are chosen."""
    wishes = bench.wishes
    asked = wishes.inks.named or wishes.inks.count is not None or wishes.all_inks or wishes.overprint_colours
    spoken = wishes.as_brought or wishes.solved or wishes.areas or wishes.order or wishes.base.single
    is_flat = any(one.code == CODE and one.text.startswith(WORDS["flat"]) for one in flat.findings)
    edited = bench.edits.screens is not None or bench.edits.all_inks
    return bool(bench.shelf) and options.kind == "auto" and is_flat and not (asked or spoken or edited)


def _kind(found: Instead, colours: int) -> Finding:
    screens, solid = len(found.chosen.one.places), found.solid.screens
    told = KindOfArt(
        "flat", f"{colours} colours in dots of {screens} screens, lines solid", "--kind flat prints solid inks"
    ).finding
    more = (
        f"solid inks: {solid} screens, seen error ΔE00 {found.solid_de00:.1f}; "
        f"dots: {screens} screens, {found.dots_de00:.1f}"
    )
    return replace(told, more=more)
