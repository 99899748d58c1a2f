from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from sepkit.coverage.blocks import TILE_PX
from sepkit.coverage.reach import choke, half_way, opened, spread


def disc(radius: float, *, size: int = 220, middle: tuple[float, float] = (110.2, 109.7)) -> np.ndarray:
    y, x = np.mgrid[:size, :size]
    r = np.hypot(y - middle[0], x - middle[1])
    return np.rint(np.clip(radius + 0.5 - r, 0, 1) * 255).astype(np.uint8)


def edge_shift(plane: np.ndarray, radius: float) -> float:
    """Radius of the disc with the plane's ink area, less ``radius``: px."""
    return float(np.sqrt(plane.sum() / 255 / np.pi)) - radius


@pytest.mark.parametrize("distance", [0.3, 1.0, 2.5, 4.13, 9.0])
def test_disc_grows_and_shrinks_by_the_distance(distance: float) -> None:
    plane = disc(40.3)
    assert edge_shift(spread(plane, distance), 40.3) == pytest.approx(distance, abs=0.1)
    assert edge_shift(choke(plane, distance), 40.3) == pytest.approx(-distance, abs=0.1)


@pytest.mark.parametrize("offset", [0.0, 0.25, 0.5, 0.75])
def test_straight_edge_moves_by_a_fraction_of_a_pixel(offset: float) -> None:
    plane = np.zeros((60, 60), np.uint8)
    plane[:, :20] = 255
    plane[:, 20] = round(255 * offset)
    moved = spread(plane, 1.3)[30].sum() / 255 - plane[30].sum() / 255
    assert moved == pytest.approx(1.3, abs=0.02)


def test_nothing_changes_at_distance_zero_or_in_flat_planes() -> None:
    plane = disc(20)
    assert spread(plane, 0) is plane
    for value in (0, 255):
        flat = np.full((50, 70), value, np.uint8)
        assert (spread(flat, 3) == flat).all()
        assert (choke(flat, 3) == flat).all()


@settings(max_examples=25, deadline=None)
@given(st.integers(0, 10_000), st.floats(0.4, 6))
def test_order_of_planes_is_kept(seed: int, distance: float) -> None:
    rng = np.random.default_rng(seed)
    plane = (rng.random((40, 50)) > 0.93).astype(np.uint8) * np.uint8(255)
    grown = spread(plane, distance)
    assert (grown >= plane).all()
    assert (choke(plane, distance) <= plane).all()
    back = choke(grown, distance)
    assert (back.astype(int) >= plane.astype(int) - 40).all()
    again = spread(spread(plane, distance / 2), distance / 2)
    assert (again.astype(int) <= spread(plane, distance + 0.6).astype(int) + 2).all()


def test_tiles_join_without_a_seam() -> None:
    big = np.zeros((2 * TILE_PX + 30, 2 * TILE_PX + 10), np.uint8)
    rng = np.random.default_rng(3)
    for _ in range(40):
        y, x = rng.integers(0, 2 * TILE_PX, 2)
        big[y : y + rng.integers(3, 40), x : x + rng.integers(3, 40)] = 255
    moved = spread(big, 4.2)
    shifted = spread(big[37:, 53:], 4.2)
    assert (moved[50:, 70:] == shifted[13:, 17:]).all()


def test_a_tone_keeps_its_value_when_it_grows() -> None:
    plane = np.zeros((60, 60), np.uint8)
    plane[:, :30] = 90
    tone = plane > 0
    grown = spread(plane, 3, tone=tone)
    assert grown.max() == 90
    assert (grown[30, 30:33] == 90).all()
    assert grown[30, 34:].max() == 0
    assert choke(plane, 3, tone=tone)[30, 26] == 90
    assert choke(plane, 3, tone=tone)[30, 28] == 0


def test_opening_removes_only_thin_strokes() -> None:
    plane = np.zeros((80, 120), np.uint8)
    plane[20:60, 10:50] = 255
    plane[38:41, 50:110] = 255
    kept = opened(plane, 3.0)
    assert kept[30, 30] == 255
    assert kept[39, 90] == 0


def test_half_way_between_two_edges() -> None:
    left, right = np.zeros((30, 40), np.uint8), np.zeros((30, 40), np.uint8)
    left[:, :10] = 255
    right[:, 20:] = 255
    share = half_way(left[..., None], right[..., None], reach_px=12, halo=0)[..., 0]
    assert share[15, 12] == 255
    assert share[15, 18] == 0


def test_a_faint_pixel_that_does_not_print_is_no_seed() -> None:
    plane = np.zeros((40, 40), np.uint8)
    plane[20, 20] = 12
    assert spread(plane, 5).max() == 12
    assert choke(255 - plane, 5).min() == 243
    line = np.zeros((40, 40), np.uint8)
    line[:, :10] = 255
    line[:, 10] = 60
    assert spread(line, 5)[20, 14] > 200
