"""Checks as a printer reads them, on planes drawn for each fault: the truth is what was drawn."""

from __future__ import annotations

import numpy as np
import pytest
from PIL import Image, ImageDraw, ImageFont

from sepkit.model import InkArea, Mesh, Press
from sepkit.press.cut import cut_places, missing_letters
from sepkit.press.preflight import Screened, preflight
from sepkit.press.worn import worn_area

DPI = 300
PRESS = Press("two-head", 2, 1, 400, 500, 0.5)


def drawn(width=900, height=600):
    image = Image.new("L", (width, height), 0)
    return image, ImageDraw.Draw(image)


USUAL = Mesh(62, 60)


def checked(image, mesh=USUAL):
    area = InkArea((20, 20, 20), np.asarray(image))
    return preflight([Screened(area, "black", mesh)], press=PRESS, bases=0, dpi=DPI)


def mm(px):
    return px * 25.4 / DPI


def test_the_smallest_type_is_marked_first_and_whole_lines_are_one_place():
    image, draw = drawn(1800, 600)
    tops = {}
    y = 40
    for points in (12, 4, 6, 3):
        draw.text((60, y), "rowing club meets at the quay", fill=255, font=ImageFont.load_default(points * DPI / 72))
        tops[points] = mm(y)
        y += 120
    found = checked(image)
    thin = [mark for mark in found.marks if mark.kind == "thin line"]
    assert tops[3] <= thin[0].box_mm[1] <= tops[3] + 2
    marked = {points for points, top in tops.items() for m in thin if top - 0.5 <= m.box_mm[1] <= top + 3}
    assert {3, 4, 6} <= marked
    assert len(thin) <= 8
    assert len([finding for finding in found.findings if finding.code == "thin-lines"]) == 1


def worn_plane():
    rng = np.random.default_rng(5)
    image, draw = drawn(900, 600)
    draw.ellipse((60, 60, 540, 540), fill=255)
    plane = np.array(image)
    for y, x in zip(rng.integers(0, 597, 900), rng.integers(0, 600, 900), strict=True):
        plane[y : y + 3, x : x + 3] = 0
    return plane


def test_wear_is_no_fault_and_dirt_beside_it_is():
    plane = worn_plane()
    plane[300:302, 800:802] = 255
    found = checked(Image.fromarray(plane))
    assert "worn-texture" in {finding.code for finding in found.findings}
    specks = [mark for mark in found.marks if mark.kind == "speck"]
    assert [mark.place_mm for mark in specks] == [(pytest.approx(mm(801), abs=0.1), pytest.approx(mm(301), abs=0.1))]


def test_counters_of_small_type_are_no_wear():
    image, draw = drawn(1800, 500)
    for line in range(6):
        draw.text(
            (40, 30 + 70 * line), "good oaks bob abode egad dogged " * 2, fill=255, font=ImageFont.load_default(40)
        )
    assert worn_area(np.asarray(image), dpi=DPI) is None


def test_ink_cut_by_the_edge_is_told_where_it_is_and_a_background_is_not():
    image, draw = drawn()
    draw.rectangle((880, 100, 899, 160), fill=255)
    (box,) = cut_places(np.asarray(image), dpi=DPI)
    assert box == pytest.approx((mm(900), mm(100), mm(900), mm(161)))
    assert cut_places(np.full((300, 300), 255, np.uint8), dpi=DPI) == []
    draw.rectangle((880, 0, 899, 400), fill=0)
    assert cut_places(np.asarray(image), dpi=DPI) == []


def test_empty_boxes_in_a_row_are_missing_letters_and_letters_are_not():
    image, draw = drawn()
    for k in range(3):
        draw.rectangle((60 + 50 * k, 60, 90 + 50 * k, 110), outline=255, width=4)
    draw.text((60, 200), "OODD0088 BORED", fill=255, font=ImageFont.load_default(70))
    draw.rectangle((400, 300, 700, 560), outline=255, width=6)
    boxes = missing_letters(np.asarray(image), dpi=DPI)
    assert [round(box[0] / mm(1)) for box in boxes] == [60, 110, 160]
