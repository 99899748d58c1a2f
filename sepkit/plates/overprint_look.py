"""Which inks of a print could be printed over each other for a third colour, and which colours that would give.

In: ink areas and what inks were asked for. Out: an ink for each area as transparent as it can be, candidates, and the
request with the overprint colours of named inks added.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import combinations
from typing import TYPE_CHECKING

import numpy as np

from sepkit.colorimetry.difference import delta_e_2000
from sepkit.colorimetry.spectral import reflectance_to_srgb8
from sepkit.colorimetry.srgb import as_rgb8, srgb8_to_lab
from sepkit.inks.transparent import is_transparent, transparent_ink
from sepkit.model import InkArea, InkRequest
from sepkit.plates.drafts import drafts_of, ink_of, lightness_of
from sepkit.plates.grounds import with_coats
from sepkit.plates.overprint_pairs import (
    OverprintPair,
    Overprints,
    PairInk,
    apart_from_tones,
    one_over_other,
    pair_candidates,
)
from sepkit.units import to_hex

if TYPE_CHECKING:
    from sepkit.model import RGB8, Ink
    from sepkit.plates.bench import Bench

APART_DE00 = 10.0
"""An overprint of named inks that differs less than this from what is there already gains nothing."""


@dataclass(frozen=True, slots=True, eq=False)
class LookedAt:
    """One area as it is looked at."""

    index: int
    ink: Ink
    """As transparent as it can be."""
    meant: Ink
    lightness: float
    free: bool
    """Whether it may take part: no tone, no white."""
    implied: bool
    """Of a colour that nobody named: an overprint of named inks, which prints so however far the art is."""

    @property
    def may_be_parent(self) -> bool:
        """Whether it may be one of the two that stand for a third."""
        return self.free and not self.implied and is_transparent(self.ink)


@dataclass(frozen=True, slots=True, eq=False)
class Look:
    """All areas of a print as they are looked at."""

    rows: tuple[LookedAt, ...]
    has_tones: bool

    @property
    def parents(self) -> list[LookedAt]:
        """Those that may be one of two, lighter ones first."""
        return sorted((row for row in self.rows if row.may_be_parent), key=lambda row: -row.lightness)

    @property
    def implied(self) -> frozenset[int]:
        """Areas of colours that nobody named."""
        return frozenset(row.index for row in self.rows if row.implied)


def look_at(areas: Sequence[InkArea], request: InkRequest, bench: Bench) -> Look:
    """Return what may take part: inks mixed to order as transparent, shelf inks as they are."""
    flat = apart_from_tones([area.coverage for area in areas], [area.tone for area in areas])
    named = {label for label, _ in request.named}
    rows = []
    for index, area in enumerate(areas):
        meant = ink_of(area, bench)
        mixed = meant.name.startswith("#")
        rows.append(
            LookedAt(
                index,
                transparent_ink(meant.name, area.srgb, white=bench.white_cloth) if mixed else meant,
                meant,
                lightness_of(area.srgb),
                free=index in flat and meant.name != bench.base_ink.name,
                implied=bool(named and area.name and area.name not in named),
            )
        )
    return Look(tuple(rows), len(flat) < len(areas))


def candidates(look: Look, bench: Bench, base_coats: int) -> list[OverprintPair]:
    """Return all pairs on the garment or a base of ``base_coats``, as ``pair_candidates`` sorts them."""
    return pair_candidates(
        [PairInk(row.index, row.ink) for row in look.parents],
        [PairInk(row.index, row.meant) for row in look.rows if row.free],
        bench.ground,
        base_coats=base_coats,
    )


def implied_request(request: InkRequest, bench: Bench, *, most: int) -> InkRequest:
    """Return the request with the overprint colours of the named inks added: the art's colours may go to them too.

    Colours that look like a named ink, the garment or another overprint are left out, and the least distinct where
    there would be more than ``most`` in all.
    """
    if not (bench.wishes.overprint_colours and len(request.named) > 1):
        return request
    areas = tuple(InkArea(rgb, np.zeros((1, 1), np.uint8), None, label) for label, rgb in request.named)
    look = look_at(areas, request, bench)
    rows = with_coats(drafts_of(areas, bench, Overprints(tuple(row.ink for row in look.rows), ())), bench)
    base_coats = max(row.choice.chosen.base_coats for row in rows if row.choice is not None)
    colours = [
        as_rgb8(reflectance_to_srgb8(one_over_other(a.ink, b.ink, bench.ground, base_coats=base_coats)))
        for a, b in combinations(look.parents, 2)
    ]
    known = [np.array(rgb, np.uint8) for _, rgb in request.named] + [np.array(bench.garment.srgb, np.uint8)]
    added: list[tuple[str, RGB8]] = []
    while colours and len(request.named) + len(added) < most:
        apart = [
            float(delta_e_2000(srgb8_to_lab(np.array(rgb, np.uint8)), srgb8_to_lab(np.array(known))).min())
            for rgb in colours
        ]
        best = max(range(len(colours)), key=lambda at: apart[at])
        if apart[best] < APART_DE00:
            break
        rgb = colours.pop(best)
        added.append((to_hex(rgb), rgb))
        known.append(np.array(rgb, np.uint8))
    return InkRequest(named=(*request.named, *added))
