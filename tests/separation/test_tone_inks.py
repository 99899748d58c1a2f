"""Which inks tones get: none invented at the rims of gradients, no two that the eye takes for one."""

from __future__ import annotations

import numpy as np
import pytest

from sepkit.colorimetry.difference import delta_e_2000
from sepkit.colorimetry.srgb import linear_to_srgb, srgb8_to_lab
from sepkit.model import Artwork, InkRequest
from sepkit.separation.noise import character
from sepkit.separation.separate import separate
from sepkit.separation.simplex import mix_shares
from sepkit.separation.tones import linear_of, shares_of_pixels, tone_ends, unrounded, with_rim
from sepkit.separation.tuned_mixing import TONE_INKS
from tests.helpers.drawn_art import artwork

CREAM = (250, 250, 248)


def softly(rng, sigma, shape=(180, 240)):
    from scipy import ndimage

    plane = ndimage.gaussian_filter(rng.normal(size=shape), sigma)
    return (plane - plane.min()) / np.ptp(plane)


def test_a_gradient_beside_noise_makes_no_ink_of_its_rim():
    rng = np.random.default_rng(3)
    art = np.full((180, 240, 3), (244, 236, 214), float)
    ramp = np.linspace(0, 1, 200)[None, :, None]
    art[20:100, 20:220] = np.array((200, 40, 40)) * (1 - ramp) + np.array((250, 200, 60)) * ramp
    cloud = softly(rng, 6)[110:170, 20:220, None]
    art[110:170, 20:220] = np.array((20, 20, 24)) * (1 - cloud) + np.array((244, 236, 214)) * cloud
    found = separate(artwork(np.rint(art), dpi=254), CREAM, InkRequest())
    assert len(found.areas) <= 5


def test_strong_grain_is_a_photograph_not_clean_art():
    rng = np.random.default_rng(5)
    art = 60 + 120 * softly(rng, 20)[..., None] * np.array((1, 0.7, 0.5)) + rng.normal(0, 6, (180, 240, 3))
    rgb = np.clip(np.rint(art), 0, 255).astype(np.uint8)
    assert character(rgb, np.full(rgb.shape[:2], 255, np.uint8), CREAM).photograph
    y, x = np.mgrid[:180, :240]
    hatch = np.where(((x + y) % 2 == 0)[..., None], (20, 20, 20), (230, 60, 50)).astype(np.uint8)
    assert not character(hatch, np.full(hatch.shape[:2], 255, np.uint8), CREAM).noisy


@pytest.mark.parametrize("count", [3, 6])
def test_no_two_tone_inks_look_alike(count):
    ramp = np.linspace(0, 1, 256)[:, None]
    colours = np.rint(np.array((200, 40, 40)) * (1 - ramp) + np.array((250, 200, 60)) * ramp).astype(np.uint8)
    fixed = linear_of(np.array([CREAM, (244, 236, 214)], np.uint8))
    ends = tone_ends(linear_of(colours), np.ones(256), fixed, count=count, pixel_mm2=1.0)
    rgb = np.rint(255 * np.where(ends <= 0.0031308, 12.92 * ends, 1.055 * np.maximum(ends, 1e-9) ** (1 / 2.4) - 0.055))
    lab = srgb8_to_lab(rgb.astype(np.uint8))
    apart = delta_e_2000(lab[:, None], lab[None]) + 99 * np.eye(len(lab))
    assert len(ends) >= 2
    assert apart.min() >= TONE_INKS.twin_de00 - 1  # 8-bit rounding


def test_the_rim_reaches_as_far_on_all_sides():
    tone = np.zeros((30, 40), bool)
    tone[12:16, 18:22] = True
    wide = np.zeros_like(tone)
    wide[8:20, 14:26] = True
    assert np.array_equal(with_rim(tone), wide)


@pytest.mark.parametrize(("pixel_mm2", "more"), [(0.01, 0), (1.0, 1)])
def test_a_tone_ink_is_worth_its_area(pixel_mm2, more):
    """Fifty pixels of a colour that nothing else mixes: a small part at 1 mm2 each, nothing at 0.01."""
    colours = np.array([[250, 250, 248], [40, 60, 160], [145, 155, 204], [230, 60, 40]], np.uint8)
    weight = np.array([500.0, 500, 500, 50])
    fixed = linear_of(colours[:2])
    ends = tone_ends(linear_of(colours), weight, fixed, count=None, pixel_mm2=pixel_mm2)
    assert len(ends) == more
    assert len(tone_ends(linear_of(colours), weight, fixed, count=1, pixel_mm2=pixel_mm2)) == 1, "asked for is given"


def test_the_only_ink_of_a_small_tone_stays():
    colours = np.array([[250, 250, 248], [40, 60, 160], [145, 155, 204]], np.uint8)
    ends = tone_ends(linear_of(colours), np.ones(3), linear_of(colours[:1]), count=None, pixel_mm2=0.01)
    assert len(ends) == 1


def test_a_grey_shadow_is_black_ink_alone():
    """Yellow, green, blue and red mix greys with white cloth as exactly as black does."""
    ends = linear_of(
        np.array(
            [(244, 244, 242), (235, 225, 150), (80, 170, 70), (50, 80, 180), (210, 40, 50), (12, 12, 14)], np.uint8
        )
    )
    greys = np.repeat(np.arange(40, 236, dtype=np.uint8)[:, None], 3, axis=1)
    shares = shares_of_pixels(greys, ends)
    assert mix_shares(linear_of(greys), ends)[:, 1:5].sum(axis=1).max() > 0.3, "the mixture alone uses the colours"
    assert shares[:, 1:5].max() <= 26
    assert np.median(shares[:, 1:5].sum(axis=1)) <= 3


def test_tones_pass_evenly_from_one_ink_to_a_mixture():
    ends = linear_of(np.array([(244, 244, 242), (235, 225, 150), (50, 80, 180), (210, 40, 50), (12, 12, 14)], np.uint8))
    way = np.linspace((128, 128, 128), (150, 70, 80), 200).round().astype(np.uint8)
    steps = np.abs(np.diff(shares_of_pixels(way, ends).astype(int), axis=0))
    assert steps.max() <= 40, "a switch would be over 100"


def test_a_mixture_of_two_inks_that_no_tint_matches_is_left_alone():
    ends = linear_of(np.array([(26, 26, 28), (40, 28, 84), (255, 103, 0), (156, 0, 160)], np.uint8))
    colours = np.clip(
        np.rint(
            linear_to_srgb(np.linspace(0.1, 0.9, 50)[:, None] * ends[2] + np.linspace(0.9, 0.1, 50)[:, None] * ends[3])
            * 255
        ),
        0,
        255,
    ).astype(np.uint8)
    want = np.rint(mix_shares(linear_of(colours), ends) * 255).astype(int)
    assert np.abs(shares_of_pixels(colours, ends) - want).max() <= 1


def test_a_slow_ramp_of_two_near_inks_has_no_steps_and_keeps_to_its_levels():
    ends = linear_of(np.array([[24, 30, 52], [40, 38, 66]], np.uint8))
    t = np.linspace(0, 1, 150)[:, None, None]
    art = np.rint(np.array((24, 30, 52)) * (1 - t) + np.array((40, 38, 66)) * t).repeat(40, 1).astype(np.uint8)
    everywhere = np.ones(art.shape[:2], bool)
    fine = unrounded(art, everywhere)
    assert np.abs(fine - art.reshape(-1, 3)).max() <= 0.5

    def steps(colours):
        return np.abs(np.diff(shares_of_pixels(colours, ends)[:, 1].reshape(150, 40)[15:-15].astype(int), axis=0))

    assert steps(fine).max() < 0.5 * steps(art.reshape(-1, 3)).max()


def test_an_edge_is_not_evened_out():
    art = np.full((40, 40, 3), 30, np.uint8)
    art[:, 20:] = 200
    assert np.abs(unrounded(art, np.ones((40, 40), bool)) - art.reshape(-1, 3)).max() <= 0.5


@pytest.mark.parametrize("soft_px", [0.0, 0.8])
def test_white_lettering_on_transparency_is_solid_however_small_and_soft(soft_px):
    from PIL import Image, ImageDraw, ImageFont
    from scipy.ndimage import gaussian_filter

    big = Image.new("L", (1800, 480), 0)
    ImageDraw.Draw(big).ellipse((1300, 40, 1700, 440), fill=255)
    for row in range(5):
        words = "harbour lantern festival west oars"
        ImageDraw.Draw(big).text((20, 20 + 88 * row), words, fill=255, font=ImageFont.load_default(32 + 4 * row))
    alpha = np.asarray(big.resize((450, 120), Image.Resampling.BOX), np.float32)
    alpha = np.rint(gaussian_filter(alpha, soft_px)).astype(np.uint8)
    art = Artwork(np.full((120, 450, 3), 255, np.uint8), alpha, 112.5, 30.0, "letters")
    for ground in ((28, 28, 30), (170, 25, 35)):
        found = separate(art, ground, InkRequest())
        assert len(found.areas) == 1
        assert found.areas[0].tone is None
        assert "tones" not in {finding.code for finding in found.findings}


@pytest.mark.parametrize(("sigma_px", "strength"), [(2.5, 0.7), (4.0, 0.3), (8.0, 1.0)])
def test_soft_shadows_and_glows_stay_tones(sigma_px, strength):
    from scipy.ndimage import gaussian_filter

    from sepkit.separation.tones import soft_alpha

    solid = np.zeros((200, 200))
    solid[60:120, 60:130] = 1
    cast = gaussian_filter(np.roll(solid, 8, (0, 1)), sigma_px) * strength
    alpha = np.rint(255 * (solid + (1 - solid) * cast)).astype(np.uint8)
    veil = soft_alpha(alpha, edge_width_px=1.3, pixel_mm2=0.016)
    assert veil is not None
    assert veil[(alpha > 4) & (alpha < 245)].mean() > 0.9


def test_a_shadow_on_cloth_as_dark_makes_no_ink_a_tone():
    y, x = np.mgrid[0:260, 0:260]
    away = np.hypot(np.maximum(np.abs(x - 140) - 60, 0), np.maximum(np.abs(y - 140) - 60, 0))
    alpha = 150 * np.exp(-((away / 22) ** 2))
    rgb = np.zeros((260, 260, 3), np.uint8)
    rgb[50:190, 50:190], alpha[50:190, 50:190] = (250, 240, 220), 255
    art = Artwork(rgb, np.rint(alpha).astype(np.uint8), 100.0, 100.0, "sticker")
    on_black, on_white = (separate(art, cloth, InkRequest()) for cloth in ((26, 26, 28), (244, 244, 242)))
    assert all(area.tone is None for area in on_black.areas)
    assert any(area.tone is not None for area in on_white.areas)
