"""Fits of pixels to few members: right shares, and a bound on how many are tried whatever the art."""

from __future__ import annotations

from collections import Counter

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from sepkit.colorimetry.srgb import linear_to_srgb
from sepkit.separation import unmix
from sepkit.separation.fits import Fits, Local, Target
from sepkit.separation.thin_inks import STRIP_PIXELS, STRIP_ROWS, sample_strips
from sepkit.separation.tuned_colours import THIN_INKS
from sepkit.separation.unmix import MOST_LOCAL, MOST_RARE_LOCAL, Masks, Metric, solve, thin_fits, vectors

EACH = ("each_single", "each_pair", "each_triple", "each_bleed")
COLOURS = np.array([[230, 60, 40], [250, 240, 220], [30, 60, 150], [20, 20, 24]], np.uint8)


@pytest.fixture
def tried(monkeypatch):
    """Count pixels per kind of fit, and pixels times members for those that try every member."""
    count = Counter()

    def counted(name):
        plain = getattr(Fits, name)

        def wrapped(self, *given):
            at = given[0] if name in EACH else given[1]
            count[name] += len(at) * (self.v.shape[1] if name in EACH else 1)
            return plain(self, *given)

        monkeypatch.setattr(Fits, name, wrapped)

    for name in ("single", "pair", "triple", *EACH):
        counted(name)
    return count


def noise(n=3000, members=28):
    rng = np.random.default_rng(1)
    every = np.full(n, (1 << members) - 1, np.uint32)
    pixels = rng.integers(0, 256, (n, 3)).astype(np.uint8), np.full(n, 255, np.uint8)
    colours = rng.integers(90, 166, (members, 3)).astype(np.uint8), np.full(members, 255, np.uint8)
    return pixels, colours, every


def test_fits_per_pixel_are_bounded_where_all_members_are_near(tried):
    pixels, colours, every = noise()
    n, m = len(every), len(colours[1])
    mixture = solve(pixels, colours, Masks(every, every, every), metric=Metric("encoded", 1.5))
    assert np.isfinite(mixture.cost).all()
    assert tried["pair"] <= n * m * (m - 1) // 2
    assert tried["triple"] <= n * MOST_LOCAL * (MOST_LOCAL - 1) * (MOST_LOCAL - 2) // 6
    assert 0 < tried["each_bleed"] <= n * m * MOST_RARE_LOCAL * (MOST_RARE_LOCAL - 1)
    assert tried["each_triple"] <= n * m * MOST_RARE_LOCAL * (MOST_RARE_LOCAL - 1)
    assert tried["each_pair"] <= n * m * MOST_RARE_LOCAL


def test_rare_events_are_left_out_where_they_would_be_too_many(tried, monkeypatch):
    pixels, colours, every = noise()
    none = np.zeros_like(every)
    none[:5] = every[:5]
    masks = Masks(none, none, every)
    monkeypatch.setattr(unmix, "MOST_RARE_FITS", 1000)
    mixture = solve(pixels, colours, masks, metric=Metric("encoded", 1.5))
    assert tried["each_bleed"] == tried["each_triple"] == tried["each_pair"] == 0
    assert np.isfinite(mixture.cost).all() and (mixture.member[:, 0] >= 0).all(), "no pixel is left without an ink"
    assert np.isinf(thin_fits(pixels, colours, masks, metric=Metric("encoded", 1.5), least=0.2)).all()


def fits_of(target, space):
    """One pixel of (4,) premultiplied ``target``, all members near."""
    members = vectors(COLOURS, np.full(4, 255, np.uint8), space)
    near = np.array([0b1111], np.uint32)
    weight = np.full((1, 4), 255, np.float32)
    return Fits(Target(target[None], weight, 1.0), members, Local(near, near, 6.0)), members


@given(st.floats(0.02, 0.98), st.permutations(range(4)), st.sampled_from(["encoded", "linear"]))
@settings(max_examples=60, deadline=None)
def test_a_buried_fill_gives_back_the_share_it_was_painted_with(t, order, space):
    top, under, buried, _ = order
    v = vectors(COLOURS, np.full(4, 255, np.uint8), space)
    fits, _ = fits_of(t * v[top] + (1 - t) ** 2 * v[under] + t * (1 - t) * v[buried], space)
    found, r2 = fits.each_bleed(np.zeros(1, int), top, under)
    assert abs(found[buried, 0] - t) < 0.02
    assert r2[buried, 0] < 1.0


@given(st.floats(0, 1), st.floats(0, 1), st.permutations(range(4)), st.sampled_from(["encoded", "linear"]))
@settings(max_examples=60, deadline=None)
def test_three_shares_come_back_alike_in_both_ways_of_fitting(a, b, order, space):
    first, second, third = sorted(order[:3])
    t, u = (a, b) if a + b <= 1 else (1 - a, 1 - b)
    v = vectors(COLOURS, np.full(4, 255, np.uint8), space)
    fits, _ = fits_of((1 - t - u) * v[first] + t * v[second] + u * v[third], space)
    at = np.zeros(1, int)
    t_each, u_each, r2 = fits.each_triple(at, first, second)
    if min(t, u, 1 - t - u) > 0.01:
        assert np.allclose((t_each[third, 0], u_each[third, 0]), (t, u), atol=0.01)
        assert r2[third, 0] < 0.1
    fits.triple((first, second, third), at, np.zeros(1, np.float32))
    if np.isfinite(fits.cost[0]):
        assert np.allclose(fits.share[0], (1 - t - u, t, u), atol=0.01)


def test_only_the_best_members_stay_and_in_order():
    pixel = COLOURS[1:2].astype(float).mean(0)
    fits, _ = fits_of(np.append(pixel / 255, 1).astype(np.float32), "encoded")
    for slot in range(4):
        fits.single(slot, np.zeros(1, int), np.zeros(1, np.float32))
    fits.keep_best(2)
    assert fits.local.tolist() == [[0, 1]], "red is the next to cream"


def test_few_mixed_pixels_are_all_asked_and_many_in_strips():
    assert sample_strips(500, STRIP_PIXELS).all()
    strips = sample_strips(1200, 4 * STRIP_PIXELS)
    assert 0.15 < strips.mean() < 0.35
    runs = np.diff(np.flatnonzero(np.diff(np.pad(strips, 1).astype(int))))[::2]
    assert runs.min() >= STRIP_ROWS - 1 > 2 * THIN_INKS.window_radius_px


def test_linear_vectors_are_linear_light():
    grey = np.array([[188, 188, 188]], np.uint8)
    assert np.allclose(linear_to_srgb(vectors(grey, np.full(1, 255, np.uint8), "linear")[:, :3]) * 255, 188, atol=0.5)


def test_a_picture_without_any_flat_colour_has_no_explanations_to_try():
    fits = object.__new__(Fits)
    Fits.keep_each(fits, np.arange(3), np.zeros((0, 3)), (), (np.zeros((0, 3)),))


def test_without_members_nothing_is_explained_and_nothing_fails():
    pixels, _, every = noise(n=20)
    none = np.zeros_like(every)
    nobody = np.zeros((0, 3), np.uint8), np.zeros(0, np.uint8)
    mixture = solve(pixels, nobody, Masks(none, none, none), metric=Metric("encoded", 1.5))
    assert np.isinf(mixture.cost).all() and (mixture.member == -1).all()
    assert thin_fits(pixels, nobody, Masks(none, none, none), metric=Metric("encoded", 1.5), least=0.2).shape == (20, 0)
