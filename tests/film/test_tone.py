from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from sepkit.errors import UsageError
from sepkit.film.outline import SOLID
from sepkit.film.tone import DotGain, ToneLimits, film_tint, limit_tints, printed_tint, tint_limits, tone_table
from sepkit.model import Halftone

ROUND = Halftone(45, 22.5, "round")


def test_no_gain_changes_nothing():
    tints = np.linspace(0, 1, 21)
    assert np.allclose(printed_tint(tints, DotGain(), ROUND), tints)
    assert np.allclose(film_tint(tints, DotGain(), ROUND), tints)


def test_a_border_round_a_small_round_dot_adds_its_ring():
    """Below touching, a dot of radius r grows to r + b: pi (r + b)^2 of the cell."""
    growth = 30.0
    border = growth * 45 / 25400
    for tint in (0.03, 0.06, 0.1):
        radius = math.sqrt(tint / math.pi)
        expected = math.pi * (radius + border) ** 2
        assert float(printed_tint(np.array(tint), DotGain(growth), ROUND)) == pytest.approx(expected, abs=0.012)


def test_a_chessboard_of_round_dots_grows_by_its_edges():
    """At 50 % round dots are diamonds that touch: edges of 2 sqrt 2 periods, less four overlaps of b^2 at the tips."""
    border = 30 * 45 / 25400
    got = float(printed_tint(np.array(0.5), DotGain(30), ROUND))
    assert got == pytest.approx(0.5 + 2 * math.sqrt(2) * border - 4 * border**2, abs=0.006)


def test_a_lone_square_of_blue_noise_grows_by_its_border():
    """At a light tint the dots stand alone: (1 + 2 b)^2 less the rounded corners, (4 - pi) b^2."""
    noise = Halftone(45, 0, "blue-noise")
    border = 0.2
    got = float(printed_tint(np.array(1 / 32), DotGain(border * 200), noise, noise_um=200.0))
    # A little less where two dots grow into one another.
    assert got == pytest.approx(((1 + 2 * border) ** 2 - (4 - math.pi) * border**2) / 32, abs=0.004)
    assert float(printed_tint(np.array(0.5), DotGain(40), noise)) == 0.5


def test_a_line_grows_on_both_sides():
    lines = Halftone(45, 22.5, "line")
    got = float(printed_tint(np.array(0.5), DotGain(30), lines))
    assert got == pytest.approx(0.5 + 2 * 30 * 45 / 25400, abs=0.01)


@pytest.mark.parametrize("shape", ["round", "ellipse", "line", "blue-noise"])
@pytest.mark.parametrize("growth", [15.0, 30.0, 60.0])
def test_the_inverse_undoes_the_gain(shape, growth):
    dots = Halftone(45, 22.5, shape)
    asked = np.linspace(0, 1, 41)
    film = film_tint(asked, DotGain(growth), dots, noise_um=200.0)
    assert (np.diff(film) >= 0).all()
    assert film[0] == 0
    assert film[-1] == 1
    again = printed_tint(film, DotGain(growth), dots, noise_um=200.0)
    least = float(printed_tint(np.array(0.011), DotGain(growth), dots, noise_um=200.0))
    inside = (asked > least) & (asked < 0.985)
    assert inside.sum() > 25
    assert np.abs(again - asked)[inside].max() < 0.005
    assert (film[inside] < asked[inside]).all()


def test_measured_points_pass_through_the_points():
    gain = DotGain(points=((0.25, 0.41), (0.5, 0.72), (0.75, 0.9)))
    assert np.allclose(printed_tint(np.array([0.25, 0.5, 0.75]), gain, ROUND), [0.41, 0.72, 0.9])
    assert np.allclose(film_tint(np.array([0.41, 0.72, 0.9]), gain, ROUND), [0.25, 0.5, 0.75])


@pytest.mark.parametrize("bad", [{"edge_um": -1}, {"edge_um": float("nan")}, {"edge_um": 1000}])
def test_growth_that_makes_no_sense_is_refused(bad):
    with pytest.raises(UsageError, match="edge growth"):
        DotGain(**bad)


def test_points_that_make_no_sense_are_refused():
    for points in (((0.5, 0.6), (0.4, 0.7)), ((0.5, 1.2),), ((0.2, 0.5), (0.4, 0.3))):
        with pytest.raises(UsageError, match="measured points"):
            DotGain(points=points)
    with pytest.raises(UsageError, match="not both"):
        DotGain(edge_um=20, points=((0.5, 0.7),))


@given(st.floats(50, 400), st.floats(50, 400), st.sampled_from(["raise", "clear"]))
def test_no_tint_lies_between_nothing_and_the_smallest_dot(dot_um, gap_um, small):
    limits = ToneLimits(dot_um, gap_um, small)
    tints = limit_tints(np.linspace(0, 1, 501), limits, ROUND)
    least, most = tint_limits(limits, ROUND)
    assert tints[0] == 0
    assert tints[-1] == 1
    assert (np.diff(tints) >= 0).all()
    between = tints[(tints > 0) & (tints < 1)]
    assert (between >= least - 1e-9).all()
    assert (between <= most + 1e-9).all()


def test_raise_lifts_and_clear_drops():
    least, _ = tint_limits(ToneLimits(200, 0), ROUND)
    near = np.array([0.7 * least, 0.3 * least])
    assert np.allclose(limit_tints(near, ToneLimits(200, 0, "raise"), ROUND), [least, 0])
    assert np.allclose(limit_tints(near, ToneLimits(200, 0, "clear"), ROUND), [0, 0])


def test_the_smallest_dot_is_a_disc_of_that_width():
    least, most = tint_limits(ToneLimits(200, 150), ROUND)
    assert least == pytest.approx(math.pi / 4 * (200 * 45 / 25400) ** 2)
    assert 1 - most == pytest.approx(math.pi / 4 * (150 * 45 / 25400) ** 2)


def test_the_table_runs_from_nothing_to_solid():
    table = tone_table(DotGain(30), ToneLimits(200, 200), ROUND)
    assert table.shape == (SOLID + 1,)
    assert table[0] == 0
    assert table[-1] == 1
    assert (np.diff(table) >= 0).all()
