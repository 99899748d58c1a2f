from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from sepkit.decisions import AreaWish, Wishes
from sepkit.files.shelf.shelf import Shelf
from sepkit.model import InkArea, Size
from sepkit.plates.decide import decide
from sepkit.separation.brought import tints_of
from sepkit.workshop.print.brought import ink_for
from sepkit.workshop.print.options import PrintOptions, bench_of

SIDE = 240


@pytest.fixture(scope="module")
def bench(tmp_path_factory):
    options = PrintOptions(art=tmp_path_factory.mktemp("art") / "none.pdf", garment="black tee")
    return bench_of(options, Shelf())


def box(left, top, right, bottom, level=255):
    plane = np.zeros((SIDE, SIDE), np.uint8)
    plane[top:bottom, left:right] = level
    return plane


def decided(bench, white, red, *, second=None):
    areas = [InkArea((252, 252, 252), white, None, "White"), InkArea((200, 30, 40), red, None, "Lantern Red")]
    wishes = {
        areas[0].srgb: AreaWish(ink=bench.base_ink, base="never"),
        areas[1].srgb: AreaWish(ink=bench.ink("red"), base="always"),
    }
    if second is not None:
        areas.append(InkArea((250, 250, 250), second, None, "Highlight"))
        wishes[areas[2].srgb] = AreaWish(ink=bench.base_ink, base="never")
    brought = Wishes(as_brought=True, trap_mm=0.0, areas=wishes)
    return decide(areas, Size(100, 100), replace(bench, wishes=brought)).plates


def test_white_under_an_ink_is_its_base_and_no_other_is_made(bench):
    white, red = box(20, 20, 200, 200), box(30, 30, 150, 150)
    plates = decided(bench, white, red)
    assert [plate.name for plate in plates] == ["White", "Lantern Red"]
    assert plates[0].is_base and plates[0].coats <= 2
    for plate, plane in zip(plates, (white, red), strict=True):
        np.testing.assert_array_equal(plate.coverage, plane)
        np.testing.assert_array_equal(plate.printed, plane)


def test_white_beside_an_ink_is_no_base(bench):
    plates = decided(bench, box(20, 20, 60, 200), box(100, 30, 200, 150))
    names = [plate.name for plate in plates]
    assert sorted(names) == ["Lantern Red", "White", "underbase"]


def test_a_second_white_on_the_base_prints_last(bench):
    plates = decided(bench, box(20, 20, 200, 200), box(30, 30, 150, 150), second=box(60, 60, 80, 80))
    assert plates[-1].name == "Highlight" and plates[-1].role == "highlight"


def test_tints_are_told_from_soft_edges():
    plane = box(40, 40, 120, 120, 102)
    plane[200:202, 10:200] = 90
    plane[150, :] = 90
    tone = tints_of(plane)
    assert tone is not None
    np.testing.assert_array_equal(tone, plane == 102)


@pytest.mark.parametrize(
    ("name", "srgb", "found"),
    [
        ("White", (200, 230, 250), "white"),
        ("under-base", (10, 10, 10), "white"),
        ("RED", (0, 200, 0), "red"),
        ("Lantern Red 3", (190, 40, 45), "red"),
        ("Lantern Red", (20, 60, 160), "Lantern Red"),
    ],
)
def test_a_plate_is_matched_to_the_shelf_by_name_then_by_colour(name, srgb, found, bench):
    assert ink_for(name, srgb, bench, Shelf()).name == found


def test_a_plate_of_a_shelf_ink_s_colour_is_that_ink(bench):
    assert ink_for("Quay 7", bench.ink("turquoise").srgb, bench, Shelf()).name == "turquoise"
