"""The one door to colour-science: spectral weights, other illuminants and observers, Munsell notations.

Slow to load (about a second), so it serves tests, odd inputs and the checks of our own fast path, never a print's path.
colour-science warns and leaves stand-in modules of a plotting package in ``sys.modules`` when that is not installed;
both are hidden and cleared here, so that a later import of that package tells the truth.
"""

from __future__ import annotations

import sys
import warnings
from functools import lru_cache
from typing import TYPE_CHECKING, Any

import numpy as np

from sepkit.errors import UsageError

if TYPE_CHECKING:
    from sepkit.model import F64

OBSERVERS = {"2": "CIE 1931 2 Degree Standard Observer", "10": "CIE 1964 10 Degree Standard Observer"}


@lru_cache(maxsize=1)
def colour_science() -> Any:
    """Return the colour-science package, imported without its warnings and stand-in modules."""
    before = set(sys.modules)
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        import colour
    for name in [n for n in sys.modules if n not in before and n.partition(".")[0] == "matplotlib"]:
        if type(sys.modules[name]).__module__.startswith("unittest.mock"):
            del sys.modules[name]
    return colour


def spectral_weights(illuminant: str, observer: str = "2") -> F64:
    """Return (31, 3) tristimulus weights for 400-700 nm in 10 nm bands; the Y column sums to 1.

    Method of ASTM E2022 (Lagrange interpolation of 1 nm data) on tables of CIE 15; weights beyond 400 and 700 nm are
    added to the end bands (ASTM E308). Raises UsageError for an
    illuminant or observer that is not a CIE one.
    """
    colour = colour_science()
    if illuminant not in colour.SDS_ILLUMINANTS or observer not in OBSERVERS:
        raise UsageError(f'no illuminant "{illuminant}" with observer "{observer}"', hint="such as D65/2, D50/2, A/10")
    nm1 = colour.SpectralShape(360, 780, 1)
    observer_1nm = colour.MSDS_CMFS[OBSERVERS[observer]].copy().align(nm1)
    light_1nm = colour.SDS_ILLUMINANTS[illuminant].copy().align(nm1)
    full = np.asarray(
        colour.colorimetry.tristimulus_weighting_factors_ASTME2022(
            observer_1nm, light_1nm, colour.SpectralShape(360, 780, 10)
        ),
        np.float64,
    )
    inside = full[4:35].copy()
    inside[0] += full[:4].sum(axis=0)
    inside[-1] += full[35:].sum(axis=0)
    out: F64 = inside / inside[:, 1].sum()
    return out


def white_xyz(illuminant: str, observer: str = "2") -> F64:
    """Return the XYZ of the illuminant's white (Y = 1), CIE 15 chromaticity."""
    colour = colour_science()
    try:
        xy = colour.CCS_ILLUMINANTS[OBSERVERS[observer]][illuminant]
    except KeyError:
        raise UsageError(
            f'no white point for illuminant "{illuminant}", observer "{observer}"', hint="such as D65/2, D50/2, A/10"
        ) from None
    out: F64 = np.asarray(colour.xy_to_XYZ(xy), np.float64)
    return out


def adapt_lab_to_d65(lab: F64, illuminant: str, observer: str = "2") -> F64:
    """Return Lab seen under D65/2 for a Lab given under another white (Bradford chromatic adaptation)."""
    colour = colour_science()
    white = white_xyz(illuminant, observer)
    xyz = colour.Lab_to_XYZ(np.asarray(lab, np.float64), colour.XYZ_to_xy(white))
    d65 = white_xyz("D65")
    adapted = colour.adaptation.chromatic_adaptation_VonKries(xyz, white, d65, transform="Bradford")
    out: F64 = np.asarray(colour.XYZ_to_Lab(adapted, colour.XYZ_to_xy(d65)), np.float64)
    return out


PUBLISHED_CHART = "BabelColor Average"
"""The set of colour-science for the usual chart of 24 patches: mean reflectances of thirty charts."""


def published_chart() -> F64:
    """Return reflectances (24, 31) of the usual chart of 24 patches, row by row, from PUBLISHED_CHART."""
    colour = colour_science()
    shape = colour.SpectralShape(400, 700, 10)
    patches = colour.SDS_COLOURCHECKERS[PUBLISHED_CHART].values()
    return np.array([np.nan_to_num(one.copy().align(shape).values) for one in patches], np.float64)


def munsell_to_lab(notation: str) -> F64:
    """Return Lab D65/2 of a Munsell notation such as ``5R 4/14`` or ``N5`` (renotation data, illuminant C, Bradford).

    Raises UsageError for a notation outside the renotation system.
    """
    colour = colour_science()
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            xyy = colour.munsell_colour_to_xyY(" ".join(notation.upper().split()))
    except Exception as error:
        raise UsageError(
            f'"{notation}" is not a Munsell notation this can read', hint="write it as 5R 4/14 or N5"
        ) from error
    xyz = np.asarray(colour.xyY_to_XYZ(xyy), np.float64)
    if not np.all(np.isfinite(xyz)):
        raise UsageError(f'"{notation}" lies outside the Munsell system', hint="lower the chroma")
    c = white_xyz("C")
    d65 = white_xyz("D65")
    adapted = colour.adaptation.chromatic_adaptation_VonKries(xyz, c, d65, transform="Bradford")
    out: F64 = np.asarray(colour.XYZ_to_Lab(adapted, colour.XYZ_to_xy(d65)), np.float64)
    return out
