"""CIEDE2000 colour difference, vectorised.

ISO/CIE 11664-6; written after Sharma, Wu, Dalal, Color Res. Appl. 30:21 (2005), whose 34 pairs the tests hold it to.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any

import numpy as np

if TYPE_CHECKING:
    from sepkit.model import F64

Array = np.ndarray[Any, np.dtype[Any]]

POW25_7 = 25.0**7
T_WAVES = ((-0.17, -30.0), (0.24, 0.0), (0.32, 6.0), (-0.20, -63.0))
"""T is 1 and the sum of weight cos(k h + degrees) for k = 1 to 4, h the mean hue."""


def delta_e_2000(lab1: Array, lab2: Array) -> F64:
    """Return ΔE00 (kL = kC = kH = 1) of two Lab arrays that broadcast, shape (..., 3) to (...).

    >>> round(float(delta_e_2000(np.array([50, 2.6772, -79.7751]), np.array([50, 0, -82.7485]))), 4)
    2.0425
    """
    x, y, z = difference_vector(lab1, lab2)
    return np.sqrt(np.maximum(x * x + y * y + z * z, 0.0))


def difference_vector(lab1: Array, lab2: Array) -> tuple[F64, F64, F64]:
    """Return three components whose squares sum to ΔE00²: lightness, chroma with the rotation term, hue.

    With x = ΔL'/SL, c = ΔC'/SC, h = ΔH'/SH and rotation R: (x, c + R h / 2, h sqrt(1 - R²/4)).

    >>> one, other = np.array([50, 2.6772, -79.7751]), np.array([50, 0, -82.7485])
    >>> round(float(sum(part**2 for part in difference_vector(one, other))) ** 0.5, 4)
    2.0425
    """
    a, b = np.asarray(lab1, np.float64), np.asarray(lab2, np.float64)
    l1, l2 = a[..., 0], b[..., 0]
    a1, b1, a2, b2 = a[..., 1], a[..., 2], b[..., 1], b[..., 2]
    c_mean7 = _seventh((_length(a1, b1) + _length(a2, b2)) / 2)
    stretch = 1.5 - 0.5 * np.sqrt(c_mean7 / (c_mean7 + POW25_7))
    a1, a2 = a1 * stretch, a2 * stretch
    c1, c2 = _length(a1, b1), _length(a2, b2)
    cos_h, sin_h, big_dh = _between_hues(a1, b1, c1, a2, b2, c2)
    t, cos_kh, sin_kh = np.ones_like(cos_h), np.ones_like(cos_h), np.zeros_like(cos_h)
    for weight, degrees in T_WAVES:
        cos_kh, sin_kh = cos_kh * cos_h - sin_kh * sin_h, sin_kh * cos_h + cos_kh * sin_h
        at = math.radians(degrees)
        t += weight * math.cos(at) * cos_kh - weight * math.sin(at) * sin_kh
    c_mean, from_50 = (c1 + c2) / 2, ((l1 + l2) / 2 - 50) ** 2
    s_l = 1 + 0.015 * from_50 / np.sqrt(20 + from_50)
    s_c = 1 + 0.045 * c_mean
    s_h = 1 + 0.015 * c_mean * t
    c7 = _seventh(c_mean)
    from_275 = np.degrees(np.arctan2(sin_h, cos_h)) + np.where(sin_h < 0, 85.0, -275.0)
    rotation = -2 * np.sqrt(c7 / (c7 + POW25_7)) * np.sin(math.pi / 3 * np.exp(-((from_275 / 25) ** 2)))
    x, c, h = (l2 - l1) / s_l, (c2 - c1) / s_c, big_dh / s_h
    return x, c + rotation / 2 * h, h * np.sqrt(np.maximum(1 - rotation * rotation / 4, 0))


def _between_hues(a1: F64, b1: F64, c1: F64, a2: F64, b2: F64, c2: F64) -> tuple[F64, F64, F64]:
    """Return cosine and sine of the mean hue, on the shorter side, and ΔH'; by vectors, without an angle.

    A grey has the other's hue; of opposite hues the mean lies a quarter turn after the smaller angle.
    """
    both = c1 * c2
    grey = both == 0
    x, y = np.where(grey, a1 + a2, a1 * c2 + a2 * c1), np.where(grey, b1 + b2, b1 * c2 + b2 * c1)
    length = _length(x, y)
    big_dh = 2 * (a1 * b2 - a2 * b1) * np.sqrt(both)
    opposite = ~grey & (length <= 1e-9 * both)
    if opposite.any():
        first = (b1 > 0) | ((b1 == 0) & (a1 > 0))  # the smaller angle is the first one's
        x = np.where(opposite, np.where(first, -b1, -b2), x)
        y = np.where(opposite, np.where(first, a1, a2), y)
        length = np.where(opposite, np.where(first, c1, c2), length)
        big_dh = np.where(opposite, np.where(first, 2.0, -2.0) * np.sqrt(both) * length, big_dh)
    still = length == 0
    length = np.where(still, 1.0, length)
    return np.where(still, 1.0, x / length), y / length, big_dh / length


def _length(x: F64, y: F64) -> F64:
    return np.sqrt(x * x + y * y)


def _seventh(x: F64) -> F64:
    square = x * x
    return square * square * square * x
