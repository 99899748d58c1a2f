"""Lines thinner than two pixels between two colours, and their crossings: the ink and the width come back."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from sepkit.model import InkRequest
from sepkit.separation.separate import separate
from sepkit.separation.thin_lines import lines_through
from tests.helpers.drawn_art import artwork, picture, plate_of

AUTO = InkRequest()
WHITE = (255, 255, 255)
RED, GREEN, DARK, YELLOW = (210, 38, 48), (0, 132, 61), (56, 55, 57), (255, 199, 44)
SIDE = 96
SCALE = 8


def grid():
    return (np.mgrid[: SIDE * SCALE, : SIDE * SCALE].astype(np.float32)[::-1] + 0.5) / SCALE


def masks_of(*shapes):
    stack = np.stack(shapes).astype(np.float32)
    return stack.reshape(len(shapes), SIDE, SCALE, SIDE, SCALE).mean(axis=(2, 4))


def bordered(turn, shift, width):
    """Red and green that meet along a straight border, a dark line of so many pixels on it, a dark dot elsewhere."""
    x, y = grid()
    across = (x - SIDE / 2) * np.cos(turn) + (y - SIDE / 2) * np.sin(turn) - shift
    line = np.abs(across) < width / 2
    dot = (x - 12) ** 2 + (y - 12) ** 2 < 6**2
    dark = line | dot
    return masks_of((across < 0) & ~dark, (across >= 0) & ~dark, dark)


@settings(max_examples=12, deadline=None)
@given(st.floats(0.05, 3.1), st.floats(-0.5, 0.5), st.floats(0.6, 2.2), st.sampled_from(["encoded", "linear"]))
def test_a_thin_line_between_two_colours_keeps_its_ink_and_width(turn, shift, width, space):
    cover = bordered(turn, shift, width)
    found = separate(artwork(picture(cover, (RED, GREEN, DARK), space=space, ground=WHITE)), WHITE, AUTO)
    assert len(found.areas) == 3
    wrong = sum(np.abs(plate_of(found, c).coverage / 255 - t) for c, t in zip((RED, GREEN, DARK), cover, strict=True))
    edge = cover.max(axis=0) < 0.98
    assert wrong[edge].mean() / 2 < 0.04
    assert plate_of(found, DARK).coverage.sum() / 255 == pytest.approx(cover[2].sum(), rel=0.05)


def test_a_faint_hairline_far_from_any_dot_of_its_ink_is_one_line():
    x, y = grid()
    line = np.abs(y - 60.4 - 0.07 * x) < 0.2  # 0.4 px: never more than two fifths of a pixel
    dot = (x - 12) ** 2 + (y - 12) ** 2 < 6**2
    cover = masks_of((x < 50) & ~line & ~dot, (x >= 50) & ~line & ~dot, line | dot)
    found = separate(artwork(picture(cover, (RED, GREEN, DARK), ground=WHITE)), WHITE, AUTO)
    plate = plate_of(found, DARK).coverage / 255
    assert plate[30:].sum() == pytest.approx(cover[2, 30:].sum(), rel=0.05)
    assert plate[30:][cover[2, 30:] == 0].sum() == 0


@pytest.mark.parametrize("space", ["encoded", "linear"])
def test_where_thin_lines_cross_no_ink_is_invented(space):
    x, y = grid()
    level = np.abs(y % 12.5 - 6) < 0.5  # every other line half covers two pixels, the rest cover one
    upright = np.abs(x % 12.5 - 6) < 0.7
    dots = (x - 48) ** 2 + (y - 48) ** 2 < 9**2
    cover = masks_of(~level & ~upright & ~dots, level & ~dots, upright & ~level & ~dots, dots)
    inks = (GREEN, DARK, YELLOW, RED)
    found = separate(artwork(picture(cover, inks, space=space, ground=WHITE), dpi=150), WHITE, AUTO)
    for area in found.areas:
        assert min(np.abs(np.array(area.srgb) - c).max() for c in inks) <= 6


def test_pixels_prove_a_line_together_not_alone():
    at = np.array([2, 25, 26, 27, 28, 29, 30, 51])  # a lone pixel, a row of six, one more diagonally below
    cost = np.array([30.0])
    fits = np.array([[np.inf, 4.0]])
    found = lines_through(at, np.zeros(8, int), cost, fits, np.array([2], np.uint32), width=20)
    assert found.tolist() == [0, 2, 2, 2, 2, 2, 2, 2]


def test_rows_do_not_hang_together_around_the_border():
    at = np.array([18, 19, 20, 21])  # the end of one row of 20 and the start of the next
    cost, fits = np.array([22.0]), np.array([[np.inf, 4.0]])
    assert lines_through(at, np.zeros(4, int), cost, fits, np.array([2], np.uint32), width=20).tolist() == [0] * 4


def test_what_a_stronger_line_explains_does_not_speak_for_a_weaker():
    at = np.arange(40, 50)
    cost, fits = np.array([40.0]), np.array([[2.0, 6.0, np.inf]])
    found = lines_through(at, np.zeros(10, int), cost, fits, np.array([3], np.uint32), width=20)
    assert found.tolist() == [1] * 10


def test_lettering_of_no_solid_pixel_is_one_ink_not_its_commonest_mixes():
    x, y = grid()
    cover = [np.zeros(x.shape, bool)]
    for k in range(7):  # yellow strokes of 1.2 px with navy rims, each at its own place on the pixel grid
        across = np.abs(x * 0.02 * k + y - 8.3 - 11.4 * k)
        cover.append((across < 0.6) & (x > 6) & (x < 90))
        cover.append((across >= 0.6) & (across < 1.5) & (x > 6) & (x < 90))
    letters, rims = np.any(cover[1::2], axis=0), np.any(cover[2::2], axis=0)
    plain = ~letters & ~rims
    masks = masks_of(plain & (x < 48), plain & (x >= 48), letters, rims & ~letters)
    inks = ((122, 84, 52), (118, 44, 120), (248, 206, 52), (24, 72, 148))
    found = separate(artwork(picture(masks, inks, ground=WHITE), dpi=75), WHITE, AUTO)
    assert len(found.areas) == 4
    letters_plate = plate_of(found, inks[2], levels=12).coverage / 255
    assert letters_plate.sum() == pytest.approx(masks[2].sum(), rel=0.15)
