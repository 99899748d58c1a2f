from __future__ import annotations

import numpy as np
import pytest
from scipy.ndimage import uniform_filter1d

from sepkit.coverage.sums import mean_of_whole


@pytest.mark.parametrize("shape", [(40, 31, 3), (1, 1, 3), (5, 70), (9, 2, 3)])
@pytest.mark.parametrize("reach", [0, 1, 4, 6, 11])
def test_means_of_whole_numbers_are_those_of_a_running_sum(shape, reach):
    rng = np.random.default_rng(7)
    levels = rng.integers(0, 256, shape, np.uint8)
    levels[rng.random(shape) < 0.2] = 255
    for whole in (levels, np.multiply(levels, levels, dtype=np.uint16)):
        for axis in (0, 1):
            plain = uniform_filter1d(whole.astype(np.float32), 2 * reach + 1, axis=axis, mode="nearest")
            found = mean_of_whole(whole, reach, axis=axis)
            assert found.dtype == np.float32
            assert np.array_equal(found, plain)
