"""Spares against scipy.stats (binomial distribution) and a table worked out from it by hand for a 95 % chance."""

from __future__ import annotations

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from sepkit.press.spares import chance_filled, compounded_loss, spares_needed

# Rows: pieces ordered; columns: loss 2, 3, 5, 8, 10 % (binomial tail, 95 % chance of filling the order).
LOSSES = (0.02, 0.03, 0.05, 0.08, 0.10)
TABLE = {
    5: (1, 1, 1, 2, 2),
    10: (1, 1, 2, 3, 3),
    20: (2, 2, 3, 4, 5),
    40: (3, 3, 5, 7, 8),
    80: (4, 5, 8, 12, 14),
    150: (6, 8, 13, 20, 24),
}


@pytest.mark.parametrize("pieces", TABLE)
def test_spares_as_in_the_table(pieces: int) -> None:
    assert tuple(spares_needed(pieces, loss, 0.95) for loss in LOSSES) == TABLE[pieces]


@settings(max_examples=60, deadline=None)
@given(st.integers(1, 400), st.floats(0.001, 0.4), st.floats(0.5, 0.999))
def test_spares_are_the_fewest_by_scipy(pieces: int, loss: float, certainty: float) -> None:
    from scipy.stats import binom

    spares = spares_needed(pieces, loss, certainty)

    def chance(s: int) -> float:
        return float(binom.sf(pieces - 1, pieces + s, 1 - loss))

    assert chance(spares) >= certainty - 1e-9
    assert spares == 0 or chance(spares - 1) < certainty + 1e-9
    assert chance_filled(pieces, spares, loss) == pytest.approx(chance(spares), abs=1e-9)


def test_loss_compounds_over_placements() -> None:
    assert compounded_loss([0.02] * 4) == pytest.approx(1 - 0.98**4)
    assert compounded_loss([0.03] * 4) == pytest.approx(0.1147, abs=1e-4)
    assert compounded_loss([]) == 0.0
