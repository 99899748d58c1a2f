from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import ndimage

from sepkit.film.remnants import cleaned_rows, clear_remnants

EIGHT = np.ones((3, 3), int)


def groups(bits, size):
    """The slow truth: 8-connected groups whose box fits in size x size; of those, the ones that stand alone."""
    labels, _ = ndimage.label(bits, EIGHT)
    small, alone = np.zeros_like(bits), np.zeros_like(bits)
    for k, box in enumerate(ndimage.find_objects(labels), 1):
        if all(s.stop - s.start <= size for s in box):
            small |= labels == k
            y, x = (slice(max(0, s.start - size), s.stop + size) for s in box)
            near = labels[y, x]
            if ((near == 0) | (near == k)).all():
                alone |= labels == k
    return small, alone


def cleaned(bits, *, ink_px, gap_px=0):
    rows = clear_remnants(np.packbits(bits, axis=1), bits.shape[1], ink_px=ink_px, gap_px=gap_px)
    return np.unpackbits(rows, axis=1, count=bits.shape[1]).astype(bool)


@settings(max_examples=60)
@given(st.integers(1, 7), st.integers(1, 150), st.integers(1, 40), st.floats(0.02, 0.5), st.integers(0, 99))
def test_only_small_ink_groups_go_and_all_that_stand_alone(size, width, height, density, seed):
    bits = np.random.default_rng(seed).random((height, width)) < density
    gone = bits & ~cleaned(bits, ink_px=size)
    small, alone = groups(bits, size)
    assert not (gone & ~small).any()
    assert not (alone & ~gone).any()


@settings(max_examples=30)
@given(st.integers(1, 5), st.integers(20, 150), st.integers(20, 40), st.integers(0, 99))
def test_only_small_holes_go_and_all_that_stand_alone(size, width, height, seed):
    bits = np.random.default_rng(seed).random((height, width)) < 0.8
    filled = cleaned(bits, ink_px=0, gap_px=size) & ~bits
    small, alone = groups(~bits, size)
    assert not (filled & ~small).any()
    assert not (alone & ~filled).any()


def test_nothing_changes_outside_the_tone():
    bits = np.zeros((20, 100), bool)
    bits[5, 10] = bits[5, 60] = True
    where = np.zeros_like(bits)
    where[:, 50:] = True
    rows = clear_remnants(np.packbits(bits, axis=1), 100, ink_px=2, gap_px=0, where=np.packbits(where, axis=1))
    kept = np.unpackbits(rows, axis=1, count=100)
    assert kept[5, 10] == 1
    assert kept[5, 60] == 0


@pytest.mark.parametrize("band", [1, 3, 16, 64])
def test_bands_give_what_the_whole_gives(band):
    bits = np.random.default_rng(5).random((120, 333)) < 0.2
    packed = np.packbits(bits, axis=1)
    whole = clear_remnants(packed, 333, ink_px=4, gap_px=3)
    everywhere = np.full_like(packed, 255)
    parts = [(packed[y : y + band], everywhere[y : y + band]) for y in range(0, 120, band)]
    assert np.array_equal(np.concatenate(list(cleaned_rows(parts, 333, ink_px=4, gap_px=3))), whole)
