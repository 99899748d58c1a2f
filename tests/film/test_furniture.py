"""What margins of films are drawn of: true lengths, ticks on the right side, words that fit."""

from __future__ import annotations

import pytest

from sepkit.film.furniture import corner, longest_bar_mm, scale_bar, target, words
from sepkit.film.lettering import text_width_mm


@pytest.mark.parametrize("down", [False, True])
def test_a_bar_is_as_long_as_it_says_and_ticked_each_centimetre(down: bool) -> None:
    line, *ticks = scale_bar((5, 50), 300, down=down)
    along, aside = (1, 0) if down else (0, 1)
    assert line.points[1][along] - line.points[0][along] == 300
    assert [tick.points[0][along] - line.points[0][along] for tick in ticks] == list(range(0, 301, 10))
    reach = [tick.points[1][aside] - tick.points[0][aside] for tick in ticks]
    assert all(r > 0 for r in reach) if down else all(r < 0 for r in reach)
    assert [k for k, r in enumerate(reach) if abs(r) == max(map(abs, reach))] == [0, 10, 20, 30]


def test_the_longest_bar_that_leaves_room() -> None:
    assert [longest_bar_mm(side, beside_mm=10) for side in (310, 309.9, 110, 109.9)] == [300, 100, 100, 0]


def test_words_shrink_into_their_room() -> None:
    assert words("solid", 0, 0, 3.0) == words("solid", 0, 0, 3.0, room_mm=100)
    room = text_width_mm("solid", 3.0) / 2
    right = max(x for mark in words("solid", 10, 0, 3.0, room) for x, _ in mark.points)
    assert 10 + 0.8 * room < right <= 10 + room


def test_targets_and_corners_keep_off_what_they_mark() -> None:
    cross, ring = target(20, 30, 12, 4)[:2], target(20, 30, 12, 4)[2]
    assert {round(abs(x - 20) + abs(y - 30), 6) for mark in cross for x, y in mark.points} == {6.0}
    assert {round(((x - 20) ** 2 + (y - 30) ** 2) ** 0.5, 6) for x, y in ring.points} == {2.0}
    assert all(x < 0 or y > 100 for mark in corner(0, 100, -1, 1) for x, y in mark.points)
