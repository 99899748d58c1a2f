"""A subject's art lies where coordinates say, edge for edge as on its film, and so do its check discs."""

from __future__ import annotations

import numpy as np
import pytest

from sepkit.film.rows import FilmSettings, plan_film
from sepkit.reading.subject import PX_PER_MM
from sepkit.workshop.photo.subject import _any, _of_film, _plane, _toned, _with_margin


@pytest.mark.parametrize(("side_mm", "px"), [(40.0, 472), (40.03, 473), (40.07, 1000)])
def test_art_lies_where_coordinates_say_whatever_its_size(side_mm, px):
    """A bar between known shares of the art, at its far side: its edges by its sum, to a few hundredths of a mm."""
    printed = np.zeros((px, px), np.uint8)
    printed[:, px // 2 :] = 255
    size = (side_mm, side_mm)
    for plane in (_of_film(printed, size, FilmSettings(1440.0)), _with_margin(printed, size, 0.0)):
        row = plane[plane.shape[0] // 2] / 255
        bar = row.sum() / PX_PER_MM
        middle = float((row * (np.arange(len(row)) + 0.5)).sum() / row.sum()) / PX_PER_MM
        left = px // 2 / px * side_mm
        assert bar == pytest.approx(side_mm - left, abs=0.03)
        assert middle == pytest.approx((left + side_mm) / 2, abs=0.02)


@pytest.mark.parametrize(("dpi", "side_mm"), [(300.0, 12.5), (720.0, 9.3), (487.0, 7.77)])
def test_an_edge_is_its_films_not_its_plates(dpi, side_mm):
    """Samples hold what share of them a film of whole pixels inks, pixels in part counted in part."""
    rng = np.random.default_rng(3)
    printed = np.where(np.kron(rng.random((5, 5)) < 0.5, np.ones((17, 17))) > 0, 255, 0).astype(np.uint8)
    settings = FilmSettings(dpi)
    film = plan_film(printed, None, None, width_mm=side_mm, height_mm=side_mm, settings=settings)
    bits = np.unpackbits(np.concatenate(list(film.bands())), axis=1, count=film.width_px)
    got = _of_film(printed, (side_mm, side_mm), settings) / 255
    for row, column in rng.integers(0, got.shape[0] - 1, (60, 2)):
        cuts = [np.clip((np.arange(bits.shape[0] + 1) * 25.4 / dpi) * PX_PER_MM, at, at + 1) for at in (row, column)]
        down, across = (np.diff(cut) for cut in cuts)
        assert got[row, column] == pytest.approx(down @ bits @ across, abs=0.003)


def test_tones_are_the_plates_and_edges_beside_them_the_films() -> None:
    """A plate that is a grey field at left, and a box of ink at right: means of the plate, and 0 or all of the film."""
    printed, tone = np.zeros((400, 800), np.uint8), np.zeros((400, 800), bool)
    printed[:, :400], tone[:, :400] = 100, True
    printed[100:300, 500:700] = 255
    size, settings = (20.0, 10.0), FilmSettings(720.0)
    toned = _toned(tone, size, 1.0)
    plane = _plane(printed, toned, size, 1.0, settings)
    assert toned is not None and toned.shape == plane.shape
    inside = plane[12:-12, 12:-12]
    assert set(np.unique(inside[:, :118])) == {100}
    assert inside[60, 180] == 255 and inside[5, 230] == 0
    assert np.array_equal(inside[:, 121:], _of_film(printed, size, settings)[:, 121:])
    assert _toned(~tone & tone, size, 1.0) is None and _toned(None, size, 1.0) is None
    assert _any([None, None]) is None
    assert np.array_equal(_any([None, toned, _toned(~tone, size, 1.0)])[12:-12, 12:-12], np.ones_like(inside) > 0)
