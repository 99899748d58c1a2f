"""Runs of a print: every pixel's coverages are found again in them, plates alone and together."""

from __future__ import annotations

import itertools
from dataclasses import replace

import numpy as np
import pytest

from sepkit.preview.index import stack_index
from sepkit.preview.stack import plane_seen, planes_seen
from tests.helpers.plates import plate


def planes_of(count, shape=(37, 61), seed=4):
    """Areas of a few levels, some rows alike from side to side, and a corner of noise."""
    rng = np.random.default_rng(seed)
    planes = np.kron(rng.choice([0, 0, 60, 255], (count, 4, 7)), np.ones((10, 9))).astype(np.uint8)
    planes = np.ascontiguousarray(planes[:, : shape[0], : shape[1]])
    planes[:, 5:9] = 255
    planes[:, 20:, 40:] = rng.integers(0, 256, planes[:, 20:, 40:].shape)
    return list(planes)


@pytest.mark.parametrize(("count", "top"), [(1, 255), (7, 255), (9, 63), (15, 7)])
def test_every_pixel_has_its_coverages_again(count, top):
    """So many levels of each plate as have room in 64 bits with a flag: 64 // plates - 1 bits, 8 at most."""
    planes = planes_of(count)
    index = stack_index(planes, [None] * count)
    assert index.top == top
    wanted = np.rint(np.stack(planes, axis=2).astype(float) * top / 255)
    assert np.array_equal(index.levels[index.pixels()], wanted)
    assert not index.dots.any()
    assert len(np.unique(index.levels, axis=0)) == len(index.levels)


def test_bands_make_no_difference(monkeypatch):
    """Runs by ``itertools.groupby`` over each row: none crosses its end, and neighbours within it differ."""
    planes = planes_of(9)
    whole = stack_index(planes, [None] * 9)
    monkeypatch.setattr("sepkit.preview.index.BAND_PIXELS", 3 * 61)
    parts = stack_index(planes, [None] * 9)
    for name in ("in_row", "lengths", "ids", "levels", "dots"):
        assert np.array_equal(getattr(parts, name), getattr(whole, name))
    assert {whole.in_row.dtype, whole.lengths.dtype, whole.ids.dtype} == {np.dtype(np.uint32)}
    runs = [[(key, len(list(of))) for key, of in itertools.groupby(row)] for row in whole.pixels().tolist()]
    assert [len(row) for row in runs] == whole.in_row.tolist()
    assert [run for row in runs for run in row] == list(zip(whole.ids.tolist(), whole.lengths.tolist(), strict=True))
    assert (np.diff(np.bincount(whole.ids)) <= 0).all()


def test_a_tone_that_ends_on_solid_ink_ends_no_run():
    """Solid or none is no dot, whatever the mask of tone says there; part coverage is one within it, else an edge."""
    plane = np.array([[255, 255, 255, 255, 90, 90, 90, 0, 0]], np.uint8)
    tone = np.array([[1, 1, 0, 0, 0, 1, 1, 1, 0]], bool)
    index = stack_index([plane], [tone])
    assert index.lengths.tolist() == [4, 1, 2, 2]
    assert index.levels[index.ids, 0].tolist() == [255, 90, 90, 0]
    assert index.dots[index.ids, 0].tolist() == [False, False, True, False]


def test_a_plate_alone_is_seen_as_among_others():
    """Its trap ends where another ink begins, its tones take the press's gain, whichever plates there are."""
    grown, beside = np.zeros((2, 5, 8), np.uint8)
    grown[:, :4], beside[:, 4:] = 255, 255
    tone = np.zeros((5, 8), bool)
    tone[:, 4:] = True
    trapped = replace(plate(grown), printed=np.roll(grown, 2, axis=1) | grown, trap_mm=0.2)
    dotted = replace(plate(beside // 3, tone=tone), printed=beside // 3)
    plates = [trapped, plate(beside), dotted]
    curves = (None, lambda _, tint: tint**0.8)
    assert trapped.printed[0, 4] == 255
    for curve in curves:
        seen = planes_seen(plates, tone_curve=curve)
        assert seen[0][0, 4] == 0
        assert seen[2][0, 4] == (85 if curve is None else round(255 * (85 / 255) ** 0.8))
        for at, plane in enumerate(seen):
            assert np.array_equal(plane_seen(plates, at, tone_curve=curve), plane)


def test_planes_that_cannot_be_stacked_are_told():
    with pytest.raises(ValueError, match="16 plates"):
        stack_index([np.zeros((2, 2), np.uint8)] * 16, [None] * 16)
    with pytest.raises(ValueError, match="different size"):
        stack_index([np.zeros((2, 2), np.uint8), np.zeros((2, 3), np.uint8)], [None] * 2)
