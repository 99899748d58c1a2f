"""CIEDE2000 against the 34 pairs of Sharma, Wu, Dalal, Color Res. Appl. 30:21 (2005), table 1."""

from __future__ import annotations

import csv
from pathlib import Path

import numpy as np
import pytest

from sepkit.colorimetry.difference import delta_e_2000, difference_vector
from sepkit.colorimetry.reference import colour_science

TABLE = Path(__file__).resolve().parents[1] / "data" / "ciede2000_sharma2005.csv"


def pairs() -> np.ndarray:
    with TABLE.open(newline="") as file:
        return np.array([[float(v) for v in row.values()] for row in csv.DictReader(file)])


def test_all_34_pairs_in_both_orders() -> None:
    rows = pairs()
    assert len(rows) == 34
    one, two, published = rows[:, 1:4], rows[:, 4:7], rows[:, 7]
    assert np.abs(delta_e_2000(one, two) - published).max() < 1e-4
    assert np.abs(delta_e_2000(two, one) - published).max() < 1e-4


def test_the_vector_has_the_length_of_the_difference() -> None:
    rows = pairs()
    vector = np.stack(difference_vector(rows[:, 1:4], rows[:, 4:7]), axis=-1)
    assert np.linalg.norm(vector, axis=1) == pytest.approx(rows[:, 7], abs=1e-4)


def test_greys_opposite_hues_and_any_others_are_those_of_colour_science() -> None:
    """delta_E_CIE2000 of colour-science, which goes by angles, on colours that the table leaves out."""
    rng = np.random.default_rng(5)
    one, two = rng.uniform([0, -90, -90], [100, 90, 90], (2, 4000, 3))
    two[:500] = one[:500] + rng.normal(0, 0.5, (500, 3))
    one[500:600, 1:] = two[550:700, 1:] = 0
    one[700:800, 2] = two[700:800, 2] = one[800:900, 1] = two[800:900, 1] = 0  # hues of 0, 90, 180 or 270 degrees
    theirs = colour_science().difference.delta_E_CIE2000(one, two)
    assert np.abs(delta_e_2000(one, two) - theirs).max() < 1e-9
