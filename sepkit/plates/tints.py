"""Screens with tints, as they print: tones of all screens solved together, their traps, and a thinned base.

Rows in print order in; the same rows with other printed planes and tone masks out.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from sepkit.colorimetry.spectral import reflectance_to_linear
from sepkit.colorimetry.srgb import linear_table
from sepkit.inks.layers import printed_reflectance
from sepkit.plates.base import lightened
from sepkit.plates.coats import base_share_needed
from sepkit.plates.drafts import first
from sepkit.plates.tone_dots import printed_tones
from sepkit.plates.traps import tone_traps
from sepkit.units import mm_to_px

if TYPE_CHECKING:
    from sepkit.model import F64, U8, Bool, Garment
    from sepkit.plates.bench import Bench
    from sepkit.plates.drafts import PlateDraft

MOST_TONE_PLATES = 10
"""2^10 overprints are solved in seconds; beyond, tones print as shares."""


def tones_as_printed(rows: list[PlateDraft], garment: Garment, *, dpi: float) -> list[PlateDraft]:
    """Solve the dots of all screens together where any is a tone, so that overprints average to the art's colour."""
    masks = [row.tone for row in rows if row.tone is not None]
    if not masks or len(rows) > MOST_TONE_PLATES:
        return rows
    tone = np.logical_or.reduce(masks)
    table = linear_table()
    colours = [row.print_srgb if row.area is None else row.area.srgb for row in rows]
    planes = printed_tones(
        [_share(row, tone) for row in rows],
        tone,
        stacks=reflectance_to_linear(_stacks(rows, garment)),
        cloth=table[np.array(garment.srgb)],
        has_base=rows[0].role == "underbase",
        art_colours=np.array([table[np.array(rgb)] for rgb in colours]),
    )
    widest_mm = max(row.trap_mm for row in rows)
    return [
        _with_tone_traps(row, plane, tone, mm_to_px(widest_mm if row.role == "underbase" else row.trap_mm, dpi))
        for row, plane in zip(rows, planes, strict=True)
    ]


def _share(row: PlateDraft, tone: Bool) -> U8:
    """Return what a row prints before its tones are solved: as the art asks where dots print."""
    return row.printed if row.role == "underbase" else np.where(tone, row.coverage, row.printed)


def _stacks(rows: Sequence[PlateDraft], garment: Garment) -> F64:
    """Return the reflectance (2^n, 31) of each set of screens on the cloth, screen k being bit k."""
    films = [(row.ink, float(row.coats)) for row in rows]
    return np.array(
        [
            printed_reflectance([film for k, film in enumerate(films) if bits >> k & 1], garment.reflectance)
            for bits in range(1 << len(films))
        ]
    )


def _with_tone_traps(row: PlateDraft, solved: U8, tones: Bool, trap_px: float) -> PlateDraft:
    """Return the row with its solved tones continued in its traps, outside of other screens' tones."""
    if row.tone is None or trap_px <= 0:
        return replace(row, printed=solved)
    grown = np.where(tones, np.uint8(0), row.printed)
    printed, tone = tone_traps(row.coverage, grown, solved, row.tone, reach_px=trap_px + 1)
    return replace(row, printed=printed, tone=tone)


def with_light_base(rows: list[PlateDraft], bench: Bench) -> list[PlateDraft]:
    """Thin the base to a tint under inks that stay within tolerance on less of it."""
    at = first(rows, lambda row: row.role == "underbase")
    if at is None:
        return rows
    base = rows[at]
    under = [row for row in rows if row.based and row.ink.name != base.ink.name]
    shares = [
        base_share_needed(row.ink, bench.ground, base_coats=base.coats, tolerance_de00=bench.wishes.tolerance_de00)
        for row in under
    ]
    planes = [row.coverage if row.tone is None else np.where(row.tone, np.uint8(0), row.coverage) for row in under]
    printed, tint = lightened(base.printed, planes, shares)
    if not tint.any():
        return rows
    tone = tint if base.tone is None else base.tone | tint
    why = f"{base.why}; a tint of {100 * min(shares):.0f} % or more where that is enough"
    return [*rows[:at], replace(base, printed=printed, tone=tone, why=why), *rows[at + 1 :]]
