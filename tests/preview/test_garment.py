"""Garment pictures: true size, true place, cloth that stays cloth."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from sepkit.colorimetry.srgb import linear_table
from sepkit.errors import UsageError
from sepkit.places import PLACES
from sepkit.preview.garment import WornPrint, area_average, draw_garment, draw_sizes, measures
from tests.helpers.plates import garment

GREEN = (0, 200, 0)


def ink_share(picture):
    """Share of green ink in each pixel of a print on grey or black cloth."""
    linear = linear_table()[picture]
    extra = linear[..., 1] - linear[..., 0]
    return extra / np.percentile(extra[extra > 0.1], 50)


def extent(share):
    """Width in px of a block of ink: the middle row's run above half ink."""
    inked = share > 0.5
    widths = inked.sum(axis=1)
    return float(np.median(widths[widths > 0]))


def worn(place="full front", *, width_mm=60.0, height_mm=60.0, pixels=(60, 60), ink=255, rgb=GREEN):
    plane = np.broadcast_to(np.array(rgb, np.uint8), (*pixels, 3))
    return WornPrint.of(plane, np.full(pixels, ink, np.uint8), width_mm, height_mm, PLACES[place])


@pytest.mark.parametrize("place", ["full front", "full back"])
@pytest.mark.parametrize("scale", [0.8, 1.23])
def test_a_print_of_100_mm_measures_100_mm(place, scale):
    got = draw_garment(garment(), worn(place, width_mm=100, height_mm=100), px_per_mm=scale)
    share = ink_share(got)
    assert extent(share) == pytest.approx(100 * scale, abs=1)
    assert extent(share.T) == pytest.approx(100 * scale, abs=1)


def test_left_chest_is_the_wearers_left():
    got = draw_garment(garment(), worn("left chest", width_mm=90, height_mm=90), px_per_mm=0.7)
    columns = np.nonzero(ink_share(got) > 0.5)[1]
    assert columns.mean() - got.shape[1] / 2 == pytest.approx(90 * 0.7, abs=1.5)


@pytest.mark.parametrize("shape", ["tee", "long sleeve"])
def test_a_sleeve_print_keeps_its_area_and_lies_on_the_sleeve(shape):
    one, scale = worn("left sleeve", height_mm=50), 1.0
    share = ink_share(draw_garment(garment(0.5, shape=shape), one, px_per_mm=scale))
    assert share[share > 0.02].sum() == pytest.approx(60 * 50 * scale**2, rel=0.05)
    bare = draw_garment(garment(0.5, shape=shape), replace(one, ink=one.ink * 0), px_per_mm=scale)
    under = bare[share > 0.9].mean(axis=1)
    assert under.min() > 0 and under.std() < 25  # cloth all over, no edge and no table under the print


def test_a_neck_label_shows_in_the_neck():
    got = draw_garment(garment(0.8), worn("neck label", width_mm=55, height_mm=50), px_per_mm=2.0)
    assert extent(ink_share(got)) == pytest.approx(110, abs=1)


@pytest.mark.parametrize("place", [place.name for place in PLACES.values() if place.part != "hood"])
def test_no_ink_changes_nothing(place):
    shirt = garment(0.4)
    got = draw_garment(shirt, worn(place, ink=0), px_per_mm=0.8)
    other = draw_garment(shirt, worn(place, ink=0, rgb=(0, 66, 0), width_mm=20, height_mm=40), px_per_mm=0.8)
    assert (got == other).all()


@pytest.mark.parametrize("reflectance", [0.012, 0.2, 0.88])
def test_cloth_keeps_its_colour(reflectance):
    shirt = garment(reflectance)
    got = draw_garment(shirt, worn(ink=0), px_per_mm=0.8)
    middle = got[got.shape[0] // 3 : got.shape[0] // 2, got.shape[1] * 2 // 5 : got.shape[1] * 3 // 5]
    assert np.abs(np.median(middle, axis=(0, 1)) - np.array(shirt.srgb)).max() <= 6


def test_bigger_sizes_are_bigger_and_the_print_is_not():
    one = worn(width_mm=200, height_mm=100)
    shirt = replace(garment(0.4), half_chest_mm={"S": 460.0, "3XL": 710.0}, body_length_mm={"S": 690.0, "3XL": 820.0})
    small, big = (draw_garment(shirt, one, size=size, px_per_mm=0.6) for size in ("S", "3XL"))
    assert big.shape[0] > small.shape[0] and big.shape[1] > small.shape[1]
    assert extent(ink_share(small)) == pytest.approx(extent(ink_share(big)), abs=1)
    both = draw_sizes(shirt, one, sizes=("S", "3XL"), px_per_mm=0.6)
    assert both.shape[1] == small.shape[1] + big.shape[1] and both.shape[0] > big.shape[0]
    with pytest.raises(UsageError, match='no size "XXL" of plain'):
        measures(shirt, "XXL")


@settings(max_examples=25, deadline=None)
@given(
    st.integers(1, 90),
    st.integers(1, 70),
    st.floats(0.6, 60),
    st.floats(0.6, 60),
    st.floats(0, 0.99),
    st.floats(0, 0.99),
)
def test_averaging_keeps_ink_and_light(height, width, wide, tall, dx, dy):
    rng = np.random.default_rng(height * 97 + width)
    rgb = rng.integers(0, 256, (height, width, 3), dtype=np.uint8)
    mask = rng.integers(0, 2, (height, width), dtype=np.uint8)
    ink = WornPrint.of(rgb, mask, wide, tall, PLACES["full front"]).ink
    small = area_average(ink, wide_px=wide, tall_px=tall, phase=(dx, dy))
    pixel = wide * tall / (height * width)
    assert small[..., 3].sum() == pytest.approx(mask.sum() * pixel, rel=1e-3, abs=1e-3)
    light = (linear_table()[rgb] * mask[..., None]).sum(axis=(0, 1)) * pixel
    assert small[..., :3].sum(axis=(0, 1)) == pytest.approx(light, rel=1e-3, abs=1e-3)


def test_averaging_is_in_linear_light():
    rgb = np.array([[[0, 0, 0], [255, 255, 255]]], np.uint8)
    ink = WornPrint.of(rgb, np.ones((1, 2), np.uint8), 1, 1, PLACES["full front"]).ink
    got = area_average(ink, wide_px=1, tall_px=1, phase=(0.0, 0.0))
    assert got[0, 0] == pytest.approx([0.5, 0.5, 0.5, 1.0], abs=1e-6)
