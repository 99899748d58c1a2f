"""Marks of a whole-screen film: beside the prints, turned with them, cut at a tile's edge."""

from __future__ import annotations

from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from sepkit.film.page import Mark, PagePlace, Solid, Stroke, Tile
from sepkit.film.screen_marks import AROUND_MM, FilmBox, ScreenWords, page_marks, print_marks, within

DPI = 254.0


def points(marks: list[Mark]) -> list[tuple[float, float]]:
    return [p for m in marks for p in m.points]


def targets(marks: list[Mark]) -> list[tuple[float, float]]:
    """Centres of the rings."""
    rings = [m for m in marks if isinstance(m, Stroke) and m.closed]
    return sorted(
        (round(sum(x for x, _ in r.points) / len(r.points), 6), round(sum(y for _, y in r.points) / len(r.points), 6))
        for r in rings
    )


@given(
    st.floats(20, 400),
    st.floats(20, 400),
    st.sampled_from([0, 90, 180, 270]),
    st.text("abc xyz", min_size=1, max_size=60),
)
def test_marks_keep_off_the_print_and_within_their_room(w: float, h: float, rotation: int, words: str) -> None:
    box = FilmBox(100, 100, w, h, rotation, words)
    for x, y in points(print_marks(box, [])):
        assert not (100 < x < 100 + w and 100 < y < 100 + h)
        assert 100 - AROUND_MM - 4 <= y <= 100 + h + AROUND_MM + 4 or rotation % 180
        assert 100 - AROUND_MM - 20 <= x <= 100 + w + AROUND_MM + 20


@pytest.mark.parametrize("rotation", [90, 180, 270])
def test_targets_turn_with_the_print(rotation: int) -> None:
    """Base and colour register whichever way each lies on its own screen."""
    upright = FilmBox(0, 0, 80, 50, 0, "a")
    size = (80, 50) if rotation == 180 else (50, 80)
    turned = FilmBox(0, 0, *size, rotation, "a")
    expected = sorted(
        (round(x, 6), round(y, 6)) for x, y in (turned.on_film(u, v) for u, v in targets(print_marks(upright, [])))
    )
    assert targets(print_marks(turned, [])) == expected
    assert len(expected) == 4


def test_a_turned_print_has_its_top_below() -> None:
    box = FilmBox(0, 0, 80, 50, 180, "a")
    heads = [m for m in print_marks(box, []) if isinstance(m, Solid)]
    tip = heads[0].points[0]
    assert tip[1] > 50
    assert tip[1] > heads[0].points[1][1]  # points down: away from the print's middle
    assert box.on_film(0, 0) == (80, 50)


def test_marks_that_would_lie_on_a_neighbour_are_left_out() -> None:
    box, close = FilmBox(0, 0, 80, 50, 0, "a"), FilmBox(0, 60, 80, 50, 0, "b")
    kept = print_marks(box, [close])
    assert not any(0 < x < 80 and 60 < y < 110 for x, y in points(kept))
    assert len(targets(kept)) == 3


def tile(x: int, y: int, w: int, h: int, **more: object) -> Tile:
    return Tile(x, y, w, h, PagePlace(w + 400, h + 600, 200, 150), **more)  # type: ignore[arg-type]


def test_lines_are_cut_at_the_edge_of_a_tile_and_nothing_is_lost() -> None:
    """Two tiles side by side carry together what the whole carries."""
    line = Stroke(((10.0, 5.0), (90.0, 45.0)), 0.25)
    left, right = tile(0, 0, 500, 500), tile(500, 0, 500, 500)

    def length(marks: list[Mark]) -> float:
        return sum(((a[0] - b[0]) ** 2 + (a[1] - b[1]) ** 2) ** 0.5 for m in marks for a, b in pairwise(m.points))

    parts = [within([line], one, DPI) for one in (left, right)]
    assert sum(length(p) for p in parts) == pytest.approx(length([line]))
    for marks in parts:
        for x, y in points(marks):
            assert 20 - 1e-9 <= x <= 70 + 1e-9
            assert 15 - 1e-9 <= y <= 65 + 1e-9
    assert within([Stroke(((0.0, 60.0), (90.0, 60.0)), 0.25)], left, DPI) == []


def test_a_page_says_where_it_belongs_and_stays_on_its_sheet() -> None:
    words = ScreenWords(("screen 1 · regatta · mesh 43-80", "frame large"), (50.0, 40.0))
    one = tile(0, 0, 1000, 800, number=1, of=2, seams_x_px=(940,), seams_y_px=(760,))
    marks = page_marks(one, words, dpi=DPI)
    for x, y in points(marks):
        assert 0 <= x <= 140
        assert 0 <= y <= 140
    # The frame's centre line is marked at both ends of the page, the joint outside the art on both sides.
    assert sum(m.points[0][0] == m.points[-1][0] == 70.0 for m in marks if isinstance(m, Stroke)) >= 2
    assert [p for p in targets(marks) if p[0] == 114.0] == [(114.0, 10.5), (114.0, 99.5)]
    assert [p for p in targets(marks) if p[1] == 91.0] == [(15.5, 91.0), (124.5, 91.0)]
