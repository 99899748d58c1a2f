"""From a colour to the smoothest reflectance that has it: Lab or sRGB (D65/2) to 31 bands, always 0 < R < 1.

Least hyperbolic tangent slope squared: R = (tanh z + 1) / 2, the sum of squared steps of z is least, XYZ is met.
Source: S. A. Burns, arXiv:1710.05732. A colour that no reflectance has (outside the object-colour solid) is moved
towards the grey of its lightness until one has it; the distance is returned with it.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from sepkit.colorimetry.difference import delta_e_2000
from sepkit.colorimetry.spectral import lab_of_ratio, light_weights, ratio_of_lab, reflectance_to_lab
from sepkit.colorimetry.srgb import RGB_TO_XYZ, WHITE_D65

if TYPE_CHECKING:
    from sepkit.model import F64, RGB8

Array = np.ndarray[Any, np.dtype[Any]]

BANDS = 31
FLOOR = 1e-5
"""Targets are squeezed into FLOOR..1-FLOOR so that black and white have a finite z; at most 0.005 ΔE00."""
_TOLERANCE = 1e-9
_ROUNDS = 80


@dataclass(frozen=True, slots=True, eq=False)
class SmoothReflectance:
    """A reflectance for a colour, and how far the colour had to move to have one (ΔE00, 0 when reachable)."""

    reflectance: F64
    moved_de00: float


def srgb8_to_reflectance(rgb8: RGB8 | Array) -> F64:
    """Return (31,) reflectance of an 8-bit sRGB colour."""
    encoded = np.asarray(rgb8, np.float64).reshape(3) / 255
    linear = np.where(encoded <= 0.04045, encoded / 12.92, ((encoded + 0.055) / 1.055) ** 2.4)
    return lab_to_reflectance(lab_of_ratio((RGB_TO_XYZ @ linear) / WHITE_D65))


def lab_to_reflectance(lab: Array) -> F64:
    """Return (31,) reflectance of a Lab colour; an impossible colour gives that of the nearest one towards grey."""
    return smooth_reflectance(lab).reflectance


def smooth_reflectance(lab: Array) -> SmoothReflectance:
    """Return the smoothest reflectance of a Lab colour (3,), and how far an impossible colour was moved."""
    wanted = np.asarray(lab, np.float64).reshape(3)
    target = np.array([min(max(wanted[0], 0.0), 100.0), wanted[1], wanted[2]])
    found = _solve(ratio_of_lab(target) * WHITE_D65)
    if found is None:
        good, bad = 0.0, 1.0
        for _ in range(12):
            middle = (good + bad) / 2
            tried = _solve(ratio_of_lab(target * [1, middle, middle]) * WHITE_D65)
            if tried is None:
                bad = middle
            else:
                good, found = middle, tried
        if found is None:
            found = np.full(BANDS, np.clip(ratio_of_lab(target * [1, 0, 0])[1], FLOOR, 1 - FLOOR))
    moved = float(delta_e_2000(reflectance_to_lab(found), wanted))
    return SmoothReflectance(found, moved if moved > 0.05 else 0.0)


def _solve(xyz: F64) -> F64 | None:
    """Return R for XYZ by a damped Newton search on the Lagrange conditions, or None when it does not converge."""
    weights = light_weights()
    goal = FLOOR * WHITE_D65 + (1 - 2 * FLOOR) * xyz
    if np.any(goal <= 0) or np.any(goal >= WHITE_D65):
        return None
    slopes = 2 * np.diff(np.eye(BANDS), axis=0).T @ np.diff(np.eye(BANDS), axis=0)
    z = np.full(BANDS, np.arctanh(2 * float(np.mean(goal / WHITE_D65)) - 1))
    pull = np.zeros(3)
    matrix = np.zeros((BANDS + 3, BANDS + 3))
    error = _conditions(z, pull, weights, goal, slopes)
    for _ in range(_ROUNDS):
        t = np.tanh(z)
        slope = (1 - t * t) / 2
        jacobian = slope[:, None] * weights
        matrix[:BANDS, :BANDS] = slopes
        matrix[range(BANDS), range(BANDS)] += (-2 * t * slope) * (weights @ pull)
        matrix[:BANDS, BANDS:] = jacobian
        matrix[BANDS:, :BANDS] = jacobian.T
        try:
            step = np.linalg.solve(matrix, -error)
        except np.linalg.LinAlgError:
            return None
        size = 1.0 if np.abs(step[:BANDS]).max() < 2 else 2 / float(np.abs(step[:BANDS]).max())
        z, pull = z + size * step[:BANDS], pull + size * step[BANDS:]
        error = _conditions(z, pull, weights, goal, slopes)
        if np.abs(error[BANDS:]).max() < _TOLERANCE and np.abs(step[:BANDS]).max() < 1e-4:
            reflectance: F64 = np.clip((np.tanh(z) + 1) / 2, FLOOR / 10, 1 - FLOOR / 10)
            return reflectance
        if not np.all(np.isfinite(error)) or np.abs(z).max() > 60:
            return None
    return None


def _conditions(z: F64, pull: F64, weights: F64, goal: F64, slopes: F64) -> F64:
    t = np.tanh(z)
    stationary = slopes @ z + (1 - t * t) / 2 * (weights @ pull)
    return np.concatenate([stationary, ((t + 1) / 2) @ weights - goal])
