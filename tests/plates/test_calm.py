from __future__ import annotations

import numpy as np

from sepkit.plates.tonal import calm


def test_a_picture_is_calmed_the_same_in_any_bands(monkeypatch):
    rng = np.random.default_rng(8)
    ramp = np.linspace(20, 220, 130)[:, None, None] + np.zeros((130, 50, 3))
    picture = np.clip(np.rint(ramp + rng.normal(0, 2, ramp.shape)), 0, 255).astype(np.uint8)
    picture[60:90, 10:30] = 240
    whole = calm.calmed(picture)
    monkeypatch.setattr(calm, "BAND_ROWS", 17)
    monkeypatch.setattr(calm, "BAND_PX", 1)
    assert np.array_equal(calm.calmed(picture), whole)
