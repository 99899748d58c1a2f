from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from sepkit.errors import UsageError
from sepkit.units import mm_to_pt, mm_to_px, parse_hex, parse_length_mm, parse_size_mm, px_to_mm, to_hex

ISO_216_A4_MM = (210.0, 297.0)


@pytest.mark.parametrize(
    ("text", "mm"),
    [
        ("300mm", 300),
        ("300", 300),
        ("12in", 304.8),
        ('12"', 304.8),
        ("0,35 mm", 0.35),
        (".5mm", 0.5),
        ("30cm", 300),
        ("1pt", 0.352778),
        ("500um", 0.5),
    ],
)
def test_lengths(text: str, mm: float) -> None:
    assert parse_length_mm(text) == pytest.approx(mm, abs=1e-6)


@pytest.mark.parametrize("text", ["", "wide", "3 km", "-5mm", "1e9mm", "nan", "12 x 16", "inf"])
def test_what_is_no_length_is_refused_with_a_hint(text: str) -> None:
    with pytest.raises(UsageError) as error:
        parse_length_mm(text, what="--width")
    assert "--width" in str(error.value)
    assert error.value.hint


def test_sizes_share_a_unit() -> None:
    assert parse_size_mm("12x16in") == (304.8, 406.4)
    assert parse_size_mm("210x297mm") == ISO_216_A4_MM
    with pytest.raises(UsageError):
        parse_size_mm("210mm")


@given(st.floats(0.01, 3000), st.floats(72, 2880))
def test_pixels_and_back(mm: float, dpi: float) -> None:
    assert px_to_mm(mm_to_px(mm, dpi), dpi) == pytest.approx(mm)


def test_a_pdf_point_is_a_72nd_of_an_inch() -> None:
    assert mm_to_pt(25.4) == pytest.approx(72)


@given(st.tuples(*[st.integers(0, 255)] * 3))
def test_hex_and_back(rgb: tuple[int, int, int]) -> None:
    assert parse_hex(to_hex(rgb)) == rgb


@pytest.mark.parametrize("text", ["#12", "#gggggg", "red", ""])
def test_what_is_no_colour_is_refused(text: str) -> None:
    with pytest.raises(UsageError):
        parse_hex(text)
