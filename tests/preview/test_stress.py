"""Out of register: areas on known shapes, before and after trap and choke."""

from __future__ import annotations

import math

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy.ndimage import shift

from sepkit.coverage.reach import choke, spread
from sepkit.preview.moved import moved
from sepkit.preview.stress import exposed, stress, stress_sheet
from tests.helpers.plates import plate, rectangle

DPI = 254.0  # ten pixels per mm
SHAPE = (300, 500)


def two_inks(*, trap_px=0.0):
    """Red 20 x 20 mm beside blue 20 x 20 mm, 25 mm of garment around, joined along 20 mm."""
    left, right = rectangle(SHAPE, 50, 50, 250, 250), rectangle(SHAPE, 50, 250, 250, 450)
    grown = np.maximum(left, np.minimum(spread(left, trap_px), right))
    return [plate(left, printed=grown), plate(right, name="blue", of="blue")]


def test_gap_of_two_inks_side_by_side():
    found = exposed(two_inks(), which="printed", dpi=DPI, error_mm=0.5)
    # a crack of 0.5 mm along the join, without 0.5 mm at both ends, where the outline may be
    assert found.gap_mm2 == pytest.approx(0.5 * (20 - 1), rel=0.03)
    assert found.peek_mm2 == 0 and found.peek_shift is None
    assert found.gap_shift is not None
    away = -1 if found.gap_shift.plate == 0 else 1
    assert (found.gap_shift.right_mm * away, found.gap_shift.down_mm) == pytest.approx((0.5, 0), abs=1e-9)


def test_one_plate_has_nothing_to_part_from():
    lines = np.zeros(SHAPE, np.uint8)
    lines[::20] = lines[1::20] = 255
    assert exposed([plate(lines)], which="printed", dpi=DPI, error_mm=0.5).gap_mm2 == 0


def test_trap_closes_the_gap():
    result = stress(two_inks(trap_px=5), dpi=DPI, error_mm=0.5)
    assert result.before.gap_mm2 > 9
    assert result.after.gap_mm2 <= 0.02 * result.before.gap_mm2


def test_half_a_trap_leaves_half_the_gap():
    found = exposed(two_inks(trap_px=2.5), which="printed", dpi=DPI, error_mm=0.5)
    assert found.gap_mm2 == pytest.approx(0.25 * 19, rel=0.15)


def based(*, choke_px=0.0, top_ink="red"):
    area = rectangle(SHAPE, 50, 50, 250, 250)
    return [
        plate(area, name="underbase", role="underbase", of="white", printed=choke(area, choke_px)),
        plate(area, of=top_ink),
    ]


def test_base_that_peeks_out():
    found = exposed(based(), which="printed", dpi=DPI, error_mm=0.5)
    e = 0.5 * math.cos(math.pi / 4)
    assert found.peek_mm2 == pytest.approx(20 * 20 - (20 - e) ** 2, rel=0.05)  # a slanted shift shows two edges
    assert found.peek_shift is not None and abs(found.peek_shift.right_mm) == pytest.approx(e)


def test_choke_hides_the_base():
    result = stress(based(choke_px=5), dpi=DPI, error_mm=0.5)
    assert result.before.peek_mm2 > 10 and result.after.peek_mm2 == 0


def test_white_beside_its_own_base_is_no_peek():
    assert exposed(based(top_ink="white"), which="printed", dpi=DPI, error_mm=0.5).peek_mm2 == 0


def test_planes_can_be_given():
    plates = two_inks()
    shrunk = [choke(p.printed, 3) for p in plates]
    given_ = exposed(plates, which="printed", dpi=DPI, error_mm=0.5, planes=shrunk)
    assert given_.gap_mm2 == pytest.approx((0.5 + 0.6) * 19, rel=0.05)


def test_garment_between_dots_is_no_gap():
    left = rectangle(SHAPE, 50, 50, 250, 250) // 2
    assert exposed([plate(left, tone=left > 0)], which="printed", dpi=DPI, error_mm=0.5).gap_mm2 == 0


def test_a_flat_area_can_part_from_a_halftone():
    left, right = rectangle(SHAPE, 50, 50, 250, 250) // 2, rectangle(SHAPE, 50, 250, 250, 450)
    plates = [plate(left, tone=left > 0), plate(right, name="blue", of="blue")]
    found = exposed(plates, which="printed", dpi=DPI, error_mm=0.5)
    assert found.gap_mm2 == pytest.approx(0.5 * 19, rel=0.05)
    assert found.gap_shift is not None and found.gap_shift.plate == 1


def test_no_error_shows_nothing():
    result = stress(based(), dpi=DPI, error_mm=0.0)
    assert result.before.peek_mm2 == 0 == result.before.gap_mm2


def test_big_plates_measure_the_same():
    big = [plate(np.kron(p.coverage, np.ones((10, 10), np.uint8)), name=p.name, of=p.ink) for p in two_inks()]
    small = exposed(two_inks(), which="printed", dpi=DPI, error_mm=0.5).gap_mm2
    assert exposed(big, which="printed", dpi=DPI * 10, error_mm=0.5).gap_mm2 == pytest.approx(small, rel=0.05)


@settings(max_examples=25, deadline=None)
@given(st.floats(-6, 6), st.floats(-6, 6))
def test_moving_keeps_ink_and_moves_its_centre(right, down):
    area = rectangle((40, 40), 12, 14, 22, 30)
    got = moved(area, right_px=right, down_px=down).astype(float)
    rows, columns = np.indices(got.shape)
    assert got.sum() == pytest.approx(float(area.sum()), rel=0.01)
    assert (got * columns).sum() / got.sum() == pytest.approx(21.5 + right, abs=0.05)
    assert (got * rows).sum() / got.sum() == pytest.approx(16.5 + down, abs=0.05)


@pytest.mark.parametrize("right", [0.25, -3.5, 2.703125])
def test_a_moved_plane_is_rounded_once(right):
    """Held against SciPy's linear interpolation."""
    plane = np.pad(np.random.default_rng(3).integers(0, 256, (20, 30), dtype=np.uint8), 8)
    want = shift(plane.astype(float), (0, right), order=1)
    assert np.abs(moved(plane, right_px=right, down_px=0) - want).max() <= 0.5
    assert np.abs(moved(plane.T, right_px=0, down_px=right) - want.T).max() <= 0.5


def test_moving_all_the_way_out():
    assert not moved(rectangle((9, 9), 2, 2, 5, 5), right_px=40, down_px=0).any()


def test_the_sheet_marks_what_shows():
    def colour(stack):
        return np.array([0.02, 0.02, 0.02]) if not stack else np.array([0.5, 0.2 * len(stack), 0.1])

    def marks(sheet):
        half = sheet.shape[1] // 2
        pink = (np.abs(sheet.astype(int) - (255, 0, 170)) < 60).all(axis=2)
        return int(pink[:, :half].sum()), int(pink[:, half:].sum())

    plates = two_inks(trap_px=6)
    sheet, told = stress_sheet(plates, colour, dpi=DPI, error_mm=0.5, panel_px=400)
    alone = stress(plates, dpi=DPI, error_mm=0.5)
    assert (told.before, told.after) == (alone.before, alone.after)
    before, after = marks(sheet)
    assert before > after > 0  # the frame of the loupe is on both sides
    assert sheet.dtype == np.uint8 and sheet.shape[2] == 3
