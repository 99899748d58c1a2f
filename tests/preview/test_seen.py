"""Art and print as seen: bands, runs and even blocks give what every pixel by itself gives."""

from __future__ import annotations

import pickle
from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from sepkit.colorimetry.difference import delta_e_2000
from sepkit.colorimetry.srgb import linear_table, srgb8_to_lab
from sepkit.coverage import windows
from sepkit.coverage.keep import Keep
from sepkit.preview import seen
from sepkit.preview.counted import counted_difference
from sepkit.preview.seen import art_on_garment, art_seen, block_means, encoded, seen_print
from sepkit.preview.stack import packed, printed_rgb
from tests.helpers.plates import garment, ink, plate

GROUND = (26, 26, 28)


def patches(rng, shape, values):
    """Large rectangles of few values, and some pixels of any value."""
    out = np.full((*shape, *np.shape(values[0])), values[0], np.uint8)
    for _ in range(6):
        y, x = rng.integers(0, shape[0]), rng.integers(0, shape[1])
        out[y : y + rng.integers(1, shape[0] + 1), x : x + rng.integers(1, shape[1] + 1)] = values[
            rng.integers(len(values))
        ]
    some = rng.random(shape) < 0.05
    out[some] = rng.integers(0, 256, (int(some.sum()), *np.shape(values[0])))
    return out


@settings(max_examples=25, deadline=None)
@given(st.integers(0, 1 << 30), st.integers(3, 40), st.integers(3, 40), st.integers(1, 7))
def test_blocks_average_as_their_pixels_do(seed, height, width, factor):
    rng = np.random.default_rng(seed)
    rgb = patches(rng, (height, width), [(200, 30, 40), (20, 30, 90), (240, 240, 236)])
    inked_px = patches(rng, (height, width), [0, 1]) & 1
    colours = packed(rgb)
    colours.view(np.uint8).reshape(height, width, 4)[..., 3] = inked_px
    plain, laid = (block_means(colours, factor, weighed=weighed) for weighed in (False, True))
    assert plain.shape == (-(-height // factor), -(-width // factor), 4)
    light = linear_table()[rgb].astype(np.float64)
    for y in range(plain.shape[0]):
        for x in range(plain.shape[1]):
            here = np.s_[y * factor : (y + 1) * factor, x * factor : (x + 1) * factor]
            assert plain[y, x] == pytest.approx([*light[here].mean(axis=(0, 1)), 1], abs=1e-5)
            inked = (light[here] * inked_px[here][..., None]).mean(axis=(0, 1))
            assert laid[y, x] == pytest.approx([*inked, inked_px[here].mean()], abs=1e-5)


@settings(max_examples=20, deadline=None)
@given(st.integers(0, 1 << 30), st.sampled_from([9, 16, 40]))
def test_a_print_is_seen_as_its_pixels_are(seed, most_px):
    rng = np.random.default_rng(seed)
    shape = (int(rng.integers(5, 40)), int(rng.integers(5, 40)))
    planes = [patches(rng, shape, [0, 255]) for _ in range(3)]
    plates = [plate(plane, of=ink("one", absorption=0.1 + k, scattering=2.5)) for k, plane in enumerate(planes)]
    rgb, alpha = patches(rng, shape, [(200, 30, 40), (20, 30, 90)]), patches(rng, shape, [0, 255])
    cloth = garment(0.02)
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(seen, "PANEL_PX", most_px)
        patch.setattr(seen, "BAND_PIXELS", 97)
        got = seen_print(plates, cloth, rgb, alpha)
    art, printed = art_on_garment(rgb, alpha, cloth.srgb), printed_rgb(plates, cloth)
    where = (np.maximum.reduce(planes) > 0) | (alpha > 0)
    each = delta_e_2000(srgb8_to_lab(art), srgb8_to_lab(printed))[where]
    assert got.difference.pixels == where.sum()
    assert got.difference.mean_de00 == pytest.approx(each.mean() if len(each) else 0, rel=1e-5)
    factor = max(1, -(-max(shape) // most_px))
    for panel, picture in ((got.art, art), (got.printed, printed)):
        want = encoded(block_means(packed(picture), factor, weighed=False)[..., :3])
        assert np.abs(panel.astype(int) - want).max() <= (0 if factor == 1 else 1)
    assert (art_seen(rgb, alpha, cloth.srgb, factor=factor) == got.art).all()


@settings(max_examples=20, deadline=None)
@given(st.integers(0, 1 << 30))
def test_what_is_counted_in_windows_is_what_every_pixel_gives(seed):
    """Soft edges, tones, traps and a base; then with other inks and another base, from what was counted before."""
    rng = np.random.default_rng(seed)
    shape = (int(rng.integers(5, 40)), int(rng.integers(5, 40)))
    planes = [patches(rng, shape, [0, 255, 90]) for _ in range(4)]
    tone = patches(rng, shape, [0, 1]).astype(bool) & (planes[1] > 0)
    grown = np.maximum(planes[2], patches(rng, shape, [0, 255]))
    rgb, alpha = patches(rng, shape, [(200, 30, 40), (20, 30, 90)]), patches(rng, shape, [0, 255])
    alpha.setflags(write=False)
    rgb.setflags(write=False)
    cloth = garment(0.02)
    others = [
        plate(planes[1], tone=tone, of=ink("one", absorption=0.4, scattering=1.5)),
        replace(plate(planes[2], printed=grown, of=ink("two", absorption=2.4, scattering=1.5)), trap_mm=0.3),
    ]
    with pytest.MonkeyPatch.context() as patch, Keep(1 << 26, lasting=True).used():
        patch.setattr(windows, "WINDOW_PX", 16)
        for base, absorption in ((planes[0], 0.01), (planes[0], 0.9), (planes[3], 0.9)):
            white = ink("white", absorption=absorption, scattering=4)
            plates = [plate(base, role="underbase", of=white), *others]
            found = counted_difference(plates, cloth, rgb, alpha)
            assert found == seen_print(plates, cloth, rgb, alpha).difference


@settings(max_examples=20, deadline=None)
@given(st.integers(0, 1 << 30))
def test_art_over_cloth_is_the_blend_of_each_pixel(seed):
    rng = np.random.default_rng(seed)
    shape = (int(rng.integers(1, 20)), int(rng.integers(1, 20)))
    rgb, alpha = patches(rng, shape, [(200, 30, 40), (20, 30, 90)]), patches(rng, shape, [0, 255, 128])
    a = alpha[..., None].astype(np.int64)
    want = (rgb * a + np.array(GROUND) * (255 - a) + 127) // 255
    assert (art_on_garment(rgb, alpha, GROUND) == want).all()


def test_a_print_as_seen_goes_to_another_process_as_it_is():
    rng = np.random.default_rng(1)
    rgb = rng.integers(0, 256, (12, 9, 3), np.uint8)
    plane = rng.integers(0, 256, (12, 9), np.uint8)
    here = seen_print([plate(plane)], garment(), rgb, np.full((12, 9), 255, np.uint8))
    there = pickle.loads(pickle.dumps(here))
    for one, other in ((here.art, there.art), (here.printed, there.printed), (here.ink, there.ink)):
        assert np.array_equal(one, other)
    assert there.difference.mean_de00 == here.difference.mean_de00
