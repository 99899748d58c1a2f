"""Rounds on a press with few heads, and flashes. What may be reloaded (2 to 4 mm) is common practice."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from sepkit.errors import UsageError
from sepkit.plates.rounds import distances_mm, flash_reasons, overlap_shares, plan_rounds

DPI = 50.8  # 2 px per mm
SHAPE = (120, 400)


def box(left_mm: float, right_mm: float, top_mm: float = 10, bottom_mm: float = 50) -> np.ndarray:
    plane = np.zeros(SHAPE, np.uint8)
    plane[round(top_mm * 2) : round(bottom_mm * 2), round(left_mm * 2) : round(right_mm * 2)] = 255
    return plane


def test_all_screens_share_a_round_when_they_fit() -> None:
    found = plan_rounds([box(10, 20), box(20, 30)], heads=2, dpi=DPI)
    assert found.rounds == ((0, 1),)
    assert found.parted == ()


def test_what_stands_alone_is_reloaded_and_what_touches_stays_together() -> None:
    base, red, text = box(10, 60), box(10, 60), box(100, 140)
    found = plan_rounds([base, text, red], heads=2, dpi=DPI)
    assert found.rounds == ((0, 2), (1,))
    assert found.parted == ()
    assert found.reload_after(1)
    assert sorted(found.order) == [0, 1, 2]


def test_three_that_touch_on_two_heads_cannot_be_reloaded() -> None:
    planes = [box(10, 60), box(10, 40), box(40, 60)]
    found = plan_rounds(planes, heads=2, dpi=DPI)
    assert found.rounds == ((0, 1), (2,))
    assert {pair[:2] for pair in found.parted} == {(0, 2), (1, 2)}
    assert not found.reload_after(1)


@pytest.mark.parametrize(("gap_mm", "apart"), [(2.0, False), (3.0, False), (6.0, True), (12.0, True)])
def test_two_to_four_mm_decide(gap_mm: float, apart: bool) -> None:
    planes = [box(10, 40), box(40 + gap_mm, 80 + gap_mm)]
    found = plan_rounds(planes, heads=1, dpi=DPI)
    assert (found.parted == ()) is apart


def test_distances_are_those_between_the_edges() -> None:
    found = distances_mm([box(10, 40), box(43, 60), box(100, 120)], dpi=DPI, most_mm=8)
    assert found[0, 1] == pytest.approx(3.0, abs=0.75)
    assert np.isinf(found[0, 2])


def test_no_heads_is_one_clear_line() -> None:
    with pytest.raises(UsageError, match="0 heads"):
        plan_rounds([box(10, 20)], heads=0, dpi=DPI)


@settings(max_examples=40, deadline=None)
@given(st.lists(st.tuples(st.integers(0, 150), st.integers(5, 50)), min_size=1, max_size=7), st.integers(1, 4))
def test_rounds_keep_every_screen_once_and_the_order_of_those_that_touch(
    boxes: list[tuple[int, int]], heads: int
) -> None:
    planes = [box(left, left + width) for left, width in boxes]
    found = plan_rounds(planes, heads=heads, dpi=DPI)
    assert sorted(found.order) == list(range(len(planes)))
    assert all(1 <= len(screens) <= heads for screens in found.rounds)
    assert all(list(screens) == sorted(screens) for screens in found.rounds)
    apart = distances_mm(planes, dpi=DPI, most_mm=4)
    place = {index: at for at, index in enumerate(found.order)}
    for a in range(len(planes)):
        for b in range(a + 1, len(planes)):
            if apart[a, b] <= 4:
                assert place[a] < place[b], "screens that touch keep their order"
                parted = found.round_of(a) != found.round_of(b)
                assert parted == any(pair[:2] == (a, b) for pair in found.parted)


def test_flash_after_base_before_highlight_at_the_end_of_a_round_and_under_much_ink() -> None:
    planes = [box(10, 60), box(10, 30), box(32, 60), box(10, 60)]
    names = ["underbase", "yellow", "red", "white"]
    shares = overlap_shares(planes, dpi=DPI)
    reasons = flash_reasons(shares, roles=["underbase", "colour", "colour", "highlight"], names=names, rounds=[1] * 4)
    assert [bool(r) for r in reasons] == [True, False, True, False]
    split = flash_reasons(shares, roles=["underbase", "colour", "colour", "colour"], names=names, rounds=[1, 1, 2, 2])
    assert "round" in split[1]
    wet = flash_reasons(shares, roles=["colour"] * 4, names=names, rounds=[1] * 4)
    assert "yellow falls on underbase" in wet[0]
    assert wet[1] == "", "what lies under red was flashed before"
    assert "white falls on" in wet[2]


def test_overlap_is_a_share_of_the_later_ink() -> None:
    shares = overlap_shares([box(10, 60), box(50, 70)], dpi=DPI)
    assert shares[0, 1] == pytest.approx(0.5, abs=0.05)
    assert shares[1, 0] == pytest.approx(0.2, abs=0.05)
