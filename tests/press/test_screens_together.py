"""Angles of several tone screens: beats as Amidror (2000) has them."""

from __future__ import annotations

import math
from itertools import pairwise

import pytest

from sepkit.model import Halftone, Mesh
from sepkit.press.moire import rate
from sepkit.press.together import screens_together, slowest_beat_mm

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
