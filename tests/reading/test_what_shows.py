"""What of screens shows, and where: prints drawn from known colours, so that the truth is exact."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from scipy.ndimage import gaussian_filter

from sepkit.colorimetry.srgb import linear_to_srgb
from sepkit.film.check_discs import CheckDisc
from sepkit.reading import screens
from sepkit.reading.find import Place
from sepkit.reading.light import Look
from sepkit.reading.mixing import mixed
from sepkit.reading.picture import Photo
from sepkit.reading.screens import fitted
from sepkit.reading.shows import hidden_screens, reference_screen, seen_edges
from sepkit.reading.subject import PX_PER_MM, Subject
from sepkit.reading.tiles import ScreenFit, State, Tile, coverages, equation
from sepkit.reading.warp import Warp

SIZE = (40.0, 30.0)
PX = 6.0
CLOTH, BLACK = (0.7, 0.7, 0.68), (0.03, 0.03, 0.03)
GREY, PALE = (0.4, 0.4, 0.4), (0.69, 0.69, 0.66)
LEFT, RIGHT = (4.0, 5.0, 16.0, 25.0), (24.0, 10.0, 34.0, 20.0)
MARGIN = 4.0
PLACE = np.array([[PX, 0, MARGIN * PX - 0.5], [0, PX, MARGIN * PX - 0.5], [0, 0, 1]])


def plane(*boxes):
    w, h = (round((side + 2 * MARGIN) * PX_PER_MM) for side in SIZE)
    y, x = (np.mgrid[:h, :w] + 0.5) / PX_PER_MM - MARGIN
    inside = [(x > left) & (x < right) & (y > top) & (y < foot) for left, top, right, foot in boxes]
    return np.where(np.logical_or.reduce(inside), 255, 0).astype(np.uint8)


def two(first, second, **more):
    """Two screens that do not meet, and their colours."""
    colours = np.array([CLOTH, first, second, np.multiply(first, second)])
    return Subject(*SIZE, MARGIN, (plane(LEFT), plane(RIGHT)), colours, ("one", "other"), **more)


def state_of(subject, reference=0):
    look = Look(subject.colours, np.full(4, 99.0), np.zeros((14, 3)), np.zeros(4))
    warp = Warp.straight(PLACE, subject, 9.0, (288, 228))
    return State(warp, (ScreenFit(growth_mm=0.0),) * 2, look, reference=reference)


def taken(subject, colours, printed):
    """A photograph of cloth on which screens printed these colours, PX pixels for each mm, the margin all round."""
    grid = subject.whole(PX)
    light = gaussian_filter(mixed(coverages(subject, printed, grid), colours), (0.5, 0.5, 0))
    noise = np.random.default_rng(3).normal(0, 0.6, light.shape)
    return Photo(np.clip(np.rint(linear_to_srgb(light) * 255 + noise), 0, 255).astype(np.uint8))


def test_edges_that_show_have_a_length_and_a_middle():
    """Perimeters and centroids of boxes."""
    seen = seen_edges(two(BLACK, PALE), state_of(two(BLACK, PALE)))
    assert seen.mm[0] == pytest.approx(64, rel=0.05) and seen.mm[1] == 0
    assert np.allclose(seen.middle, [(10, 15), (20, 15)], atol=0.1)  # what does not show is told at the art's middle


@pytest.mark.parametrize(
    ("colours", "more", "reference"),
    [
        ((BLACK, PALE), {}, 0),
        ((PALE, BLACK), {}, 1),
        ((PALE, BLACK), {"bases": (0,)}, 1),  # a base that hardly shows
        ((BLACK, BLACK), {"bases": (1,)}, 1),
        ((BLACK, PALE), {"discs": (CheckDisc(0, 5, -4, framed=1),)}, 1),
    ],
)
def test_the_reference_is_the_screen_that_shows_best(colours, more, reference):
    subject = two(*colours, **more)
    assert reference_screen(subject, seen_edges(subject, state_of(subject))) == reference


def test_a_screen_that_nothing_shows_is_held_unless_its_discs_show():
    subject = two(BLACK, PALE)
    assert hidden_screens(subject, state_of(subject)) == {1}
    assert hidden_screens(subject, state_of(subject, reference=1)) == frozenset()
    on_black = np.array([CLOTH, BLACK, PALE, CLOTH])
    shown = replace(two(BLACK, PALE, discs=(CheckDisc(1, 5, -4, on=0),)), colours=on_black)
    assert hidden_screens(shown, state_of(shown)) == frozenset()


def test_a_tile_says_where_in_it_edges_lie():
    subject = two(BLACK, BLACK)
    state = state_of(subject)
    photo = taken(subject, subject.colours, state.screens)
    middle = np.array([14.5, 23.0])  # the left box's corner lies at 16, 25
    one = equation(subject, photo, state, Tile(middle, 7.0, -1, np.zeros(2)), 6.0, 0.1)
    right, down = one.at[0]
    assert right[0] == pytest.approx(16, abs=0.15) and 21.5 < right[1] < 23.5  # by the upright edge
    assert down[1] == pytest.approx(25, abs=0.15) and 13 < down[0] < 15
    assert np.allclose(one.at[1], middle)  # nothing of the other is there


def test_a_reference_that_does_not_show_as_printed_is_left(monkeypatch):
    """Lines too thin to show their ink alone: as planned the first shows best, as tiles tell the other does."""
    lines = (plane(*((4, y, 16, y + 1) for y in (5, 10, 15, 20))), plane(*((x, 5, x + 1, 17) for x in (24, 28))))
    subject, printed = replace(two(BLACK, GREY), planes=lines), two(PALE, GREY).colours
    photo = taken(subject, printed, state_of(subject).screens)
    tried = []

    def levelled(_subject, _photo, state, _level):
        tried.append(state.reference)
        return replace(state, look=replace(state.look, colours=printed)), []

    monkeypatch.setattr(screens, "_levelled", levelled)
    monkeypatch.setattr(screens, "_start", lambda _subject, _photo, state: state.screens)
    assert fitted(subject, photo, Place(PLACE, 0.9)).state.reference == 1
    assert tried[0] == 0
