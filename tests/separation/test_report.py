"""What a separation tells people, and where."""

from __future__ import annotations

import numpy as np
import pytest

from sepkit.model import Artwork, FlatSeparation, InkArea, InkRequest
from sepkit.separation.report import Facts, findings_of


@pytest.mark.parametrize("factor", [1.0, 2.0, 3.5])
def test_places_that_inks_do_not_explain_are_told_on_the_arts_own_grid(factor: float) -> None:
    """Also where the picture was separated on a smaller grid, from which the plane was enlarged again."""
    height, width = 400, 600
    art = Artwork(np.zeros((height, width, 3), np.uint8), np.full((height, width), 255, np.uint8), 150.0, 100.0, "a")
    unexplained = np.zeros((height, width), np.uint8)
    unexplained[300:340, 480:520] = 255  # 75 to 85 mm down, 120 to 130 mm right
    flat = FlatSeparation(
        (InkArea((200, 30, 30), np.zeros((height, width), np.uint8)),), (0, 0, 0), "encoded", unexplained=unexplained
    )
    small = (round(height / factor), round(width / factor))
    facts = Facts(
        pixel_mm=(150.0 / small[1], 100.0 / small[0]),
        edge_width_px=1.0,
        factor=factor,
        blurred=False,
        open_share=0.0,
        open_at=None,
        veil_share=0.0,
        colours_found=1,
        shape=small,
    )
    (told,) = [one for one in findings_of(art, flat, InkRequest(), facts) if one.code == "unexplained"]
    assert told.place_mm is not None
    assert 120 <= told.place_mm[0] <= 130
    assert 75 <= told.place_mm[1] <= 85
    assert f"{told.place_mm[0]:.0f}, {told.place_mm[1]:.0f} mm" in told.text
