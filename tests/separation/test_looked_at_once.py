"""What is looked at in squares and by runs is what a look at each pixel, and SciPy's labels, give."""

from __future__ import annotations

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import ndimage

from sepkit.separation.cores import NONE, bit_table, gather
from sepkit.separation.specks import _small_spots

COUNT = 4


@settings(max_examples=40, deadline=None)
@given(st.integers(0, 1 << 30), st.floats(1, 40))
def test_small_spots_are_those_of_labels(seed: int, speck_px: float) -> None:
    rng = np.random.default_rng(seed)
    cells = rng.integers(0, COUNT + 1, (int(rng.integers(1, 24)), int(rng.integers(1, 24))))
    dominant = np.kron(cells, np.ones(rng.integers(1, 5, 2), int)).astype(np.uint8)
    dominant[rng.random(dominant.shape) < 0.1] = 0
    dominant[dominant == COUNT] = NONE
    at, member, number = _small_spots(dominant, COUNT, speck_px)
    assert np.array_equal(dominant.ravel()[at], member)
    spots = {tuple(at[number == spot]) for spot in np.unique(number)}
    expected = set()
    for m in range(COUNT):
        labels, count = ndimage.label(dominant == m, structure=np.ones((3, 3), bool))
        parts = [np.flatnonzero(labels.ravel() == k) for k in range(1, count + 1)]
        expected |= {tuple(part) for part in parts if len(part) < speck_px}
    assert spots == expected


@settings(max_examples=30, deadline=None)
@given(st.integers(0, 1 << 30), st.integers(1, 6))
def test_what_squares_hold_is_the_same_for_few_pixels_and_for_many(seed: int, radius: int) -> None:
    rng = np.random.default_rng(seed)
    plane = np.where(rng.random(rng.integers(1, 160, 2)) < 0.7, NONE, rng.integers(0, 32)).astype(np.uint8)
    plane[rng.random(plane.shape) < 0.1] = 3
    at, table = rng.permutation(plane.size), bit_table()
    many = gather(plane, at, table, radius=radius)
    few = [gather(plane, at[:9], table, radius=radius), many[9:]]
    assert np.array_equal(many, np.concatenate(few))
    y, x = divmod(int(at[0]), plane.shape[1])
    square = plane[max(0, y - radius) : y + radius + 1, max(0, x - radius) : x + radius + 1]
    assert many[0] == np.bitwise_or.reduce(table[square], axis=None)
