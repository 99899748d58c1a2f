"""Layer optics: identities of the two-constant theory, and what any film must obey."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from sepkit.errors import UsageError
from sepkit.files.inkfile import find_ink
from sepkit.inks.layers import (
    cloth_layer,
    cloth_strength,
    covered_share,
    film,
    film_in_air,
    film_on,
    from_air,
    on_ground,
    opaque_reflectance,
    over,
    printed_reflectance,
    ratio_of_opaque,
    to_air,
)
from sepkit.inks.mixing import mix
from sepkit.model import Ink

amount = st.floats(0, 60, allow_nan=False)
share = st.floats(0, 1, allow_nan=False)


@settings(max_examples=200, deadline=None)
@given(amount, amount)
def test_two_half_films_are_one_film(k: float, s: float) -> None:
    half, whole = film(np.array(k / 2), np.array(s / 2)), film(np.array(k), np.array(s))
    both = over(half, half)
    assert both.top == pytest.approx(whole.top, abs=1e-9)
    assert both.through == pytest.approx(whole.through, abs=1e-9)


@settings(max_examples=200, deadline=None)
@given(amount, amount, share)
def test_energy(k: float, s: float, ground: float) -> None:
    layer = film(np.array(k), np.array(s))
    assert layer.top + layer.through <= 1 + 1e-12
    assert layer.top >= 0 and layer.through >= 0
    assert 0 <= film_on(np.array(k), np.array(s), np.array(ground)) <= 1 + 1e-12


@pytest.mark.parametrize(("k", "s"), [(0, 0), (0, 1e9), (1e9, 0), (1e9, 1e9), (1e-300, 1e-300), (1e-9, 4), (4, 1e-9)])
def test_limits_are_finite(k: float, s: float) -> None:
    layer = film(np.array(float(k)), np.array(float(s)))
    assert np.isfinite([layer.top, layer.through, film_on(np.array(k), np.array(s), np.array(0.8))]).all()


@settings(max_examples=60, deadline=None)
@given(share, amount, amount, amount, amount)
def test_a_stack_on_a_ground_is_film_on_film(ground: float, k1: float, s1: float, k2: float, s2: float) -> None:
    lower, upper = (np.array(k1), np.array(s1)), (np.array(k2), np.array(s2))
    at_once = on_ground(over(film(*upper), film(*lower)), np.array(ground))
    assert at_once == pytest.approx(film_on(*upper, film_on(*lower, np.array(ground))), abs=1e-9)


@given(st.floats(1e-3, 0.99))
def test_opaque_ratio_inverts(r: float) -> None:
    k = ratio_of_opaque(np.array(r))
    assert opaque_reflectance(k, np.array(1.0)) == pytest.approx(r, abs=1e-9)


def test_saunderson_inverts() -> None:
    inside = np.linspace(0, 1, 21)
    assert np.allclose(from_air(to_air(inside)), inside)
    shiny = to_air(inside, geometry="specular included")
    assert np.allclose(from_air(shiny, geometry="specular included"), inside)


def test_a_clear_film_changes_nothing_even_on_very_white_cloth() -> None:
    cloth = np.linspace(0.02, 0.995, 31)
    nothing = np.zeros(31)
    assert np.allclose(film_in_air(film(nothing, nothing), cloth), cloth, atol=1e-12)
    clear = Ink("clear", nothing.copy(), nothing.copy(), 1.0, "base", "estimated", (0, 0, 0))
    assert np.allclose(printed_reflectance([(clear, 2.0)], cloth), cloth, atol=1e-12)
    assert np.allclose(printed_reflectance([], cloth), cloth)


def test_many_coats_reach_the_masstone_whatever_the_cloth() -> None:
    ink = find_ink("red")
    opaque = to_air(opaque_reflectance(ink.absorption, ink.scattering))
    for cloth in (np.full(31, 0.02), np.full(31, 0.9)):
        assert np.allclose(printed_reflectance([(ink, 40.0)], cloth), opaque, atol=2e-3)


def test_coverage_grows_by_coat() -> None:
    assert covered_share(1) == pytest.approx(0.97)
    assert covered_share(2) == pytest.approx(0.997)
    assert covered_share(0.1) < covered_share(1)


def test_cloth_backed_by_itself_is_the_garment() -> None:
    inside = np.linspace(0.05, 0.95, 31)
    for weight in (120.0, 180.0, 500.0):
        panel = cloth_layer(inside, weight)
        assert np.allclose(on_ground(panel, inside), inside, atol=1e-9)
    assert cloth_layer(inside, 500.0).through.max() < cloth_layer(inside, 120.0).through.max()


def test_mixing_is_by_volume() -> None:
    white, black = find_ink("white"), find_ink("black")
    tint = mix([(white, 95.0), (black, 5.0)])
    volume = (5 / black.density_g_ml) / (5 / black.density_g_ml + 95 / white.density_g_ml)
    assert volume > 0.06
    assert np.allclose(tint.absorption, (1 - volume) * white.absorption + volume * black.absorption)
    alone = mix([(white, 3.0)])
    assert np.allclose(alone.absorption, white.absorption) and alone.density_g_ml == pytest.approx(1.5)


@pytest.mark.parametrize("strength", [0.4, 1.0, 2.5])
def test_cloth_is_calibrated_from_one_panel_on_black_and_on_white(strength: float) -> None:
    panel = cloth_layer(np.linspace(0.75, 0.92, 31), 180.0 * strength)
    on_black, on_white = on_ground(panel, np.full(31, 0.02)), on_ground(panel, np.full(31, 0.85))
    assert cloth_strength(on_black, on_white, 180.0) == pytest.approx(strength, rel=1e-6)


def test_cloth_that_tells_nothing() -> None:
    same = np.full(31, 0.5)
    with pytest.raises(UsageError, match="same over black"):
        cloth_strength(same, same, 180.0)
    with pytest.raises(UsageError, match="times as usual"):
        cloth_strength(np.full(31, 0.05), np.full(31, 0.84), 180.0)
