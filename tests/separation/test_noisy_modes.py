"""Modes of noisy pictures, held against all colours looked at each time."""

from __future__ import annotations

import numpy as np
import pytest

from sepkit.coverage.channels import pack
from sepkit.separation import palette, tuned_colours


@pytest.mark.parametrize("seed", range(5))
def test_colours_of_a_mode_are_those_near_it(seed: int) -> None:
    rng = np.random.default_rng(seed)
    middles = rng.integers(0, 256, (12, 3))
    drawn = middles[rng.integers(0, 12, 4000)] + rng.normal(0, 8, (4000, 3))
    keys = np.unique(pack(np.clip(drawn, 0, 255).astype(np.uint8)))
    levels = np.ascontiguousarray(palette.unpack(keys).T, np.float32)
    for top in rng.integers(0, len(keys), 40):
        centre = levels[:, top]
        plain = ((levels.T - centre) ** 2).sum(axis=1) <= tuned_colours.FLATS.peel_levels**2
        assert np.array_equal(palette._near(levels, centre), np.flatnonzero(plain))


def test_what_a_mode_holds_is_counted_once() -> None:
    keys = pack(np.array([(100, 100, 100), (104, 100, 100), (200, 20, 20)], np.uint8))
    found = palette.noisy_members(keys, np.array([50, 30, 40]), floor_px=10)
    assert [(one.rgb, one.pixels) for one in found] == [((100, 100, 100), 80), ((200, 20, 20), 40)]
