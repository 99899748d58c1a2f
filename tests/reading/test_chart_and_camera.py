"""A chart found in a picture at any quarter turn, and colours corrected by it, held against colour-science."""

from __future__ import annotations

import numpy as np
import pytest

from sepkit.colorimetry.difference import delta_e_2000
from sepkit.colorimetry.reference import colour_science, published_chart
from sepkit.colorimetry.spectral import reflectance_to_lab, reflectance_to_xyz
from sepkit.colorimetry.srgb import XYZ_TO_RGB, linear_to_srgb
from sepkit.reading.camera import correction
from sepkit.reading.chart import find_chart
from sepkit.reading.picture import Photo

ODD = np.array([[0.9, 0.15, -0.05], [0.1, 0.8, 0.05], [0.02, 0.12, 0.75]])
"""A camera that mixes channels."""
PITCH = 30


@pytest.fixture(scope="module")
def chart():
    return published_chart()


def shown(chart):
    """(24, 3) linear light of the odd camera."""
    return np.clip(reflectance_to_xyz(chart) @ XYZ_TO_RGB.T @ ODD.T * 0.9, 0.002, 1)


def picture(light, turns=0):
    """A table with a chart on it and a few other boxes, as a photograph."""
    linear = np.full((320, 420, 3), 0.25)
    linear[60 : 60 + 4 * PITCH + 10, 90 : 90 + 6 * PITCH + 10] = 0.02
    for nth, patch in enumerate(light):
        y, x = 67 + PITCH * (nth // 6), 97 + PITCH * (nth % 6)
        linear[y : y + 25, x : x + 25] = patch
    for y, x in ((250, 40), (250, 90), (270, 300)):
        linear[y : y + 25, x : x + 25] = (0.6, 0.1, 0.1)
    encoded = np.rint(np.asarray(linear_to_srgb(linear)) * 255).astype(np.uint8)
    return Photo(np.ascontiguousarray(np.rot90(encoded, turns)))


@pytest.mark.parametrize("turns", [0, 1, 2, 3])
def test_a_chart_is_found_whichever_way_it_lies(chart, turns):
    light = shown(chart)
    found = find_chart(picture(light, turns), reflectance_to_lab(chart))
    assert found is not None and found.fit_de00 < 5
    assert np.abs(found.linear - light).max() < 0.02


def test_boxes_of_other_colours_are_no_chart(chart):
    light = shown(chart)[np.random.default_rng(3).permutation(24)]
    assert find_chart(picture(light), reflectance_to_lab(chart)) is None


def test_a_correction_gives_the_charts_own_colours_and_says_what_it_is_off_by(chart):
    lab = reflectance_to_lab(chart)
    fit = correction(shown(chart), lab)
    off = delta_e_2000(fit.lab(shown(chart)), lab)
    assert off.mean() < 1.5
    assert fit.left_out_de00.shape == (24,) and fit.band_de00 == 5
    spoiled = shown(chart)
    spoiled[[2, 7, 12, 14]] *= [[1.8, 0.6, 1.0]]  # patches that shine, or the wrong file
    doubtful = correction(spoiled, lab)
    assert doubtful.left_out_de00.max() > 10 and doubtful.band_de00 > 6.5
    with pytest.raises(ValueError, match="grey"):
        correction(shown(chart)[:12], lab[:12])


def test_colours_beyond_the_chart_agree_with_colour_sciences_root_polynomial(chart):
    """colour-science: matrix_colour_correction_Finlayson2015, degree 2, root polynomial, on the same patches."""
    colour = colour_science()
    lab, light = reflectance_to_lab(chart), shown(chart)
    mixes = 0.5 * (light + light[::-1])
    xyz = reflectance_to_xyz(chart)
    theirs = colour.characterisation.apply_matrix_colour_correction_Finlayson2015(
        mixes,
        colour.characterisation.matrix_colour_correction_Finlayson2015(light, xyz, 2, root_polynomial_expansion=True),
        2,
        root_polynomial_expansion=True,
    )
    ours = correction(light, lab).lab(mixes)
    want = colour.XYZ_to_Lab(theirs, colour.CCS_ILLUMINANTS["CIE 1931 2 Degree Standard Observer"]["D65"])
    assert np.median(delta_e_2000(ours, np.asarray(want))) < 1.5
