"""Cloth that is stretched between the edges of screens: told as cloth, not as register; how stiff it is, from tiles.

Tiles here say exactly what a known field of slip and known shifts make, so that the truth is exact.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from sepkit.reading.cloth import RAGGED_MM, likeliest, ragged_edges
from sepkit.reading.light import Look
from sepkit.reading.solve import System
from sepkit.reading.subject import PX_PER_MM, Subject
from sepkit.reading.tiles import Equation, ScreenFit, State, Tile, printed_at, to_film
from sepkit.reading.warp import Warp

SIDE = 66.0
SHIFT = np.array([0.3, -0.2])
APART = np.array([2.4, -1.7])
"""In each tile the second screen's edges lie so far from the first's."""


@pytest.fixture(scope="module")
def state():
    size = round((SIDE + 8) * PX_PER_MM)
    plane = np.zeros((size, size), np.uint8)
    subject = Subject(SIDE, SIDE, 4.0, (plane, plane), np.ones((4, 3)), ("red", "blue"))
    look = Look(np.ones((4, 3)), np.full(4, 99.0), np.zeros((1, 3)), np.zeros(4))
    return subject, State(Warp.straight(np.eye(3), subject, 9.0, (80, 80)), (ScreenFit(), ScreenFit()), look)


def told(field, *, noise_mm=0.0, seed=0, known=True):
    """Equations of tiles over the art: where each screen lies on cloth that slips by ``field``."""
    rng = np.random.default_rng(seed)
    out = []
    for i, y in enumerate(np.arange(5, SIDE, 8)):
        for j, x in enumerate(np.arange(5, SIDE, 8)):
            middle = np.array([x, y])
            first, second = middle - APART / 2, middle + APART / 2
            places = np.stack([np.stack([first] * 2), np.stack([second] * 2)])
            off = np.concatenate([field(first), [0.05], field(second) + SHIFT, [0.05]])
            off = off + rng.normal(0, 1, 6) * noise_mm
            normal = np.diag(np.full(6, 1 / 0.004**2))
            tile = Tile(middle, 7.0, -1 - 20 * i - j, np.zeros(2))
            out.append(
                Equation(tile, normal, normal @ (off - [0, 0, 0.05, 0, 0, 0.05]), 0, 0, at=places if known else None)
            )
    return out


def strained(q):
    return 0.01 * (q - SIDE / 2)


def solved(state, equations, **how):
    subject, start = state
    system = System(subject, start, equations, slack_mm=0.01, **how)
    step = system.step()
    return system.after(step).screens[1]


def test_strain_between_edges_is_not_told_as_register(state):
    right = solved(state, told(strained))
    assert np.allclose([right.dx_mm, right.dy_mm], SHIFT, atol=0.003)
    wrong = solved(state, told(strained, known=False))  # as if all lay in the tile's middle
    assert abs(wrong.dx_mm - SHIFT[0] - 0.01 * APART[0]) < 0.004


@pytest.mark.parametrize(
    ("field", "stiff"),
    [
        (lambda q: 0.1 * np.sin(q[0] / 60) * np.ones(2), (4.0, 16.0)),
        (lambda q: 0.5 * np.tanh((q[0] - 30) / 9) * np.array([1.0, 0.2]), (0.06, 0.25)),
    ],
)
def test_how_stiff_cloth_is_comes_from_its_tiles(state, field, stiff):
    equations = told(field, noise_mm=0.02, seed=4)
    cloth = likeliest(*state, equations, slack_mm=0.01)
    assert cloth.stiff in stiff
    assert cloth.ragged_mm == pytest.approx(0.02)
    system = System(*state, ragged_edges(equations, cloth.ragged_mm), slack_mm=0.01, stiff=cloth.stiff)
    band = system.bands(np.full((2, 2), SIDE / 2))[1]
    got = system.after(system.step()).screens[1]
    assert np.hypot(got.dx_mm - SHIFT[0], got.dy_mm - SHIFT[1]) < 2.5 * band.shift_mm < 0.06


@pytest.mark.parametrize("ragged", RAGGED_MM[:3])
def test_how_ragged_edges_are_comes_from_their_tiles(state, ragged):
    cloth = likeliest(*state, told(strained, noise_mm=ragged, seed=7), slack_mm=0.01)
    assert cloth.ragged_mm == ragged


def test_few_tiles_that_disagree_do_not_make_cloth_soft(state):
    """In two of 64 the second screen's edges lie 1 mm elsewhere."""
    equations = told(strained, noise_mm=0.02, seed=5)
    for i in (4, 35):
        one = equations[i]
        equations[i] = replace(one, right=one.right + one.normal @ [0, 0, 0, 1, -1, 0])
    assert likeliest(*state, equations, slack_mm=0.01).stiff == 16.0


def test_what_a_lens_bends_costs_next_to_nothing(state):
    """Whatever its strength, less than one; bent as much about elsewhere, no lens would, it costs far more."""
    system = System(*state, [], slack_mm=0.01)
    cost = system.bend[8:, 8:]
    other = np.roll(system.lens.reshape(2, *state[1].warp.knots), 3, axis=2).ravel()
    assert system.lens @ cost @ system.lens < 1
    assert other @ cost @ other > 20


def test_held_screens_stay_and_the_cloth_moves(state):
    subject, start = state
    system = System(subject, start, told(strained), slack_mm=0.01, held=True)
    after = system.after(system.step())
    assert np.allclose([(one.dx_mm, one.dy_mm, one.turn) for one in after.screens], 0, atol=1e-6)
    slip = after.warp.field(np.array([[10.0, 33], [56, 33]]))[:, 0]
    assert slip[1] - slip[0] == pytest.approx(0.46, abs=0.05)  # 1 % of 46 mm


def test_ragged_edges_leave_less_told(state):
    free = ragged_edges(told(strained), 0.03)
    assert np.allclose(np.diag(np.linalg.inv(free[0].normal)), 0.004**2 + 0.03**2)


def test_a_band_is_that_of_its_place(state):
    """Far from the edges that tell a screen its turn adds to what may be off (propagation of covariance)."""
    some = [replace(one) for one in told(strained, noise_mm=0.02, seed=1) if one.tile.middle[0] < 30]
    subject, start = state
    system = System(subject, start, some, slack_mm=0.01)
    system.step()
    near, far = (system.bands(np.array([[15.0, 33], [x, 33.0]]))[1].shift_mm for x in (15.0, 64.0))
    assert far > 1.5 * near


def test_a_place_is_printed_where_the_film_says(state):
    subject, _ = state
    fit = ScreenFit(0.4, -0.3, 0.02)
    film = np.array([[3.0, 80.0], [45.0, 45.0]])
    cloth = printed_at(subject, fit, film)
    assert np.allclose(np.stack(to_film(subject, fit, cloth[:, 0], cloth[:, 1]), -1), film)
