from __future__ import annotations

import numpy as np
import pytest

from sepkit.coverage.channels import greatest, least


@pytest.mark.parametrize("kind", [np.uint8, np.int16, np.float32, np.float64])
@pytest.mark.parametrize("shape", [(7, 5, 3), (9, 3), (4, 6, 2), (0, 3)])
def test_channels_are_compared_as_along_their_axis(kind, shape):
    channels = (np.random.default_rng(1).random(shape) * 200).astype(kind)
    before = channels.copy()
    for found, plain in ((greatest(channels), channels.max(axis=-1)), (least(channels), channels.min(axis=-1))):
        assert found.dtype == plain.dtype
        assert np.array_equal(found, plain)
    assert np.array_equal(channels, before)
