"""Colour difference as it is seen from a distance: S-CIELAB, with ΔE00 after the eye's blur.

In: pictures in linear sRGB, (h, w, 3), 0..1, and how many pixels fill a degree of the visual field. Out: ΔE00 (h, w).
Each opponent channel is blurred by a sum of Gaussians, as contrast sensitivity asks, and Lab is taken of what is left:
dots and hairlines melt into their surroundings, large areas stay as they are.
Sources: Zhang and Wandell, J. Soc. Inf. Display 5:61 (1997), S-CIELAB; weights and half-widths as in the authors'
own program, Gaussians cut at one degree; opponent channels of Poirson and Wandell, Vision Res. 36:515 (1996).
"""

from __future__ import annotations

import math
from functools import lru_cache
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.lib.stride_tricks import sliding_window_view

from sepkit.colorimetry.difference import delta_e_2000
from sepkit.colorimetry.srgb import RGB_TO_XYZ, WHITE_D65, xyz_to_lab

if TYPE_CHECKING:
    from sepkit.model import F32, F64

Array = np.ndarray[Any, np.dtype[Any]]

ACROSS_A_TABLE_MM = 1000.0
"""From where a worn garment is judged (common practice: an arm's length and a half)."""

XYZ_TO_OPPONENT = np.array(
    [[0.2787336, 0.7218031, -0.1065520], [-0.4487736, 0.2898056, 0.0771569], [0.0859513, -0.5899859, 0.5011089]]
)
"""Light-dark, red-green, blue-yellow, for the 2 degree observer."""
OPPONENT_TO_XYZ = np.linalg.inv(XYZ_TO_OPPONENT)
BLURS = (
    ((1.00327, 0.05), (0.114416, 0.225), (-0.117686, 7.0)),
    ((0.616725, 0.0685), (0.383275, 0.826)),
    ((0.567885, 0.0920), (0.432115, 0.6451)),
)
"""Of each channel: (weight, width at half height in degrees); the weights of a channel sum to 1."""
WIDEST_DEG = 1.0
"""Gaussians are cut at this width."""
STRETCH = 32
"""Pixels that one row of a product blurs: fewer are copied more often, more are multiplied by more zeros."""
FINE_PER_DEGREE = 240.0
"""Samples of the blur where its response to waves is asked; a wave of half as many a degree is not seen."""


def pixels_per_degree(px_per_mm: float, *, distance_mm: float = ACROSS_A_TABLE_MM) -> float:
    """Return how many pixels fill a degree of the visual field.

    >>> round(pixels_per_degree(1.0), 2)
    17.46
    """
    return px_per_mm * distance_mm * math.tan(math.radians(1.0))


def blurred(planes: Array, channel: int, per_degree: float) -> F32:
    """Return planes (..., h, w) as the eye blurs them in one opponent channel.

    ``channel`` is 0 for light-dark, 1 for red-green, 2 for blue-yellow. The picture goes on beyond its border as it
    ends there. The blur is linear: a sum of planes may be blurred part by part.
    """
    given = np.asarray(planes, np.float32)
    out: F32 = np.zeros_like(given)
    if not given.size:
        return out
    for weight, width_deg in BLURS[channel]:
        kernel = _gaussian(width_deg, per_degree)
        part = _along_rows(_along_rows(given, kernel).swapaxes(-1, -2), kernel).swapaxes(-1, -2)
        out += np.float32(weight) * part
    return out


def _along_rows(planes: F32, kernel: F64) -> F32:
    """Return planes (..., h, w) convolved along their rows with a kernel of odd length, the same either way round.

    Every STRETCH pixels with what lies beside them are a row of one matrix product: a few times quicker than a sum of
    moved rows.
    """
    reach, width = len(kernel) // 2, planes.shape[-1]
    pieces = -(-width // STRETCH)
    sides = [(0, 0)] * (planes.ndim - 1)
    wide = np.pad(planes, [*sides, (reach, reach + pieces * STRETCH - width)], mode="edge")
    at, to = np.arange(STRETCH + 2 * reach)[:, None], np.arange(STRETCH)
    inside = (at >= to) & (at <= to + 2 * reach)
    weights = np.where(inside, kernel[np.where(inside, at - to, 0)], 0.0)
    some = sliding_window_view(wide, STRETCH + 2 * reach, axis=-1)[..., ::STRETCH, :]
    out = np.ascontiguousarray(some, np.float64) @ weights
    return out.reshape(*planes.shape[:-1], -1)[..., :width].astype(np.float32)


def light_dark_response(per_mm: Array, *, distance_mm: float = ACROSS_A_TABLE_MM) -> F64:
    """Return how much of a wave of light and dark, along a side of the picture, `blurred` lets through.

    ``per_mm`` is its frequency in waves per mm, any shape.

    >>> [round(float(light_dark_response(np.array(f))), 2) for f in (0.5, 1.0)]
    [0.5, 0.07]
    """
    per_degree = np.asarray(per_mm, np.float64) * pixels_per_degree(1.0, distance_mm=distance_mm)
    kernel = np.sum([weight * _gaussian(width_deg, FINE_PER_DEGREE) for weight, width_deg in BLURS[0]], axis=0)
    turn = 2 * math.pi * np.minimum(np.abs(per_degree) / FINE_PER_DEGREE, 0.5)
    middle = len(kernel) // 2
    half = kernel[middle:] * np.where(np.arange(middle + 1), 2, 1)
    out: F64 = np.cos(turn[..., None] * np.arange(middle + 1)) @ half
    return out


def seen_lab(linear: Array, per_degree: float) -> F32:
    """Return Lab (h, w, 3) of a picture in linear sRGB as it is seen after the blur."""
    opponent = np.asarray(linear, np.float32) @ (XYZ_TO_OPPONENT @ RGB_TO_XYZ).T.astype(np.float32)
    soft = np.stack([blurred(opponent[..., k], k, per_degree) for k in range(3)], axis=-1)
    return lab_of_opponent(soft)


def lab_of_opponent(opponent: Array) -> F32:
    """Return Lab (..., 3) of opponent channels (..., 3)."""
    return xyz_to_lab(np.asarray(opponent, np.float32) @ OPPONENT_TO_XYZ.T.astype(np.float32), WHITE_D65)


def opponent_of_linear(linear: Array) -> F64:
    """Return opponent channels (..., 3) of linear sRGB."""
    out: F64 = np.asarray(linear, np.float64) @ (XYZ_TO_OPPONENT @ RGB_TO_XYZ).T
    return out


def seen_de00(linear1: Array, linear2: Array, per_degree: float) -> F64:
    """Return S-CIELAB ΔE00 (h, w) of two pictures in linear sRGB, (h, w, 3), at ``per_degree`` pixels per degree."""
    return delta_e_2000(seen_lab(linear1, per_degree), seen_lab(linear2, per_degree))


@lru_cache(maxsize=64)
def _gaussian(width_deg: float, per_degree: float) -> F64:
    """Return a kernel of odd length, its sum 1: the Gaussian's mean over each pixel, cut at WIDEST_DEG."""
    reach = max(1, math.ceil(per_degree * WIDEST_DEG / 2) - 1)
    spread = width_deg * per_degree / (2 * math.sqrt(math.log(2)))
    edges = (np.arange(-reach, reach + 2) - 0.5) / spread
    kernel: F64 = np.diff([math.erf(edge) for edge in edges])
    kernel = kernel / kernel.sum()
    kernel.setflags(write=False)
    return kernel
