"""What a set of inks tells before a film is made: two that are nearly one, and a pale rim left by cutting art out.

In: the inks of a print with their coverage, and the art. Out: findings. Lengths mm.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import combinations
from typing import TYPE_CHECKING

import numpy as np

from sepkit.colorimetry.difference import delta_e_2000
from sepkit.colorimetry.srgb import srgb8_to_lab
from sepkit.coverage.strokes import reduced_plane
from sepkit.coverage.sums import strongest_near
from sepkit.model import Finding
from sepkit.units import mm_to_px, px_to_mm, to_hex

if TYPE_CHECKING:
    from sepkit.model import RGB8, U8, Artwork, Bool, Garment, Plate

NEAR_DE00 = 4.0
"""Solid inks nearer than this are told apart side by side only (common practice)."""
NEAR_CLOTH_DE00 = 8.0
"""A solid ink nearer than this to the cloth hardly shows on it (common practice)."""
NEAR_TONED_DE00 = 8.0
"""Inks that both fade mix on the way anyway: two so near seldom earn their screens."""
RIM_MM = 0.6
"""A rim left by cutting out is a few pixels wide; an outline that is meant is drawn wider (common practice)."""
RIM_SHARE = 0.25
"""Of the art's outline: less is a stroke that happens to end there."""
PALE_L, PALE_CHROMA = 85.0, 14.0
_SOME = 48
"""8-bit coverage from which a pixel carries some of the ink: one pixel of rim is spread over two."""


@dataclass(frozen=True, slots=True, eq=False)
class InkFound:
    """One ink of the print: its colour in the art, where it lies, and whether it fades."""

    name: str
    srgb: RGB8
    coverage: U8
    fades: bool

    @property
    def asked_as(self) -> str:
        """The ink as --inks takes it."""
        return to_hex(self.srgb)


def inks_of(plates: Sequence[Plate]) -> list[InkFound]:
    """Return the inks of plates; a base is none."""
    return [
        InkFound(plate.name, plate.art_srgb, plate.coverage, plate.tone is not None)
        for plate in plates
        if plate.role == "colour" and plate.art_srgb is not None
    ]


def ink_findings(inks: Sequence[InkFound], art: Artwork, garment: Garment) -> list[Finding]:
    """Return findings about inks that are nearly the same, or the cloth's, and about pale rims of cut-out art."""
    return [*_near(inks), *_near_cloth(inks, garment), *_rims(inks, art)]


def _near_cloth(inks: Sequence[InkFound], garment: Garment) -> list[Finding]:
    """Tell of solid inks that the cloth could stand for, as black on a black hoodie."""
    found = []
    for ink in inks:
        apart = float(delta_e_2000(srgb8_to_lab(np.array(ink.srgb, np.uint8)), srgb8_to_lab(np.array(garment.srgb))))
        if ink.fades or len(inks) < 2 or apart >= NEAR_CLOTH_DE00:
            continue
        rest = ",".join(one.asked_as for one in inks if one is not ink)
        found.append(
            Finding(
                "near-cloth",
                "info",
                f"{ink.name} hardly shows on {garment.name}: ΔE00 {apart:.1f} from the cloth",
                f'--inks "{rest}" leaves it open, and saves a screen',
            )
        )
    return found


def _near(inks: Sequence[InkFound]) -> list[Finding]:
    found = []
    labs = [srgb8_to_lab(np.array(ink.srgb, np.uint8)) for ink in inks]
    for (one, lab), (other, lab2) in combinations(zip(inks, labs, strict=True), 2):
        apart = float(delta_e_2000(lab, lab2))
        if apart < (NEAR_TONED_DE00 if one.fades and other.fades else NEAR_DE00):
            found.append(
                Finding(
                    "near-inks",
                    "info",
                    f"{one.name} and {other.name} are nearly one ink: ΔE00 {apart:.1f} apart",
                    f"--inks {len(inks) - 1} merges what is nearest, and saves a screen",
                )
            )
    return found


def _rims(inks: Sequence[InkFound], art: Artwork) -> list[Finding]:
    """Tell of pale inks that print a hairline along much of the art's outline. Opaque art has none to look at."""
    pale = [ink for ink in inks if not ink.fades and _is_pale(ink.srgb)]
    if not pale or int(art.alpha.min()) > 127:
        return []
    alpha, dpi = reduced_plane(art.alpha, art.dpi)
    shape = alpha > 127
    edge = shape & ~_shrunk(shape, 1)
    if not edge.any():
        return []
    found = []
    for ink in pale:
        ink_here = (reduced_plane(ink.coverage, art.dpi)[0] > _SOME) & shape
        rim = _rim(ink_here, shape, mm_to_px(RIM_MM, dpi))
        along = edge & _grown(rim, 1)
        if along.sum() < RIM_SHARE * edge.sum():
            continue
        rows, columns = np.nonzero(along)
        x, y = px_to_mm(float(columns[0]), dpi), px_to_mm(float(rows[0]), dpi)
        only = rim.sum() > 0.8 * ink_here.sum()
        spare = f"; with --inks {len(inks) - 1} it goes, and its screen with it" if only and len(inks) > 1 else ""
        found.append(
            Finding(
                "pale-rim",
                "warn",
                f"{ink.name} {'prints only' if only else 'also prints'} as a pale hairline, at {x:.0f}, {y:.0f} mm",
                "take one or two pixels off the cut-out's edge",
                (x, y),
                f"along {100 * along.sum() / edge.sum():.0f} % of the edge: what remains of a pale ground that the art "
                f"was cut from{spare}; a line that is meant wants {RIM_MM:g} mm",
            )
        )
    return found


def _rim(ink: Bool, shape: Bool, width_px: float) -> Bool:
    """Return where ink is thinner than the width and lies between the outside of ``shape`` and other ink."""
    half, width = max(1, round(width_px / 2)), max(2, round(width_px))
    thin = ink & ~_grown(_shrunk(ink, half), half + 1)
    return np.asarray(thin & ~_shrunk(shape, width) & _grown(shape & ~_grown(ink, 1), width + 1))


def _is_pale(srgb: RGB8) -> bool:
    light, a, b = (float(v) for v in srgb8_to_lab(np.array(srgb, np.uint8)))
    return light > PALE_L and float(np.hypot(a, b)) < PALE_CHROMA


def _shrunk(mask: Bool, px: int) -> Bool:
    holes = np.pad(~mask, px, constant_values=True)
    return ~_grown(holes, px)[px:-px, px:-px]


def _grown(mask: Bool, px: int) -> Bool:
    return strongest_near(mask.view(np.uint8), px).astype(bool)
