"""Small drawn art after JPEG: hardly a pixel is calm, yet it is no photograph and its colours are its inks."""

from __future__ import annotations

import io

import numpy as np
import pytest
from PIL import Image

from sepkit.colorimetry.difference import delta_e_2000
from sepkit.colorimetry.srgb import srgb8_to_lab
from sepkit.model import InkRequest
from sepkit.separation.noise import character, sample_bands
from sepkit.separation.palette import is_drawn
from sepkit.separation.separate import separate
from tests.helpers.drawn_art import artwork

CREAM = (250, 250, 248)
COLOURS = np.array([[24, 72, 148], [246, 170, 180], [120, 196, 214], [150, 152, 154]], float)


def mosaic(quality, size=160, scale=4):
    """Cells of four colours some 16 px wide, drawn larger, averaged down, then compressed."""
    rng = np.random.default_rng(11)
    seeds = rng.uniform(0, size, ((size // 16) ** 2, 2))
    from scipy.spatial import cKDTree

    grid = (np.stack(np.mgrid[: size * scale, : size * scale], -1) + 0.5) / scale
    cell = cKDTree(seeds).query(grid)[1]
    art = COLOURS[cell % 4].reshape(size, scale, size, scale, 3).mean((1, 3))
    file = io.BytesIO()
    Image.fromarray(np.rint(art).astype(np.uint8)).save(file, "JPEG", quality=quality)
    return np.asarray(Image.open(file).convert("RGB"))


@pytest.mark.parametrize("quality", [75, 85])
def test_small_drawn_art_after_jpeg_gets_its_colours_as_inks(quality):
    rgb = mosaic(quality)
    opaque = np.full(rgb.shape[:2], 255, np.uint8)
    assert character(rgb, opaque, CREAM).restless
    assert is_drawn(rgb, opaque, pixel_mm2=0.1)
    found = separate(artwork(rgb, dpi=80), CREAM, InkRequest())
    lab = srgb8_to_lab(np.array([area.srgb for area in found.areas], np.uint8))
    apart = delta_e_2000(lab[:, None], srgb8_to_lab(COLOURS.astype(np.uint8))[None])
    assert len(found.areas) == 4
    assert apart.min(axis=0).max() < 3
    assert all(area.tone is None for area in found.areas)


def test_a_restless_picture_of_many_colours_is_a_photograph():
    from scipy import ndimage

    rng = np.random.default_rng(2)
    art = np.stack([ndimage.gaussian_filter(rng.normal(size=(160, 200)), 3) for _ in range(3)], -1)
    art = 128 + 45 * art / art.std() + rng.normal(0, 1, art.shape)
    art[:60] = (art[:60] - 128) / 12 + 200  # a calm sky
    rgb = np.clip(np.rint(art), 0, 255).astype(np.uint8)
    assert not is_drawn(rgb, np.full(rgb.shape[:2], 255, np.uint8), pixel_mm2=0.05)


def test_bands_cover_a_small_picture_and_sample_a_tall_one():
    assert sample_bands(50, 40) == [slice(0, 96)]
    tall = sample_bands(100_000, 2000)
    assert tall[0].start == 0 and tall[-1].stop == 100_000
    assert sum(band.stop - band.start for band in tall) * 2000 <= 1_500_000
