from __future__ import annotations

from itertools import pairwise

from hypothesis import given
from hypothesis import strategies as st

from sepkit.separation.order import InkInOrder, pair_cost, print_order, why_order

INKS = st.lists(st.builds(InkInOrder, st.floats(0, 100), st.floats(0, 1)), min_size=0, max_size=7)


@given(INKS)
def test_order_is_a_permutation(inks: list[InkInOrder]) -> None:
    assert sorted(print_order(inks)) == list(range(len(inks)))


@given(INKS)
def test_no_swap_of_neighbours_costs_less(inks: list[InkInOrder]) -> None:
    order = print_order(inks)
    for a, b in pairwise(order):
        assert pair_cost(inks[a], inks[b]) <= pair_cost(inks[b], inks[a]) + 1e-6


def test_light_goes_before_dark_and_small_before_large_of_the_same_lightness() -> None:
    assert print_order([InkInOrder(10, 0.1), InkInOrder(95, 0.1)]) == [1, 0]
    assert print_order([InkInOrder(50, 0.9), InkInOrder(50, 0.1)]) == [1, 0]


def test_many_inks_fall_back_to_lightness() -> None:
    inks = [InkInOrder(float(5 * i), 0.1) for i in range(12)]
    assert print_order(inks) == list(range(11, -1, -1))


def test_the_reason_names_an_exception() -> None:
    inks = [InkInOrder(50, 0.9), InkInOrder(48, 0.05)]
    order = print_order(inks)
    assert order == [1, 0]
    assert "large area" in why_order(inks, order)
