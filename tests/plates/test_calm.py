from __future__ import annotations

import numpy as np
import pytest

from sepkit.plates.tonal import calm


@pytest.mark.parametrize("shape", [(40, 31, 3), (1, 1, 3), (5, 70, 3), (9, 2, 3)])
@pytest.mark.parametrize("axis", [0, 1])
def test_means_of_whole_numbers_are_those_of_a_running_sum(shape, axis):
    rng = np.random.default_rng(7)
    levels = rng.integers(0, 256, shape, np.uint8)
    levels[rng.random(shape) < 0.2] = 255
    for whole in (levels, np.multiply(levels, levels, dtype=np.uint16)):
        found = calm._mean_of_whole(whole, axis)
        assert found.dtype == np.float32
        assert np.array_equal(found, calm._mean(whole.astype(np.float32), axis))


def test_a_picture_is_calmed_the_same_in_any_bands(monkeypatch):
    rng = np.random.default_rng(8)
    ramp = np.linspace(20, 220, 130)[:, None, None] + np.zeros((130, 50, 3))
    picture = np.clip(np.rint(ramp + rng.normal(0, 2, ramp.shape)), 0, 255).astype(np.uint8)
    picture[60:90, 10:30] = 240
    whole = calm.calmed(picture)
    monkeypatch.setattr(calm, "BAND_ROWS", 17)
    monkeypatch.setattr(calm, "BAND_PX", 1)
    assert np.array_equal(calm.calmed(picture), whole)
