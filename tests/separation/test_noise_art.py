"""Art in which no area has a colour of its own."""

from __future__ import annotations

import numpy as np

from sepkit.model import Artwork, InkRequest
from sepkit.separation.separate import separate


def test_pixels_that_share_nothing_are_separated_all_the_same():
    pixels = np.random.default_rng(5).integers(0, 2, (41, 48, 3), np.uint8) * 255
    art = Artwork(pixels, np.full((41, 48), 255, np.uint8), 30.0, 25.6, "noise.png")
    flat = separate(art, (255, 255, 255), InkRequest())
    assert flat.areas
    assert max(int(area.coverage.max()) for area in flat.areas) > 127
