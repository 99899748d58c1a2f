from __future__ import annotations

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from sepkit.coverage.blocks import TILE_PX, edge_blocks
from sepkit.coverage.reach import choke, half_way, halo_of, spread
from tests.helpers.plain_reach import plain_choke, plain_nearer, plain_spread


def random_plane(rng: np.random.Generator, shape: tuple[int, int]) -> np.ndarray:
    """Return soft blobs, hard ones, worn solids or specks: what a plane may hold."""
    from scipy.ndimage import gaussian_filter

    noise = gaussian_filter(rng.normal(size=shape), rng.uniform(0.5, 9))
    noise /= max(float(noise.std()), 1e-9)
    kind = rng.integers(4)
    if kind == 0:
        return np.clip(noise * rng.uniform(20, 1200) + 128, 0, 255).astype(np.uint8)
    if kind == 1:
        return np.where(noise > rng.uniform(-1, 2), 255, 0).astype(np.uint8)
    if kind == 2:
        plane = np.clip(noise * 400 + rng.uniform(-300, 300), 0, 255).astype(np.uint8)
        plane[noise > 1.3] = 200
        return plane
    return np.where(rng.random(shape) > 0.97, rng.integers(60, 255), 0).astype(np.uint8)


@settings(max_examples=60, deadline=None)
@given(st.integers(0, 2**32 - 1), st.integers(1, TILE_PX), st.integers(1, TILE_PX), st.booleans())
def test_blocks_give_what_the_whole_plane_gives(seed: int, height: int, width: int, toned: bool) -> None:
    rng = np.random.default_rng(seed)
    plane = random_plane(rng, (height, width))
    tone = random_plane(rng, (height, width)) > 127 if toned else None
    distance = float(rng.choice([rng.uniform(0.2, 9), rng.integers(1, 60) / 2]))
    grown = spread(plane, distance, tone=tone)
    assert np.array_equal(grown, plain_spread(plane, distance, tone))
    assert np.array_equal(choke(plane, distance, tone=tone), plain_choke(plane, distance, tone))
    other, reach = 255 - grown, 2 * distance + 2
    nearer = plain_nearer(plane, other, reach)
    for batch in edge_blocks(plane, halo_of(reach)):
        half = np.zeros_like(plane)
        batch.put(half, half_way(batch.of(plane), batch.of(other), reach_px=reach, halo=batch.halo))
        near = np.zeros(plane.shape, bool)
        batch.put(near, batch.own(batch.of(grown > plane)))
        assert np.array_equal(half[near], nearer[near])


def test_only_blocks_near_an_edge_are_worked() -> None:
    plane = np.zeros((1600, 1600), np.uint8)
    plane[:, 816:] = 255
    worked = sum(len(batch.tile) for batch in edge_blocks(plane, 5))
    assert worked == 1600 // 32


def test_what_is_put_is_what_was_read() -> None:
    plane = random_plane(np.random.default_rng(5), (333, 257))
    out = np.zeros_like(plane)
    for batch in edge_blocks(plane, 12):
        batch.put(out, batch.own(batch.of(plane)))
    assert (out == plane)[(plane > 0) & (plane < 255)].all()


@settings(max_examples=30, deadline=None)
@given(st.integers(0, 2**32 - 1), st.integers(1, 400), st.integers(1, 400), st.integers(1, 50))
def test_blocks_hold_what_lies_around_them_and_nothing_beyond_the_border(
    seed: int, height: int, width: int, halo: int
) -> None:
    plane = random_plane(np.random.default_rng(seed), (height, width))
    wide = np.pad(plane, halo + TILE_PX)
    for batch in edge_blocks(plane, halo):
        values = batch.of(plane)
        for k, (row, column) in enumerate(zip(batch.rows.tolist(), batch.columns.tolist(), strict=True)):
            y, x = row * batch.side + TILE_PX, column * batch.side + TILE_PX
            side = batch.side + 2 * halo
            assert np.array_equal(values[..., k], wide[y : y + side, x : x + side])
            inner = plane[row * batch.side :, column * batch.side :][: batch.side, : batch.side]
            assert np.array_equal(batch.own_of(plane)[: inner.shape[0], : inner.shape[1], k], inner)
