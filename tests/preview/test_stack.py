"""Stacks of plates: hand-computed films, Demichel and Neugebauer in linear light, soft edges, bands."""

from __future__ import annotations

import itertools
import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from sepkit.colorimetry.srgb import linear_to_srgb
from sepkit.coverage.sums import any_ink
from sepkit.preview import stack as stack_module
from sepkit.preview.stack import printed_rgb, stack_rgb
from tests.helpers.plates import garment, ink, plate

PRIMARIES = {(): (0.02, 0.02, 0.02), (0,): (0.8, 0.1, 0.1), (1,): (0.1, 0.5, 0.9), (0, 1): (0.3, 0.05, 0.2)}


def primary(stack):
    return np.array(PRIMARIES[stack])


def srgb8(linear):
    return np.rint(np.clip(linear_to_srgb(np.asarray(linear)), 0, 1) * 255).astype(np.uint8)


def plane(*values):
    return np.array([values], np.uint8)


def grey_film_on(absorption, scattering, ground):
    """Kubelka's hyperbolic solution (1948), air surface by Saunderson (k1 0.04, k2 0.6, 45:0), by hand."""
    inside = ground / (0.96 * 0.4 + 0.6 * ground)
    a = 1 + absorption / scattering
    b = math.sqrt(a * a - 1)
    coth = 1 / math.tanh(b * scattering)
    r = (1 - inside * (a - b * coth)) / (a - inside + b * coth)
    return 0.96 * 0.4 * r / (1 - 0.6 * r)


def test_one_solid_plate_is_the_kubelka_munk_colour():
    shirt, red = garment(0.02), ink("red", absorption=0.4, scattering=2.5)
    got = printed_rgb([plate(plane(255), of=red)], shirt)
    reflectance = 0.97 * grey_film_on(0.4, 2.5, 0.02) + 0.03 * 0.02  # one coat leaves 3 % of the cloth bare
    want = srgb8([reflectance] * 3)
    assert np.abs(got[0, 0].astype(int) - want).max() <= 1


def test_coats_and_order_reach_the_optics():
    shirt = garment(0.02)
    white, black = ink("white", absorption=0.006, scattering=5), ink("black", absorption=20, scattering=0.2)
    full = plane(255)
    once = printed_rgb([plate(full, of=white)], shirt)
    twice = printed_rgb([plate(full, of=white, coats=2)], shirt)
    assert twice[0, 0, 1] > once[0, 0, 1] + 4
    on_top = printed_rgb([plate(full, of=black), plate(full, of=white)], shirt)
    below = printed_rgb([plate(full, of=white), plate(full, of=black)], shirt)
    assert on_top[0, 0, 1] > below[0, 0, 1] + 100


def test_bare_pixels_are_the_garment():
    shirt = garment(0.3)
    got = printed_rgb([plate(plane(0, 255, 0))], shirt)
    assert np.abs(got[0, 0].astype(int) - np.array(shirt.srgb)).max() <= 1
    assert (got[0, 0] == got[0, 2]).all() and (got[0, 0] != got[0, 1]).any()


def test_half_tone_is_the_mean_in_linear_light():
    got = stack_rgb([plane(51)], primary, tones=[np.ones((1, 1), bool)])  # 51 / 255 = 20 %
    want = srgb8(0.2 * primary((0,)) + 0.8 * primary(()))
    assert (got[0, 0] == want).all()


def test_overlapping_tones_follow_demichel():
    tones = [np.ones((1, 1), bool)] * 2
    got = stack_rgb([plane(102), plane(204)], primary, tones=tones)  # 40 % and 80 %
    want = 0.4 * 0.8 * primary((0, 1)) + 0.4 * 0.2 * primary((0,)) + 0.6 * 0.8 * primary((1,)) + 0.12 * primary(())
    assert (got[0, 0] == srgb8(want)).all()


def test_a_soft_join_shows_no_garment():
    got = stack_rgb([plane(102), plane(153)], primary)
    assert (got[0, 0] == srgb8(0.4 * primary((0,)) + 0.6 * primary((1,)))).all()


def test_a_base_lies_under_a_soft_edge_and_not_beside_it():
    got = stack_rgb([plane(102), plane(102)], primary, under=[True, False])
    assert (got[0, 0] == srgb8(0.4 * primary((0, 1)) + 0.6 * primary(()))).all()


def test_colours_that_ask_for_more_than_the_pixel_overlap():
    got = stack_rgb([plane(204), plane(153)], primary)  # 80 % and 60 %
    want = 0.4 * primary((0,)) + 0.4 * primary((0, 1)) + 0.2 * primary((1,))
    assert (got[0, 0] == srgb8(want)).all()


def demichel(levels, colour):
    total = np.zeros(3)
    for on in itertools.product((0, 1), repeat=len(levels)):
        weight = math.prod(a if o else 1 - a for a, o in zip(levels, on, strict=True))
        total += weight * colour(tuple(i for i, o in enumerate(on) if o))
    return total


@settings(max_examples=30, deadline=None)
@given(st.lists(st.lists(st.integers(0, 255), min_size=4, max_size=4), min_size=1, max_size=12))
def test_four_tones_equal_the_sum_written_out(rows):
    def colour(stack):
        return np.array([0.9 / (1 + len(stack)), 0.05 + 0.2 * (0 in stack), 0.5 * (3 in stack)])

    pixels = np.array(rows, np.uint8).T[:, None, :]
    got = stack_rgb(list(pixels), colour, tones=[np.ones(pixels.shape[1:], bool)] * 4)
    want = np.array([srgb8(demichel(np.array(row) / 255, colour)) for row in rows])
    assert np.abs(got[0].astype(int) - want).max() <= 1


@settings(max_examples=15, deadline=None)
@given(st.integers(1, 400), st.integers(0, 2**32 - 1))
def test_bands_do_not_show(band_pixels, seed):
    rng = np.random.default_rng(seed)
    planes = [rng.choice(np.array([0, 0, 255, 255, 90, 91, 7], np.uint8), (13, 11)) for _ in range(2)]
    tones = [rng.random((13, 11)) < 0.3, None]
    whole = stack_rgb(planes, primary, tones=tones)
    assert (stack_rgb(planes, primary, tones=tones, band_pixels=band_pixels) == whole).all()


def test_more_combinations_than_the_cache_holds(monkeypatch):
    import sepkit.preview.stack as module

    monkeypatch.setattr(module, "CACHE_BITS", 3)
    levels = np.arange(256, dtype=np.uint8)[None].repeat(2, axis=0)
    got = stack_rgb([levels], primary, tones=[levels >= 0], band_pixels=256)
    share = levels[0, :, None] / 255
    assert (got == srgb8(share * primary((0,)) + (1 - share) * primary(()))).all()


def test_more_tone_on_dark_cloth_never_darkens():
    levels = np.arange(256, dtype=np.uint8)[None]
    white = ink("white", absorption=0.006, scattering=5)
    got = printed_rgb([plate(levels, of=white, tone=levels >= 0)], garment(0.02))
    assert (np.diff(got[0, :, 1].astype(int)) >= 0).all()


def test_dot_gain_works_on_tones_only():
    levels, tone = plane(128, 128, 255, 0), np.array([[True, False, True, True]])
    plain = printed_rgb([plate(levels, tone=tone)], garment(0.5))
    gained = printed_rgb([plate(levels, tone=tone)], garment(0.5), tone_curve=lambda _, t: t**0.5)
    full = printed_rgb([plate(plane(181), tone=np.array([[True]]))], garment(0.5))
    assert (gained[0, 0] == full[0, 0]).all()
    assert (gained[0, 1:] == plain[0, 1:]).all() and (gained[0, 0] != plain[0, 0]).any()


def test_many_plates():
    planes = [plane(255, 0, 128)] * 12
    got = stack_rgb(planes, lambda stack: np.full(3, len(stack) / 12), under=[True] * 12)
    assert (got[0, 0] == 255).all() and (got[0, 1] == 0).all()
    assert abs(int(got[0, 2, 0]) - int(srgb8(0.5))) <= 6  # sixteen levels of coverage are left


@pytest.mark.parametrize(
    ("planes", "words"),
    [
        ([], "0 plates"),
        ([np.zeros((2, 2), np.uint8)] * 16, "16 plates"),
        ([np.zeros((2, 2), np.uint8), np.zeros((2, 3), np.uint8)], "different size"),
        ([np.zeros((2, 2), np.float32)], "uint8"),
    ],
)
def test_planes_that_cannot_be_stacked(planes, words):
    with pytest.raises(ValueError, match=words):
        stack_rgb(planes, primary)


def test_any_ink():
    assert any_ink([plane(0, 1, 0), plane(0, 0, 255)]).tolist() == [[False, True, True]]


@settings(max_examples=25, deadline=None)
@given(st.integers(0, 1 << 30), st.integers(1, 5))
def test_dots_of_all_stacks_are_what_strips_make_of_them(seed, count):
    rng = np.random.default_rng(seed)
    planes = list(rng.choice(np.array([0, 3, 90, 180, 252, 255], np.uint8), (count, 20, 30)))
    tones = [rng.random((20, 30)) < 0.8 for _ in planes]
    linear = rng.random((1 << count, 3))
    under = list(rng.random(count) < 0.3)

    def mixed(most):
        with pytest.MonkeyPatch.context() as patch:
            patch.setattr(stack_module, "MOST_IN_DOTS", most)
            patch.setattr(stack_module, "DOTS_AT_ONCE", 64 << count)
            return stack_rgb(planes, lambda on: linear[sum(1 << i for i in on)], tones=tones, under=under)

    assert np.abs(mixed(8).astype(int) - mixed(0)).max() <= 1  # sums in another order
