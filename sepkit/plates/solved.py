"""Rows of screens that were solved together: each prints its area as it is, in the order given.

In: areas that are screens, the bench whose wishes carry their inks and coats. Out: rows in print order. The base
draws in where it meets bare cloth, so that it does not peek out when the press is off.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from sepkit.colorimetry.spectral import reflectance_to_srgb8
from sepkit.colorimetry.srgb import as_rgb8
from sepkit.coverage.keep import kept
from sepkit.coverage.reach import choke_on_bare
from sepkit.coverage.sums import summed
from sepkit.inks.layers import printed_reflectance
from sepkit.plates.drafts import drafts_of, wish_of
from sepkit.units import mm_to_px

if TYPE_CHECKING:
    from sepkit.model import U8, InkArea
    from sepkit.plates.bench import Bench
    from sepkit.plates.drafts import PlateDraft

SEEN_BARE = 64
"""Where the inks on it cover less, a base is seen, and nothing is drawn in."""


def solved_rows(areas: Sequence[InkArea], bench: Bench, *, dpi: float) -> list[PlateDraft]:
    """Return the rows of screens in print order."""
    rows = [_row(row, bench, place) for place, row in enumerate(drafts_of(areas, bench))]
    white = bench.base_ink.name
    if len(rows) > 1 and rows[0].ink.name == white and bench.garment.lab[0] < 85:
        rows[0] = _as_base(rows[0], rows[1:], bench, dpi)
        if rows[-1].ink.name == white:
            rows[-1] = replace(rows[-1], role="highlight", why="lights on top of the colours")
    return rows


def _row(row: PlateDraft, bench: Bench, place: int) -> PlateDraft:
    coats = wish_of(row.area, bench).coats or 1
    seen = printed_reflectance([(row.ink, float(coats))], bench.garment.reflectance)
    return replace(
        row,
        place=place,
        coats=coats,
        print_srgb=as_rgb8(reflectance_to_srgb8(seen)),
        why="chosen with the others for what they print together",
    )


def _as_base(row: PlateDraft, over: Sequence[PlateDraft], bench: Bench, dpi: float) -> PlateDraft:
    choke_px = mm_to_px(bench.choke_mm, dpi)
    printed = row.coverage
    if choke_px > 0:
        inks = kept(summed, [one.coverage for one in over])
        printed = kept(_drawn_in, row.coverage, inks, choke_px)
    return replace(
        row,
        printed=printed,
        also_base=row.coverage,
        choke_mm=bench.choke_mm,
        why="base under the inks, seen itself where it is bare",
    )


def _drawn_in(base: U8, inks: U8, choke_px: float) -> U8:
    whole = np.where((base > 0) | (inks > 0), np.uint8(255), np.uint8(0))
    inner = choke_on_bare(whole, choke_px)
    return np.where(inks >= SEEN_BARE, np.minimum(base, inner), base)
