"""sRGB, linear light, XYZ and Lab in float32, vectorised over (..., 3) arrays.

sRGB per IEC 61966-2-1; D65 white of its 2 degree observer; Lab per ISO/CIE 11664-4.
Our own because the separation path may not wait a second for colour-science; tests hold it against that.
Domains: encoded and linear sRGB 0..1, XYZ 0..1 (Y of white = 1), L* 0..100.
"""

from __future__ import annotations

from functools import lru_cache
from typing import TYPE_CHECKING, Any

import numpy as np

if TYPE_CHECKING:
    from sepkit.model import F32, RGB8

Array = np.ndarray[Any, np.dtype[Any]]

RGB_TO_XYZ = np.array(
    [
        [0.4124564390896922, 0.357576077643909, 0.18043748326639894],
        [0.21267285140562253, 0.715152155287818, 0.07217499330655958],
        [0.019333895582329317, 0.119192025881303, 0.9503040785363679],
    ]
)
XYZ_TO_RGB = np.linalg.inv(RGB_TO_XYZ)
WHITE_D65 = RGB_TO_XYZ.sum(axis=1)
EPSILON = 216 / 24389
KAPPA = 24389 / 27


def srgb_to_linear(encoded: Array) -> F32:
    """Return linear light 0..1 of encoded sRGB 0..1.

    >>> round(float(srgb_to_linear(np.array(0.5))), 4)
    0.214
    """
    x = np.asarray(encoded, np.float32)
    return np.where(x <= 0.04045, x / 12.92, ((np.maximum(x, 0) + 0.055) / 1.055) ** 2.4).astype(np.float32)


def linear_to_srgb(linear: Array) -> F32:
    """Return encoded sRGB of linear light; values below 0 clip to 0."""
    x = np.maximum(np.asarray(linear, np.float32), 0)
    return np.where(x <= 0.0031308, x * 12.92, 1.055 * x ** (1 / 2.4) - 0.055).astype(np.float32)


@lru_cache(maxsize=1)
def linear_table() -> F32:
    """Return the 256 linear values of 8-bit encoded sRGB (read-only)."""
    table = srgb_to_linear(np.arange(256) / 255)
    table.setflags(write=False)
    return table


def xyz_to_lab(xyz: Array, white: Array = WHITE_D65) -> F32:
    """Return Lab of XYZ relative to ``white``."""
    t = np.asarray(xyz, np.float32) / np.asarray(white, np.float32)
    f = np.where(t > EPSILON, np.cbrt(np.maximum(t, 0)), (KAPPA * t + 16) / 116)
    fx, fy, fz = f[..., 0], f[..., 1], f[..., 2]
    return np.stack([116 * fy - 16, 500 * (fx - fy), 200 * (fy - fz)], axis=-1).astype(np.float32)


def lab_to_xyz(lab: Array, white: Array = WHITE_D65) -> F32:
    """Return XYZ of Lab.

    >>> (lab_to_xyz(np.array([100.0, 0.0, 0.0])) / WHITE_D65).round(6).tolist()
    [1.0, 1.0, 1.0]
    """
    v = np.asarray(lab, np.float32)
    fy = (v[..., 0] + 16) / 116
    f = np.stack([fy + v[..., 1] / 500, fy, fy - v[..., 2] / 200], axis=-1)
    t = np.where(f**3 > EPSILON, f**3, (116 * f - 16) / KAPPA)
    return (t * np.asarray(white, np.float32)).astype(np.float32)


def linear_to_lab(linear: Array) -> F32:
    """Return Lab (D65) of linear sRGB."""
    return xyz_to_lab(np.asarray(linear, np.float32) @ RGB_TO_XYZ.T.astype(np.float32))


def srgb8_to_lab(rgb8: Array) -> F32:
    """Return Lab (D65) of 8-bit encoded sRGB, shape (..., 3).

    >>> [round(float(v), 1) for v in srgb8_to_lab(np.array([255, 0, 0]))]
    [53.2, 80.1, 67.2]
    """
    return linear_to_lab(linear_table()[np.asarray(rgb8, np.uint8)])


def lab_to_srgb8(lab: Array) -> np.ndarray[Any, np.dtype[np.uint8]]:
    """Return the nearest in-range 8-bit sRGB of Lab (D65); out-of-gamut channels clip.

    >>> lab_to_srgb8(np.array([53.2, 80.1, 67.2])).tolist()
    [255, 0, 0]
    """
    rgb = linear_to_srgb(lab_to_xyz(lab) @ XYZ_TO_RGB.T.astype(np.float32))
    return np.rint(np.clip(rgb, 0, 1) * 255).astype(np.uint8)


def as_rgb8(values: Array) -> RGB8:
    """Return three values 0..255 as a tuple of ints."""
    r, g, b = (int(v) for v in np.rint(np.asarray(values, np.float64).reshape(3)))
    return r, g, b
