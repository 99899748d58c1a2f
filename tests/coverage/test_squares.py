"""Squares of a few pixels are those of scipy.ndimage."""

from __future__ import annotations

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.ndimage import grey_opening, uniform_filter

from sepkit.coverage.squares import opened_by_square, sums_of_squares


def plane(seed: int, least: int) -> np.ndarray:
    rng = np.random.default_rng(seed)
    cells = rng.integers(0, 256, rng.integers(least, least + 20, 2))
    return np.kron(cells, np.ones(rng.integers(1, 4, 2), int)).astype(np.uint8)


@settings(max_examples=60, deadline=None)
@given(st.integers(0, 1 << 30), st.integers(1, 7))
def test_openings(seed: int, side_px: int) -> None:
    given_plane = plane(seed, side_px)
    assert np.array_equal(opened_by_square(given_plane, side_px), grey_opening(given_plane, (side_px, side_px)))


@settings(max_examples=40, deadline=None)
@given(st.integers(0, 1 << 30), st.sampled_from([1, 3, 5]))
def test_sums(seed: int, side: int) -> None:
    values = plane(seed, 1).astype(np.uint32)
    means = uniform_filter(values.astype(np.float64), side, mode="constant")
    assert np.allclose(sums_of_squares(values, side), means * side * side)
