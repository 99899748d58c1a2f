"""From reflectance to colour, fast: 31 bands, 400-700 nm in 10 nm.

In: reflectance, (..., 31), 0..1. Out: XYZ (Y of white = 1), Lab or 8-bit sRGB, D65/2 degree unless another light is
asked. Lab is relative to the light's own perfect diffuser: R = 1 gives exactly 100, 0, 0.
Sources: CIE 15 through the table in weights.py; Lab by ISO/CIE 11664-4.
"""

from __future__ import annotations

from functools import lru_cache
from typing import TYPE_CHECKING, Any

import numpy as np

from sepkit.colorimetry import weights
from sepkit.colorimetry.srgb import EPSILON, KAPPA, WHITE_D65, XYZ_TO_RGB, lab_to_srgb8

if TYPE_CHECKING:
    from sepkit.model import F64

Array = np.ndarray[Any, np.dtype[Any]]

LIGHTS = ("D65", "A", "FL11", "D50")
"""Lights with a table: daylight, incandescent lamp, a shop's fluorescent tube, the graphic trade's viewing booth."""


LAB_OF_ROOTS = np.array([[0.0, 116, 0], [500, -500, 0], [0, 200, -200]])
"""Lab, but for a constant, from the cube roots of XYZ over white (ISO/CIE 11664-4)."""


@lru_cache(maxsize=8)
def light_weights(light: str = "D65") -> F64:
    """Return the (31, 3) weights of one of LIGHTS (read-only)."""
    if light not in LIGHTS:
        raise ValueError(f"no weights for light {light}; there are {', '.join(LIGHTS)}")
    table: F64 = np.array(getattr(weights, light).split(), np.float64).reshape(31, 3)
    table = table * (WHITE_D65 / table.sum(axis=0)) if light == "D65" else table / table[:, 1].sum()
    table.setflags(write=False)
    return table


def reflectance_to_xyz(reflectance: Array, *, light: str = "D65") -> F64:
    """Return XYZ, (..., 31) to (..., 3)."""
    out: F64 = np.asarray(reflectance, np.float64) @ light_weights(light)
    return out


def reflectance_to_lab(reflectance: Array, *, light: str = "D65") -> F64:
    """Return Lab relative to the light's own white, (..., 31) to (..., 3).

    >>> [round(float(v), 6) + 0.0 for v in reflectance_to_lab(np.ones(31))]
    [100.0, 0.0, 0.0]
    """
    table = light_weights(light)
    return lab_of_ratio((np.asarray(reflectance, np.float64) @ table) / table.sum(axis=0))


def root_slopes(reflectance: Array) -> tuple[F64, F64]:
    """Return how the roots that Lab is made of (LAB_OF_ROOTS) follow a reflectance, (..., 31), under D65.

    The slopes of the roots by XYZ over white, (..., 3), and those of XYZ over white by each band, (31, 3).
    """
    table = light_weights() / light_weights().sum(axis=0)
    ratio = reflectance @ table
    slopes = np.where(ratio > EPSILON, np.maximum(ratio, EPSILON) ** (-2 / 3) / 3, KAPPA / 116)
    return slopes, table


def reflectance_to_linear(reflectance: Array) -> F64:
    """Return linear sRGB (D65), not clipped, of reflectances (..., 31)."""
    linear: F64 = reflectance_to_xyz(reflectance) @ XYZ_TO_RGB.T
    return linear


def reflectance_to_srgb8(reflectance: Array) -> np.ndarray[Any, np.dtype[np.uint8]]:
    """Return the nearest 8-bit sRGB, (..., 31) to (..., 3); colours outside sRGB clip."""
    return lab_to_srgb8(reflectance_to_lab(reflectance))


def lab_of_ratio(ratio: Array) -> F64:
    """Return Lab in float64 of XYZ already divided by white, (..., 3)."""
    t = np.asarray(ratio, np.float64)
    f = np.where(t > EPSILON, np.cbrt(np.maximum(t, EPSILON)), (KAPPA * t + 16) / 116)
    fx, fy, fz = f[..., 0], f[..., 1], f[..., 2]
    return np.stack([116 * fy - 16, 500 * (fx - fy), 200 * (fy - fz)], axis=-1)


def ratio_of_lab(lab: Array) -> F64:
    """Return XYZ divided by white in float64 of Lab, (..., 3)."""
    v = np.asarray(lab, np.float64)
    fy = (v[..., 0] + 16) / 116
    f = np.stack([fy + v[..., 1] / 500, fy, fy - v[..., 2] / 200], axis=-1)
    cubed = f**3
    out: F64 = np.where(cubed > EPSILON, cubed, (116 * f - 16) / KAPPA)
    return out
