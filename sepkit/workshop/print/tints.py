"""Plates with tints, as they print: tones of all screens solved together, their traps, and a thinned base.

In: plates in print order with their inks, the garment. Out: the plates with other printed planes and tone masks.
"""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from sepkit.colorimetry.srgb import linear_table
from sepkit.inks.layers import printed_reflectance
from sepkit.plates.base import lightened
from sepkit.plates.coats import base_share_needed
from sepkit.plates.tone_dots import printed_tones
from sepkit.plates.traps import tone_traps
from sepkit.preview.stack import linear_of_reflectance
from sepkit.units import mm_to_px

if TYPE_CHECKING:
    from collections.abc import Sequence

    from sepkit.model import U8, Bool, Garment, Ink, Plate
    from sepkit.workshop.print.options import PrintOptions
    from sepkit.workshop.print.whites import Draft

WHITE_CLOTH = "white tee"
MOST_TONE_PLATES = 10
"""2^10 overprints are solved in seconds; beyond, tones print as shares."""


def tones_as_printed(plates: list[Plate], inks: Sequence[Ink], garment: Garment, dpi: float) -> list[Plate]:
    """Solve the dots of all plates together where any is a tone, so that overprints average to the art's colour."""
    masks = [plate.tone for plate in plates if plate.tone is not None]
    if not masks or len(plates) > MOST_TONE_PLATES:
        return plates
    tone = np.logical_or.reduce(masks)
    stacks = [
        printed_reflectance(
            [
                (ink, float(plate.coats))
                for k, (ink, plate) in enumerate(zip(inks, plates, strict=True))
                if bits >> k & 1
            ],
            garment.reflectance,
        )
        for bits in range(1 << len(plates))
    ]
    table = linear_table()
    shares = [
        plate.printed if plate.role == "underbase" else np.where(tone, plate.coverage, plate.printed)
        for plate in plates
    ]
    planes = printed_tones(
        shares,
        tone,
        stacks=linear_of_reflectance(np.array(stacks)),
        cloth=table[np.array(garment.srgb)],
        has_base=plates[0].role == "underbase",
        art_colours=np.array([table[np.array(plate.art_srgb or plate.print_srgb)] for plate in plates]),
    )
    widest_mm = max(plate.trap_mm for plate in plates)
    return [
        _with_tone_traps(plate, plane, tone, mm_to_px(widest_mm if plate.role == "underbase" else plate.trap_mm, dpi))
        for plate, plane in zip(plates, planes, strict=True)
    ]


def _with_tone_traps(plate: Plate, solved: U8, tones: Bool, trap_px: float) -> Plate:
    """Return the plate with its solved tones continued in its traps, outside of other plates' tones."""
    if plate.tone is None or trap_px <= 0:
        return replace(plate, printed=solved)
    grown = np.where(tones, np.uint8(0), plate.printed)
    printed, tone = tone_traps(plate.coverage, grown, solved, plate.tone, reach_px=trap_px + 1)
    return replace(plate, printed=printed, tone=tone)


def with_light_base(plates: list[Plate], draft: Draft, garment: Garment, options: PrintOptions) -> list[Plate]:
    """Thin the base to a tint under inks that stay within tolerance on less of it."""
    from sepkit.files.shelf.recipes import find_garment

    at = next((k for k, plate in enumerate(plates) if plate.role == "underbase"), None)
    if at is None:
        return plates
    base = plates[at]
    white_cloth = find_garment(WHITE_CLOTH).reflectance
    planes, shares = [], []
    for plate, ink in zip(plates, draft.inks, strict=True):
        if plate is base or plate.ink == base.ink or not draft.choices[plate.name].chosen.base_coats:
            continue
        share = base_share_needed(
            ink,
            base=draft.inks[at],
            base_coats=base.coats,
            cloth=garment.reflectance,
            white_cloth=white_cloth,
            tolerance_de00=options.tolerance_de00,
        )
        planes.append(plate.coverage if plate.tone is None else np.where(plate.tone, np.uint8(0), plate.coverage))
        shares.append(share)
    printed, tint = lightened(base.printed, planes, shares)
    if not tint.any():
        return plates
    tone = tint if base.tone is None else base.tone | tint
    why = f"{base.why}; a tint of {100 * min(shares):.0f} % or more where that is enough"
    return [*plates[:at], replace(base, printed=printed, tone=tone, why=why), *plates[at + 1 :]]
