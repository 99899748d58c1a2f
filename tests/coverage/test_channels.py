from __future__ import annotations

import numpy as np
import pytest

from sepkit.coverage.channels import greatest, least, pack, pixels_at, pixels_where, total


@pytest.mark.parametrize("kind", [np.uint8, np.int16, np.float32, np.float64])
@pytest.mark.parametrize("shape", [(7, 5, 3), (9, 3), (4, 6, 2), (0, 3)])
def test_channels_are_compared_as_along_their_axis(kind, shape):
    channels = (np.random.default_rng(1).random(shape) * 200).astype(kind)
    before = channels.copy()
    for found, plain in ((greatest(channels), channels.max(axis=-1)), (least(channels), channels.min(axis=-1))):
        assert found.dtype == plain.dtype
        assert np.array_equal(found, plain)
    assert np.array_equal(channels, before)


@pytest.mark.parametrize("kind", [np.float32, np.float64])
@pytest.mark.parametrize("count", range(12))
def test_channels_add_up_to_the_same_bits_as_along_their_axis(kind, count):
    rng = np.random.default_rng(count)
    channels = (rng.normal(size=(50, 9, count)) * 10 ** rng.uniform(-3, 3, (50, 9, count))).astype(kind)
    assert np.array_equal(total(channels), channels.sum(axis=-1))


def test_pixels_are_taken_as_by_masks():
    rng = np.random.default_rng(2)
    picture, mask = rng.integers(0, 256, (8, 9, 3), np.uint8), rng.random((8, 9)) < 0.4
    assert np.array_equal(pixels_where(picture, mask), picture[mask])
    assert np.array_equal(pixels_where(picture[1:7, ::2], mask[1:7, ::2]), picture[1:7, ::2][mask[1:7, ::2]])
    at = rng.integers(0, 72, (4, 5))
    assert np.array_equal(pixels_at(picture, at), picture.reshape(-1, 3)[at])
    r, g, b = (picture[..., k].astype(np.uint32) for k in range(3))
    assert np.array_equal(pack(picture), r << 16 | g << 8 | b)
