"""Angles of several tone screens: beats as Amidror (2000) has them."""

from __future__ import annotations

import math
from itertools import pairwise

import numpy as np
import pytest

from sepkit.colorimetry.spatial import blurred, pixels_per_degree
from sepkit.film.screen import spot
from sepkit.model import Halftone, Mesh, PeriodicDot
from sepkit.press.moire import rate
from sepkit.press.together import FIRST_HARMONIC, least_seen, screens_together, slowest_beat_mm

MESH = Mesh(77, 55)


def test_two_screens_beat_with_the_period_of_the_books() -> None:
    """Two gratings of one period p, turned by t, beat with p / (2 sin(t / 2))."""
    dots = [Halftone(45, 20, "round"), Halftone(45, 35, "round")]
    assert slowest_beat_mm(dots) == pytest.approx(25.4 / 45 / (2 * math.sin(math.radians(7.5))), rel=1e-6)


def test_three_screens_are_turned_far_from_each_other() -> None:
    angles = sorted(one.angle_deg for one in screens_together([MESH] * 3, shape="round"))
    turns = [b - a for a, b in pairwise([*angles, angles[0] + 90])]
    assert min(turns) >= 25


@pytest.mark.parametrize("count", [2, 3, 4, 5, 6])
def test_all_are_clean_on_their_mesh_with_one_ruling(count: int) -> None:
    dots = screens_together([MESH] * count, shape="ellipse")
    assert len({one.lpi for one in dots}) == 1
    assert len({one.angle_deg for one in dots}) == count
    assert all(rate(MESH, one.lpi, one.angle_deg, shape="ellipse").clean for one in dots)
    assert slowest_beat_mm(dots) < 5.0


def test_a_ruling_that_was_asked_for_is_kept() -> None:
    assert {one.lpi for one in screens_together([MESH] * 3, shape="ellipse", lpi=35.0)} == {35.0}


@pytest.mark.parametrize("shape", ["round", "ellipse"])
def test_first_waves_are_those_of_the_dots_that_films_have(shape: PeriodicDot) -> None:
    phase = np.arange(128) / 128
    height = spot(shape, phase[None], phase[:, None])
    waves = np.abs(np.fft.fft2(height > np.median(height))) / height.size
    mean = math.sqrt((waves[0, 1] ** 2 + waves[1, 0] ** 2) / 2)
    assert mean == pytest.approx(FIRST_HARMONIC, abs=0.015)


def _seen_power(dots: list[Halftone], strengths: list[float], phases: np.ndarray) -> float:
    """Return the mean square, as the eye sees it, by which dots of 50 % leave the light that they average to."""
    at = np.arange(0, 32, 0.16)
    light = np.ones((len(at), len(at)))
    for one, strength, (du, dv) in zip(dots, strengths, phases, strict=True):
        turn, lpmm = math.radians(one.angle_deg), one.lpi / 25.4
        u = (at[None] * math.cos(turn) + at[:, None] * math.sin(turn)) * lpmm + du
        v = (at[:, None] * math.cos(turn) - at[None] * math.sin(turn)) * lpmm + dv
        light *= 1 + strength * 0.5 * np.tanh((np.cos(2 * np.pi * u) + np.cos(2 * np.pi * v)) / 0.15)
    return float((blurred(light - 1, 0, pixels_per_degree(1 / 0.16))[60:-60, 60:-60] ** 2).mean())


def test_strong_screens_are_those_that_are_seen_least_together() -> None:
    """Dots laid over each other, phases at random, blurred as S-CIELAB does (Zhang and Wandell 1997)."""
    strengths = [1.0, 1.0, 0.1, 0.1, 0.1]
    plain = screens_together([MESH] * 5, shape="round")
    chosen = screens_together([MESH] * 5, shape="round", strengths=strengths)
    assert sorted(one.angle_deg for one in chosen) == sorted(one.angle_deg for one in plain)
    worst = least_seen(plain, [0.1, 0.1, 1.0, 1.0, 1.0])
    phases = np.random.default_rng(2).random((1, 5, 2))
    ours, plainly, others = (
        sum(_seen_power(dots, strengths, phase) for phase in phases) for dots in (chosen, plain, worst)
    )
    assert ours <= plainly
    assert ours < 0.7 * others


def test_two_strong_screens_have_the_angles_that_lie_furthest_apart() -> None:
    dots = [Halftone(45, angle, "round") for angle in (10, 20, 30, 55)]
    a, _, b, _ = (one.angle_deg for one in least_seen(dots, [1, 0.1, 1, 0.1]))
    assert abs(a - b) == 45
