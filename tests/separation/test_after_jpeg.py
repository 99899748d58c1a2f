"""What compression takes and adds: chroma comes back, gaps stay gaps, and a buried fill makes no row of specks."""

from __future__ import annotations

import io

import numpy as np
from PIL import Image

from sepkit.model import Artwork, InkRequest
from sepkit.separation.chroma import chroma_as_drawn, restore_chroma, taken_share
from sepkit.separation.separate import separate
from tests.benchmarks._art_drawing import Sheet, Truth, over, painted
from tests.benchmarks._art_flat import compressed

CREAM = (250, 244, 228)
BROWN, PINK, TEAL = (107, 52, 29), (250, 197, 255), (40, 150, 150)


def drawn(draw, colours, side=160, ground=CREAM):
    sheet = Sheet(side, colours, 8)
    draw(sheet)
    label, used, _ = sheet.used()
    truth = Truth(label, used, 8, 285.0, ground)
    return over(painted(sheet, truth, "exact"), ground), truth


def stripes(sheet):
    for n in range(12):
        sheet.line(n % 2, [(10 + 12 * n, 10), (30 + 12 * n, 150)], 3)


def test_chroma_of_what_was_drawn_comes_back():
    rgb, _ = drawn(stripes, [BROWN, TEAL])
    seen = compressed(rgb, 85)

    def off(picture):
        return float(np.sqrt(((picture.astype(float) - rgb) ** 2).mean()))

    right, wrong = chroma_as_drawn(seen, rgb, 1.0), chroma_as_drawn(seen, np.full_like(rgb, 128), 1.0)
    assert off(right) < 0.9 * off(restore_chroma(seen)) < 0.65 * off(seen)
    assert off(wrong) == off(seen)  # a flat guess has no detail to give


def test_what_was_drawn_tells_how_much_chroma_was_taken():
    rgb, _ = drawn(stripes, [BROWN, TEAL])
    taken = []
    for subsampling in (0, 1, 2):  # 4:4:4, 4:2:2, 4:2:0
        data = io.BytesIO()
        Image.fromarray(rgb).save(data, "JPEG", quality=85, subsampling=subsampling)
        taken.append(taken_share(np.asarray(Image.open(data).convert("RGB")), rgb))
    assert taken[0] < 0.2 and taken[1] > 0.3 and taken[2] > 0.9


def test_a_narrow_gap_between_two_lines_is_of_no_ink_that_lies_elsewhere():
    def draw(sheet):
        sheet.disc(1, 120, 30, 24)
        for x in (0, 14, 28):
            sheet.line(0, [(10 + x, 20), (80 + x, 150)], 3)
            sheet.line(0, [(14.4 + x, 20), (84.4 + x, 150)], 3)

    rgb, _ = drawn(draw, [BROWN, PINK])
    rgb = compressed(rgb, 85)
    opaque = np.full(rgb.shape[:2], 255, np.uint8)
    found = separate(Artwork(rgb, opaque, 160 / 285 * 25.4, 160 / 285 * 25.4, "lines"), CREAM, InkRequest())
    pink = max(found.areas, key=lambda a: a.srgb[2])
    assert len(found.areas) == 2
    assert not (pink.coverage[60:] > 60).any()  # the disc ends at 54


def test_more_of_a_buried_fill_than_the_law_tells_makes_no_specks():
    rgba = np.zeros((90, 90, 4), np.uint8)
    rgba[20:70, 20:70] = (*PINK, 255)
    rgba[14:76, 14:20] = rgba[14:76, 70:76] = rgba[14:20, 14:76] = rgba[70:76, 14:76] = (0, 0, 0, 255)
    rgba[16:74:3, 13] = (170, 134, 173, 220)  # .59 of the fill beside .28 of black: more than t (1 - t)
    art = Artwork(rgba[..., :3].copy(), rgba[..., 3].copy(), 90 / 300 * 25.4, 90 / 300 * 25.4, "worn edge")
    found = separate(art, CREAM, InkRequest())
    pink = max(found.areas, key=lambda a: a.srgb[0])
    black = min(found.areas, key=lambda a: a.srgb[0])
    assert len(found.areas) == 2
    assert pink.coverage[:, 13].max() == 0 and black.coverage[16:74:3, 13].min() > 180
