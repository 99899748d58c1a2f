from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from sepkit.film.outline import HALF, LEVELS, SOLID, Upsampler, Window, film_size_px, keys_kernel, tap_weights
from sepkit.film.rows import FilmSettings, plan_film


def upsampled(coverage, width_mm, height_mm, dpi):
    width, height = film_size_px(width_mm, height_mm, dpi)
    step = 25.4 / dpi * coverage.shape[1] / width_mm
    up = Upsampler(
        coverage,
        step_x=step,
        step_y=25.4 / dpi * coverage.shape[0] / height_mm,
        window=Window(0, 0, width, height),
    )
    rows, weights = up.taps_down(0, height)
    return up.down(up.across(0, coverage.shape[0]), 0, rows, weights)


def test_kernel_is_one_at_its_middle_and_nothing_at_other_samples():
    assert keys_kernel(np.array([0.0]))[0] == 1
    assert np.allclose(keys_kernel(np.array([1.0, 2.0, -1.0, 2.5])), 0)


@given(st.floats(0.05, 3.0), st.integers(0, 50_000))
def test_weights_are_whole_and_sum_to_the_unit(step, first):
    base, weights = tap_weights(first, 40, step=step, unit=128)
    assert (weights.sum(axis=1) == 128).all()
    assert (weights == np.rint(weights)).all()
    assert (np.diff(base) >= 0).all()


@given(st.integers(0, 255), st.floats(20, 40), st.floats(100, 1500))
def test_flat_coverage_stays_exactly_flat(level, width_mm, dpi):
    plane = np.full((9, 11), level, np.uint8)
    assert (upsampled(plane, width_mm, width_mm, dpi) == level * LEVELS).all()


def test_values_stay_within_16_bits_for_the_hardest_pattern():
    checks = (np.indices((24, 24)).sum(axis=0) % 2 * 255).astype(np.uint8)
    wide = upsampled(checks, 24.0, 24.0, 600).astype(np.int64)
    # A wrap of int16 would show as a jump of 65536.
    assert wide.min() > -SOLID
    assert wide.max() < 2 * SOLID


def test_a_straight_edge_lands_where_it_is():
    plane = np.zeros((40, 200), np.uint8)
    plane[:, :77] = 255
    plane[:, 77] = 102
    film = plan_film(plane, None, None, width_mm=200 * 25.4 / 300, height_mm=40 * 25.4 / 300, settings=FilmSettings())
    bits = np.unpackbits(np.concatenate(list(film.bands())), axis=1, count=film.width_px)
    edge_px = bits[40].sum()
    assert edge_px == pytest.approx((77 + 0.4) * 720 / 300, abs=0.6)
    assert (bits == bits[0]).all()


def test_a_slanted_edge_has_no_stair_steps():
    y, x = np.mgrid[0:300, 0:300]
    slope = 0.21
    plane = np.clip((x - 100 - slope * y) * 255 + 127.5, 0, 255).astype(np.uint8)
    film = plan_film(plane, None, None, width_mm=25.4, height_mm=25.4, settings=FilmSettings())
    bits = np.unpackbits(np.concatenate(list(film.bands())), axis=1, count=film.width_px)
    left = np.argmax(bits, axis=1)[20:-20]
    fit = np.polyfit(np.arange(left.size), left, 1)
    wobble = left - np.polyval(fit, np.arange(left.size))
    # Stair steps of the 300 dpi art would be 2.4 film pixels high.
    assert np.abs(wobble).max() < 1.0


def test_symmetric_art_prints_symmetric_to_half_a_level():
    rng = np.random.default_rng(3)
    half = rng.integers(0, 256, (30, 15), np.uint8)
    plane = np.concatenate([half, half[:, ::-1]], axis=1)
    wide = upsampled(plane, 30.0, 30.0, 508)
    away = np.abs(wide.astype(int) - wide[:, ::-1])
    assert away.max() <= 6 * LEVELS
    assert away.mean() < 0.5 * LEVELS


def test_half_is_the_middle_of_the_scale():
    assert HALF * 2 == SOLID


@pytest.mark.parametrize("step", [300 / 720, 0.5, 0.188, 1.0, 2.37, 9.1])
@pytest.mark.parametrize(("left", "width"), [(0, 64), (37, 1), (5, 65), (0, 900)])
def test_a_row_is_enlarged_as_its_taps_say(step, left, width):
    rng = np.random.default_rng(3)
    coverage = rng.integers(0, 256, (40, round((width + left + 9) * step)), np.uint8)
    up = Upsampler(coverage, step_x=step, step_y=0.5, window=Window(left, 0, width, 60))
    base, weights = tap_weights(left, width, step=step, unit=128)
    taps = np.clip(base[:, None] + np.arange(weights.shape[1]), 0, coverage.shape[1] - 1)
    plain = (coverage[3:31, taps].astype(np.int64) * weights.astype(np.int64)).sum(axis=2)
    assert np.array_equal(up.across(3, 31), plain)
