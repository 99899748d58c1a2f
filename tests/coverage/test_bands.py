from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from sepkit.coverage.bands import check_coverage, pack_bits, row_bands


@given(st.integers(0, 500), st.integers(1, 90), st.integers(0, 20))
def test_bands_cover_every_row_once(height: int, rows: int, halo: int) -> None:
    seen = np.zeros(height, int)
    for band in row_bands(height, rows, halo=halo):
        seen[band.start : band.stop] += 1
        assert 0 <= band.outer_start <= band.start < band.stop <= band.outer_stop <= height
        assert np.arange(band.outer_start, band.outer_stop)[band.inner].tolist() == list(range(band.start, band.stop))
    assert (seen == 1).all()


def test_bits_are_packed_from_the_left() -> None:
    ink = np.zeros((1, 10), bool)
    ink[0, [0, 9]] = True
    assert pack_bits(ink).tolist() == [[0b1000_0000, 0b0100_0000]]


@pytest.mark.parametrize("bad", [np.zeros((2, 2)), np.zeros((2, 2, 3), np.uint8), np.zeros(4, np.uint8)])
def test_what_is_no_coverage_is_refused(bad: np.ndarray) -> None:
    with pytest.raises(ValueError, match="uint8 plane"):
        check_coverage(bad)
