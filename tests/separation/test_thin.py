"""Strokes thinner than a pixel: films draw them whole and as wide as they are, gaps too; nothing else moves."""

from __future__ import annotations

import numpy as np
import pytest
from PIL import Image, ImageDraw, ImageFont
from scipy.ndimage import distance_transform_edt
from skimage.measure import label
from skimage.morphology import skeletonize

from sepkit.separation.thin import middles, thin_kept
from tests.benchmarks._art_drawing import fonts

FINE = 8


def filmed(plane):
    """Where a film of FINE times the resolution has ink, by an independent enlarger (bicubic)."""
    height, width = plane.shape
    big = Image.fromarray(plane).resize((width * FINE, height * FINE), Image.Resampling.BICUBIC)
    return np.asarray(big) > 127


def shares(fine):
    height, width = fine.shape
    mean = fine.reshape(height // FINE, FINE, width // FINE, FINE).mean(axis=(1, 3))
    return np.floor(mean * 255 + 0.5).astype(np.uint8)


def strokes(*, side=64, widths=(0.4, 0.6, 0.8), slope=0.31):
    image = Image.new("L", (side * FINE, side * FINE))
    draw = ImageDraw.Draw(image)
    for n, wide in enumerate(widths):
        y = (8 + 14 * n) * FINE
        draw.line((3 * FINE, y, (side - 3) * FINE, y + slope * side * FINE * 0.5), fill=255, width=round(wide * FINE))
    return np.asarray(image) > 127


def lettering(size_px, name):
    image = Image.new("L", (200 * FINE, 2 * size_px * FINE))
    font = ImageFont.truetype(str(name), size_px * FINE)
    ImageDraw.Draw(image).text((3 * FINE, size_px * FINE // 2), "weir oars Lantern eights", font=font, fill=255)
    return np.asarray(image) > 127


def test_a_stroke_of_less_than_a_pixel_is_one_piece_and_as_wide_as_it_was():
    fine = strokes()
    before, after = filmed(shares(fine)), filmed(thin_kept([shares(fine)], noisy=False)[0])
    assert label(before, connectivity=2).max() != 3  # broken, or not there
    assert label(after, connectivity=2).max() == 3
    near = distance_transform_edt(~after)[skeletonize(fine)]
    assert near.max() < FINE and (near == 0).mean() > 0.8
    assert 0.9 < after.sum() / fine.sum() < 1.5


@pytest.mark.parametrize("size_px", [10, 14])
def test_small_lettering_is_nearer_to_what_was_drawn_and_so_are_its_counters(size_px):
    fine = lettering(size_px, next(name for name in fonts() if "Regular" in str(name)))
    plain, cut = shares(fine), shares(~fine)
    for mask, plane in ((fine, plain), (~fine, cut)):
        old, new = filmed(plane), filmed(thin_kept([plane], noisy=False)[0])
        assert (new ^ mask).sum() < 0.9 * (old ^ mask).sum()
    middle = skeletonize(fine)
    old, new = filmed(plain)[middle].mean(), filmed(thin_kept([plain], noisy=False)[0])[middle].mean()
    assert new > old + 0.4 * (1 - old)


def test_what_is_thicker_than_a_pixel_stays_bit_for_bit():
    rng = np.random.default_rng(3)
    image = Image.new("L", (90 * FINE, 90 * FINE))
    draw = ImageDraw.Draw(image)
    for x, y, r in rng.uniform((8, 8, 4), (80, 80, 9), (12, 3)) * FINE:
        draw.ellipse((x - r, y - r, x + r, y + r), fill=255)
    plane = shares(np.asarray(image) > 127)
    share = plane.astype(np.float32)[None] / 255
    near = ~middles(np.concatenate([share, 1 - share]), noisy=False).any(axis=0)
    far = near & ~np.asarray(Image.fromarray(~near).filter(_wide()), bool)
    (new,) = thin_kept([plane], noisy=False)
    assert far.mean() > 0.9 and (new[far] == plane[far]).all()


def _wide():
    from PIL import ImageFilter

    return ImageFilter.MaxFilter(5)


def test_a_rim_between_two_inks_is_no_stroke_and_neither_is_ringing():
    left, right, rim = np.zeros((3, 40, 40), np.uint8)
    left[:, :20], right[:, 20:] = 255, 255
    left[:, 19], right[:, 19], rim[:, 19] = 60, 105, 90  # a third ink on the seam of two
    for old, new in zip((left, right, rim), thin_kept([left, right, rim], noisy=False), strict=True):
        assert (old == new).all()
    body = np.zeros((40, 60), np.uint8)
    body[8:32, 8:28] = 255
    body[8:32, 33] = 100  # an echo beside it, nowhere over half
    assert (thin_kept([body], noisy=True)[0] == body).all()
    assert (thin_kept([body], noisy=False)[0] != body).any()


def test_planes_never_sum_to_more_than_solid():
    rng = np.random.default_rng(8)
    share = rng.dirichlet((0.25, 0.25, 0.25), (70, 70)).transpose(2, 0, 1)[:2]
    planes = [np.floor(s * 255).astype(np.uint8) for s in share]
    new = thin_kept(planes, noisy=False)
    assert any((a != b).any() for a, b in zip(planes, new, strict=True))
    assert (np.sum(new, axis=0, dtype=int) <= 255).all()
