"""Tones solved as they overprint. Weights of overprints: Demichel 1924; the closed forms below follow from them."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from sepkit.plates.tone_dots import demichel, printed_tones

CLOTH = np.array([0.9, 0.9, 0.88])
RED, BLUE = np.array([0.6, 0.05, 0.04]), np.array([0.02, 0.04, 0.3])
OPAQUE = np.array([CLOTH, RED, BLUE, BLUE])
"""Red prints first, blue covers it."""


def plane(values: object) -> np.ndarray:
    return np.atleast_2d(np.asarray(values, np.uint8))


def solved(shares: list[np.ndarray], stacks: np.ndarray, art: list[np.ndarray], **given: object) -> list[np.ndarray]:
    tone = np.logical_or.reduce([share > 0 for share in shares])
    options = {"stacks": stacks, "cloth": CLOTH, "has_base": False, "art_colours": np.array(art)} | given
    return printed_tones(shares, tone, **options)


def averages(planes: list[np.ndarray], stacks: np.ndarray) -> np.ndarray:
    dots = np.stack([p.ravel() for p in planes], axis=1) / 255
    return demichel(dots) @ stacks


@settings(max_examples=40, deadline=None)
@given(st.integers(8, 247), st.integers(0, 255))
def test_an_opaque_ink_fills_in_under_the_next(blue, red):
    """Opaque inks: the average equals the art when the first prints F / (1 - later F)."""
    red = min(red, 255 - blue)
    planes = solved([plane([red]), plane([blue])], OPAQUE, [RED, BLUE])
    want = (red * RED + blue * BLUE + (255 - red - blue) * CLOTH) / 255
    assert np.abs(np.cbrt(averages(planes, OPAQUE)[0]) - np.cbrt(want)).max() < 0.03


def test_a_trace_under_next_to_solid_is_not_blown_up():
    """2 of 255 under 253 would be solid by F / (1 - later F), for a colour nobody sees."""
    first, last = solved([plane([2]), plane([252])], OPAQUE, [RED, BLUE])
    assert first[0, 0] < 60
    assert abs(int(last[0, 0]) - 252) < 8


def test_a_gradient_stays_a_gradient():
    blue = np.arange(1, 255)
    planes = solved([plane(255 - blue), plane(blue)], OPAQUE, [RED, BLUE])
    steps = np.diff(planes[1][0].astype(int))
    assert steps.min() >= -2
    assert steps.max() <= 6


def test_no_ink_where_none_was_asked_and_solid_stays_solid():
    shares = [plane([0, 255, 120, 0]), plane([0, 0, 0, 90])]
    first, last = solved(shares, OPAQUE, [RED, BLUE])
    assert first.tolist()[0][:2] == [0, 255]
    assert first[0, 3] == 0
    assert last.tolist()[0][:3] == [0, 0, 0]


def test_planes_outside_the_tone_are_left_alone():
    shares = [plane([100, 100]), plane([50, 50])]
    first, last = printed_tones(
        shares, plane([1, 0]) > 0, stacks=OPAQUE, cloth=CLOTH, has_base=False, art_colours=np.array([RED, BLUE])
    )
    assert (first[0, 1], last[0, 1]) == (100, 50)
    assert first[0, 0] > 110


@pytest.mark.parametrize("share", [40, 128, 220])
def test_base_and_ink_average_to_the_art_on_black(share):
    """A dull ink on black that its base lifts: dots of both fall on one another, and a tint of both is darker."""
    black, white = np.array([0.005, 0.005, 0.006]), np.array([0.7, 0.7, 0.7])
    stacks = np.array([black, white, 0.2 * RED, RED])
    planes = printed_tones(
        [plane([share]), plane([share])],
        plane([1]) > 0,
        stacks=stacks,
        cloth=black,
        has_base=True,
        art_colours=np.array([white, RED]),
    )
    want = share / 255 * RED + (1 - share / 255) * black
    naive = averages([plane([share]), plane([share])], stacks)[0]
    error = np.abs(np.cbrt(averages(planes, stacks)[0]) - np.cbrt(want)).max()
    assert error < 0.06
    assert error < 0.7 * np.abs(np.cbrt(naive) - np.cbrt(want)).max()


def test_a_base_does_not_leap_inside_a_gradient():
    """A light ink that is nearly as good straight: a base of a fifth and one of four fifths give almost one colour."""
    black, white = np.array([0.010, 0.010, 0.012]), np.array([0.615, 0.618, 0.607])
    lime, on_base, blue, blue_on = (
        np.array(c) for c in ((0.479, 0.604, 0.164), (0.526, 0.708, 0.161), (0.0, 0.2, 0.328), (0.0, 0.228, 0.445))
    )
    stacks = np.array([black, white, lime, on_base, blue, blue_on, blue, blue_on])
    share = np.arange(20, 236)
    shares = [np.full((1, len(share)), 215), plane(share * 215 // 255), plane((255 - share) * 215 // 255)]
    planes = printed_tones(
        [plane(s) for s in shares],
        np.ones((1, len(share)), bool),
        stacks=stacks,
        cloth=black,
        has_base=True,
        art_colours=np.array([white, on_base, blue_on]),
    )
    steps = np.abs(np.diff(planes[0][0].astype(int)))
    assert steps.max() <= 24
