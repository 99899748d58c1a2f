"""Thresholds against the rule they fold: ink stands where table(coverage) is above the pixel's rank."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from sepkit.film.halftone import CHUNK, Thresholds, crisp
from sepkit.film.outline import HALF
from sepkit.film.screen import Screen

TOP = 2 * HALF


def a_screen(rng, rows, length, shift):
    order = rng.permutation(rows * length).astype(np.int32).reshape(rows, length)
    return Screen(order, order.size, shift, 45.0, 22.5)


def a_table(rng):
    """A tone table that rises, with flat stretches as limits make them, from 0 to 1."""
    points = np.sort(rng.random(7))
    points[2] = points[3]
    return np.interp(np.arange(TOP + 1), np.linspace(0, TOP, 9), np.concatenate([[0.0], points, [1.0]]))


def by_the_rule(screen, table, coverage, x, y):
    """Pixel by pixel, straight from the text of ``Screen`` and of the module."""
    rows, length = screen.order.shape
    ink = np.zeros(coverage.shape, bool)
    for i in range(coverage.shape[0]):
        for j in range(coverage.shape[1]):
            down = y + i
            place = screen.order[down % rows, (x + j + screen.shift * (down // rows)) % length]
            ink[i, j] = table[coverage[i, j]] > (place + 0.5) / screen.levels
    return ink


@settings(max_examples=40, deadline=None)
@given(
    st.integers(0, 10_000),
    st.integers(1, 5),
    st.integers(1, 23),
    st.integers(-40, 40),
    st.integers(0, 90),
    st.integers(1, 70),
    st.integers(0, 120),
)
def test_ink_stands_where_the_table_is_above_the_rank(seed, rows, length, shift, x, width, y):
    rng = np.random.default_rng(seed)
    screen, table = a_screen(rng, rows, length, shift), a_table(rng)
    coverage = rng.integers(0, TOP + 1, (7, width)).astype(np.int16)
    got = Thresholds(screen, table, x=x, width=width).screened(coverage, y)
    assert got.dtype == bool
    assert np.array_equal(got, by_the_rule(screen, table, coverage, x, y))


def test_a_tile_of_more_levels_than_a_chunk_loses_none():
    rng = np.random.default_rng(3)
    screen = a_screen(rng, 1, 2 * CHUNK + 777, 5)
    table = np.linspace(0, 1, TOP + 1)
    width = screen.levels
    for level in (1, TOP // 3, TOP - 1):
        coverage = np.full((1, width), level, np.int16)
        got = Thresholds(screen, table, x=0, width=width).screened(coverage, 0)
        assert np.array_equal(got[0], table[level] > (screen.order[0] + 0.5) / screen.levels)


@pytest.mark.parametrize("levels", [1, 2, 50])
def test_no_coverage_is_no_ink_and_full_coverage_is_solid(levels):
    screen = a_screen(np.random.default_rng(1), 1, levels, 0)
    thresholds = Thresholds(screen, np.linspace(0, 1, TOP + 1), x=0, width=levels)
    assert not thresholds.screened(np.zeros((2, levels), np.int16), 0).any()
    assert thresholds.screened(np.full((2, levels), TOP, np.int16), 0).all()


def test_the_tile_is_as_wide_as_a_row_that_starts_anywhere_needs():
    thresholds = Thresholds(a_screen(np.random.default_rng(2), 3, 10, 4), np.linspace(0, 1, TOP + 1), x=7, width=25)
    assert thresholds.tile.shape == (3, 35)
    assert thresholds.tile.dtype == np.int16


def test_crisp_edges_lie_at_one_half():
    row = np.array([[0, HALF - 1, HALF, HALF + 1, TOP]], np.int16)
    assert crisp(row).tolist() == [[False, False, False, True, True]]


def test_a_tint_equal_to_the_rank_is_no_ink():
    """One pixel has rank 1/2: half coverage is not above it, the next step is."""
    thresholds = Thresholds(a_screen(np.random.default_rng(0), 1, 1, 0), np.arange(TOP + 1) / TOP, x=0, width=2)
    assert thresholds.screened(np.array([[HALF, HALF + 1]], np.int16), 0).tolist() == [[False, True]]
