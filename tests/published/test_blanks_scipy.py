"""Blanks against scipy.stats (binomial and negative binomial distributions, and drawn runs) and against enumeration."""

from __future__ import annotations

from itertools import product

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.stats import binom, nbinom

from sepkit.press.blanks import (
    Shortage,
    Wanted,
    chance_filled,
    filled,
    kinds_to_test,
    least_cost,
    levels,
    lost_on_average,
    valued,
)


def wanted(ordered: int, loss: float, price: float = 4.0, value: float = 28.0) -> Wanted:
    return Wanted("tee", "M", ordered, loss, price, value)


LINE = st.builds(
    wanted, st.integers(1, 12), st.floats(0.01, 0.2), st.sampled_from([4.0, 17.5]), st.sampled_from([20.0, 30.0])
)
SHORTAGE = st.builds(
    Shortage,
    st.booleans(),
    st.sampled_from([5.0, 20.0, 60.0]),
    st.sampled_from([0.0, 0.5, 0.9]),
    st.sampled_from([0.1, 0.2, 1.0]),
)


@settings(max_examples=25, deadline=None)
@given(st.lists(LINE, min_size=1, max_size=4), SHORTAGE)
def test_nothing_costs_less_by_enumeration(lines: list[Wanted], shortage: Shortage) -> None:
    found = least_cost(lines, shortage)
    ways = [spares for spares in product(range(5), repeat=len(lines)) if sum(spares) <= shortage.most_spares(lines)]
    assert found.money <= 1.01 * min(valued(lines, spares, shortage).money for spares in ways) + 1e-6
    assert found.count <= max(1, shortage.most * sum(line.ordered for line in lines) + 1e-6)


@settings(max_examples=40, deadline=None)
@given(st.integers(1, 80), st.integers(0, 9), st.floats(0.005, 0.3))
def test_a_line_is_filled_as_scipy_says(ordered: int, spares: int, loss: float) -> None:
    line = wanted(ordered, loss)
    assert chance_filled(line, spares) == pytest.approx(binom.sf(ordered - 1, ordered + spares, 1 - loss), abs=1e-7)
    found = valued([line], [spares], Shortage(late=False, kept=1.0))
    short = sum(k * binom.pmf(spares + k, ordered + spares, loss) for k in range(1, ordered + 1))
    assert found.missing == pytest.approx(short, abs=1e-6)
    left = sum((spares - j) * nbinom.pmf(j, ordered, 1 - loss) for j in range(spares))
    assert found.money == pytest.approx(line.price * (spares - left) + line.value * short, abs=1e-5)


@pytest.mark.parametrize("late", [True, False])
def test_the_whole_run_costs_what_drawn_runs_cost(late: bool) -> None:
    lines = [wanted(12, 0.06), wanted(8, 0.06), wanted(7, 0.1, 17.5), wanted(3, 0.02, 17.5)]
    spares, shortage = (1, 0, 1, 0), Shortage(late=late, late_order=25.0, kept=0.5)
    runs, rng = 60_000, np.random.default_rng(7)
    money = np.zeros(runs)
    worth, again, short = np.zeros(runs), np.zeros(runs), np.zeros(runs)
    for line, more in zip(lines, spares, strict=True):
        spoiled_first = nbinom.rvs(line.ordered, 1 - line.loss, size=runs, random_state=rng)
        used = np.minimum(spoiled_first, more)
        # Those that run short have spoiled all spares; how many pieces lack follows the binomial, given that.
        lack, at = np.zeros(runs), spoiled_first > more
        drawn = binom.rvs(line.ordered + more, line.loss, size=400_000, random_state=rng)
        lack[at] = rng.choice(drawn[drawn > more], at.sum()) - more
        money += line.price * used + (1 - shortage.kept) * line.price * (more - used)
        worth, again, short = worth + line.value * lack, again + line.price * lack, short + lack
    bought = np.where(short > 0, shortage.late_order + again, 0)
    money += np.minimum(worth, bought) if late else worth
    error = 5 * money.std() / runs**0.5
    found = valued(lines, spares, shortage)
    assert found.money == pytest.approx(money.mean(), abs=error)
    assert found.missing == pytest.approx(short.mean(), abs=0.02)
    assert found.chance == pytest.approx((short == 0).mean(), abs=0.02)


def test_three_levels() -> None:
    lines = [wanted(6, 0.06), wanted(12, 0.06), wanted(7, 0.06, 17.5)]
    found = levels(lines, Shortage(late=False), certainty=0.95)
    assert found["safe"].chance >= 0.95
    assert found["lean"].count == round(25 * 0.06)
    assert found["least cost"].money <= min(found["lean"].money, found["safe"].money)
    assert found["lean"].chance < found["least cost"].chance < found["safe"].chance
    # One spare fewer anywhere and the safe run is not safe.
    for at in range(3):
        fewer = [n - (k == at) for k, n in enumerate(found["safe"].spares)]
        assert min(fewer) < 0 or valued(lines, fewer, Shortage()).chance < 0.95
    assert filled([wanted(5, 0.0)], Shortage(), chance=0.99).count == 0


@settings(max_examples=25, deadline=None)
@given(st.lists(LINE, min_size=1, max_size=4), SHORTAGE, st.sampled_from([0.5, 0.95]))
def test_no_level_has_more_spares_than_the_next(lines: list[Wanted], shortage: Shortage, certainty: float) -> None:
    found = levels(lines, shortage, certainty=certainty)
    assert found["lean"].count <= found["least cost"].count <= found["safe"].count
    assert found["safe"].chance >= certainty - 1e-9


def test_spares_that_are_lost_on_average_cost_least_of_so_many() -> None:
    lines = [wanted(6, 0.06), wanted(12, 0.06), wanted(7, 0.06, 17.5), wanted(20, 0.1)]
    found = lost_on_average(lines, Shortage(late=False), most=9)
    assert found.count == round(25 * 0.06 + 2)
    ways = (spares for spares in product(range(5), repeat=4) if sum(spares) == found.count)
    assert found.money == pytest.approx(min(valued(lines, spares, Shortage(late=False)).money for spares in ways))
    assert lost_on_average(lines, Shortage(late=False), most=1).count == 1


def test_a_late_order_serves_all_lines_at_once() -> None:
    lines = [wanted(5, 0.05) for _ in range(6)]
    dear = least_cost(lines, Shortage(late=True, late_order=1000.0))
    cheap = least_cost(lines, Shortage(late=True, late_order=1.0))
    assert dear.spares == least_cost(lines, Shortage(late=False)).spares
    assert cheap.count < dear.count


def test_one_test_garment_for_all_prints_that_it_carries() -> None:
    front, back, sleeve = "front", "back", "sleeve"
    tee, hoodie = frozenset({front, back}), frozenset({front, back, sleeve})
    assert kinds_to_test([tee, hoodie], [4.0, 17.5]) == (1,)
    assert kinds_to_test([tee, hoodie], [4.0, 4.0]) == (1,)
    assert kinds_to_test([tee, frozenset({sleeve}), hoodie], [4.0, 4.0, 17.5]) == (0, 1)
    assert kinds_to_test([], []) == ()
