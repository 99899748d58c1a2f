"""What a trace of one ink does to the next one in the same screen: the reason to print light before dark.

In: two inks. Out: ΔE00 of the second ink's masstone when a trace of the first is left in it. How much is left after
carding out and wiping is a guess (1 %, from memory): the figure ranks orders, it does not promise a colour.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from sepkit.colorimetry.difference import delta_e_2000
from sepkit.colorimetry.spectral import reflectance_to_lab
from sepkit.inks.layers import opaque_reflectance, to_air
from sepkit.inks.mixing import mix

if TYPE_CHECKING:
    from sepkit.model import F64, Ink

TRACE = 0.01


def carryover_de00(before: Ink, after: Ink, *, trace: float = TRACE) -> float:
    """Return the colour shift of ``after`` with a share ``trace`` of ``before`` in it, by weight."""
    if before.name == after.name:
        return 0.0
    soiled = mix([(after, 1.0 - trace), (before, trace)])
    return float(delta_e_2000(_lab(soiled), _lab(after)))


def carryover_table(inks: Sequence[Ink]) -> dict[tuple[str, str], float]:
    """Return ΔE00 for every ordered pair (before, after) of ``inks`` by name."""
    return {(a.name, b.name): carryover_de00(a, b) for a in inks for b in inks}


def _lab(ink: Ink) -> F64:
    return reflectance_to_lab(to_air(opaque_reflectance(ink.absorption, ink.scattering)))
