"""Colour difference as a sum of squares: CIEDE2000 made straight around each colour that is wanted.

In: wanted Lab (m, 3). Out: for any Lab beside it residuals (m, 3) whose length is nearly ΔE00: lightness, chroma and
hue divided by the weights that CIEDE2000 (Sharma, Wu, Dalal 2005) has at the wanted colour, its stretch of a* near
grey included, its rotation for blue left out. Least squares needs that; what is told is always ΔE00 itself.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from sepkit.colorimetry.srgb import RGB_TO_XYZ, WHITE_D65

if TYPE_CHECKING:
    from sepkit.model import F64

Array = np.ndarray[Any, np.dtype[Any]]

_KNEE = 216 / 24389
_SLOPE = 24389 / 27 / 116
_TO_LAB = np.array([[0.0, 116.0, 0.0], [500.0, -500.0, 0.0], [0.0, 200.0, -200.0]])
"""From the cube roots of XYZ over white to Lab, but for the 16 that L* lies lower."""
_TO_XYZ = RGB_TO_XYZ / np.asarray(WHITE_D65)[:, None]


def light_to_lab(linear: Array) -> Array:
    """Return Lab (..., 3) of linear sRGB (..., 3), which may lie outside 0..1."""
    roots, _ = _roots(linear @ _TO_XYZ.T)
    out: Array = roots @ _TO_LAB.T
    out[..., 0] -= 16
    return out


def _roots(xyz: Array) -> tuple[Array, Array]:
    """Return the cube roots of CIELAB, straight near black, and their slopes."""
    low = xyz <= _KNEE
    root = np.cbrt(np.maximum(xyz, _KNEE))
    return np.where(low, _SLOPE * xyz + 16 / 116, root), np.where(low, _SLOPE, 1 / (3 * root * root))


@dataclass(frozen=True, slots=True, eq=False)
class Wanted:
    """Colours that are wanted, with their own measure of difference."""

    lab: Array
    """(m, 3)."""
    scale: Array
    """(m, 3, 3): from a difference in Lab to residuals."""

    @classmethod
    def of(cls, lab: Array, *, chroma: float = 1.0) -> Wanted:
        """Return the measure at wanted Lab (m, 3); ``chroma`` below 1 lets chroma and hue count for less."""
        light, a, b = (np.asarray(lab[:, k], np.float64) for k in range(3))
        seventh = np.hypot(a, b) ** 7
        stretch = 1 + 0.5 * (1 - np.sqrt(seventh / (seventh + 25.0**7)))
        c = np.hypot(a * stretch, b)
        hue = np.arctan2(b, a * stretch)
        from_50 = (light - 50) ** 2
        s_l = 1 + 0.015 * from_50 / np.sqrt(20 + from_50)
        t = (
            1
            - 0.17 * np.cos(hue - np.radians(30))
            + 0.24 * np.cos(2 * hue)
            + 0.32 * np.cos(3 * hue + np.radians(6))
            - 0.20 * np.cos(4 * hue - np.radians(63))
        )
        s_c, s_h = (1 + 0.045 * c) / chroma, (1 + 0.015 * c * t) / chroma
        cos, sin = np.cos(hue), np.sin(hue)
        scale = np.zeros((len(lab), 3, 3))
        scale[:, 0, 0] = 1 / s_l
        scale[:, 1, 1], scale[:, 1, 2] = cos * stretch / s_c, sin / s_c
        scale[:, 2, 1], scale[:, 2, 2] = -sin * stretch / s_h, cos / s_h
        return cls(np.asarray(lab, np.float64), scale)

    def away(self, linear: Array) -> Array:
        """Return residuals (..., m, 3) of light (..., m, 3)."""
        return np.asarray(np.einsum("mij,...mj->...mi", self.scale, light_to_lab(linear) - self.lab))

    def away_and_slope(self, linear: Array) -> tuple[Array, F64]:
        """Return residuals, and how they change with the light, (..., m, 3, 3)."""
        roots, slope = _roots(linear @ _TO_XYZ.T)
        lab = roots @ _TO_LAB.T
        lab[..., 0] -= 16
        away = np.einsum("mij,...mj->...mi", self.scale, lab - self.lab)
        turn = self.scale @ _TO_LAB
        return away, (turn * slope[..., None, :]) @ _TO_XYZ
