"""Film sheets against ISO 216:2007: A0 is 841 x 1189 mm, each next size half the last, fractions of a mm dropped."""

from __future__ import annotations

import pytest

from sepkit.film.wedge import PAGE_MM
from sepkit.press.sheet import SHEETS_MM


def iso_a(number: int) -> tuple[float, float]:
    width, height = 841, 1189
    for _ in range(number):
        width, height = height // 2, width
    return float(width), float(height)


@pytest.mark.parametrize("number", [1, 2, 3, 4])
def test_a_sizes(number: int) -> None:
    assert SHEETS_MM[f"A{number}"] == iso_a(number)


def test_the_calibration_film_fits_a4() -> None:
    width, height = iso_a(4)
    assert PAGE_MM[0] + 10 <= width
    assert PAGE_MM[1] + 10 <= height
