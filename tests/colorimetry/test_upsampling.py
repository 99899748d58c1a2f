from __future__ import annotations

import itertools

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from sepkit.colorimetry.difference import delta_e_2000
from sepkit.colorimetry.spectral import (
    LIGHTS,
    lab_of_ratio,
    light_weights,
    ratio_of_lab,
    reflectance_to_lab,
    reflectance_to_srgb8,
)
from sepkit.colorimetry.srgb import srgb8_to_lab
from sepkit.colorimetry.upsampling import smooth_reflectance, srgb8_to_reflectance


def test_round_trip_over_a_grid_of_srgb() -> None:
    steps = np.linspace(0, 255, 9).round().astype(int)
    for colour in itertools.product(steps, steps, steps):
        reflectance = srgb8_to_reflectance(np.array(colour))
        assert reflectance.min() > 0 and reflectance.max() < 1
        there = srgb8_to_lab(np.array(colour)).astype(np.float64)
        assert delta_e_2000(reflectance_to_lab(reflectance), there) <= 0.02, colour


@settings(max_examples=25, deadline=None)
@given(st.tuples(*[st.integers(0, 255)] * 3))
def test_srgb_survives_reflectance(rgb: tuple[int, int, int]) -> None:
    back = reflectance_to_srgb8(srgb8_to_reflectance(rgb)).astype(int)
    assert np.abs(back - np.array(rgb)).max() <= 1


def test_an_impossible_colour_is_moved_and_says_how_far() -> None:
    found = smooth_reflectance(np.array([50.0, 150.0, -150.0]))
    assert found.moved_de00 > 5
    assert found.reflectance.min() > 0 and found.reflectance.max() < 1
    assert smooth_reflectance(np.array([50.0, 20.0, 20.0])).moved_de00 == 0


def test_a_flat_grey_stays_flat() -> None:
    reflectance = smooth_reflectance(np.array([50.0, 0.0, 0.0])).reflectance
    assert np.ptp(reflectance) < 1e-3
    assert reflectance.mean() == pytest.approx(0.184187, abs=1e-4)


def test_weights_fit_their_white() -> None:
    for light in LIGHTS:
        assert light_weights(light)[:, 1].sum() == pytest.approx(1.0, abs=1e-12)
        assert np.allclose(reflectance_to_lab(np.ones(31), light=light), [100, 0, 0], atol=1e-9)
    with pytest.raises(ValueError, match="no weights"):
        light_weights("candle")


def test_lab_and_back() -> None:
    lab = np.array([[50.0, 20, -30], [5, 1, 1], [100, 0, 0], [0.5, 0, 0]])
    assert np.allclose(lab_of_ratio(ratio_of_lab(lab)), lab, atol=1e-10)
