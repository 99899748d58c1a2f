from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
from skimage.transform import ProjectiveTransform, warp

from sepkit.reading.align import aligned
from sepkit.reading.mixing import mixed, mixed_and_slopes, stack_shares
from sepkit.reading.picture import Photo
from sepkit.reading.subject import PX_PER_MM, Patch, Subject
from sepkit.reading.tiles import ScreenFit, coverages, to_film
from sepkit.reading.warp import Warp, applied

RNG = np.random.default_rng(3)
H = np.array([[5.0, 0.4, 40.0], [-0.3, 5.2, 30.0], [3e-4, -2e-4, 1.0]])


def plain_subject(size=(40.0, 30.0)):
    w, h = (round((side + 8) * PX_PER_MM) for side in size)
    y, x = np.mgrid[:h, :w] / PX_PER_MM - 4
    first = np.where((np.hypot(x - 14, y - 15) < 10) | ((x > 28) & (x < 36) & (y > 4) & (y < 20)), 255, 0)
    second = np.where((np.abs(x - 14) < 5) & (np.abs(y - 12) < 3), 255, 0)
    colours = np.array([[0.7, 0.7, 0.68], [0.3, 0.05, 0.05], [0.05, 0.2, 0.4], [0.03, 0.02, 0.05]])
    return Subject(*size, 4.0, (first.astype(np.uint8), second.astype(np.uint8)), colours, ("red", "blue"))


def test_a_homography_maps_as_scikit_image_does():
    points = RNG.uniform(0, 60, (50, 2))
    assert np.allclose(applied(H, points), ProjectiveTransform(H)(points))


def test_alignment_recovers_what_scikit_image_warped():
    subject = plain_subject()
    r = 8.0
    film = np.sqrt(mixed(subject.coarse(r), subject.colours))
    to_film_px = ProjectiveTransform(np.array([[r, 0, 4 * r - 0.5], [0, r, 4 * r - 0.5], [0, 0, 1.0]]))
    photo_to_film = ProjectiveTransform(to_film_px.params @ np.linalg.inv(H))
    seen = warp(film, photo_to_film, output_shape=(240, 300), order=1, cval=float(film[0, 0, 0]))
    encoded = np.where(seen**2 <= 0.0031308, 12.92 * seen**2, 1.055 * seen ** (2 / 2.4) - 0.055)
    photo = Photo(np.rint(encoded * 255).astype(np.uint8))
    start = H @ np.array([[1.02, 0.02, 0.8], [-0.02, 0.99, -0.7], [0, 0, 1.0]])
    coarse = aligned(subject, photo, start, 2.0, rounds=12, blur=1.2)
    found = aligned(subject, photo, coarse.homography, 3.0, rounds=10)
    off = np.abs(applied(found.homography, subject.corners) - applied(H, subject.corners)).max() / 5
    assert found.score > 0.95
    assert off < 1 / 3  # mm: a sample


def test_a_finer_field_is_the_same_field():
    subject = plain_subject()
    coarse = Warp.straight(H, subject, 12.0, (900, 700))
    coarse.slip[...] = RNG.normal(0, 0.5, coarse.slip.shape)
    points = RNG.uniform(0, 30, (40, 2))
    assert np.allclose(coarse.finer(subject, 4.0).field(points), coarse.field(points), atol=0.02)
    patch = Patch(2.0, 3.0, 40, 33, 6.0)
    exact = coarse(np.stack(np.meshgrid(patch.xs, patch.ys), -1))
    assert np.abs(coarse.over(patch) - exact).max() < 0.05


def test_a_bent_field_costs_and_a_straight_one_does_not():
    field = Warp.straight(H, plain_subject(), 8.0, (900, 700))
    ny, nx = field.knots
    yy, xx = np.mgrid[:ny, :nx]
    bending = field.bending()
    straight = (3 + 0.5 * xx - 0.2 * yy).ravel()
    assert straight @ bending @ straight == pytest.approx(0, abs=1e-9)
    assert (xx**2).ravel() @ bending @ (xx**2).ravel() > 1


def test_a_lens_bends_points_by_the_cube_of_their_distance():
    """Brown's radial term, 1971: xy (1 + k r^2) with r = 1 in the corner; homography by scikit-image."""
    field = Warp.straight(H, plain_subject(), 8.0, (900, 700))
    bent = replace(field, slip=field.lens(0.02))
    points = RNG.uniform(0, 30, (50, 2))
    flat = ProjectiveTransform(H)(points) - (449.5, 349.5)
    lens = flat * (1 + 0.02 * (flat**2).sum(1, keepdims=True) / (449.5**2 + 349.5**2)) + (449.5, 349.5)
    off = bent(points) - lens
    linear, *_ = np.linalg.lstsq(np.c_[points, np.ones(50)], off, rcond=None)
    assert np.abs(off - np.c_[points, np.ones(50)] @ linear).max() < 0.02 * np.abs(lens - flat - (449.5, 349.5)).max()


def test_shares_of_stacks_make_the_mixture_and_slopes_are_its_slopes():
    planes = [RNG.uniform(0, 1, (5, 6)).astype(np.float32) for _ in range(3)]
    colours = RNG.uniform(0, 1, (8, 3))
    by_shares = sum(s[..., None] * c for s, c in zip(stack_shares(planes), colours, strict=True))
    assert np.allclose(mixed(planes, colours), by_shares, atol=1e-5)
    model, slopes = mixed_and_slopes(planes, colours)
    assert np.allclose(np.moveaxis(model, 0, -1), by_shares, atol=1e-5)
    for k in range(3):
        more = [p + np.float32(0.01) * (i == k) for i, p in enumerate(planes)]
        change = (sum(s[..., None] * c for s, c in zip(stack_shares(more), colours, strict=True)) - by_shares) / 0.01
        assert np.allclose(np.moveaxis(slopes[k], 0, -1), change, atol=1e-3)


def test_a_screen_is_drawn_where_it_printed_and_found_back_on_its_film():
    subject = plain_subject()
    fit = ScreenFit(0.4, -0.3, np.radians(0.5), 0.1)
    grid = subject.whole(10.0)
    still, moved = (coverages(subject, (s, ScreenFit(growth_mm=0.0)), grid)[0] for s in (ScreenFit(growth_mm=0.0), fit))
    # A disc of radius 10 and a bar of 8 x 16, grown by 0.1.
    grown = np.pi * (10.1**2 - 10**2) + 2 * 0.1 * (8 + 16) + 0.04
    assert (moved.sum() - still.sum()) / 100 == pytest.approx(grown, rel=0.06)
    x, y = to_film(subject, fit, np.array(14.0), np.array(15.0))
    c, s = np.cos(fit.turn), np.sin(fit.turn)
    back = np.array([[c, -s], [s, c]]) @ (np.array([x, y]) - subject.middle) + subject.middle + [0.4, -0.3]
    assert np.allclose(back, [14, 15])


def test_averages_of_a_photograph_are_taken_in_linear_light():
    rgb = np.zeros((8, 8, 3), np.uint8)
    rgb[:, ::2] = 255
    photo = Photo(rgb)
    at = np.array([[3.5, 3.5]])
    assert photo.sample(at, 2.0) == pytest.approx(0.5, abs=0.01)
    assert np.isnan(photo.sample(np.array([[-5.0, 2.0]]), 1.0)).all()
