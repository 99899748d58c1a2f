"""The shop's own figures: against scipy.stats and sums by hand, with their bands."""

from __future__ import annotations

import pytest
from scipy.stats import beta, t

from sepkit.jobs import RunRow, ShopFigures
from sepkit.press.figures import shop_figures


def printed(run: str, pieces: float, lost: float | None, place: str = "full front") -> RunRow:
    return RunRow(run, "print", "front", "tee", place, "M", pieces, lost)


def took(run: str, planned: float, minutes: float | None, factor: float = 1.0) -> RunRow:
    return RunRow(run, "round", "front", "tee", "full front", "", planned, minutes, factor)


def test_nothing_filled_in_tells_nothing() -> None:
    assert shop_figures([]) == ShopFigures()
    assert shop_figures([printed("a", 10, None), took("a", 60, None)]) == ShopFigures()


def test_losses_count_on_from_the_usual_one() -> None:
    rows = [printed("a", 60, 3), printed("b", 90, 6), printed("b", 50, 0, "nape")]
    figures = shop_figures(rows)
    front = figures.losses["full front"]
    # 9 of 150, beside 1 of 50 that the usual 2 % is worth.
    assert front.value == pytest.approx(10 / 200)
    assert (front.low, front.high) == pytest.approx(beta.interval(0.8, 10, 190))
    assert (front.runs, front.counted) == (2, 150)
    assert figures.losses["nape"].value == pytest.approx(1 / 100)


def test_ratios_are_told_from_the_usual_whatever_the_plan_knew() -> None:
    # The second run was planned with a pace of 1.2 already: 120 planned minutes are 100 usual ones.
    pace = shop_figures([took("a", 100, 120), took("b", 120, 150, factor=1.2)]).pace
    assert pace is not None
    assert pace.value == pytest.approx((1.2 * 1.5) ** 0.5)
    assert pace.high / pace.value == pytest.approx(1.25 ** (0.5 * t.ppf(0.9, 1)))
    assert pace.runs == 2
    one = shop_figures([took("a", 100, 120)]).pace
    assert one is not None and (one.low, one.high) == pytest.approx((1.2 / 1.3, 1.2 * 1.3))
