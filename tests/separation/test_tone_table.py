from __future__ import annotations

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from sepkit.colorimetry.srgb import linear_table
from sepkit.separation.simplex import mix_shares
from sepkit.separation.tone_table import FINE, shares_by_colour
from sepkit.separation.tones import linear_of, shares_of_pixels, with_plain_tints


def bent(levels: np.ndarray) -> np.ndarray:
    """Return shares with a sharp bend at level 97.3 of the first channel and an even slope along the others."""
    first = np.abs(levels[:, 0] - 97.3) / 255
    return np.column_stack([first, (levels[:, 1] + levels[:, 2]) / 510])


@settings(max_examples=20, deadline=None)
@given(st.integers(0, 2**32 - 1))
def test_interpolation_errs_by_no_more_than_a_level(seed: int) -> None:
    rng = np.random.default_rng(seed)
    ends = linear_of(rng.integers(0, 256, (int(rng.integers(2, 7)), 3)).astype(np.uint8))
    way = np.linspace(0, 1, 3000)[:, None]
    corners = rng.uniform(0, 255, (3, 3))
    levels = (corners[0] * (1 - way) + corners[1] * way) * 0.8 + 0.2 * corners[2] * rng.random((3000, 1))

    def solve(some: np.ndarray) -> np.ndarray:
        points = np.interp(some, np.arange(256), linear_table())
        return with_plain_tints(mix_shares(points, ends), points, ends)

    got = shares_by_colour(levels, solve)
    exact = solve(np.asarray(levels, np.float32))
    rounded = solve(np.rint(levels * FINE) / FINE)  # what a steep plan loses by fractions of a level
    off = np.abs(got / 255 - exact).max(axis=1)
    assert (off <= 1.5 / 255 + np.abs(rounded - exact).max(axis=1)).mean() > 0.999
    assert (got.sum(axis=1, dtype=int) <= 255 + len(ends)).all()


def test_where_a_plan_bends_it_is_solved_finer() -> None:
    levels = np.column_stack([np.linspace(90, 105, 4000), np.full(4000, 30.0), np.linspace(10, 14, 4000)])
    got = shares_by_colour(levels, bent)
    assert np.abs(got / 255 - bent(levels)).max() <= 1.1 / 255


def test_a_gradient_is_solved_for_its_colours_not_its_pixels() -> None:
    asked = []

    def solve(some: np.ndarray) -> np.ndarray:
        asked.append(len(some))
        return some / 255

    ramp = np.repeat(np.linspace(0, 255, 100_000)[:, None], 3, axis=1)
    got = shares_by_colour(ramp, solve)
    assert sum(asked) < 5000
    assert np.abs(got / 255 - ramp / 255).max() <= 0.51 / 255


def test_whole_levels_are_solved_as_they_are() -> None:
    rng = np.random.default_rng(3)
    ends = linear_of(np.array([(20, 20, 24), (250, 240, 220), (200, 40, 30)], np.uint8))
    few = rng.integers(0, 256, (20, 3)).astype(np.uint8)
    points = linear_table()[few].astype(np.float64)
    exact = np.rint(with_plain_tints(mix_shares(points, ends), points, ends) * 255)
    assert np.abs(shares_of_pixels(np.repeat(few, 9, axis=0), ends)[::9].astype(int) - exact).max() <= 1
