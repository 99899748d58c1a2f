"""Comparing art and print: figures over art and ink, maps, averaging."""

from __future__ import annotations

import numpy as np
import pytest

from sepkit.colorimetry.difference import delta_e_2000
from sepkit.colorimetry.srgb import srgb8_to_lab
from sepkit.preview import difference, seen
from sepkit.preview.compare import compare_sheet, map_colours
from sepkit.preview.difference import difference_map, difference_stats
from sepkit.preview.seen import Panels, SeenPrint, art_on_garment, reduced


def noise(seed, shape=(30, 40)):
    return np.random.default_rng(seed).integers(0, 256, (*shape, 3), dtype=np.uint8)


def test_no_difference_from_itself():
    picture = noise(1)
    stats = difference_stats(picture, picture)
    assert (stats.mean_de00, stats.p95_de00, stats.worst_de00, stats.far_share) == (0, 0, 0, 0)
    assert stats.pixels == 1200
    assert (difference_map(picture, picture) == 0).all()


def test_figures_equal_those_of_every_pixel():
    a, b = noise(1), noise(2)
    where = np.random.default_rng(3).random((30, 40)) < 0.5
    each = delta_e_2000(srgb8_to_lab(a), srgb8_to_lab(b))
    stats = difference_stats(a, b, where=where)
    assert stats.pixels == where.sum()
    assert stats.mean_de00 == pytest.approx(each[where].mean(), rel=1e-6)
    assert stats.p95_de00 == pytest.approx(np.quantile(each[where], 0.95, method="inverted_cdf"), rel=1e-6)
    assert stats.far_share == pytest.approx((each[where] > 5).mean())
    assert difference_map(a, b) == pytest.approx(each, abs=1e-5)


def test_bands_do_not_show(monkeypatch):
    a, b = noise(4), noise(5)
    whole, small = difference_stats(a, b), reduced(a, most_px=9)
    monkeypatch.setattr(difference, "BAND_PIXELS", 90)
    monkeypatch.setattr(seen, "BAND_PIXELS", 90)
    again = difference_stats(a, b)
    assert (again.mean_de00, again.p95_de00) == pytest.approx((whole.mean_de00, whole.p95_de00))
    assert (reduced(a, most_px=9) == small).all()


def test_only_art_and_ink_count():
    a = np.zeros((10, 10, 3), np.uint8)
    b = a.copy()
    b[:2] = 255
    where = np.zeros((10, 10), bool)
    where[:4] = True
    assert difference_stats(a, b, where=where).mean_de00 == pytest.approx(50, abs=0.01)
    assert difference_stats(a, b).mean_de00 == pytest.approx(20, abs=0.01)
    assert difference_stats(a, b, where=where & False).pixels == 0


def test_reducing_averages_light():
    checks = np.indices((40, 60)).sum(axis=0) % 2 * np.uint8(255)
    grey = reduced(np.repeat(checks[..., None], 3, axis=2).astype(np.uint8), most_px=30)
    assert grey.shape == (20, 30, 3)
    assert (grey == 188).all()  # half the light is 188 in sRGB


def test_reducing_keeps_part_blocks():
    picture = np.full((7, 5, 3), 100, np.uint8)
    assert (reduced(picture, most_px=3) == 100).all() and reduced(picture, most_px=3).shape == (3, 2, 3)
    assert reduced(picture, most_px=7) is picture


def test_art_is_laid_over_the_garment():
    rgb = np.array([[[200, 100, 0]] * 3], np.uint8)
    got = art_on_garment(rgb, np.array([[0, 255, 128]], np.uint8), (10, 20, 30))
    assert got[0, 0].tolist() == [10, 20, 30] and got[0, 1].tolist() == [200, 100, 0]
    assert got[0, 2].tolist() == [105, 60, 15]


def test_map_is_ordered_by_lightness():
    light = srgb8_to_lab(map_colours(np.linspace(0, 10, 60)))[..., 0]
    assert (np.diff(light) < 0).all() and light[0] > 95 and light[-1] < 20
    assert (map_colours(np.array(10.0)) == map_colours(np.array(60.0))).all()


def test_sheet_shows_art_print_and_map():
    art = np.full((90, 120, 3), (200, 30, 40), np.uint8)
    printed = art.copy()
    printed[:, 60:] = (40, 30, 200)
    ink = np.zeros((90, 120, 4), np.float32)
    sheet = compare_sheet(SeenPrint(lambda: Panels(art, printed, ink), difference_stats(art, printed)), title="a badge")
    reds = (sheet == (200, 30, 40)).all(axis=2).sum()
    blues = (sheet == (40, 30, 200)).all(axis=2).sum()
    dark, same = map_colours(np.array(99.0)), map_colours(np.array(0.0))
    half = 9 * 90 * 60  # it is enlarged three times
    assert reds == 3 * half and blues == half
    assert (sheet == dark).all(axis=2).sum() >= half and (sheet == same).all(axis=2).sum() >= half


def test_pictures_of_different_size():
    with pytest.raises(ValueError, match="one size"):
        difference_stats(noise(1), noise(1, (30, 41)))


def test_small_art_is_enlarged_and_words_keep_to_their_panels() -> None:
    rng = np.random.default_rng(3)
    art = rng.integers(0, 256, (40, 30, 3)).astype(np.uint8)
    ink = np.zeros((40, 30, 4), np.float32)
    sheet = compare_sheet(SeenPrint(lambda: Panels(art, art, ink), difference_stats(art, art)))
    large = art.repeat(8, axis=0).repeat(8, axis=1)
    rows, columns = np.nonzero((sheet == large[0, 0]).all(axis=-1))
    places = zip(rows.tolist(), columns.tolist(), strict=True)
    assert any(np.array_equal(sheet[y : y + 320, x : x + 240], large) for y, x in places)
    third = 2 * sheet.shape[1] // 3
    below = sheet[-40:, third - 12 : third]  # words of the art's figures end before the map's
    assert (below == below[0, 0]).all()
