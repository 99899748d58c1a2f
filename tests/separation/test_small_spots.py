"""Small spots found by runs are those that SciPy's labels of each member give."""

from __future__ import annotations

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import ndimage

from sepkit.separation.cores import NONE
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
