"""Our tables and colour maths against colour-science (tables of CIE 15, ISO/CIE 11664-4) and published values."""

from __future__ import annotations

import sys

import numpy as np
import pytest

from sepkit.colorimetry import reference
from sepkit.colorimetry.adaptation import WHITE_XY, lab_to_d65
from sepkit.colorimetry.difference import delta_e_2000
from sepkit.colorimetry.spectral import LIGHTS, lab_of_ratio, light_weights, reflectance_to_lab
from sepkit.colorimetry.srgb import WHITE_D65, srgb8_to_lab
from sepkit.errors import UsageError


@pytest.mark.parametrize("light", LIGHTS)
def test_kept_weights_are_those_of_the_reference(light: str) -> None:
    kept, fresh = light_weights(light), reference.spectral_weights(light)
    assert np.abs(kept - fresh).max() < 2e-5
    assert np.abs(kept.sum(axis=0) / kept[:, 1].sum() - reference.white_xyz(light)).max() < 5e-3


def test_a_spectrum_has_the_same_lab_by_the_reference() -> None:
    colour = reference.colour_science()
    rng = np.random.default_rng(3)
    nm = np.arange(400, 701, 10)
    for _ in range(5):
        curve = 0.5 + 0.4 * np.sin(nm / rng.uniform(30, 90) + rng.uniform(0, 6))
        wide = dict.fromkeys(range(360, 400, 10), curve[0]) | dict.fromkeys(range(710, 781, 10), curve[-1])
        wide |= dict(zip(nm.tolist(), curve.tolist(), strict=True))
        every_nm = colour.SpectralShape(360, 780, 1)
        observer = colour.MSDS_CMFS["CIE 1931 2 Degree Standard Observer"].copy().align(every_nm)
        light = colour.SDS_ILLUMINANTS["D65"].copy().align(every_nm)
        xyz = colour.sd_to_XYZ(colour.SpectralDistribution(wide).align(every_nm), observer, light)
        lab = colour.XYZ_to_Lab(np.asarray(xyz) / 100)
        assert delta_e_2000(reflectance_to_lab(curve), np.asarray(lab)) < 0.15


def test_lab_of_a_published_xyz() -> None:
    """Example values of the colour-science manual (XYZ_to_Lab)."""
    colour = reference.colour_science()
    xyz = np.array([0.20654008, 0.12197225, 0.05136952])
    lab = lab_of_ratio(xyz / colour.xy_to_XYZ([0.3127, 0.3290]))
    assert lab == pytest.approx([41.52787529, 52.63858304, 26.92317922], abs=1e-6)


@pytest.mark.parametrize(("y", "lightness"), [(1.0, 100.0), (0.184187, 50.0), (0.00885645, 8.0)])
def test_lightness_by_definition(y: float, lightness: float) -> None:
    assert lab_of_ratio(np.array([y, y, y]))[0] == pytest.approx(lightness, abs=1e-4)


def test_srgb_to_lab_agrees() -> None:
    colour = reference.colour_science()
    rng = np.random.default_rng(5)
    rgb = rng.integers(0, 256, (200, 3))
    theirs = colour.XYZ_to_Lab(colour.sRGB_to_XYZ(rgb / 255))
    assert delta_e_2000(srgb8_to_lab(rgb), theirs).max() < 0.02
    assert np.abs(WHITE_D65 - colour.xy_to_XYZ([0.3127, 0.3290])).max() < 1e-3


def test_the_door_leaves_no_stand_in_modules() -> None:
    reference.colour_science()
    fakes = [n for n, m in sys.modules.items() if n.startswith("matplotlib") and "Mock" in type(m).__name__]
    assert fakes == []


def test_munsell_and_other_whites() -> None:
    """N5 has Y = 19.27 by the renotation of 1943 (relative to magnesium oxide), L* near 51."""
    assert reference.munsell_to_lab("N5")[0] == pytest.approx(51, abs=0.6)
    red = reference.munsell_to_lab("5R 4/14")
    assert red[1] > 45 and red[2] > 15
    with pytest.raises(UsageError, match="Munsell"):
        reference.munsell_to_lab("5Q 4/14")
    grey = reference.adapt_lab_to_d65(np.array([50.0, 0, 0]), "D50", "2")
    assert grey == pytest.approx([50, 0, 0], abs=0.05)
    with pytest.raises(UsageError, match="illuminant"):
        reference.white_xyz("X9")


@pytest.mark.parametrize("white", list(WHITE_XY))
def test_adaptation_agrees_with_the_reference(white: tuple[str, str]) -> None:
    lab = np.array([52.0, 40.0, 20.0])
    assert delta_e_2000(lab_to_d65(lab, *white), reference.adapt_lab_to_d65(lab, *white)) < 0.02
