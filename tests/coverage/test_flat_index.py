"""Pixels of a plane known by their flat index are those that a mask of the whole plane tells."""

from __future__ import annotations

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from sepkit.coverage import sums
from sepkit.coverage.bitmaps import printing, set_at
from sepkit.coverage.blocks import CELL_PX, cells_at, held_cells
from sepkit.coverage.reach import choke_on_bare, choked_at, spread, spread_at
from sepkit.coverage.sums import above_at, mean_share, raised, total_level

SEEDS = st.integers(0, 2**32 - 1)
SIDES = st.integers(1, 150)


def plane_of(seed: int, height: int, width: int) -> np.ndarray:
    """Return a plane in which some rows are bare."""
    rng = np.random.default_rng(seed)
    return rng.integers(0, 256, (height, width)).astype(np.uint8) * (rng.random((height, 1)) < 0.7)


@settings(max_examples=40, deadline=None)
@given(SEEDS, SIDES, SIDES, st.integers(0, 255))
def test_what_lies_above(seed: int, height: int, width: int, level: int) -> None:
    plane, other = plane_of(seed, height, width), plane_of(seed + 1, height, width)
    cached = sums.CACHED_PIXELS
    sums.CACHED_PIXELS = 500  # several bands
    try:
        assert np.array_equal(above_at(plane, other), np.flatnonzero(plane > other))
        assert np.array_equal(above_at(plane, level), np.flatnonzero(plane > level))
    finally:
        sums.CACHED_PIXELS = cached


@settings(max_examples=40, deadline=None)
@given(SEEDS, SIDES, SIDES)
def test_what_prints(seed: int, height: int, width: int) -> None:
    plane = plane_of(seed, height, width)
    assert np.array_equal(set_at(printing(plane), width), np.flatnonzero(plane > 127))


@settings(max_examples=30, deadline=None)
@given(SEEDS, SIDES, SIDES)
def test_cells_of_pixels(seed: int, height: int, width: int) -> None:
    mask = np.random.default_rng(seed).random((height, width)) < 0.02
    at = np.flatnonzero(mask)
    assert np.array_equal(cells_at(at, mask.shape), held_cells(mask))
    assert cells_at(at, mask.shape).sum() <= at.size <= CELL_PX**2 * max(1, held_cells(mask).sum())


@settings(max_examples=30, deadline=None)
@given(SEEDS, SIDES, SIDES)
def test_patches_raise_a_plane(seed: int, height: int, width: int) -> None:
    rng = np.random.default_rng(seed)
    plane = plane_of(seed, height, width)
    patches, expected = [], plane.copy()
    for _ in range(3):
        at = np.flatnonzero(rng.random(plane.size) < 0.1).astype(np.uint32)
        values = rng.integers(0, 256, at.size).astype(np.uint8)
        patches.append((at, values))
        other = np.zeros(plane.size, np.uint8)
        other[at] = values
        expected = np.maximum(expected, other.reshape(plane.shape))
    assert np.array_equal(raised(plane, patches), expected)
    assert raised(plane, []) is plane


@settings(max_examples=25, deadline=None)
@given(SEEDS, SIDES, SIDES, st.floats(0.3, 20))
def test_distances_asked_at_pixels(seed: int, height: int, width: int, distance_px: float) -> None:
    rng = np.random.default_rng(seed)
    plane = np.kron(rng.integers(0, 2, (height // 9 + 1, width // 9 + 1)), np.full((9, 9), 255))[:height, :width]
    plane = np.ascontiguousarray(plane, np.uint8)
    at = np.flatnonzero(rng.random(plane.size) < 0.05).astype(np.uint32)
    assert np.array_equal(spread_at(plane, distance_px, at), spread(plane, distance_px).reshape(-1)[at])
    assert np.array_equal(choked_at(plane, distance_px, at), choke_on_bare(plane, distance_px).reshape(-1)[at])


def test_a_large_solid_plane_is_summed_without_overflow() -> None:
    plane = np.full((3 * sums.ROWS_IN_16_BITS + 5, 3), 255, np.uint8)
    assert total_level(plane) == 255 * plane.size
    assert mean_share(plane) == 1.0
