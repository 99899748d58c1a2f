"""Coverage planes laid together."""

from __future__ import annotations

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.ndimage import maximum_filter

from sepkit.coverage.sums import strongest_near


@given(st.integers(0, 7), st.integers(1, 30), st.integers(1, 30), st.integers(0, 9))
@settings(max_examples=30)
def test_thestrongest_near_a_pixel_is_that_of_a_filter_of_the_registry(reach, height, width, seed):
    """Held against scipy.ndimage.maximum_filter."""
    plane = np.random.default_rng(seed).integers(0, 256, (height, width)).astype(np.uint8)
    assert (strongest_near(plane, reach) == maximum_filter(plane, 2 * reach + 1, mode="nearest")).all()
