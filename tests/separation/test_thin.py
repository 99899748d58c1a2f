"""Strokes thinner than a pixel: films draw them whole and as wide as they are, gaps too; nothing else moves."""

from __future__ import annotations

import numpy as np
import pytest
from PIL import Image, ImageDraw, ImageFont
from scipy.ndimage import binary_dilation, distance_transform_edt, gaussian_filter
from skimage.measure import label
from skimage.morphology import skeletonize

from sepkit.separation import tuned_mixing
from sepkit.separation.grid import enlarging
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


def test_looking_only_around_strokes_gives_what_looking_at_whole_planes_gives():
    rng = np.random.default_rng(21)
    fine = np.stack([strokes(side=48, widths=(0.4, 0.7), slope=slope) for slope in (0.2, -0.1)])
    fine[1] &= ~fine[0]
    planes = [shares(plane) for plane in fine] + [rng.integers(0, 60, (48, 48), np.uint8)]
    for plane in planes:
        plane[:, 40:] = 0
    planes[0][3, :30], planes[1][3, :30], planes[2][3, :30] = 90, 0, 0  # near the border of the picture
    planes = [np.minimum(p, 255 - sum(planes[:n], np.zeros_like(p)).clip(0, 255)) for n, p in enumerate(planes)]
    for fast, plain in zip(thin_kept(planes, noisy=False), lifted_whole(planes), strict=True):
        assert (np.abs(fast.astype(int) - plain) <= 1).all()
        assert (fast == plain).mean() > 0.999


def lifted_whole(planes):
    """The same by whole planes: films as enlarged pictures, what is lacking averaged by SciPy's filter."""
    thin = tuned_mixing.THIN
    share = np.stack(planes).astype(np.float64) / 255
    share = np.concatenate([share, 1 - share.sum(0, keepdims=True)])
    middle = middles(share.astype(np.float32), noisy=False)
    around = binary_dilation(middle.any(axis=0), np.ones((3, 3)))
    height, width = planes[0].shape
    down, across = enlarging(height, 4 * height).toarray(), enlarging(width, 4 * width).toarray()

    def to_one(values):
        first = np.where(middle, values, 0)
        first = first / np.maximum(first.sum(0), 1)
        rest = np.where(middle, 0, values)
        return first + rest * np.clip(1 - first.sum(0), 0, None) / np.maximum(rest.sum(0), 1e-6)

    drawn = to_one(np.minimum(share * 0.5 / np.where(middle, share * (1 - share / 2), 0.5), 1))
    for _ in range(thin.rounds):
        films = np.clip((down @ drawn[:-1] @ across.T - 0.5) * thin.steep + 0.5, 0, 1)
        got = films.reshape(-1, height, 4, width, 4).mean(axis=(2, 4))
        got = np.concatenate([got, np.clip(1 - got.sum(0, keepdims=True), 0, None)])
        off = np.stack([gaussian_filter(plane, thin.sigma_px, truncate=4) for plane in share - got])
        drawn = np.clip(drawn + thin.gain * off, 0, 1)
        drawn = np.where(middle, np.maximum(drawn, thin.over_half), drawn)
        drawn = joined(drawn, middle)
        drawn = np.where(around, to_one(drawn), share)
    return np.floor(drawn[:-1] * 255 + 0.01).astype(np.uint8)


def joined(drawn, middle):
    out = drawn.copy()
    for n, y, x in np.ndindex(len(drawn), drawn.shape[1] - 1, drawn.shape[2] - 1):
        falling, rising = [(y, x), (y + 1, x + 1)], [(y, x + 1), (y + 1, x)]
        for through, beside in ((falling, rising), (rising, falling)):
            if all(middle[n][at] for at in through) and not any(middle[n][at] for at in beside):
                lack = max(4 * tuned_mixing.THIN.over_corner - sum(drawn[n][at] for at in through + beside), 0) / 2
                for at in beside:
                    out[n][at] = max(out[n][at], min(drawn[n][at] + lack, 1))
    return out
