from __future__ import annotations

import numpy as np
import pytest

from sepkit.film.furniture import rectangle
from sepkit.film.screen_marks import FilmBox, print_marks


@pytest.mark.parametrize("rotation", [0, 90, 180, 270])
def test_marks_beside_a_print_turn_with_it(rotation):
    w, h = (40.0, 60.0) if rotation % 180 == 0 else (60.0, 40.0)
    mark = rectangle(3.0, -7.0, 2.0, 4.0)
    bare = print_marks(FilmBox(100.0, 80.0, w, h, rotation, "red"), [])
    drawn = print_marks(FilmBox(100.0, 80.0, w, h, rotation, "red", (mark,)), [])
    box = FilmBox(100.0, 80.0, w, h, rotation, "red")
    (added,) = drawn[len(bare) :]
    assert np.allclose(added.points, [box.on_film(x, y) for x, y in mark.points])
    middle = np.mean(added.points, axis=0) - [100, 80]
    assert not (0 < middle[0] < w and 0 < middle[1] < h)


def test_marks_that_would_touch_a_neighbour_are_left_out():
    mark = rectangle(3.0, -7.0, 2.0, 4.0)
    near = FilmBox(100.0, 10.0, 40.0, 66.0, 0, "blue")
    drawn = print_marks(FilmBox(100.0, 80.0, 40.0, 60.0, 0, "red", (mark,)), [near])
    assert all((103.0, 73.0) not in one.points for one in drawn)
