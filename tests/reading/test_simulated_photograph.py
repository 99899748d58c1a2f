"""A small print photographed and read: the truth is the simulator's."""

from __future__ import annotations

import io
from dataclasses import replace

import numpy as np
import pytest
from PIL import Image

from sepkit.files.folders.print_folder import read_print_folder
from sepkit.reading.find import Search, find
from sepkit.reading.lay import strayed
from sepkit.reading.picture import Photo
from sepkit.reading.screens import fitted
from sepkit.reading.spots import find_spots
from sepkit.workshop.photo.subject import subject_of_folder
from tests.helpers.photographs import Spot, random_shot, take_photo
from tests.helpers.printed_cloth import printed_folder
from tests.helpers.small_prints import small_folder


@pytest.fixture(scope="module")
def small(tmp_path_factory):
    folder = small_folder(tmp_path_factory.mktemp("small") / "print")
    printed = printed_folder(folder)
    shot = random_shot(printed, 5, px_per_mm=8.0, sizes=())
    shot.spots = [Spot("pinhole", 2, 38.0, 30.0, 0.8), Spot("void", 1, 12.0, 32.0, 1.0)]
    taken = take_photo(printed, shot)
    with Image.open(io.BytesIO(taken.jpeg)) as image:
        photo = Photo(np.asarray(image.convert("RGB")))
    subject = subject_of_folder(read_print_folder(folder))
    place = find(subject, photo, search=Search(sizes=4))
    return subject, photo, taken, place, fitted(subject, photo, place)


def test_the_print_is_found(small):
    subject, _, taken, place, _ = small
    assert place.score > 0.7
    from sepkit.reading.warp import applied

    off = np.abs(applied(place.homography, subject.corners) - taken.geometry.to_photo(subject.corners)).mean()
    assert off < 3 * 8  # px; cloth is stretched


def test_register_growth_and_their_bands(small):
    _, _, taken, _, fit = small
    assert fit.state.reference == 0
    for k in (1, 2):
        read = fit.screens[k]
        dx, dy, turn = taken.geometry.relative(k, 0)
        off = np.hypot(read.fit.dx_mm - dx, read.fit.dy_mm - dy)
        assert read.why == "" and read.discs >= 4
        assert off < 0.06 and off <= read.band_mm
        assert abs(np.degrees(read.fit.turn) - turn) < 0.1
        assert abs(read.fit.growth_mm - taken.shot.screens[k].growth_mm) < 0.03


def test_spots_have_their_screen_place_and_size(small):
    subject, photo, taken, _, fit = small
    found = find_spots(subject, photo, fit)
    sure = [spot for spot in found.spots if spot.sure]
    assert len(sure) == 2
    for truth in taken.shot.spots:
        near = min(sure, key=lambda s: np.hypot(s.x_mm - truth.x_mm, s.y_mm - truth.y_mm))
        assert (near.kind, near.screen) == (truth.kind, truth.plate)
        assert np.hypot(near.x_mm - truth.x_mm, near.y_mm - truth.y_mm) < 0.5
        assert near.size_mm == pytest.approx(truth.size_mm, abs=0.3)


def test_a_print_laid_beside_its_place_is_noticed(small):
    subject, photo, _, _, fit = small
    assert fit.strayed < 0.05
    warp = fit.state.warp
    beside = replace(fit.state, warp=replace(warp, slip=warp.slip + np.array([0.5, -0.3])))
    assert strayed(subject, photo, beside) > 0.6


def test_another_print_is_not_found_in_it(small, tmp_path):
    _, photo, *_ = small
    other = subject_of_folder(read_print_folder(small_folder(tmp_path / "other", turned=True, discs=False)))
    place = find(other, photo, top="up", search=Search(sizes=4))
    assert place is None or place.score < 0.5
