"""Thin places and holes are found at the pixels that are lost; the plain way asks every pixel, and says the same."""

from __future__ import annotations

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.ndimage import binary_dilation, binary_fill_holes, distance_transform_edt, label

from sepkit.coverage.parts import Parts
from sepkit.coverage.strokes import _sides, _whole
from sepkit.press.worn import LEAST_HOLES, MOST_HOLE_MM, _opened, _small_holes

SQUARE = np.ones((3, 3), int)


@settings(max_examples=40, deadline=None)
@given(st.integers(0, 1 << 30), st.integers(2, 40), st.integers(2, 40))
def test_parts_of_random_planes(seed, height, width):
    rng = np.random.default_rng(seed)
    solid = rng.random((height, width)) < 0.5
    lost = solid & (rng.random(solid.shape) < 0.4)
    labels, count = label(lost, structure=SQUARE)
    at = np.nonzero(lost)
    whole, sides = _whole(at, labels[at], solid & ~lost, count), _sides(Parts.of(lost))
    for part in range(1, count + 1):
        here = labels == part
        assert whole[part] == (not (binary_dilation(here, SQUARE) & solid & ~lost).any())
        plain = sum(int((here & (np.roll(labels, by, axis) != part)).sum()) for axis in (0, 1) for by in (-1, 1))
        assert sides[part] == plain


@settings(max_examples=40, deadline=None)
@given(st.integers(0, 1 << 30), st.floats(0.2, 0.9), st.floats(6, 400))
def test_small_holes_of_random_planes(seed, share, dpi):
    solid = np.random.default_rng(seed).random((61, 57)) < share
    holes = binary_fill_holes(solid) & ~solid
    labels, _ = label(holes, structure=SQUARE)
    areas = np.bincount(labels.ravel())
    kept = holes & (areas[labels] <= (MOST_HOLE_MM * dpi / 25.4) ** 2)
    found = _small_holes(solid, dpi)
    if len(np.unique(labels[kept])) < LEAST_HOLES:
        assert found is None
        return
    rows, columns, number = found
    mask = np.zeros_like(solid)
    mask[rows, columns] = True
    assert np.array_equal(mask, kept)
    assert len(set(zip(labels[rows, columns].tolist(), number.tolist(), strict=True))) == len(np.unique(number))


@settings(max_examples=30, deadline=None)
@given(st.integers(0, 1 << 30), st.floats(0.3, 8), st.floats(0.6, 0.99))
def test_what_a_disc_fits_in(seed, radius_px, share):
    mask = np.random.default_rng(seed).random((30, 43)) < share
    core = distance_transform_edt(np.pad(mask, 1))[1:-1, 1:-1] >= radius_px
    plain = distance_transform_edt(~core) < radius_px if core.any() else np.zeros_like(mask)
    assert np.array_equal(_opened(mask, radius_px), plain)
