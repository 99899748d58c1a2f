"""CIEDE2000 colour difference, vectorised.

ISO/CIE 11664-6; written after Sharma, Wu, Dalal, Color Res. Appl. 30:21 (2005), whose 34 pairs the tests hold it to.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

if TYPE_CHECKING:
    from sepkit.model import F64

Array = np.ndarray[Any, np.dtype[Any]]

POW25_7 = 25.0**7


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
    l1, a1, b1 = a[..., 0], a[..., 1], a[..., 2]
    l2, a2, b2 = b[..., 0], b[..., 1], b[..., 2]
    c_mean7 = ((np.hypot(a1, b1) + np.hypot(a2, b2)) / 2) ** 7
    g = 0.5 * (1 - np.sqrt(c_mean7 / (c_mean7 + POW25_7)))
    a1, a2 = a1 * (1 + g), a2 * (1 + g)
    c1, c2 = np.hypot(a1, b1), np.hypot(a2, b2)
    h1, h2 = np.degrees(np.arctan2(b1, a1)) % 360, np.degrees(np.arctan2(b2, a2)) % 360
    grey = (c1 * c2) == 0
    dh = h2 - h1
    dh = np.where(dh > 180, dh - 360, np.where(dh < -180, dh + 360, dh))
    dh = np.where(grey, 0.0, dh)
    big_dh = 2 * np.sqrt(c1 * c2) * np.sin(np.radians(dh / 2))
    total = h1 + h2
    h_mean = np.where(np.abs(h1 - h2) <= 180, total / 2, np.where(total < 360, total / 2 + 180, total / 2 - 180))
    h_mean = np.where(grey, total, h_mean)
    l_mean, c_mean = (l1 + l2) / 2, (c1 + c2) / 2
    t = (
        1
        - 0.17 * np.cos(np.radians(h_mean - 30))
        + 0.24 * np.cos(np.radians(2 * h_mean))
        + 0.32 * np.cos(np.radians(3 * h_mean + 6))
        - 0.20 * np.cos(np.radians(4 * h_mean - 63))
    )
    s_l = 1 + 0.015 * (l_mean - 50) ** 2 / np.sqrt(20 + (l_mean - 50) ** 2)
    s_c = 1 + 0.045 * c_mean
    s_h = 1 + 0.015 * c_mean * t
    c7 = c_mean**7
    rotation = -2 * np.sqrt(c7 / (c7 + POW25_7)) * np.sin(np.radians(60 * np.exp(-(((h_mean - 275) / 25) ** 2))))
    x, c, h = (l2 - l1) / s_l, (c2 - c1) / s_c, big_dh / s_h
    return x, c + rotation / 2 * h, h * np.sqrt(np.maximum(1 - rotation**2 / 4, 0))
