"""Art of many colours without one soft pixel: there is nothing to solve at its edges."""

from __future__ import annotations

import numpy as np
from PIL import Image

from sepkit.files.art.artwork import read_artwork
from sepkit.model import InkRequest
from sepkit.separation.separate import separate


def test_stripes_with_hard_edges_are_their_colours(tmp_path):
    rgb = np.zeros((40, 17 * 20, 3), np.uint8)
    for k in range(17):
        rgb[:, 20 * k : 20 * k + 20] = (15 * k, (97 * k) % 256, 255 - 13 * k)
    Image.fromarray(rgb).save(tmp_path / "stripes.png")
    art = read_artwork(tmp_path / "stripes.png", width_mm=200, height_mm=None, film_dpi=720)
    flat = separate(art, (26, 26, 28), InkRequest())
    found = [area for area in flat.areas if area.coverage.any()]
    assert len(found) >= 12
    assert all(set(np.unique(area.coverage)) <= {0, 255} for area in found)
