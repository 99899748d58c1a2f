from __future__ import annotations

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import ndimage

from sepkit.film.edges import EMPTY_LEVEL, REACH_PX, SOLID_LEVEL, without_outlines
from sepkit.film.rows import FilmSettings, plan_film
from sepkit.model import Halftone


@settings(max_examples=40)
@given(st.integers(1, 200), st.integers(1, 60), st.integers(0, 99))
def test_outlines_are_where_solid_and_empty_are_near(width, height, seed):
    rng = np.random.default_rng(seed)
    blocks = rng.choice(np.array([0, 90, 170, 255], np.uint8), (height // 5 + 1, width // 5 + 1))
    coverage = blocks.repeat(5, axis=0).repeat(5, axis=1)[:height, :width]
    tone = rng.random((height, width)) < 0.9
    square = np.ones((2 * REACH_PX + 1, 2 * REACH_PX + 1), bool)
    solid, empty = (ndimage.binary_dilation(m, square) for m in (coverage >= SOLID_LEVEL, coverage <= EMPTY_LEVEL))
    got = without_outlines(np.packbits(tone, axis=1), coverage)
    assert np.array_equal(np.unpackbits(got, axis=1, count=width).astype(bool), tone & ~(solid & empty))


def test_bands_join(monkeypatch):
    from sepkit.film import edges

    coverage = ndimage.zoom(np.random.default_rng(1).integers(0, 2, (30, 40)) * 255, 10, order=1).astype(np.uint8)
    tone = np.full((300, 50), 255, np.uint8)
    whole = without_outlines(tone, coverage)
    monkeypatch.setattr(edges, "BAND_ROWS", 7)
    assert np.array_equal(without_outlines(tone, coverage), whole)


def test_a_solid_in_a_tone_area_keeps_its_crisp_outline():
    """The film of a disc is the same whether the plate is called a tone or not; a fade beside it is still dots."""
    y, x = np.mgrid[0:240, 0:240] + 0.5
    disc = np.clip((70 - np.hypot(x - 100, y - 120)) * 255 + 127.5, 0, 255).astype(np.uint8)
    fade = np.clip((x - 190) * 4, 0, 200).astype(np.uint8)
    plane = np.maximum(disc, fade)
    films = [
        plan_film(plane, tone, Halftone(45, 22.5, "round"), width_mm=20.32, height_mm=20.32, settings=FilmSettings())
        for tone in (None, np.ones(plane.shape, bool))
    ]
    crisp, toned = (np.unpackbits(np.concatenate(list(f.bands())), axis=1, count=f.width_px) for f in films)
    edge = slice(0, round(180 * 2.4))
    assert np.array_equal(crisp[:, edge], toned[:, edge])
    assert not np.array_equal(crisp[:, edge.stop :], toned[:, edge.stop :])
