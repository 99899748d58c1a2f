"""Tone maps held against the plain way: each region's colours gathered and counted by themselves."""

from __future__ import annotations

import numpy as np
import pytest
from scipy import ndimage

from sepkit.separation import tones, tuned_colours
from sepkit.separation import tuned_mixing as tuned
from sepkit.separation.noise import range3


def _art(seed: int) -> tuple[np.ndarray, np.ndarray]:
    """Return a picture of ramps, of flat colours that ramps run out of, and of grain, and where it is opaque."""
    rng = np.random.default_rng(seed)
    height, width = (int(v) for v in rng.integers(60, 150, 2))
    y, x = np.mgrid[0:height, 0:width]
    picture = np.empty((height, width, 3), np.uint8)
    start, across, down = (rng.integers(20, 120, 3), *(rng.uniform(0, 0.9, 3) for _ in range(2)))
    picture[...] = np.clip(start + across * x[..., None] + down * y[..., None], 0, 255)
    picture[:, x[0] < width // 3] = picture[:, width // 3 : width // 3 + 1]  # a flat half, rows of a ramp
    picture[: height // 3, : width // 3] = picture[height // 3, 0]
    some = slice(int(height * 0.7), None)
    picture[some] = np.clip(picture[some] + rng.normal(0, 6, picture[some].shape), 0, 255)
    opaque = np.ones((height, width), bool)
    opaque[rng.integers(0, height)] = False
    return picture, opaque


def _plain(picture: np.ndarray, opaque: np.ndarray, *, pixel_mm2: float, noisy: bool) -> np.ndarray:
    step = 2 if noisy else 1
    height, width = (side // step * step for side in opaque.shape)
    blocks = picture[:height, :width].reshape(height // step, step, width // step, step, 3)
    small = blocks.mean(axis=(1, 3)).astype(np.uint8) if noisy else picture
    smooth = range3(small) <= tuned_colours.KINDS.soft_range_levels * step
    number, count = ndimage.label(smooth & opaque[::step, ::step][: len(small), : small.shape[1]])
    mask = np.zeros(number.shape, bool)
    for region in range(1, count + 1):
        own = small[number == region]
        if len(own) * step * step < max(tuned.TONES.least_mm2 / pixel_mm2, tuned.TONES.least_px):
            continue
        if not (own.std(axis=0) > tuned_colours.of_art(noisy).travel_levels).any():
            continue
        mask |= number == region
        colours, counts = np.unique(own, axis=0, return_counts=True)
        for colour in colours[counts > tuned.TONES.plateau_share * len(own)] if not noisy else []:
            mask &= ~((number == region) & (small == colour).all(axis=2))
    out = np.zeros(opaque.shape, bool)
    out[:height, :width] = mask.repeat(step, 0).repeat(step, 1)
    return out


@pytest.mark.parametrize("noisy", [False, True])
@pytest.mark.parametrize("seed", range(8))
def test_tones_are_the_regions_that_travel_without_their_flat_colours(seed: int, noisy: bool) -> None:
    picture, opaque = _art(seed)
    found = tones.tone_map(picture, opaque, pixel_mm2=0.02, noisy=noisy)
    assert np.array_equal(found, _plain(picture, opaque, pixel_mm2=0.02, noisy=noisy))
    assert 0 < found.mean() < 1
