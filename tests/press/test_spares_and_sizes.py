from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from sepkit.errors import UsageError
from sepkit.press.spares import CURVES, blended_curve, shared_out, spares_needed


def test_largest_remainder_worked_by_hand() -> None:
    # 36 pieces: 5.4, 9, 9, 7.2, 3.6, 1.8 -> floors 5 9 9 7 3 1 (34), two left to the remainders .8 and .6.
    assert shared_out(36, CURVES["common"]) == {"S": 5, "M": 9, "L": 9, "XL": 7, "2XL": 4, "3XL": 2}


@settings(max_examples=60, deadline=None)
@given(st.integers(0, 5000), st.lists(st.floats(0.01, 50), min_size=1, max_size=8))
def test_shares_add_up_and_lie_within_one(total: int, parts: list[float]) -> None:
    shares = {str(n): part for n, part in enumerate(parts)}
    out = shared_out(total, shares)
    assert sum(out.values()) == total
    for size, share in shares.items():
        assert abs(out[size] - total * share / sum(parts)) < 1 + 1e-6


def test_no_loss_needs_no_spare_and_all_lost_says_so() -> None:
    assert spares_needed(50, 0.0, 0.95) == 0
    with pytest.raises(UsageError, match="cannot be covered"):
        spares_needed(5, 1.0, 0.95)


def test_orders_outweigh_the_curve_as_they_come_in() -> None:
    few = blended_curve({"M": 1}, {"S": 1, "M": 1})
    many = blended_curve({"M": 1000}, {"S": 1, "M": 1})
    assert few["M"] / sum(few.values()) < 0.55
    assert many["M"] / sum(many.values()) > 0.98
