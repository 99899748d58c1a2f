"""Layer optics against hand-checkable identities and a table of worked values.

K/S of an opaque film, the limits K = 0 and S = 0, and Saunderson's correction are exact arithmetic (Kubelka 1948,
Saunderson 1942); the finite films of the table were computed once and guard against change.
"""

from __future__ import annotations

import csv
import math
import re
from pathlib import Path

import numpy as np
import pytest

from sepkit.colorimetry.spectral import lab_of_ratio
from sepkit.inks.layers import OUTER, film, film_on, opaque_reflectance, ratio_of_opaque, to_air

TABLE = Path(__file__).resolve().parents[1] / "data" / "layer_optics_values.csv"


def _value(check: str, given: dict[str, float]) -> float:
    a = {k: np.array(v) for k, v in given.items()}
    if check.startswith("K/S=") and given["R"] <= 0.99:
        return float(ratio_of_opaque(a["R"]))
    if check.startswith("Rinf"):
        return float(opaque_reflectance(a["K/S"], np.array(1.0)))
    if check.startswith("Saunderson"):
        how = "specular included" if "incl" in check else "45:0"
        return float(to_air(a["Ri"], outer=given["k1"], inner=given["k2"], geometry=how))  # type: ignore[arg-type]
    if check == "film R":
        return float(film_on(a["K"] * a["X"], a["S"] * a["X"], a["Rg"]))
    if check == "film T":
        return float(film(a["K"] * a["X"], a["S"] * a["X"]).through)
    if check.startswith("Fresnel"):
        return OUTER
    return float(lab_of_ratio(np.full(3, given["Y"] / 100))[0])


def test_table_of_worked_values() -> None:
    with TABLE.open(newline="") as file:
        rows = list(csv.DictReader(file))
    assert len(rows) >= 118
    for row in rows:
        text = f"{row['check'].split(',')[-1]} {row['input']}"
        given = {k: float(v) for k, v in re.findall(r"([A-Za-z/0-9]+)=([-+.0-9e]+)", text)}
        assert _value(row["check"], given) == pytest.approx(float(row["value"]), rel=2e-6, abs=1e-9), row


@pytest.mark.parametrize(("r", "ratio"), [(0.5, 0.25), (0.2, 1.6), (0.25, 1.125), (0.1, 4.05), (0.9, 1 / 180)])
def test_opaque_ratio_by_hand(r: float, ratio: float) -> None:
    assert float(ratio_of_opaque(np.array(r))) == pytest.approx(ratio)


def test_limits_by_hand() -> None:
    white = film(np.array(0.0), np.array(3.0))
    assert (float(white.top), float(white.through)) == pytest.approx((0.75, 0.25))
    assert float(film_on(np.array(0.0), np.array(3.0), np.array(0.8))) == pytest.approx(0.875)
    assert float(film_on(np.array(1.0), np.array(0.0), np.array(1.0))) == pytest.approx(math.exp(-2))
