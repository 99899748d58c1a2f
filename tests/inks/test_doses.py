from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from sepkit.errors import UsageError
from sepkit.files.shelf.inkfile import find_ink
from sepkit.inks.doses import let_downs, round_doses, weighing_findings


@settings(max_examples=80, deadline=None)
@given(st.lists(st.floats(0.001, 1), min_size=1, max_size=4), st.floats(50, 2000), st.sampled_from([0.01, 0.1, 1.0]))
def test_doses_sum_to_the_batch_and_lie_on_the_scale(weights: list[float], batch: float, step: float) -> None:
    shares = np.array(weights) / sum(weights)
    grams = round_doses(shares, batch, step)
    assert grams.sum() == pytest.approx(round(batch / step) * step, abs=step * 1e-3)
    assert np.abs(grams - shares * batch).max() <= step * 1.51
    assert np.abs(grams / step - np.rint(grams / step)).max() < 1e-3


def test_a_small_dose_becomes_a_paste_that_holds_it() -> None:
    inks = [find_ink("white"), find_ink("black")]
    paste = let_downs(inks, np.array([99.5, 0.5]), 0.1)[0]
    assert (paste.strong, paste.main) == ("black", "white")
    assert paste.use_g * paste.strong_g / (paste.strong_g + paste.main_g) == pytest.approx(0.5)
    assert paste.strong_g + paste.main_g >= paste.use_g
    assert paste.strong_g >= 20 * 0.1 - 1e-9
    assert let_downs(inks, np.array([95.0, 5.0]), 0.1) == []


def test_what_to_know_before_weighing() -> None:
    white, black = find_ink("white"), find_ink("black")
    codes = {f.code for f in weighing_findings([white, black], np.array([0.9999, 0.0001]), np.array([100.0, 0.0]), 0.1)}
    assert codes == {"dose-lost"}
    codes = {f.code for f in weighing_findings([white, black], np.array([0.99, 0.01]), np.array([99.0, 1.0]), 0.1)}
    assert codes == {"dose-coarse"}
    water = replace(black, kind="water-based")
    found = weighing_findings([white, water], np.array([0.5, 0.5]), np.array([50.0, 50.0]), 0.1)
    assert [f.code for f in found] == ["kinds-mixed"]
    strong = replace(black, kind="plastisol concentrate")
    found = weighing_findings([white, strong], np.array([0.7, 0.3]), np.array([70.0, 30.0]), 0.1)
    assert [f.code for f in found] == ["pigment-load"]


@pytest.mark.parametrize(("batch", "step"), [(1.0, 0.1), (float("nan"), 0.1), (100, 0), (100, -1), (1e9, 1)])
def test_a_batch_the_scale_cannot_weigh(batch: float, step: float) -> None:
    with pytest.raises(UsageError):
        round_doses(np.array([1.0]), batch, step)
