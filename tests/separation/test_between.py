"""Inks on the mixing line of two others: a grey edge of black on white is no grey ink, a grey body is."""

from __future__ import annotations

import numpy as np
import pytest

from sepkit.model import Artwork, InkRequest
from sepkit.separation.between import middles
from sepkit.separation.separate import separate
from sepkit.separation.shares import Members
from tests.benchmarks import _art_measures as measures
from tests.benchmarks._art_drawing import Sheet, Truth, painted

BLACK, GREY, WHITE = (0, 0, 0), (128, 128, 128), (255, 255, 255)
NAVY = (36, 52, 92)


def members(*colours):
    return Members(np.array(colours, np.uint8), np.full(len(colours), 255, np.uint8))


def scored(sheet):
    label, colours, _ = sheet.used(20)
    truth = Truth(label, colours, sheet.scale, 300.0, NAVY)
    rgba = painted(sheet, truth, "painted")
    side = rgba.shape[0] / 300 * 25.4
    art = Artwork(rgba[..., :3].copy(), rgba[..., 3].copy(), side, side, "drawn")
    planes = {a.srgb: a.coverage / 255 for a in separate(art, NAVY, InkRequest()).areas}
    return truth, planes, measures.covered(list(planes.items()), measures.matched(list(planes.items()), truth), truth)


def test_a_middle_member_is_found_with_its_ends():
    (found,) = middles(members(BLACK, GREY, WHITE, (200, 30, 30)), "encoded")
    assert (found.number, found.low, found.high) == (1, 0, 2) and found.place == pytest.approx(125.5, abs=1)
    assert middles(members(BLACK, WHITE, (128, 100, 60)), "encoded") == ()
    assert middles(members(BLACK, WHITE, (188, 188, 188)), "linear")  # half the light of white


def test_thin_black_lines_on_white_beside_grey_hold_no_grey():
    sheet = Sheet(200, [BLACK, GREY, WHITE], 8)
    sheet.disc(2, 100, 100, 95)
    sheet.disc(1, 100, 60, 20)
    for n in range(9):
        sheet.line(0, [(40 + 4 * n, 45), (60 + 9 * n, 160.4)], 0.9 + 0.2 * n)
    truth, planes, row = scored(sheet)
    assert row["fringe"] < 0.05 and row["specks"] == 0
    grey = planes[GREY]
    assert abs(grey.sum() - truth.cover(1).sum()) < 0.02 * truth.cover(1).sum()


def test_a_grey_body_keeps_its_edges_on_both_sides():
    sheet = Sheet(160, [BLACK, GREY, WHITE], 8)
    sheet.disc(2, 80, 80, 75)
    sheet.disc(0, 50, 80, 30)
    sheet.disc(1, 85.3, 80.2, 22)  # on black at its left, on white at its right
    truth, planes, row = scored(sheet)
    assert row["fringe"] == 0 and row["edge pp"] < 2
    assert (np.abs(planes[GREY] - truth.cover(1)) > 0.3).sum() <= 3  # where all three meet


def test_a_thin_grey_line_stays_grey():
    sheet = Sheet(160, [BLACK, GREY, WHITE], 8)
    sheet.disc(2, 80, 80, 75)
    sheet.disc(0, 30, 80, 14)
    sheet.disc(1, 130, 80, 12)
    sheet.line(1, [(60, 30), (100.4, 130)], 1.8)
    truth, planes, row = scored(sheet)
    assert row["fringe"] < 0.3 and row["lost"] == 0
    assert planes[GREY][20:140, 55:105].sum() == pytest.approx(truth.cover(1)[20:140, 55:105].sum(), rel=0.05)
