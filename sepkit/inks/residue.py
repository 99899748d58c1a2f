"""What residue of one ink does to the next: why white goes first.

In: two inks and shares of residue by weight. Out: ΔE00 of the opaque film in both orders.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from sepkit.colorimetry.difference import delta_e_2000
from sepkit.colorimetry.spectral import reflectance_to_lab
from sepkit.inks.layers import masstone
from sepkit.inks.mixing import mix

if TYPE_CHECKING:
    from sepkit.model import Ink

SEEN_DE00 = 1.0
"""A change most people see side by side (common practice)."""


@dataclass(frozen=True, slots=True)
class Residue:
    """ΔE00 that ``percent`` by weight of the other ink makes."""

    percent: float
    in_first_de00: float
    """The second ink left over in the first."""
    in_second_de00: float
    """The first ink left over in the second."""


def residue_de00(ink: Ink, left_over: Ink, percent: float) -> float:
    """Return ΔE00 of ``ink`` clean and with ``percent`` by weight (0..100) of another ink in it."""
    dirty = mix([(ink, 100 - percent), (left_over, percent)])
    return float(delta_e_2000(reflectance_to_lab(masstone(ink)), reflectance_to_lab(masstone(dirty))))


def residues(first: Ink, second: Ink, percents: Sequence[float]) -> list[Residue]:
    """Return both orders for each share of residue."""
    return [Residue(p, residue_de00(first, second, p), residue_de00(second, first, p)) for p in percents]


def better_first(first: Ink, second: Ink, *, percent: float = 1.0) -> Ink:
    """Return the ink to print first: the one whose residue harms the other less."""
    harm_if_first = residue_de00(second, first, percent)
    return first if harm_if_first <= residue_de00(first, second, percent) else second
