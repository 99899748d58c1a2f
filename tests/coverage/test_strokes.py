from __future__ import annotations

import numpy as np
import pytest

from sepkit.coverage.strokes import thin_gaps, thin_share, thin_strokes

DPI = 300.0


def art_with_line(line_px: int) -> np.ndarray:
    plane = np.zeros((300, 400), np.uint8)
    plane[50:150, 50:150] = 255
    plane[200 : 200 + line_px, 40:360] = 255
    return plane


def test_a_thin_line_is_found_where_it_is() -> None:
    mask, parts = thin_strokes(art_with_line(3), least_mm=0.4, dpi=DPI)
    assert len(parts) == 1
    x, y = parts[0].place_mm
    assert x == pytest.approx(200 * 25.4 / DPI, abs=0.5)
    assert y == pytest.approx(201.5 * 25.4 / DPI, abs=0.2)
    assert mask[201, 200]
    assert not mask[100, 100]


def test_a_line_as_wide_as_asked_passes() -> None:
    assert thin_strokes(art_with_line(6), least_mm=0.4, dpi=DPI)[1] == []


def test_a_thin_gap_is_found_and_the_open_garment_is_not() -> None:
    plane = np.zeros((200, 300), np.uint8)
    plane[40:160, 40:148] = 255
    plane[40:160, 151:260] = 255
    _, parts = thin_gaps(plane, least_mm=0.5, dpi=DPI)
    assert len(parts) == 1
    assert parts[0].place_mm[0] == pytest.approx(149.5 * 25.4 / DPI, abs=0.2)
    assert thin_gaps(plane, least_mm=0.2, dpi=DPI)[1] == []


def test_the_share_of_thin_strokes() -> None:
    line = art_with_line(3)
    expected = 3 * 320 / (3 * 320 + 100 * 100)
    assert thin_share(line, least_mm=0.8, dpi=DPI / 2) == pytest.approx(expected, rel=0.05)
    coarse = thin_share(line, least_mm=0.4, dpi=DPI)
    assert 0.5 * expected < coarse < 1.6 * expected, "finer art is averaged down first"
    assert thin_share(art_with_line(40), least_mm=0.4, dpi=DPI) < 0.002
    assert thin_share(np.zeros((9, 9), np.uint8), least_mm=0.4, dpi=DPI) == 0
