"""Ringing never becomes an ink, thin lines stay one; a soft shadow does not make the flat art beside it tonal."""

from __future__ import annotations

import numpy as np

from sepkit.model import Artwork, InkRequest
from sepkit.separation.separate import separate
from tests.benchmarks._art import kinds
from tests.benchmarks._art_drawing import Sheet, Truth, over, painted
from tests.benchmarks._art_flat import compressed

DARK = (18, 18, 20)
COLOURS = [(155, 222, 119), (0, 213, 255), (158, 156, 68)]


def web(side=300):
    sheet = Sheet(side, COLOURS, 8)
    for n in range(14):
        sheet.line(0, [(20 + 9 * n, 20), (60 + 9 * n, 140)], 2)
    sheet.polygon(1, [(40, 160), (250, 170), (230, 280), (60, 270)])
    for n in range(8):
        sheet.line(2, [(180 + 13 * n, 30 + 5 * n), (200 + 11 * n, 130)], 2.4)
    label, colours, _ = sheet.used()
    truth = Truth(label, colours, 8, side / 200 * 25.4, DARK)
    rgb = compressed(over(painted(sheet, truth, "painted"), DARK), 60)
    return Artwork(rgb, np.full(rgb.shape[:2], 255, np.uint8), 200.0, 200.0, "drawn")


def test_what_smears_between_lines_is_no_ink():
    found = separate(web(), DARK, InkRequest()).areas
    assert 2 <= len(found) <= len(COLOURS)  # lines of two pixels have lost most of their own colour
    for area in found:
        assert min(np.abs(np.array(area.srgb) - c).max() for c in COLOURS) < 24


def test_small_flat_inks_beside_a_broad_shadow_stay_flat_inks():
    kind = kinds()["shadow"]
    art, truth = kind.draw(9)
    row = kind.score(art, truth)
    assert row["fringe"] < 0.1 and row["lost"] == 0 and row["toned"] == 0
