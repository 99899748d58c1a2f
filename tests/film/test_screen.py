from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from sepkit.errors import UsageError
from sepkit.film.screen import find_lattice, grey_levels, make_screen, void_and_cluster
from sepkit.model import Halftone

CASES = [
    (45, 22.5, "round"),
    (38, 61, "ellipse"),
    (55, 0, "round"),
    (50, 45, "line"),
    (33.3, 90, "ellipse"),
    (65, 7.5, "line"),
]


@pytest.mark.parametrize(("lpi", "angle", "shape"), CASES)
def test_each_place_in_the_order_is_used_once(lpi, angle, shape):
    screen = make_screen(Halftone(lpi, angle, shape), dpi=720)
    assert screen.levels == screen.order.size
    assert np.array_equal(np.sort(screen.order.ravel()), np.arange(screen.levels))


@pytest.mark.parametrize(("lpi", "angle", "shape"), CASES)
def test_the_tile_repeats_on_its_lattice(lpi, angle, shape):
    screen = make_screen(Halftone(lpi, angle, shape), dpi=720)
    a, b, _ = find_lattice(720, lpi, angle)
    here = screen.at(5000, 7000, 60, 40)
    assert np.array_equal(here, screen.at(5000 + a, 7000 + b, 60, 40))
    assert np.array_equal(here, screen.at(5000 - b, 7000 + a, 60, 40))


def test_rows_below_one_another_follow_the_spot_function():
    """The shifted row is the row the spot function gives, not only some row of the tile."""
    screen = make_screen(Halftone(45, 22.5, "round"), dpi=720)
    a, b, n = find_lattice(720, 45, 22.5)
    area = a * a + b * b
    y, x = np.mgrid[900:960, 300:360]
    u, v = n * (a * x + b * y) / area, n * (b * x - a * y) / area
    height = np.cos(2 * np.pi * u) + np.cos(2 * np.pi * v)
    ranks = screen.at(300, 900, 60, 60)
    order = np.argsort(ranks.ravel())
    falling = height.ravel()[order]
    assert np.corrcoef(np.arange(falling.size), -falling)[0, 1] > 0.97
    assert (np.diff(falling) < 0.02).all()


@settings(max_examples=60)
@given(st.floats(20, 90), st.floats(0, 360), st.sampled_from([360.0, 720.0, 1440.0]))
def test_ruling_and_angle_are_close_to_what_was_asked(lpi, angle, dpi):
    a, b, n = find_lattice(dpi, lpi, angle)
    assert abs(n * dpi / math.hypot(a, b) / lpi - 1) < 5e-4
    turned = (math.degrees(math.atan2(-b, a)) - angle + 180) % 360 - 180
    assert abs(turned) < 0.02


def test_a_ruling_finer_than_the_film_draws_is_refused():
    with pytest.raises(UsageError, match="finer than a 300 dpi film"):
        make_screen(Halftone(120, 22.5, "round"), dpi=300)
    with pytest.raises(UsageError, match="lpi"):
        make_screen(Halftone(float("nan"), 22.5, "round"), dpi=720)
    with pytest.raises(UsageError, match="angle"):
        make_screen(Halftone(45, float("inf"), "round"), dpi=720)


def test_grey_levels():
    assert grey_levels(720, 45) == 257
    assert grey_levels(360, 45) == 65


def test_blue_noise_spreads_its_dots():
    order = void_and_cluster(64)
    assert np.array_equal(np.sort(order.ravel()), np.arange(64 * 64))
    ranks = (order + 0.5) / order.size
    power = np.abs(np.fft.fft2((ranks < 0.2) - 0.2)) ** 2
    frequency = np.hypot(*np.meshgrid(np.fft.fftfreq(64), np.fft.fftfreq(64)))
    low = power[(frequency > 0) & (frequency < 0.1)].mean()
    assert low < 0.1 * power[frequency > 0].mean()
    white = np.random.default_rng(0).random((64, 64)) < 0.2
    white_power = np.abs(np.fft.fft2(white - white.mean())) ** 2
    assert low < 0.2 * white_power[(frequency > 0) & (frequency < 0.1)].mean()


def test_blue_noise_dots_are_as_large_as_asked():
    screen = make_screen(Halftone(45, 0, "blue-noise"), dpi=720, noise_px=5)
    dots = screen.at(0, 0, 320, 320) < 0.3
    assert np.array_equal(dots, dots[::5, ::5].repeat(5, axis=0).repeat(5, axis=1))
