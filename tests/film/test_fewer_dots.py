"""Tints below the smallest dot are drawn by fewer dots of that size."""

from __future__ import annotations

import numpy as np
from scipy import ndimage

from sepkit.film.screen import make_screen
from sepkit.film.tone import DotGain, ToneLimits, limit_tints, printed_of_asked, tint_limits, tone_table
from sepkit.model import Halftone

DOTS = Halftone(45, 22.5, "ellipse")
LIMITS = ToneLimits(185, 185, "fewer")


def test_light_tints_have_whole_dots_and_the_tint_asked_for() -> None:
    ends = tint_limits(LIMITS, DOTS)
    screen = make_screen(DOTS, dpi=720, fewer=ends)
    assert np.array_equal(np.sort(screen.order.ravel()), np.arange(screen.levels))
    ranks = screen.at(0, 0, 900, 900)
    pixels = ends[0] * (720 / 45) ** 2
    for tint in (0.02, 0.05):
        ink = ranks < tint
        assert abs(ink.mean() - tint) < 0.002
        for shown in (ink, ranks > 1 - tint):
            number, count = ndimage.label(shown)
            sizes = np.bincount(number.ravel())[1:]
            assert np.median(sizes) > 0.85 * pixels, "dots and gaps are as large as the smallest that hold"
            assert count < 1.25 * shown.sum() / pixels


def test_tones_have_no_step_where_the_smallest_dot_begins() -> None:
    asked = np.linspace(0, 1, 401)
    assert np.array_equal(limit_tints(asked, LIMITS, DOTS), asked)
    assert np.diff(tone_table(DotGain(), LIMITS, DOTS)).max() < 0.001
    printed = printed_of_asked(asked, DotGain(20), LIMITS, DOTS)
    np.testing.assert_allclose(printed, asked, atol=0.02)
    raised = limit_tints(asked, ToneLimits(185, 185, "raise"), DOTS)
    assert np.diff(raised).max() > 0.03, "which raising has"


def test_stripes_are_raised_as_before() -> None:
    line = Halftone(45, 22.5, "line")
    tints = limit_tints(np.array([0.2]), LIMITS, line)
    assert tints[0] == tint_limits(LIMITS, line)[0]
