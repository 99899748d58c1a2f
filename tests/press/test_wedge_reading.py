from __future__ import annotations

import numpy as np
import pytest

from sepkit.film.tone import DotGain, printed_tint
from sepkit.model import Halftone, Mesh
from sepkit.press.quantities import grams_per_hit
from sepkit.press.wedge_reading import WedgeReading, press_numbers


def tones(edge_um: float, noise: float = 0.0) -> tuple[tuple[float, float, float], ...]:
    out = []
    for lpi in (35.0, 45.0):
        for k, film in enumerate((0.1, 0.3, 0.5, 0.7, 0.9)):
            seen = printed_tint(np.array([film]), DotGain(edge_um), Halftone(lpi, 22.5, "ellipse"))
            out.append((lpi, film, float(seen[0]) + noise * (-1) ** k))
    return tuple(out)


@pytest.mark.parametrize("edge_um", [12.0, 47.0])
def test_a_known_growth_is_found_again(edge_um: float) -> None:
    numbers = press_numbers(WedgeReading(tones=tones(edge_um, noise=0.01)))
    assert numbers.edge_growth_um == pytest.approx(edge_um, abs=3)
    assert numbers.findings == ()


def test_widths_alone_tell_the_growth() -> None:
    numbers = press_numbers(WedgeReading(widths=((1.0, 1.08), (0.5, 0.58))))
    assert numbers.edge_growth_um == pytest.approx(40, abs=0.5)
    assert numbers.fit_rms is None


def test_steps_that_fit_no_growth_are_told() -> None:
    wild = tuple((45.0, film, seen) for film, seen in ((0.1, 0.8), (0.5, 0.1), (0.9, 0.3)))
    assert "poor-fit" in {f.code for f in press_numbers(WedgeReading(tones=wild)).findings}


def test_register_is_the_widest_miss() -> None:
    numbers = press_numbers(WedgeReading(misses_mm=((0.1, 0.0), (-0.3, 0.4), (0.2, 0.1), (0.0, 0.0), (0.1, 0.1))))
    assert numbers.register_error_mm == pytest.approx(0.5)
    assert "few-prints" in {f.code for f in press_numbers(WedgeReading(misses_mm=((0.1, 0),))).findings}


def test_ink_factor_is_the_median_over_the_computed() -> None:
    mesh = Mesh(43, 80)
    computed = grams_per_hit(80.0, mesh, 1.5) * 2
    weights = tuple(computed * f for f in (1.1, 1.2, 1.2, 1.25, 1.15))
    reading = WedgeReading(weighed_g=weights, mesh=mesh, density_g_ml=1.5, inked_cm2=80.0, coats=2)
    assert press_numbers(reading).ink_factor == pytest.approx(1.2, abs=1e-3)
    odd = press_numbers(WedgeReading(weighed_g=(90.0,) * 5, mesh=mesh, density_g_ml=1.5, inked_cm2=80.0))
    assert odd.ink_factor is None
    assert "odd-weight" in {f.code for f in odd.findings}
    assert "weight-without-mesh" in {f.code for f in press_numbers(WedgeReading(weighed_g=(1.0,))).findings}


def test_a_film_off_scale_is_told() -> None:
    assert "film-scale" in {f.code for f in press_numbers(WedgeReading(scale=((150, 149.0),))).findings}
    assert press_numbers(WedgeReading(scale=((150, 150.2),))).findings == ()


def test_nothing_measured_nothing_said() -> None:
    numbers = press_numbers(WedgeReading())
    assert numbers.edge_growth_um is None
    assert numbers.register_error_mm is None
