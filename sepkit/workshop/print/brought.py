"""Art that brings plates: its areas, and the ink of the shelf that each is printed with.

In: artwork with plates, the bench, the shelf. Out: a FlatSeparation, and the bench with the wishes that keep plates as
they are: no trap or choke beyond the file's own unless asked, and a base where the art brings none.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from sepkit.colorimetry.difference import delta_e_2000
from sepkit.colorimetry.srgb import srgb8_to_lab
from sepkit.decisions import AreaWish
from sepkit.files.art.plates import is_white_name
from sepkit.inks.identify import ink_from_swatch
from sepkit.intake.kinds import KindOfArt
from sepkit.model import Finding, FlatSeparation
from sepkit.plates.brought import lies_under
from sepkit.separation.brought import areas_brought

if TYPE_CHECKING:
    from collections.abc import Sequence

    from sepkit.files.shelf.shelf import Shelf
    from sepkit.model import RGB8, Artwork, BaseRule, Ink, InkArea, Progress, SoftRule
    from sepkit.plates.bench import Bench

SAME_DE00 = 4.0
"""An ink of the shelf this near to a plate's stand-in colour is that ink."""
NAMED_DE00 = 20.0
"""Stand-in colours are rough: an ink whose name the plate bears may lie this far from it."""
NEAR_WHITE_DE00 = 6.0


@dataclass(frozen=True, slots=True, eq=False)
class BroughtPlates:
    """Areas as the art brings them, and the bench that prints them so."""

    flat: FlatSeparation
    bench: Bench


def plates_brought(
    art: Artwork, bench: Bench, shelf: Shelf, *, soft: SoftRule = "tone", progress: Progress | None = None
) -> BroughtPlates:
    """Return the art's plates as areas with their inks, and areas of what no ink is named for."""
    flat = areas_brought(art, bench.garment.srgb, soft=soft)
    own = flat.areas
    inks = {area.srgb: ink_for(area.name, area.srgb, bench, shelf) for area in own}
    flat = _with_rest(art, flat, bench, soft, progress)
    wishes = bench.wishes
    areas = {area.srgb: AreaWish(ink=inks[area.srgb], base=_base_rule(area, own, inks, bench)) for area in own}
    kept = replace(
        wishes,
        as_brought=True,
        trap_mm=0.0 if wishes.trap_mm is None else wishes.trap_mm,
        areas={**areas, **wishes.areas},
    )
    rest = "" if len(own) == len(art.plates) else "; what has no ink by name is parted by its colours"
    words = "; ".join(f"{area.name} in {_words(inks[area.srgb], bench, shelf)}" for area in own)
    told = (
        KindOfArt("plates", f"{words}{rest}", "--by colour parts it by its colours instead").finding,
        Finding("traps-of-file", "info", "traps are the file's own", "--trap 0.3mm adds more where inks touch"),
    )
    return BroughtPlates(replace(flat, findings=(*told, *flat.findings)), replace(bench, wishes=kept))


def ink_for(name: str, srgb: RGB8, bench: Bench, shelf: Shelf) -> Ink:
    """Return the ink of a plate: by its name, else by the colour that stands in for it, else mixed to that colour."""
    words = re.findall(r"[^\W_]+", name.lower())
    if is_white_name(name) or _apart(srgb, bench.base_ink.srgb) < NEAR_WHITE_DE00:
        return bench.base_ink
    shelved = [(key, shelf.ink(key)) for key in shelf.ink_names()]
    for key, ink in shelved:
        if words == re.findall(r"[^\W_]+", key.lower()):
            return ink
    named = [ink for key, ink in shelved if set(re.findall(r"[^\W_]+", key.lower())) <= set(words)]
    named = [ink for ink in named if _apart(srgb, ink.srgb) < NAMED_DE00]
    near = [ink for _, ink in shelved if _apart(srgb, ink.srgb) < SAME_DE00]
    found = min(named or near, key=lambda ink: _apart(srgb, ink.srgb), default=None)
    return ink_from_swatch(name, srgb) if found is None else found


def _words(ink: Ink, bench: Bench, shelf: Shelf) -> str:
    shelved = ink.name == bench.base_ink.name or ink.name in shelf.ink_names()
    return f"{ink.name} of the shelf" if shelved else "an ink mixed to its stand-in colour"


def _apart(one: RGB8, other: RGB8) -> float:
    return float(delta_e_2000(*(srgb8_to_lab(np.array(rgb, np.uint8)) for rgb in (one, other))))


def _base_rule(area: InkArea, areas: Sequence[InkArea], inks: dict[RGB8, Ink], bench: Bench) -> BaseRule | None:
    """Return the base of an area where the art brings a white under it; None leaves it to be decided."""
    whites = [one for one in areas if inks[one.srgb].name == bench.base_ink.name]
    others = [one for one in areas if one not in whites]
    brings = any(lies_under(white.coverage, ink.coverage) for white in whites for ink in others)
    if not brings or bench.wishes.base.every != "auto" or bench.wishes.base.single:
        return None
    based = area not in whites and any(lies_under(white.coverage, area.coverage) for white in whites)
    return "always" if based else "never"


def _with_rest(
    art: Artwork, flat: FlatSeparation, bench: Bench, soft: SoftRule, progress: Progress | None
) -> FlatSeparation:
    """Add what the art shows in colours that no ink is named for, parted by its colours."""
    from sepkit.separation.separate import separate

    rest = next((plate.coverage for plate in art.plates if not plate.name), None)
    if rest is None:
        return flat
    part = replace(art, alpha=rest, plates=())
    found = separate(part, bench.garment.srgb, bench.wishes.inks, soft=soft, on_step=progress)
    taken = {area.srgb for area in flat.areas}
    more = tuple(area for area in found.areas if area.srgb not in taken)
    return replace(flat, areas=(*flat.areas, *more), findings=found.findings)
