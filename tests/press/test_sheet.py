from __future__ import annotations

from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from sepkit.errors import UsageError
from sepkit.film.marks import FilmLabel, film_page
from sepkit.film.rows import FilmSettings, plan_film
from sepkit.press.sheet import OVERLAP_MM, Sheet, parse_roll, parse_sheet, plan_tiles

DPI = 720.0


def px(mm):
    return round(mm * DPI / 25.4)


@given(st.floats(30, 700), st.floats(30, 900), st.sampled_from(["A4", "A3", "A3+", "13x19", "17x22"]))
def test_tiles_cover_the_film_and_overlap(width_mm, height_mm, name):
    sheet = parse_sheet(name)
    tiles = plan_tiles(px(width_mm), px(height_mm), dpi=DPI, sheet=sheet)
    covered = np.zeros((-(-px(height_mm) // 50), -(-px(width_mm) // 50)), int)
    for tile in tiles:
        rows = slice(tile.y_px // 50, -(-(tile.y_px + tile.height_px) // 50))
        covered[rows, tile.x_px // 50 : -(-(tile.x_px + tile.width_px) // 50)] += 1
        assert tile.place.art_x_px + tile.width_px <= tile.place.width_px
        assert tile.place.art_y_px + tile.height_px <= tile.place.height_px
        assert tile.place.width_px == px(sheet.width_mm)
    assert covered.min() >= 1
    columns = sorted({(t.x_px, t.width_px) for t in tiles})
    for (x0, w0), (x1, _) in pairwise(columns):
        assert x0 + w0 - x1 == px(OVERLAP_MM)
    assert [t.number for t in tiles] == list(range(1, len(tiles) + 1))
    assert len({(t.place.art_x_px, t.place.art_y_px) for t in tiles}) == 1


def test_what_fits_is_one_tile():
    (tile,) = plan_tiles(px(250), px(300), dpi=DPI, sheet=parse_sheet("A3"))
    assert (tile.x_px, tile.y_px, tile.of, tile.seams_x_px) == (0, 0, 1, ())


def test_a_cut_goes_where_there_is_no_ink():
    ink = np.full(400, 10.0)
    ink[170:186] = 0
    tiles = plan_tiles(px(400), px(200), dpi=DPI, sheet=Sheet("wide", 297, 420), ink_across=ink)
    first = min(tiles, key=lambda t: t.x_px)
    (seam,) = first.seams_x_px
    assert 170 <= (first.x_px + seam) / px(400) * 400 <= 186
    second = max(tiles, key=lambda t: t.x_px)
    assert second.x_px + second.seams_x_px[0] == first.x_px + seam


@given(st.floats(100, 900), st.floats(100, 900), st.lists(st.floats(0, 9), min_size=3, max_size=300))
def test_no_tile_is_a_sliver(width_mm, height_mm, ink):
    profile = np.array(ink)
    tiles = plan_tiles(
        px(width_mm), px(height_mm), dpi=DPI, sheet=parse_sheet("A4"), ink_across=profile, ink_down=profile
    )
    for start, size, whole in (
        (lambda t: t.x_px, lambda t: t.width_px, px(width_mm)),
        (lambda t: t.y_px, lambda t: t.height_px, px(height_mm)),
    ):
        spans = sorted({(start(t), size(t)) for t in tiles})
        even = (whole - px(OVERLAP_MM)) / len(spans)
        assert all(w - px(OVERLAP_MM) >= 0.69 * even for _, w in spans) or len(spans) == 1
        assert spans[-1][0] + spans[-1][1] == whole


def test_a_roll_is_as_long_as_the_film():
    (tile,) = plan_tiles(px(400), px(900), dpi=DPI, sheet=parse_roll("17in"))
    assert tile.place.width_px == px(431.8)
    assert tile.place.height_px > px(900)


@pytest.mark.parametrize("mirror", [False, True])
def test_joined_tiles_are_the_film(mirror):
    rng = np.random.default_rng(2)
    plane = rng.integers(0, 256, (200, 200), np.uint8)
    film = plan_film(plane, None, None, width_mm=300, height_mm=300, settings=FilmSettings(dpi=100, mirror=mirror))
    whole = np.unpackbits(np.concatenate(list(film.bands())), axis=1, count=film.width_px)
    sheet = Sheet("small", 180, 300)
    tiles = plan_tiles(film.width_px, film.height_px, dpi=100, sheet=sheet)
    assert len(tiles) > 2
    seen = np.full_like(whole, 9)
    for tile in tiles:
        page = film_page(film, FilmLabel("red", "red", 1, 1), tile=tile)
        part = page.films[0].film
        bits = np.unpackbits(np.concatenate(list(part.bands())), axis=1, count=part.width_px)
        left = film.width_px - tile.x_px - tile.width_px if mirror else tile.x_px
        seen[tile.y_px : tile.y_px + tile.height_px, left : left + tile.width_px] = bits
    assert np.array_equal(seen, whole)


@pytest.mark.parametrize("text", ["A9", "", "300", "axb", "0x0mm", "-3x4mm"])
def test_what_is_no_sheet_is_refused(text):
    with pytest.raises(UsageError):
        parse_sheet(text)


def test_names_and_sizes_are_read():
    assert parse_sheet("a3").width_mm == 297
    assert parse_sheet("13x19in").height_mm == pytest.approx(482.6)
    assert parse_roll("432mm").width_mm == 432


@pytest.mark.parametrize("sheet", [Sheet("tiny", 100, 100), Sheet("low", 300, 80), Sheet("narrow", 60, None)])
def test_a_sheet_smaller_than_its_margins_is_refused(sheet):
    with pytest.raises(UsageError, match="smaller than a film's margins"):
        plan_tiles(px(200), px(200), dpi=DPI, sheet=sheet)
