from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from sepkit import threads
from sepkit.coverage.channels import pack
from sepkit.separation.cores import NONE, around, bit_table, cores, deep, deep_neighbours, neighbours, solid_labels
from sepkit.separation.edge_columns import ROWS, strips
from sepkit.separation.palette import find_clean_members, label_clean

COLOURS = np.array([(200, 30, 40), (250, 240, 220), (20, 60, 110), (201, 30, 40), (90, 90, 90)], np.uint8)


def random_art(rng: np.random.Generator) -> tuple[np.ndarray, np.ndarray]:
    """Return flat shapes with some soft pixels and some transparency."""
    height, width = (int(n) for n in rng.integers(1, 3 * ROWS, 2))
    label, alpha = np.zeros((height, width), int), np.full((height, width), 255, np.uint8)
    for _ in range(int(rng.integers(0, 9))):
        y, x = rng.integers(0, height), rng.integers(0, width)
        part = (slice(y, y + int(rng.integers(1, height + 1))), slice(x, x + int(rng.integers(1, width + 1))))
        label[part] = rng.integers(len(COLOURS))
        if rng.random() < 0.3:
            alpha[part] = rng.choice([0, 90, 255])
    rgb = COLOURS[label]
    soft = rng.random((height, width)) < rng.choice([0, 0.002, 0.05])
    rgb[soft] = rng.integers(0, 256, (int(soft.sum()), 3))
    return rgb, alpha


def plain_counts(rgb: np.ndarray, alpha: np.ndarray) -> dict[int, int]:
    """Count the colours of whole 3x3 neighbourhoods over the whole picture at once."""
    key = pack(rgb)
    flat = (deep(key) if min(alpha.shape) >= 3 else np.ones(key.shape, bool)) & (alpha == 255)
    values, counts = np.unique(key[flat], return_counts=True)
    return dict(zip(values.tolist(), counts.tolist(), strict=True))


@settings(max_examples=120, deadline=None)
@given(st.integers(0, 2**32 - 1))
def test_flat_colours_and_labels_are_those_of_the_whole_picture(seed: int) -> None:
    rgb, alpha = random_art(np.random.default_rng(seed))
    members = find_clean_members(rgb, alpha, None, pixel_mm2=1e-4)
    counts = plain_counts(rgb, alpha)
    for member in members:
        assert member.pixels == sum(counts[key] for key in member.exact)
    by_mask = find_clean_members(rgb, alpha, np.zeros(alpha.shape, bool), pixel_mm2=1e-4)
    assert members == by_mask
    key = pack(rgb)
    plain = np.full(alpha.shape, NONE, np.uint8)
    for number, member in enumerate(members):
        plain[np.isin(key, member.exact) & (alpha == 255)] = number
    assert np.array_equal(label_clean(rgb, alpha, members), plain)


@settings(max_examples=40, deadline=None)
@given(st.integers(0, 2**32 - 1))
def test_cores_round_about_are_those_of_plain_windows(seed: int) -> None:
    rng = np.random.default_rng(seed)
    rgb, _ = random_art(rng)
    label = (pack(rgb) % 31).astype(np.uint8)
    label[rng.random(label.shape) < 0.1] = NONE
    core = cores(label)
    bits = bit_table()[np.where(core, label, NONE)]
    at = np.arange(label.size)
    for radius, got in zip((1, 3), neighbours(solid_labels(label, core), at, radii=(1, 3)), strict=True):
        padded = np.pad(bits, radius)
        windows = np.lib.stride_tricks.sliding_window_view(padded, (2 * radius + 1,) * 2)
        assert np.array_equal(got.reshape(label.shape), np.bitwise_or.reduce(windows, axis=(2, 3)))
    bits = bit_table()[np.where(deep(label), label, NONE)]
    windows = np.lib.stride_tricks.sliding_window_view(np.pad(bits, 2), (5, 5))
    got = deep_neighbours(label, at, radius=2)
    assert np.array_equal(got.reshape(label.shape), np.bitwise_or.reduce(windows, axis=(2, 3)))
    bits = bit_table()[np.where(core, label, NONE)]
    if max(label.shape) <= 20:
        assert (around(solid_labels(label, core), at) == np.bitwise_or.reduce(bits.ravel())).all()


def test_two_threads_find_what_one_does(monkeypatch: pytest.MonkeyPatch) -> None:
    for seed in range(12):
        rgb, alpha = random_art(np.random.default_rng(seed))
        members = find_clean_members(rgb, alpha, None, pixel_mm2=1e-4)
        label = label_clean(rgb, alpha, members)
        with monkeypatch.context() as patch:
            patch.setattr(threads, "WORTH_PX", 0)
            assert find_clean_members(rgb, alpha, None, pixel_mm2=1e-4) == members
            assert (label_clean(rgb, alpha, members) == label).all()


def test_only_columns_that_change_are_named() -> None:
    rgb, alpha = np.full((100, 50, 3), 7, np.uint8), np.full((100, 50), 255, np.uint8)
    rgb[40:, 20] = 9
    alpha[70:, 33] = 0
    changes = [np.flatnonzero(strip.changes).tolist() for strip in strips(rgb, alpha)]
    assert changes == [[], [20], [33], []]
