"""A transparent ink from the colour of one coat on white: what it lets through is the colour, not what it throws back.

In: the colour wanted of one coat on a white ground, and that ground's reflectance in air, (31,) 0..1. Out: an Ink.
The opaque film of such an ink says nothing: nobody prints it so thick, and it would be much darker. S is taken as the
same in all bands and small, as the contrast ratio of the word "transparent" has it; K follows band by band.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from sepkit.colorimetry.upsampling import srgb8_to_reflectance
from sepkit.inks.identify import CONTRAST_RATIO, contrast_ratio
from sepkit.inks.layers import printed_reflectance
from sepkit.model import Ink

if TYPE_CHECKING:
    from sepkit.model import F64, RGB8

Array = np.ndarray[Any, np.dtype[Any]]

LEAST, MOST = 1e-4, 50.0
"""Bounds of K and S per coat."""
STEPS, OUTER_STEPS = 26, 18
HIDES_FROM = 0.5
"""From this contrast ratio on an ink hides more of what is under it than it lets through: between the words "semi"
(0.4) and "medium" (0.7)."""
PROCESS_BELOW = 0.2
"""Below it an ink is a process ink: between the words "transparent" (0.05) and "semi" (0.4)."""


def transparent_ink(name: str, srgb: RGB8, *, white: F64, kind: str = "plastisol", density_g_ml: float = 1.1) -> Ink:
    """Return an estimated transparent ink whose one coat on ``white`` (reflectance in air) looks like ``srgb``.

    A colour that a transparent film cannot have there (lighter than the ground in some band, or darker than the fibres
    that stick through) is met as nearly as can be. Its ``srgb`` is that of the coat on white, not of an opaque film.
    """
    wanted = srgb8_to_reflectance(srgb)
    low, high = LEAST, MOST
    absorption = np.zeros_like(wanted)
    scattering = np.full_like(wanted, LEAST)
    for _ in range(OUTER_STEPS):
        middle = float(np.sqrt(low * high))
        scattering = np.full_like(wanted, middle)
        absorption = _absorption(wanted, scattering, white, name)
        if contrast_ratio(absorption, scattering) < CONTRAST_RATIO["transparent"]:
            low = middle
        else:
            high = middle
    return Ink(
        name=name,
        absorption=absorption,
        scattering=scattering,
        density_g_ml=density_g_ml,
        kind=kind,
        status="estimated",
        srgb=srgb,
        source="the colour of one coat on white, taken as transparent",
    )


def is_process(ink: Ink) -> bool:
    """Return whether an ink is made to be printed over others: its coat hides next to nothing, unlike a semi one."""
    return contrast_ratio(ink.absorption, ink.scattering) < PROCESS_BELOW


def is_transparent(ink: Ink) -> bool:
    """Return whether one coat lets through more than it hides (contrast ratio below HIDES_FROM)."""
    return contrast_ratio(ink.absorption, ink.scattering) < HIDES_FROM


def _absorption(wanted: F64, scattering: F64, white: F64, name: str) -> F64:
    """Return K, all bands at once by bisection: a film that absorbs more is darker in its own band only."""
    low, high = np.full_like(wanted, LEAST), np.full_like(wanted, MOST)
    for _ in range(STEPS):
        middle = np.sqrt(low * high)
        film = Ink(name, middle, scattering, 1.1, "plastisol", "estimated", (0, 0, 0))
        lighter = printed_reflectance([(film, 1.0)], white) > wanted
        low, high = np.where(lighter, middle, low), np.where(lighter, high, middle)
    return np.sqrt(low * high)
