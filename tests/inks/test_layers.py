"""Layer optics: identities of the two-constant theory, and what any film must obey."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from sepkit.errors import UsageError
from sepkit.inks.layers import (
    FIRST_COAT_GAP,
    Layer,
    cloth_layer,
    cloth_strength,
    covered_share,
    film,
    film_in_air,
    film_on,
    from_air,
    masstone,
    on_ground,
    opaque_reflectance,
    over,
    printed_reflectance,
    ratio_of_opaque,
    to_air,
)
from sepkit.inks.mixing import mix
from sepkit.model import Ink
from tests.helpers.shelf import find_ink

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
    assert covered_share(1) == pytest.approx(0.99)
    assert covered_share(2) == pytest.approx(0.999)
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


def test_single_precision_and_lists_are_worked_in_double() -> None:
    narrow = np.array([0.2, 0.5, 0.8], np.float32)
    wide = narrow.astype(np.float64)
    for result, exact in (
        (opaque_reflectance(narrow, narrow), opaque_reflectance(wide, wide)),
        (ratio_of_opaque(narrow), ratio_of_opaque(wide)),
        (film(narrow, narrow).top, film(wide, wide).top),
        (film(narrow, narrow).through, film(wide, wide).through),
        (to_air(narrow), to_air(wide)),
        (from_air(narrow), from_air(wide)),
        (covered_share(narrow), covered_share(wide)),
        (printed_reflectance([], narrow), printed_reflectance([], wide)),
        (cloth_layer(narrow, 180.0).top, cloth_layer(wide, 180.0).top),
    ):
        assert result.dtype == np.float64
        assert np.array_equal(result, exact)
    assert opaque_reflectance([0.5], [1.0]) == pytest.approx(opaque_reflectance(np.array(0.5), np.array(1.0)))
    over_black, over_white = np.full(31, 0.40, np.float32), np.full(31, 0.55, np.float32)
    exact_strength = cloth_strength(over_black.astype(np.float64), over_white.astype(np.float64), 180.0)
    assert cloth_strength(over_black, over_white, 180.0) == exact_strength


@given(st.floats(1e-9, 1e3), st.floats(1e-6, 0.999))
def test_only_the_ratio_counts_for_an_opaque_film(thickness: float, r: float) -> None:
    ratio = ratio_of_opaque(np.array(np.clip(r, 1e-4, 0.995)))
    assert opaque_reflectance(ratio * thickness, np.array(thickness)) == pytest.approx(opaque_reflectance(ratio, 1.0))


def test_out_of_range_readings_are_clipped() -> None:
    # By hand: (1 - 0.0001)^2 / 0.0002 and (1 - 0.995)^2 / 1.99.
    assert ratio_of_opaque(np.array([-0.1, 0.0, 1e-4])) == pytest.approx([4999.00005] * 3)
    assert ratio_of_opaque(np.array([0.995, 1.0, 1.7])) == pytest.approx([0.005**2 / 1.99] * 3)
    assert from_air(np.array([-0.2, 0.97, 2.0])).tolist() == [0.0, 1.0, 1.0]
    assert cloth_layer(np.array([0.0, 1.0]), 180.0).top == pytest.approx(
        cloth_layer(np.array([1e-4, 0.995]), 180.0).top
    )


@settings(max_examples=60, deadline=None)
@given(amount, amount, amount, amount, amount, amount)
def test_a_stack_turned_over_swaps_its_faces(k1: float, s1: float, k2: float, s2: float, k3: float, s3: float) -> None:
    a, b, c = (film(np.array(k), np.array(s)) for k, s in ((k1, s1), (k2, s2), (k3, s3)))
    upright, turned = over(a, over(b, c)), over(over(c, b), a)
    assert upright.top == pytest.approx(turned.bottom, abs=1e-9)
    assert upright.bottom == pytest.approx(turned.top, abs=1e-9)
    assert upright.through == pytest.approx(turned.through, abs=1e-9)


def test_cloth_brighter_than_glossy_white_shines_twice_through_the_film() -> None:
    half = Layer(np.array(0.0), np.array(0.0), np.array(0.5))
    # By hand: 0.98 is above what 45:0 can show of a white ground, 0.96; the film weakens the rest by 0.5 down and up.
    inside = 0.5**2 * 1.0
    seen = 0.96 * 0.4 * inside / (1 - 0.6 * inside)
    assert float(film_in_air(half, np.array(0.98))) == pytest.approx(seen + 0.25 * 0.02)


@pytest.mark.parametrize("coats", [0.4, 1.0, 2.0])
def test_fibres_show_the_garment_between_the_ink(coats: float) -> None:
    ink, cloth = find_ink("red"), np.linspace(0.03, 0.06, 31)
    printed = film_in_air(film(ink.absorption * coats, ink.scattering * coats), cloth)
    bare = FIRST_COAT_GAP * 10 ** (1 - max(coats, 0.5))
    expected = (1 - bare) * printed + bare * cloth
    assert np.allclose(printed_reflectance([(ink, coats)], cloth), expected, rtol=1e-12)
    assert np.abs(expected - cloth).max() > 0.1


def test_the_order_of_inks_is_bottom_to_top() -> None:
    white, black, cloth = find_ink("white"), find_ink("black"), np.full(31, 0.03)
    on_white = printed_reflectance([(white, 2.0), (black, 1.0)], cloth)
    on_black = printed_reflectance([(black, 1.0), (white, 2.0)], cloth)
    assert on_white.max() < 0.1 < on_black.min()


def test_masstone_is_the_opaque_film_in_air() -> None:
    ink = find_ink("green")
    assert np.array_equal(masstone(ink), to_air(opaque_reflectance(ink.absorption, ink.scattering)))


@pytest.mark.parametrize(("strength", "fits"), [(0.11, True), (0.09, False), (9.9, True), (10.6, False)])
def test_cloth_a_tenth_to_ten_times_as_strong_is_believed(strength: float, fits: bool) -> None:
    """Light thin panels, so that the strong ones still let a difference through."""
    panel = cloth_layer(np.linspace(0.75, 0.92, 31), 30.0 * strength)
    on_black, on_white = on_ground(panel, np.full(31, 0.02)), on_ground(panel, np.full(31, 0.85))
    if fits:
        assert cloth_strength(on_black, on_white, 30.0) == pytest.approx(strength, rel=1e-6)
        return
    with pytest.raises(UsageError) as refused:
        cloth_strength(on_black, on_white, 30.0)
    assert str(refused.value).startswith(f"cloth: the measured cloth scatters {strength:.2g} times as usual")
    assert refused.value.hint == "0.1 to 10; check the backings"


def test_a_panel_that_lets_nothing_through_says_how_to_measure() -> None:
    with pytest.raises(UsageError) as refused:
        cloth_strength(np.full(31, 0.5), np.full(31, 0.504), 180.0)
    assert str(refused.value) == (
        "cloth: the cloth looks the same over black and over white (one panel only, backings in contact)"
    )


def test_bands_that_tell_nothing_do_not_count() -> None:
    """Half of the bands are the same over both backings, or as dark as the black one: the others decide."""
    panel = cloth_layer(np.linspace(0.75, 0.92, 31), 180.0)
    on_black, on_white = on_ground(panel, np.full(31, 0.02)), on_ground(panel, np.full(31, 0.85))
    on_white[:8] = on_black[:8]
    on_black[8:16] = 0.015
    assert cloth_strength(on_black, on_white, 180.0) == pytest.approx(1.0, rel=1e-6)


def test_cloth_without_absorption_is_told_too() -> None:
    """A clear scatterer is the limit a = 1 of the closed form: R = (Rg + (1 - Rg) S) / (1 + (1 - Rg) S)."""
    amount_s = 3.6
    seen = [(g + (1 - g) * amount_s) / (1 + (1 - g) * amount_s) for g in (0.02, 0.85)]
    told = cloth_strength(np.full(31, seen[0]), np.full(31, seen[1]), 180.0)
    assert told == pytest.approx(1.0, rel=1e-3)
    # A reading a little too bright to be possible asks for a < 1; it is taken as the limit.
    assert cloth_strength(np.full(31, seen[0]), np.full(31, seen[1] + 0.004), 180.0) == pytest.approx(1.0, rel=0.1)
