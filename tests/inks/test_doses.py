from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from sepkit.errors import UsageError
from sepkit.inks.doses import Dose, let_downs, round_doses, weigh_out, weighing_findings
from sepkit.model import Ink
from tests.helpers.shelf import find_ink


@settings(max_examples=80, deadline=None)
@given(st.lists(st.floats(0.001, 1), min_size=1, max_size=4), st.floats(50, 2000), st.sampled_from([0.01, 0.1, 1.0]))
def test_doses_sum_to_the_batch_and_lie_on_the_scale(weights: list[float], batch: float, step: float) -> None:
    shares = np.array(weights) / sum(weights)
    grams = round_doses(shares, batch, step)
    assert grams.sum() == pytest.approx(round(batch / step) * step, abs=step * 1e-3)
    assert np.abs(grams - shares * batch).max() <= step * 1.51
    assert np.abs(grams / step - np.rint(grams / step)).max() < 1e-3


def test_a_batch_weighed_out_keeps_its_order_and_shares() -> None:
    white, black = find_ink("white"), find_ink("black")
    doses = weigh_out([(black, 0.047), (white, 0.953)], 100, 0.1)
    assert [(dose.ink.name, dose.mass_share, dose.mass_g) for dose in doses] == [
        ("black", 0.047, 4.7),
        ("white", 0.953, 95.3),
    ]


def test_a_small_dose_becomes_a_paste_that_holds_it() -> None:
    paste = let_downs(doses(99.5, 0.5), 0.1)[0]
    assert (paste.strong, paste.main) == ("black", "white")
    assert paste.use_g * paste.strong_g / (paste.strong_g + paste.main_g) == pytest.approx(0.5)
    assert paste.strong_g + paste.main_g >= paste.use_g
    assert paste.strong_g >= 20 * 0.1 - 1e-9
    assert let_downs(doses(95.0, 5.0), 0.1) == ()


def test_what_to_know_before_weighing() -> None:
    white, black = find_ink("white"), find_ink("black")
    lost = [Dose(white, 0.9999, 100.0), Dose(black, 0.0001, 0.0)]
    assert [f.code for f in weighing_findings(lost, 0.1)] == ["dose-lost"]
    assert [f.code for f in weighing_findings(doses(99.0, 1.0), 0.1)] == ["dose-coarse"]
    water = replace(black, kind="water-based")
    assert [f.code for f in weighing_findings(doses(50.0, 50.0, water), 0.1)] == ["kinds-mixed"]
    strong = replace(black, kind="plastisol concentrate")
    assert [f.code for f in weighing_findings(doses(70.0, 30.0, strong), 0.1)] == ["pigment-load"]


def test_an_ink_without_a_share_is_not_weighed_and_says_nothing() -> None:
    water = replace(find_ink("black"), kind="water-based")
    assert weighing_findings(doses(100.0, 0.0), 0.1) == []
    assert weighing_findings(doses(100.0, 0.0, water), 0.1) == []


def doses(white_g: float, other_g: float, other: Ink | None = None) -> list[Dose]:
    total = white_g + other_g
    return [
        Dose(find_ink("white"), white_g / total, white_g),
        Dose(other or find_ink("black"), other_g / total, other_g),
    ]


@pytest.mark.parametrize(("batch", "step"), [(1.0, 0.1), (float("nan"), 0.1), (100, 0), (100, -1), (1e9, 1)])
def test_a_batch_the_scale_cannot_weigh(batch: float, step: float) -> None:
    with pytest.raises(UsageError):
        round_doses(np.array([1.0]), batch, step)
