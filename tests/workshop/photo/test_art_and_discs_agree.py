from __future__ import annotations

import numpy as np
import pytest

from sepkit.film.check_discs import AROUND_MM
from sepkit.reading.subject import PX_PER_MM
from sepkit.workshop.photo.subject import _plane


@pytest.mark.parametrize(("side_mm", "px"), [(40.0, 472), (40.03, 473), (40.07, 1000)])
def test_art_lies_where_coordinates_say_whatever_its_size(side_mm, px):
    """A bar between known shares of the art, at its far side: its edges by its sum, to a few hundredths of a mm."""
    margin = float(np.ceil(AROUND_MM * PX_PER_MM)) / PX_PER_MM
    printed = np.zeros((px, px), np.uint8)
    printed[:, px // 2 :] = 255
    plane = _plane(printed, (), (side_mm, side_mm), margin)
    row = plane[plane.shape[0] // 2] / 255
    inked = np.flatnonzero(row)
    right = (inked[-1] + row[inked[-1]]) / PX_PER_MM - margin
    left = right - row.sum() / PX_PER_MM
    assert right == pytest.approx(side_mm, abs=0.02)
    assert left == pytest.approx(side_mm * (px // 2) / px, abs=0.02)
