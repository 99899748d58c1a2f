from __future__ import annotations

import numpy as np
import pytest

from sepkit.film.lettering import text_strokes, text_width_mm
from sepkit.film.marks import FilmLabel, film_page
from sepkit.film.page import Solid, Stroke
from sepkit.film.raster import page_rows
from sepkit.film.rows import FilmSettings, plan_film
from sepkit.model import Halftone, Mesh
from sepkit.press.sheet import Sheet, plan_tiles


def page_of(width_mm, height_mm, *, sheet=None, tone=True, dpi=300, **settings):
    plane = np.full((60, 60), 110, np.uint8)
    film = plan_film(
        plane,
        np.ones(plane.shape, bool) if tone else None,
        Halftone(35, 22.5, "round"),
        width_mm=width_mm,
        height_mm=height_mm,
        settings=FilmSettings(dpi=dpi, **settings),
    )
    label = FilmLabel("dark red", "Tomato é", 2, 3, Mesh(77, 55), "black tee", "lantern", 2)
    tile = None if sheet is None else plan_tiles(film.width_px, film.height_px, dpi=dpi, sheet=sheet)[0]
    return film_page(film, label, tile=tile)


def art_box(page):
    art = page.films[0]
    mm = 25.4 / page.dpi
    return art.x_px * mm, art.y_px * mm, (art.x_px + art.film.width_px) * mm, (art.y_px + art.film.height_px) * mm


SIZES = [(60, 45), (300, 350), (406.4, 508), (20, 400)]


SHEETS = [(284, 250, Sheet("A3", 297, 420)), (500, 500, Sheet("A3", 297, 420)), (420, 800, Sheet("roll", 432, None))]


@pytest.mark.parametrize(("width_mm", "height_mm", "sheet"), [(*size, None) for size in SIZES] + SHEETS)
def test_marks_lie_on_the_page_and_outside_the_art(width_mm, height_mm, sheet):
    page = page_of(width_mm, height_mm, sheet=sheet)
    left, top, right, low = art_box(page)
    for mark in page.marks:
        half = mark.width_mm / 2 if isinstance(mark, Stroke) else 0.0
        xs, ys = [x for x, _ in mark.points], [y for _, y in mark.points]
        assert min(xs) - half >= 0, mark
        assert min(ys) - half >= 0, mark
        assert max(xs) + half <= page.width_mm, mark
        assert max(ys) + half <= page.height_mm, mark
        inside = min(xs) < right and max(xs) > left and min(ys) < low and max(ys) > top
        assert not inside, mark


@pytest.mark.parametrize(("width_mm", "height_mm"), SIZES)
def test_at_least_three_targets_round_the_art(width_mm, height_mm):
    page = page_of(width_mm, height_mm)
    rings = [m for m in page.marks if isinstance(m, Stroke) and m.closed]
    assert len(rings) >= 3
    assert (
        len({(round(np.mean([p[0] for p in r.points]), 3), round(np.mean([p[1] for p in r.points]), 3)) for r in rings})
        >= 3
    )


def test_all_pages_of_a_job_have_one_origin():
    flat, toned = page_of(120, 90, tone=False), page_of(120, 90)
    assert (flat.width_px, flat.height_px) == (toned.width_px, toned.height_px)
    assert (flat.films[0].x_px, flat.films[0].y_px) == (toned.films[0].x_px, toned.films[0].y_px)
    targets = [[m.points for m in p.marks if isinstance(m, Stroke) and m.closed] for p in (flat, toned)]
    assert targets[0] == targets[1]


def bars(page, axis):
    """Long thin straight strokes along an axis, by length in mm."""
    out = []
    for mark in page.marks:
        if isinstance(mark, Stroke) and len(mark.points) == 2:
            (x0, y0), (x1, y1) = mark.points
            along, across = (abs(x1 - x0), abs(y1 - y0)) if axis == "x" else (abs(y1 - y0), abs(x1 - x0))
            if across == 0 and along >= 99:
                out.append(along)
    return out


def test_scale_bars_are_true_in_both_directions():
    large, small = page_of(300, 350), page_of(60, 45)
    for axis in "xy":
        assert bars(large, axis) == pytest.approx([300.0])
        assert bars(small, axis) == pytest.approx([100.0])


def test_the_wedge_shows_its_tints():
    page = page_of(150, 100, dpi=720)
    assert len(page.films) == 2
    strip = page.films[1].film
    bits = np.unpackbits(np.concatenate(list(strip.bands())), axis=1, count=strip.width_px)
    side = strip.width_px // 11
    tints = [bits[:, k * side + 20 : (k + 1) * side - 20].mean() * 100 for k in range(11)]
    assert tints == pytest.approx([5, 10, 20, 30, 40, 50, 60, 70, 80, 90, 95], abs=1.0)
    assert len(page_of(150, 100, tone=False).films) == 1


def words(page, text, height):
    """Whether the strokes of ``text`` occur somewhere on the page, at this height."""
    wanted = text_strokes(text, x_mm=0, y_mm=0, height_mm=height)
    have = [m.points for m in page.marks if isinstance(m, Stroke)]
    shapes = [tuple((round(x - p[0][0], 4), round(y - p[0][1], 4)) for x, y in p) for p in have]
    sought = [tuple((round(x - p[0][0], 4), round(y - p[0][1], 4)) for x, y in p) for p in wanted]
    return any(shapes[k : k + len(sought)] == sought for k in range(len(shapes)))


def test_the_margin_says_what_the_film_is():
    page = page_of(300, 350)
    for text in ("right-reading positive, emulsion (inked) side up", "35 lpi 22.5° round", "mesh 77-55"):
        assert words(page, text, 3.2)
    assert not words(page, "MIRRORED", 3.2)


@pytest.mark.parametrize("sheet", [None, Sheet("A3", 297, 420)])
def test_a_mirrored_film_is_the_other_film_seen_through_the_sheet(sheet):
    """Margin and art alike, bit for bit, but for the line that tells which is which."""
    given = {"dpi": 150, "sheet": sheet}
    right, mirrored = page_of(300, 350, **given), page_of(300, 350, mirror=True, **given)
    assert words(mirrored.mirrored(), "MIRRORED: right-reading", 3.2)
    assert not words(mirrored, "MIRRORED: right-reading", 3.2)
    a, b = (
        np.unpackbits(np.concatenate(list(page_rows(page))), axis=1, count=page.width_px).astype(bool)
        for page in (right, mirrored)
    )
    art = right.films[0]
    rows, columns = slice(art.y_px, art.y_px + art.film.height_px), slice(art.x_px, art.x_px + art.film.width_px)
    assert np.array_equal(a[rows, columns], b[:, ::-1][rows, columns])
    strip = right.films[1]
    rows, columns = slice(strip.y_px, strip.y_px + strip.film.height_px), slice(strip.x_px, strip.x_px + 600)
    assert np.array_equal(a[rows, columns], b[:, ::-1][rows, columns])
    assert (a != b[:, ::-1]).mean() < 0.01


def tile_pages(width_mm, height_mm, sheet, **settings):
    plane = np.full((60, 60), 255, np.uint8)
    film = plan_film(
        plane, None, None, width_mm=width_mm, height_mm=height_mm, settings=FilmSettings(dpi=150, **settings)
    )
    tiles = plan_tiles(film.width_px, film.height_px, dpi=150, sheet=sheet)
    return film, tiles, [film_page(film, FilmLabel("red", "red", 1, 1), tile=tile) for tile in tiles]


def crosses(page):
    """Centres of the small circles, mm, with the page's art at the origin."""
    left, top, _, _ = art_box(page)
    rings = [m for m in page.marks if isinstance(m, Stroke) and m.closed]
    return [(np.mean([p[0] for p in r.points]) - left, np.mean([p[1] for p in r.points]) - top) for r in rings]


@pytest.mark.parametrize("sheet", [Sheet("A4", 210, 297), Sheet("A3", 297, 420)])
def test_neighbours_carry_the_same_crosses_at_their_joint(sheet):
    film, tiles, pages = tile_pages(380, 450, sheet)
    mm = 25.4 / film.dpi
    columns = tiles[0].columns
    assert columns > 1
    for first, second in zip(range(len(tiles)), range(1, len(tiles)), strict=False):
        if second % columns == 0:
            continue
        sets = []
        for k in (first, second):
            tile = tiles[k]
            sets.append({(round(x + tile.x_px * mm, 2), round(y + tile.y_px * mm, 2)) for x, y in crosses(pages[k])})
        seam = round((tiles[second].x_px + tiles[second].seams_x_px[0]) * mm, 2)
        shared = {(x, y) for x, y in sets[0] & sets[1] if abs(x - seam) < 0.02}
        assert len(shared) == 2
        assert max(y for _, y in shared) - min(y for _, y in shared) > 100


def test_only_the_prints_own_corners_and_centre_are_marked_on_tiles():
    """Lines that run to the sheet's edge are the whole print's centre lines, never a tile's."""
    film, tiles, pages = tile_pages(380, 450, Sheet("A4", 210, 297))
    mm = 25.4 / film.dpi
    seen = 0
    for tile, page in zip(tiles, pages, strict=True):
        for mark in page.marks:
            if not isinstance(mark, Stroke) or len(mark.points) != 2:
                continue
            (x0, y0), (x1, y1) = mark.points
            if x0 == x1 and min(y0, y1) == 0.5:
                seen += 1
                centre = (tile.place.art_x_px - tile.x_px + film.width_px / 2) * mm
                assert x0 == pytest.approx(centre)
                assert tile.y_px == 0
    assert seen >= 1


def test_a_sheet_page_has_the_size_of_the_sheet():
    page = page_of(200, 250, sheet=Sheet("A3", 297, 420))
    assert page.width_mm == pytest.approx(297, abs=0.1)
    assert page.height_mm == pytest.approx(420, abs=0.1)
    left, _, right, _ = art_box(page)
    assert left == pytest.approx(page.width_mm - right, abs=0.2)


def test_raster_pages_hold_the_film_bit_for_bit_and_the_marks():
    page = page_of(60, 45)
    bits = np.unpackbits(np.concatenate(list(page_rows(page))), axis=1, count=page.width_px).astype(bool)
    assert bits.shape == (page.height_px, page.width_px)
    art = page.films[0]
    whole = np.unpackbits(np.concatenate(list(art.film.bands())), axis=1, count=art.film.width_px).astype(bool)
    rows, columns = slice(art.y_px, art.y_px + art.film.height_px), slice(art.x_px, art.x_px + art.film.width_px)
    assert np.array_equal(bits[rows, columns], whole)
    solids = [m for m in page.marks if isinstance(m, Solid)]
    for mark in solids:
        x = np.mean([p[0] for p in mark.points]) * page.dpi / 25.4
        y = np.mean([p[1] for p in mark.points]) * page.dpi / 25.4
        assert bits[int(y), int(x)]
    assert not bits[:3].any()


def test_letters_are_all_drawn_and_told_apart():
    letters = "ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789#%&()+,-./:;="
    drawn = {c: tuple(text_strokes(c, x_mm=0, y_mm=0, height_mm=6)) for c in letters}
    assert all(drawn.values())
    assert len(set(drawn.values())) == len(letters)


def test_letters_we_lack_become_a_box_and_accents_stay():
    plain = text_strokes("e", x_mm=0, y_mm=0, height_mm=6)
    accented = text_strokes("é", x_mm=0, y_mm=0, height_mm=6)
    assert accented[: len(plain)] == plain
    assert len(accented) == len(plain) + 1
    assert text_strokes("字", x_mm=0, y_mm=0, height_mm=6)
    assert text_width_mm("ab", 6) == pytest.approx(10)
    assert text_width_mm("", 6) == 0
