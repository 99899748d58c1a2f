"""How far an ink may be from what is known of it: a 90 % band of its strength and of its colour.

In: an Ink. Out: its InkBand, and the same ink at the weak end of it. Strength is the factor by which K and S of a coat
may be larger or smaller; colour is ΔE00 of a print of it. All figures come from 780 measured mixtures of 13 pigments
(arXiv:1904.00275), `python -m tests.benchmarks inks`: they are paints on paper, not plastisol on cotton, and stand in
until an ink is measured.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from sepkit.model import Ink


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
"""Mixed of inks that were measured by themselves and with white: two colours in one mix err more (nine of ten within
6.0 there; for pigments that calibration did not see it holds 54 to 91 %)."""
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


def at_strength(ink: Ink, factor: float) -> Ink:
    """Return the ink with so many times the pigment in a coat."""
    return replace(ink, absorption=ink.absorption * factor, scattering=ink.scattering * factor)


def weak_end(ink: Ink, band: InkBand | None = None) -> Ink:
    """Return the ink at the weak end of its band: where it covers least."""
    return at_strength(ink, 1 / (band or band_of(ink)).strength)
