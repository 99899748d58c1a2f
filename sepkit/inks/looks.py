"""What is seen of inks: an opaque film of one, or films of several printed on cloth.

In: inks, coats, the cloth's reflectance in air, (31,), 0..1. Out: Lab D65/2 and the nearest 8-bit sRGB.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from sepkit.colorimetry.spectral import reflectance_to_lab
from sepkit.colorimetry.srgb import as_rgb8, lab_to_srgb8
from sepkit.inks.layers import masstone, printed_reflectance

if TYPE_CHECKING:
    from sepkit.model import LAB, RGB8, Ink

Array = np.ndarray[Any, np.dtype[Any]]


@dataclass(frozen=True, slots=True)
class Look:
    """A predicted colour: Lab D65/2, and the nearest 8-bit sRGB (colours outside sRGB are clipped)."""

    lab: LAB
    srgb: RGB8


def look_of_lab(lab: Array | LAB) -> Look:
    """Return the look of Lab D65/2, three numbers.

    >>> look_of_lab(np.array([53.2, 80.1, 67.2])).srgb
    (255, 0, 0)
    """
    values = np.asarray(lab, np.float64).reshape(3)
    return Look((float(values[0]), float(values[1]), float(values[2])), as_rgb8(lab_to_srgb8(values)))


def look_of(reflectance: Array) -> Look:
    """Return the look of a reflectance in air, (31,), 0..1."""
    return look_of_lab(reflectance_to_lab(reflectance))


def opaque_look(ink: Ink) -> Look:
    """Return the look of a film so thick that nothing shines through (masstone)."""
    return look_of(masstone(ink))


def printed_look(films: Sequence[tuple[Ink, float]], cloth: Array) -> Look:
    """Return the look of (ink, coats), bottom to top, printed on ``cloth`` (its reflectance in air, (31,))."""
    return look_of(printed_reflectance(films, cloth))
