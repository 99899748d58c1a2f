"""How far an ink may be from what is known of it: a 90 % band of its strength and of its colour.

In: an Ink. Out: its InkBand, and the same ink at the weak end of it. Strength is the factor by which K and S of a coat
may be larger or smaller; colour is ΔE00 of a print of it. All figures come from 780 measured mixtures of 13 pigments
(arXiv:1904.00275), `python -m tests.benchmarks inks`: they are paints on paper, not plastisol on cotton, and stand in
until an ink is measured.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from sepkit.colorimetry.difference import delta_e_2000
from sepkit.colorimetry.spectral import reflectance_to_lab
from sepkit.inks.layers import masstone
from sepkit.inks.mixing import mix

if TYPE_CHECKING:
    from sepkit.model import F64, Ink


@dataclass(frozen=True, slots=True)
class InkBand:
    """Nine of ten inks like this lie within it."""

    strength: float
    """K and S of a coat lie between 1 / strength and strength times what is known, at least 1."""
    colour_de00: float
    """How far a print of it may be from what is predicted."""


MEASURED = InkBand(1.15, 3.6)
"""Fitted to films of known composition: 3.6 is what nine of ten mixtures kept within in a cross-validation inside the
training rows; 92 and 89 % of the mixtures held out did. The strength is that of a hand's pulls (common practice)."""
MEASURED_MIX = InkBand(1.25, 6.0)
"""Mixed of inks that were measured by themselves and with white: two colours in one mix err more, nine of ten within
6.0 there. One figure for all mixes holds 86 % of those with a pigment that it was not chosen on (38 to 100 %)."""
MIX_TIMES, MIX_FLOOR_DE00, MIX_STRENGTH = 2.1, 1.0, 1.3
"""A mix's own band: how far its colour moves when one of its pigments is so much stronger, on top of a floor, so many
times: what holds 92 % of the mixtures of two colours, fitted to films of one pigment and tints of white. Chosen so on 8
of 12 pigments it holds 90 % of the mixtures with another one (66 to 100 %)."""
FROM_A_WORD = InkBand(1.6, 6.1)
"""One swatch and the right word for its opacity: nine of ten pigments within 1.6, single films within 6.1."""
TO_ORDER = InkBand(2.0, 8.8)
"""Mixed to order from such inks: nine of ten mixtures within 8.8. That its strength is known worse than that of a pot
is our own weight: its tinting strengths are guessed."""


def band_of(ink: Ink) -> InkBand:
    """Return the band of an ink: narrow where it was measured, wide where it is mixed to order."""
    to_order = bool(ink.parts) or ink.name.startswith("#")
    if ink.status == "measured":
        return MEASURED_MIX if to_order else MEASURED
    return TO_ORDER if to_order else FROM_A_WORD


def mixed_band_de00(parts: Sequence[tuple[Ink, float]]) -> float:
    """Return the ΔE00 within which nine of ten opaque films of a mix (ink, grams) lie of what is predicted.

    A colour that turns much with one pigment's strength is known worse; none is known better than one ink alone.
    """
    used = [(ink, grams) for ink, grams in parts if grams > 0]
    if any(ink.status != "measured" for ink, _ in used):
        return TO_ORDER.colour_de00 if len(used) > 1 else FROM_A_WORD.colour_de00
    if len(used) < 2:
        return MEASURED.colour_de00
    own = _lab(used)
    moved = [_lab([*used[:k], (ink, MIX_STRENGTH * grams), *used[k + 1 :]]) for k, (ink, grams) in enumerate(used)]
    shift = float(np.sqrt((delta_e_2000(own, np.array(moved)) ** 2).sum()))
    return max(MEASURED.colour_de00, MIX_TIMES * (MIX_FLOOR_DE00 + shift))


def _lab(parts: Sequence[tuple[Ink, float]]) -> F64:
    return reflectance_to_lab(masstone(mix(parts)))


def at_strength(ink: Ink, factor: float) -> Ink:
    """Return the ink with so many times the pigment in a coat."""
    return replace(ink, absorption=ink.absorption * factor, scattering=ink.scattering * factor)


def weak_end(ink: Ink, band: InkBand | None = None) -> Ink:
    """Return the ink at the weak end of its band: where it covers least."""
    return at_strength(ink, 1 / (band or band_of(ink)).strength)
