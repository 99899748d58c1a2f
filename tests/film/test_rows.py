from __future__ import annotations

import tracemalloc
from dataclasses import replace

import numpy as np
import pytest
from scipy import ndimage

from sepkit.errors import UsageError
from sepkit.film.rows import FilmSettings, ToneMask, plan_film
from sepkit.film.tone import DotGain, ToneLimits
from sepkit.model import Halftone

DOTS = Halftone(45, 22.5, "ellipse")


def art(height=150, width=131):
    y, x = np.mgrid[0:height, 0:width].astype(float)
    plane = np.clip(x * 2.2 + 20 * np.sin(y / 9), 0, 255)
    plane[(x - 60) ** 2 + (y - 90) ** 2 < 30**2] = 255
    plane[(x - 60) ** 2 + (y - 90) ** 2 < 12**2] = 0
    return plane.astype(np.uint8), y < 100


def bits_of(film):
    rows = np.concatenate(list(film.bands()))
    assert rows.shape == (film.height_px, -(-film.width_px // 8))
    spare = 8 * rows.shape[1] - film.width_px
    assert not (rows[:, -1] & ((1 << spare) - 1)).any()
    return np.unpackbits(rows, axis=1, count=film.width_px).astype(bool)


def planned(*, width_mm=11.37, settings=None, halftone=DOTS, tone=True):
    plane, mask = art()
    height_mm = width_mm * plane.shape[0] / plane.shape[1]
    return plan_film(
        plane,
        mask if tone else None,
        halftone,
        width_mm=width_mm,
        height_mm=height_mm,
        settings=settings or FilmSettings(limits=ToneLimits(160, 160), gain=DotGain(20)),
    )


@pytest.mark.parametrize("width_mm", [11.37, 131 * 25.4 / 300, 5.0])
def test_band_height_does_not_change_a_bit(width_mm):
    whole = bits_of(planned(width_mm=width_mm))
    for rows in (1, 16, 64, 256):
        film = planned(width_mm=width_mm)
        film = replace(film, settings=replace(film.settings, band_rows=rows))
        assert np.array_equal(bits_of(film), whole)


@pytest.mark.parametrize("limits", [ToneLimits(0, 0), ToneLimits(212, 160)], ids=["all", "no crumbs"])
@pytest.mark.parametrize("mirror", [False, True])
def test_a_part_has_the_bits_of_the_whole(mirror, limits):
    """Wherever its edges cut a dot; a part of a part too."""
    settings = FilmSettings(gain=DotGain(20), limits=limits, mirror=mirror, band_rows=32)
    film = planned(settings=settings)
    whole = bits_of(film)
    for x, y in ((33, 71), (0, 0), (34, 74), (37, 2), (film.width_px - 150, film.height_px - 220)):
        part = film.part(x, y, 150, 220)
        assert np.array_equal(bits_of(part), whole[y : y + 220, x : x + 150])
        assert np.array_equal(bits_of(part.part(3, 1, 60, 90)), whole[y + 1 : y + 91, x + 3 : x + 63])


def test_mirror_is_the_film_seen_from_behind():
    straight = planned()
    mirrored = replace(straight, settings=replace(straight.settings, mirror=True))
    assert np.array_equal(bits_of(mirrored), bits_of(straight)[:, ::-1])


def test_dots_stand_in_the_tone_and_crisp_edges_elsewhere():
    film = planned(settings=FilmSettings())
    crisp = planned(settings=FilmSettings(), tone=False)
    seam = round(100 * film.height_px / 150)
    got, flat = bits_of(film), bits_of(crisp)
    assert np.array_equal(got[seam + 1 :], flat[seam + 1 :])
    assert not np.array_equal(got[: seam - 1], flat[: seam - 1])


def test_no_ink_stays_empty_and_solid_stays_solid():
    for level in (0, 255):
        plane = np.full((40, 40), level, np.uint8)
        film = plan_film(plane, np.ones(plane.shape, bool), DOTS, width_mm=9, height_mm=9, settings=FilmSettings())
        assert bits_of(film).mean() == level / 255


@pytest.mark.parametrize("shape", ["round", "ellipse", "line", "blue-noise"])
def test_tints_from_1_to_99_percent_come_out(shape):
    """Within 0.05 points over a whole number of tiles' worth of area; one patch is 2 x 2 in."""
    worst = 0.0
    for percent in (1, 2, 5, 10, 25, 40, 50, 60, 75, 90, 95, 98, 99):
        level = round(percent * 2.55)
        plane = np.full((8, 8), level, np.uint8)
        film = plan_film(
            plane,
            np.ones(plane.shape, bool),
            Halftone(45, 22.5, shape),
            width_mm=50.8,
            height_mm=50.8,
            settings=FilmSettings(),
        )
        worst = max(worst, abs(bits_of(film).mean() - level / 255) * 100)
    assert worst < 0.05


def test_half_dots_are_not_left():
    """Where a tone runs out, no crumb smaller than half the smallest dot remains, and without the step some do."""
    limits = ToneLimits(212, 212)
    y, x = np.mgrid[0:400, 0:400]
    plane = np.clip(90 * np.sin(x / 17) * np.sin(y / 23) + 40, 0, 255).astype(np.uint8)
    kept = {}
    for name, chosen in (("cleaned", limits), ("cut", ToneLimits(0, 0))):
        film = plan_film(
            plane,
            np.ones(plane.shape, bool),
            DOTS,
            width_mm=33.87,
            height_mm=33.87,
            settings=FilmSettings(limits=chosen),
        )
        labels, _ = ndimage.label(bits_of(film), np.ones((3, 3), int))
        boxes = ndimage.find_objects(labels)
        kept[name] = sum(max(s.stop - s.start for s in box) <= 3 for box in boxes)
    assert kept["cleaned"] == 0
    assert kept["cut"] > 0


def test_prints_on_one_sheet_share_one_phase():
    plane = np.full((60, 60), 100, np.uint8)
    mask = np.ones(plane.shape, bool)
    sheet = bits_of(plan_film(plane, mask, DOTS, width_mm=20, height_mm=20, settings=FilmSettings()))
    shifted = plan_film(
        plane, mask, DOTS, width_mm=6, height_mm=6, settings=FilmSettings(screen_x_px=200, screen_y_px=130)
    )
    part = bits_of(shifted)
    assert np.array_equal(part, sheet[130 : 130 + part.shape[0], 200 : 200 + part.shape[1]])


def test_a_mask_survives_packing():
    _, mask = art()
    packed = ToneMask.pack(mask)
    assert packed.shape == mask.shape
    assert np.array_equal(packed.rows(3, 120), mask[3:120])


@pytest.mark.parametrize("dpi", [0, 5000, float("nan"), -720])
def test_a_resolution_no_printer_has_is_refused(dpi):
    with pytest.raises(UsageError, match="dpi"):
        FilmSettings(dpi=dpi)


def test_a_size_that_is_none_is_refused():
    plane, _ = art()
    for size in (0, -3, float("nan")):
        with pytest.raises(UsageError, match="no size"):
            plan_film(plane, None, None, width_mm=size, height_mm=10, settings=FilmSettings())


def test_memory_does_not_grow_with_the_film():
    peaks = {}
    for height_mm in (30.0, 300.0):
        film = plan_film(
            *(np.full((100, 100), 90, np.uint8), np.ones((100, 100), bool)),
            DOTS,
            width_mm=60,
            height_mm=height_mm,
            settings=FilmSettings(limits=ToneLimits(160, 160)),
        )
        for _ in film.bands():
            pass
        tracemalloc.start()
        count = sum(rows.shape[0] for rows in film.bands())
        peaks[height_mm] = tracemalloc.get_traced_memory()[1]
        tracemalloc.stop()
        assert count == film.height_px
    assert peaks[300.0] < 1.2 * peaks[30.0]
