"""Which inks of a print could be printed over each other for a third colour, and which colours that would give.

In: ink areas and what inks were asked for. Out: an ink for each area as transparent as it can be, candidates, and the
request with the overprint colours of named inks added.
"""

from __future__ import annotations

from dataclasses import dataclass
from itertools import combinations
from typing import TYPE_CHECKING

import numpy as np

from sepkit.colorimetry.difference import delta_e_2000
from sepkit.colorimetry.spectral import reflectance_to_srgb8
from sepkit.colorimetry.srgb import as_rgb8, srgb8_to_lab
from sepkit.inks.transparent import is_transparent, transparent_ink
from sepkit.model import InkArea, InkRequest
from sepkit.plates.overprint_pairs import (
    OverprintPair,
    Overprints,
    apart_from_tones,
    one_over_other,
    pair_candidates,
)
from sepkit.separation.palette import MAX_MEMBERS
from sepkit.units import to_hex
from sepkit.workshop.print.decide import BASE_INK, choices_for, ink_of
from sepkit.workshop.print.tints import WHITE_CLOTH

if TYPE_CHECKING:
    from collections.abc import Sequence

    from sepkit.model import RGB8, Garment, Ink
    from sepkit.workshop.print.options import PrintOptions

APART_DE00 = 10.0
"""An overprint of named inks that differs less than this from what is there already gains nothing."""


@dataclass(frozen=True, slots=True)
class Look:
    """What is looked at: an ink of each area as transparent as it can be, and which areas may take part."""

    inks: tuple[Ink, ...]
    meant: tuple[Ink, ...]
    free: tuple[int, ...]
    parents: tuple[int, ...]
    has_tones: bool
    implied: frozenset[int]
    """Areas of colours that nobody named: overprints of named inks, which print so however far the art is."""


def look_at(areas: Sequence[InkArea], request: InkRequest) -> Look:
    """Return what may take part: inks mixed to order as transparent, shelf inks as they are; lighter parents first."""
    from sepkit.files.shelf.inkfile import find_ink
    from sepkit.files.shelf.recipes import find_garment

    base_ink, white = find_ink(BASE_INK), find_garment(WHITE_CLOTH).reflectance
    meant = tuple(ink_of(area, base_ink) for area in areas)
    inks = tuple(
        transparent_ink(ink.name, area.srgb, white=white) if ink.name.startswith("#") else ink
        for ink, area in zip(meant, areas, strict=True)
    )
    flat = apart_from_tones([area.coverage for area in areas], [area.tone for area in areas])
    free = tuple(i for i in flat if meant[i].name != base_ink.name)
    lightness = [float(srgb8_to_lab(np.array(area.srgb))[0]) for area in areas]
    parents = tuple(sorted((i for i in free if is_transparent(inks[i])), key=lambda i: -lightness[i]))
    named = {label for label, _ in request.named}
    implied = frozenset(i for i, area in enumerate(areas) if named and area.name and area.name not in named)
    return Look(inks, meant, free, tuple(i for i in parents if i not in implied), len(flat) < len(areas), implied)


def candidates(look: Look, garment: Garment, base_coats: int) -> list[OverprintPair]:
    """Return all pairs on the garment or a base of ``base_coats``, as ``pair_candidates`` sorts them."""
    from sepkit.files.shelf.inkfile import find_ink
    from sepkit.files.shelf.recipes import find_garment

    return pair_candidates(
        look.inks,
        look.meant,
        parents=look.parents,
        saveable=look.free,
        base=find_ink(BASE_INK),
        base_coats=base_coats,
        cloth=garment.reflectance,
        white_cloth=find_garment(WHITE_CLOTH).reflectance,
    )


def implied_request(request: InkRequest, garment: Garment, options: PrintOptions) -> InkRequest:
    """Return the request with the overprint colours of the named inks added: the art's colours may go to them too.

    Colours that look like a named ink, the garment or another overprint are left out, and the least distinct where
    there would be too many.
    """
    from sepkit.files.shelf.inkfile import find_ink

    if not (options.overprint_colours and len(request.named) > 1):
        return request
    areas = tuple(InkArea(rgb, np.zeros((1, 1), np.uint8), None, label) for label, rgb in request.named)
    look = look_at(areas, request)
    choices = choices_for(areas, garment, options, overprints=Overprints(look.inks, ()))
    base_coats = max(choice.chosen.base_coats for choice in choices)
    base_ink = find_ink(BASE_INK)
    colours = {
        (a, b): as_rgb8(
            reflectance_to_srgb8(
                one_over_other(
                    look.inks[a], look.inks[b], base=base_ink, base_coats=base_coats, cloth=garment.reflectance
                )
            )
        )
        for a, b in combinations(look.parents, 2)
    }
    known = [np.array(rgb, np.uint8) for _, rgb in request.named] + [np.array(garment.srgb, np.uint8)]
    added: list[tuple[str, RGB8]] = []
    while colours and len(request.named) + len(added) < MAX_MEMBERS:
        apart = {
            key: float(delta_e_2000(srgb8_to_lab(np.array(rgb, np.uint8)), srgb8_to_lab(np.array(known))).min())
            for key, rgb in colours.items()
        }
        key = max(apart, key=lambda k: apart[k])
        if apart[key] < APART_DE00:
            break
        rgb = colours.pop(key)
        added.append((to_hex(rgb), rgb))
        known.append(np.array(rgb, np.uint8))
    return InkRequest(named=(*request.named, *added))
