"""Places of many small parts, against SciPy's binary closing and labels of the same cells."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.ndimage import binary_closing, label

from sepkit.coverage.gathered import CELL_MM, WORD_GAP_CELLS, gathered
from sepkit.coverage.strokes import ThinPart


@pytest.mark.parametrize("seed", range(12))
def test_places_are_the_parts_of_closed_rows(seed):
    grid = np.random.default_rng(seed).random((14, 22)) < 0.15
    cells = np.argwhere(grid)
    middles = (cells[:, ::-1] + 0.5) * CELL_MM
    parts = [ThinPart((x, y), 1.0, 0.1, (x - 0.1, y - 0.1, x + 0.1, y + 0.1)) for x, y in middles.tolist()]
    room = np.pad(grid, WORD_GAP_CELLS)  # a closing needs room beside what it closes
    closed = binary_closing(room, np.ones((1, 2 * WORD_GAP_CELLS - 1), bool)) | room
    of = label(closed)[0][tuple((cells + WORD_GAP_CELLS).T)]
    want = [(*middles[of == number].min(axis=0), *middles[of == number].max(axis=0)) for number in np.unique(of)]
    boxes = [np.add(place.box_mm, (0.1, 0.1, -0.1, -0.1)) for place in gathered(parts)]
    assert sorted(tuple(np.round(box, 6)) for box in boxes) == sorted(tuple(np.round(box, 6)) for box in want)
