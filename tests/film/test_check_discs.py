from __future__ import annotations

import math
from itertools import pairwise

import numpy as np
import pytest

from sepkit.film.check_discs import DISC_MM, FRAME_MM, OFF_MM, PITCH_MM, SQUARE_MM, check_discs, disc_marks
from sepkit.film.marks import FilmLabel, film_page
from sepkit.film.raster import page_rows
from sepkit.film.rows import FilmSettings, plan_film


def shoelace(points):
    x, y = np.array(points).T
    return abs(np.dot(x, np.roll(y, -1)) - np.dot(y, np.roll(x, -1))) / 2


def test_each_side_has_rows_with_every_screen_once():
    discs = check_discs(200.0, 120.0, [None, 0, 0])
    assert len(discs) == 3 * 8
    for k in range(3):
        assert sum(disc.plate == k for disc in discs) == 8
        assert all(disc.on == (None if k == 0 else 0) for disc in discs if disc.plate == k)
    outside = [d for d in discs if -OFF_MM < d.x_mm < 200 + OFF_MM and 0 < d.y_mm < 120]
    assert not outside


def test_rows_of_opposite_sides_run_opposite_ways_so_that_stretch_cancels():
    discs = check_discs(200.0, 120.0, [None, None, None])
    # Cloth stretched by 2 % along both ways, about the middle of each row.
    for plate in range(3):
        mine = [d for d in discs if d.plate == plate]
        reference = [d for d in discs if d.plate == 1]
        moved = [0.02 * np.array([a.x_mm - b.x_mm, a.y_mm - b.y_mm]) for a, b in zip(mine, reference, strict=True)]
        assert np.allclose(np.mean(moved, axis=0), 0, atol=1e-9)


def test_small_art_has_fewer_rows_or_none():
    assert check_discs(20.0, 20.0, [None, None]) == ()
    few = check_discs(120.0, 20.0, [None] * 4)
    assert len(few) == 4 * 4 and {d.y_mm for d in few} == {-OFF_MM, 20 + OFF_MM}
    assert {round(abs(d.x_mm - e.x_mm), 6) for d, e in pairwise(few[:4])} == {PITCH_MM}
    assert not any(d.x_mm < 0 or d.x_mm > 200 for d in check_discs(200.0, 120.0, [None], sides=False))


def test_a_film_carries_its_own_discs_and_squares_below_those_that_stand_on_it():
    discs = check_discs(200.0, 120.0, [None, 0])
    base, ink = disc_marks(discs, 0), disc_marks(discs, 1)
    areas = sorted({round(shoelace(mark.points), 2) for mark in base})
    assert areas == [pytest.approx(math.pi * DISC_MM**2 / 4, abs=0.01), SQUARE_MM**2]
    assert {round(shoelace(mark.points), 2) for mark in ink} == {round(math.pi * DISC_MM**2 / 4, 2)}


def test_discs_on_cloth_stand_in_a_frame_that_register_error_does_not_close():
    discs = check_discs(200.0, 120.0, [None, 0, None], frame=0)
    assert {(d.plate, d.on, d.framed) for d in discs} == {(0, None, None), (1, 0, None), (2, None, 0)}
    mine = [np.array(mark.points) for mark in disc_marks(discs, 0)]
    for disc in [d for d in discs if d.plate == 2]:
        lines = [p for p in mine if len(p) == 4 and np.abs(p - (disc.x_mm, disc.y_mm)).max() < SQUARE_MM / 2 + 1e-6]
        assert len(lines) == 4
        assert sum(shoelace(p) for p in lines) == pytest.approx(SQUARE_MM**2 - (SQUARE_MM - 2 * FRAME_MM) ** 2)
        for p in lines:  # no line comes nearer to the middle than a disc that lies 0.9 mm off reaches
            assert np.abs(p - (disc.x_mm, disc.y_mm)).max(axis=1).min() >= DISC_MM / 2 + 0.9 - 1e-6


@pytest.mark.parametrize("mirror", [False, True])
def test_discs_are_inked_where_they_are_said_to_be(mirror):
    dpi, width, height = 254.0, 60.0, 60.0
    settings = FilmSettings(dpi, mirror=mirror)
    film = plan_film(np.zeros((60, 60), np.uint8), None, None, width_mm=width, height_mm=height, settings=settings)
    discs = check_discs(width, height, [None, 0])
    page = film_page(film, FilmLabel("red", "red", 2, 2), beside=disc_marks(discs, 1))
    rows = np.concatenate([np.asarray(band) for band in page_rows(page)])
    bits = np.unpackbits(rows, axis=1)[:, : page.width_px]
    bare = film_page(film, FilmLabel("red", "red", 2, 2))
    bare_bits = np.unpackbits(np.concatenate([np.asarray(b) for b in page_rows(bare)]), axis=1)[:, : page.width_px]
    added = bits.astype(int) - bare_bits
    assert added.min() >= 0
    ys, xs = np.nonzero(added)
    if mirror:
        xs = page.width_px - 1 - xs
    place = page.films[0]
    left = page.width_px - place.x_px - film.width_px if mirror else place.x_px
    x_mm, y_mm = (xs + 0.5 - left) / 10, (ys + 0.5 - place.y_px) / 10
    mine = [d for d in discs if d.plate == 1]
    assert mine
    near = np.min([np.hypot(x_mm - d.x_mm, y_mm - d.y_mm) for d in mine], axis=0)
    assert near.max() < DISC_MM / 2 + 0.15  # a pixel and a half
    assert len(xs) / 100 == pytest.approx(len(mine) * math.pi * DISC_MM**2 / 4, rel=0.08)
