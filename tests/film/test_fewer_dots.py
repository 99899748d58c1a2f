"""Tints below the smallest dot are drawn by fewer dots of that size."""

from __future__ import annotations

import math

import numpy as np
import pytest
from scipy import ndimage

from sepkit.film.screen import FEWER_DOTS, find_lattice, make_screen, void_and_cluster
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


@pytest.mark.parametrize(("lpi", "angle"), [(45, 22.5), (55, 75), (60, 0)])
def test_dots_come_in_the_order_of_their_own_pattern(lpi: float, angle: float) -> None:
    """Each pixel of a smallest dot or last gap has its place by the turn of its dot, then by its own height."""
    ends = (0.05, 0.93)
    whole, a, b, n, found = _tile(lpi, angle, ends)
    area = whole.size
    y, x = np.divmod(np.arange(area), area // math.gcd(a, b))
    u, v = n * (a * x + b * y) / area, n * (b * x - a * y) / area
    turn = void_and_cluster(n)
    dot = turn[np.rint(u).astype(int) % n, np.rint(v).astype(int) % n]
    gap = n * n - 1 - turn[np.floor(u).astype(int) % n, np.floor(v).astype(int) % n]
    least, most = (round(tint * area) for tint in ends)
    small, full = whole < least, whole >= most
    part = np.where(small, 0, np.where(full, 2, 1))
    turns = np.where(small, dot, np.where(full, gap, 0))
    plain = np.empty(area, np.int32)
    plain[np.lexsort((whole, turns, part))] = np.arange(area)
    assert np.array_equal(found, plain)
    assert not np.array_equal(found, whole)


def _tile(lpi: float, angle: float, ends: tuple[float, float]) -> tuple[np.ndarray, int, int, int, np.ndarray]:
    """Return the tile's order without and with dots that come one by one, and its lattice."""
    found = make_screen(Halftone(lpi, angle, "round"), dpi=720, fewer=ends)
    a, b, n = find_lattice(720, lpi, angle, least_dots=FEWER_DOTS)
    whole = make_screen(Halftone(lpi, angle, "round"), dpi=720, fewer=(0.0, 1.0))
    return whole.order.ravel(), a, b, n, found.order.ravel()
