from __future__ import annotations

from dataclasses import replace
from itertools import pairwise

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from sepkit.colorimetry.srgb import srgb8_to_lab
from sepkit.plates.order import InkInOrder, pair_cost, print_order, why_order
from tests.helpers.shelf import find_ink

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


def test_known_inks_go_by_what_residue_does() -> None:
    """White before black: a little black spoils white, a little white hardly changes black (common practice)."""
    white, black = find_ink("white"), find_ink("black")
    inks = [InkInOrder(20, 0.2, black), InkInOrder(90, 0.2, white)]
    assert print_order(inks) == [1, 0]
    assert pair_cost(inks[0], inks[1]) > 10 * pair_cost(inks[1], inks[0])
    words = why_order(inks, [1, 0], names=["black", "white"])
    assert "black left in white" in words


def test_between_measured_inks_residue_decides_against_lightness() -> None:
    """Turquoise spoils orange less than orange spoils turquoise, though it is the darker here."""
    inks = [replace(find_ink(name), status="measured") for name in ("orange", "turquoise")]
    orange, turquoise = (InkInOrder(light, 0.2, ink) for light, ink in zip((62, 58), inks, strict=True))
    assert print_order([orange, turquoise]) == [1, 0]
    assert print_order([replace(orange, ink=None), replace(turquoise, ink=None)]) == [0, 1]


def test_light_before_dark_weighs_with_estimated_inks() -> None:
    inks = [InkInOrder(20, 0.2, find_ink("violet")), InkInOrder(85, 0.2, find_ink("yellow"))]
    assert print_order(inks) == [1, 0]


def test_overlap_carries_more() -> None:
    a, b = InkInOrder(20, 0.2, find_ink("black")), InkInOrder(80, 0.2, find_ink("yellow"))
    assert pair_cost(a, b, overlap=1.0) > 1.5 * pair_cost(a, b)


@settings(max_examples=15, deadline=None)
@given(st.permutations(["white", "black", "yellow", "red", "blue", "turquoise"]))
def test_order_does_not_depend_on_how_inks_are_listed(names: list[str]) -> None:
    inks = [InkInOrder(float(srgb8_to_lab(np.array(find_ink(n).srgb))[0]), 0.1, find_ink(n)) for n in names]
    order = [names[i] for i in print_order(inks)]
    assert order[0] == "white"
    assert order[-1] == "black"
