"""Ruled and squared paper: the sheet's printed lines go, what a pen drew stays."""

from __future__ import annotations

import numpy as np
from scipy.ndimage import binary_dilation, binary_erosion

from sepkit.intake.kinds import is_drawing_on_paper
from sepkit.intake.paper import drawing_on_paper
from sepkit.intake.ruling import without_ruling
from tests.helpers.paper import BLACK, RED, drawn, photograph

PALE = (0.42, 0.55, 0.75)


def ruled(label, *, squared, every_px=24):
    """The drawing on a sheet with rulings, one of them a margin; pens lie over them."""
    out = label.copy()
    for y in range(40, label.shape[0] - 10, every_px):
        out[y : y + 2][label[y : y + 2] == 0] = 3
    across = range(30, label.shape[1], every_px) if squared else [70]
    for x in across:
        out[:, x : x + 2][label[:, x : x + 2] == 0] = 3
    return out


def test_lined_paper_is_paper():
    picture = photograph(ruled(drawn(), squared=False), inks=(BLACK, RED, PALE))
    assert is_drawing_on_paper(picture, np.full(picture.shape[:2], 255, np.uint8))


def test_a_drawing_on_squared_paper_is_the_drawing_alone():
    label = drawn()
    picture = photograph(ruled(label, squared=True), inks=(BLACK, RED, PALE))
    drawing = drawing_on_paper(picture, width_mm=100.0, height_mm=None, shading=False)
    plain = drawing_on_paper(photograph(label), width_mm=100.0, height_mm=None, shading=False)
    assert drawing.rulings >= 30 and plain.rulings == 0
    assert len(drawing.pens) == 2
    found, asked = (np.maximum.reduce([pen.coverage for pen in one.pens]) > 127 for one in (drawing, plain))
    assert np.abs(np.subtract(found.shape, asked.shape)).max() <= 2
    rows, columns = np.minimum(found.shape, asked.shape)
    found, asked = found[:rows, :columns], asked[:rows, :columns]
    assert found[binary_erosion(asked, iterations=2)].mean() > 0.99
    assert not found[~binary_dilation(asked, iterations=3)].any()


def test_lines_of_a_pen_and_lines_at_odd_distances_stay():
    rng = np.random.default_rng(2)
    sheet = np.full((600, 500, 3), 255, np.uint8)
    dark, odd = sheet.copy(), sheet.copy()
    for y in range(40, 560, 24):
        dark[y : y + 3] = (40, 40, 44)
        at = y + int(rng.integers(-7, 8))
        odd[at : at + 2] = (190, 205, 230)
    for one in (dark, odd, sheet):
        same, count = without_ruling(one)
        assert count == 0 and same is one


def test_a_bent_sheet_keeps_no_ruling_and_a_wash_over_it_stays():
    sheet = np.full((700, 900, 3), 255, np.uint8)
    x = np.arange(900)
    for y in range(50, 660, 30):
        at = y + np.rint(0.01 * x + 3 * np.sin(x / 280)).astype(int)
        for by in (0, 1):
            sheet[np.minimum(at + by, 699), x] = (175, 195, 225)
    sheet[300:420, 350:600] = (90, 60, 50)
    out, count = without_ruling(sheet)
    assert count >= 18
    outside = np.ones((700, 900), bool)
    outside[296:424, 346:604] = False
    assert (out.min(axis=2)[outside] > 250).mean() > 0.999
    assert (out[300:420, 350:600] == sheet[300:420, 350:600]).all()
