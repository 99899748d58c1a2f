from __future__ import annotations

from dataclasses import replace
from types import SimpleNamespace

import numpy as np
import pytest

from sepkit.errors import PhotoError
from sepkit.reading.find import Place
from sepkit.reading.gates import check_fit, check_place, check_size
from sepkit.reading.picture import Photo
from sepkit.reading.spots import Spot, Spots, agreed
from sepkit.reading.told import ToldScreen
from tests.reading.test_geometry import plain_subject

RED = ToldScreen("red", 0.4, -0.2, 0.1, 0.03, 0.02, 0.05, 0.01, False, 8)
FLAT = np.array([[8.0, 0, 20], [0, 8.0, 20], [0, 0, 1]])


def test_a_screen_is_moved_back_the_way_it_printed_off():
    # Printed 0.4 mm right, 0.2 mm up and turned clockwise: the screen goes left, down, anticlockwise.
    assert RED.move() == "move it 0.40 mm left, 0.20 mm down, turn it 0.10° anticlockwise (± 0.03 mm)"
    assert (
        replace(RED, dx_mm=-0.4, dy_mm=0.2, turn_deg=-0.1)
        .move()
        .startswith("move it 0.40 mm right, 0.20 mm up, turn it 0.10° clockwise")
    )


def test_a_screen_turns_about_the_place_that_its_shift_is_told_at():
    """Edges of the screen lie around 60, 20: a print turned about there alone is off by nothing there."""
    alone = replace(RED, dx_mm=0.0, dy_mm=0.0, at_mm=(60.4, 20.0))
    assert alone.move() == "turn it 0.10° anticlockwise about 60 mm right, 20 mm down (± 0.03 mm)"


def test_what_lies_within_the_band_is_not_told_as_a_move():
    assert replace(RED, dx_mm=0.02, dy_mm=0.01, turn_deg=0.005).move() == "it is on register (± 0.03 mm)"
    untold = replace(RED, dx_mm=None, dy_mm=None, turn_deg=None, why="too few of its edges show")
    assert untold.move() == "cannot be told: too few of its edges show" and untold.off_mm == 0


def test_growth_is_told_with_its_band():
    assert RED.grown() == "its edges grew 50 µm (± 10)"
    assert replace(RED, growth_mm=-0.03).grown() == "its edges shrank 30 µm (± 10)"
    assert replace(RED, growth_mm=-0.005).grown() == "its edges held (± 10 µm)"
    assert replace(RED, growth_mm=None).grown() == ""


def spot(x, kind="pinhole", screen=0):
    return Spot(kind, screen, x, 5.0, 0.5, 20.0, True, (x, 5.0))


def test_several_photographs_keep_what_most_of_them_show():
    seen = [[spot(1), spot(20)], [spot(1.2), spot(30)], [spot(0.9), spot(20.1, screen=1)]]
    kept = agreed([Spots(tuple(spots), 0.0, 0.0) for spots in seen])
    assert [s.x_mm for s in kept] == [1]
    assert [s.x_mm for s in agreed([Spots((spot(4),), 0.0, 0.0)])] == [4]


def refusal(check, *args, **kwargs):
    with pytest.raises(PhotoError) as told:
        check(*args, where="x.jpg", **kwargs)
    assert told.value.exit_code == 10 and told.value.hint
    return str(told.value)


def test_another_print_and_one_that_looks_the_same_turned_are_told():
    assert "does not show" in refusal(check_place, None, what="this print")
    assert "does not show" in refusal(check_place, Place(FLAT, 0.4), what="this print")
    assert "two ways" in refusal(check_place, Place(FLAT, 0.9, 0.9), what="this print")
    same = Place(FLAT, 0.9, 0.9)
    assert check_place(same, where="", what="", ambiguous=False) is same


def test_prints_cut_off_small_or_from_aside_are_told():
    subject = plain_subject()
    photo = Photo(np.zeros((300, 380, 3), np.uint8))
    check_size(subject, photo, Place(FLAT, 0.9), where="")
    moved = FLAT.copy()
    moved[0, 2] = 80
    assert "cut off" in refusal(check_size, subject, photo, Place(moved, 0.9))
    small = np.diag([3.0, 3.0, 1.0]) + np.array([[0, 0, 20], [0, 0, 20], [0, 0, 0]])
    assert "3.0 pixels" in refusal(check_size, subject, photo, Place(small, 0.9))
    aside = FLAT.copy()
    aside[2, 0] = 0.009
    assert "aside" in refusal(check_size, subject, photo, Place(aside, 0.9))
    cos = np.cos(np.radians(38))  # far away, so that corners are hardly of different scales
    assert "aside" in refusal(check_size, subject, photo, Place(np.diag([1, cos, 1.0]) @ FLAT, 0.9))
    check_size(subject, photo, Place(np.diag([1, np.cos(np.radians(20)), 1.0]) @ FLAT, 0.9), where="")


def fitted(**changed):
    look = SimpleNamespace(
        spread=np.array([0.05, 0.05, np.nan, np.nan]),
        colours=np.full((4, 3), 0.5),
        range_of_light=lambda subject: changed.get("light", 1.5),
    )
    look.spread[1] = changed.get("spread", 0.05)
    return SimpleNamespace(
        state=SimpleNamespace(look=look),
        blur_px2=changed.get("blur", 0.1),
        misfit=changed.get("misfit", 0.1),
        strayed=changed.get("strayed", 0.05),
    )


@pytest.mark.parametrize(
    ("changed", "words"),
    [
        ({"light": 9.0}, "glares"),
        ({"spread": 0.4}, "glares"),
        ({"blur": 1.0}, "out of focus"),
        ({"misfit": 0.8}, "lie flat"),
        ({"strayed": 0.5}, "laid on the films (50% of its edges"),
        ({"strayed": float("nan")}, "no edge that tells"),
    ],
)
def test_glare_blur_folds_and_a_wrong_lay_are_told(changed, words):
    check_fit(plain_subject(), fitted(), where="")
    assert words in refusal(check_fit, plain_subject(), fitted(**changed))
