from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from sepkit.colorimetry.difference import delta_e_2000
from sepkit.colorimetry.spectral import reflectance_to_lab
from sepkit.colorimetry.upsampling import lab_to_reflectance
from sepkit.errors import UsageError
from sepkit.inks.drawdown import DrawDown, identify
from sepkit.inks.fit import FitSettings, fit_coefficients, predict
from sepkit.inks.identify import CONTRAST_RATIO, contrast_ratio, ink_from_swatch
from sepkit.inks.layers import OUTER, film, film_in_air, masstone, printed_reflectance
from sepkit.inks.mixing import mix
from sepkit.model import Ink
from tests.helpers.shelf import find_ink

BLACK, WHITE = np.full(31, 0.02), np.full(31, 0.82)


def curved_ink() -> Ink:
    """An ink whose scattering is not flat, so that the fit has something to find."""
    base = find_ink("red")
    slope = np.linspace(1.5, 0.7, 31)
    return replace(base, name="curved", scattering=base.scattering * slope, absorption=base.absorption * 0.8)


def drawn(ink: Ink, card: np.ndarray) -> np.ndarray:
    return film_in_air(film(ink.absorption, ink.scattering), card)


def draw_down(ink: Ink, *, tint: bool = True) -> DrawDown:
    mixed = mix([(ink, 10.0), (find_ink("white"), 90.0)])
    return DrawDown(
        over_black=drawn(ink, BLACK),
        over_white=drawn(ink, WHITE),
        black_card=BLACK,
        white_card=WHITE,
        tints=((10.0, drawn(mixed, WHITE)),) if tint else (),
        spectra=True,
    )


def worst_elsewhere(truth: Ink, found: Ink) -> float:
    """Return the largest ΔE00 in uses that were not measured: two coats on black cloth, a 20 % tint, the masstone."""
    white = find_ink("white")
    cloth = np.full(31, 0.015)
    uses = [
        lambda ink: printed_reflectance([(ink, 2.0)], cloth),
        lambda ink: masstone(mix([(white, 80.0), (ink, 20.0)])),
        masstone,
    ]
    return max(float(delta_e_2000(reflectance_to_lab(u(truth)), reflectance_to_lab(u(found)))) for u in uses)


def test_cards_and_a_tint_find_the_ink() -> None:
    truth = curved_ink()
    found = identify("x", draw_down(truth), white=find_ink("white"), density_g_ml=truth.density_g_ml)
    assert found.ink.status == "measured"
    assert found.worst_de00 < 0.3
    assert worst_elsewhere(truth, found.ink) < 0.8


def test_lab_of_the_same_is_a_little_worse() -> None:
    truth = curved_ink()
    whole = draw_down(truth)
    assert whole.over_black is not None and whole.over_white is not None
    blurred = DrawDown(
        over_black=lab_to_reflectance(reflectance_to_lab(whole.over_black)),
        over_white=lab_to_reflectance(reflectance_to_lab(whole.over_white)),
        black_card=BLACK,
        white_card=WHITE,
        tints=tuple((p, lab_to_reflectance(reflectance_to_lab(r))) for p, r in whole.tints),
    )
    found = identify("x", blurred, white=find_ink("white"), density_g_ml=truth.density_g_ml)
    assert worst_elsewhere(truth, found.ink) < 3
    assert found.tint_band_de00 > identify("x", whole, white=find_ink("white")).tint_band_de00


def test_noise_does_not_break_it() -> None:
    truth = curved_ink()
    rng = np.random.default_rng(2)
    whole = draw_down(truth)
    noisy = replace(
        whole,
        over_black=np.clip(whole.over_black + rng.normal(0, 0.003, 31), 0.0005, 1),
        over_white=np.clip(whole.over_white + rng.normal(0, 0.003, 31), 0.0005, 1),
        tints=tuple((p, np.clip(r + rng.normal(0, 0.003, 31), 0.0005, 1)) for p, r in whole.tints),
    )
    found = identify("x", noisy, white=find_ink("white"), density_g_ml=truth.density_g_ml)
    assert worst_elsewhere(truth, found.ink) < 4


def test_without_a_tint_it_is_an_estimate_and_says_so() -> None:
    found = identify("x", draw_down(curved_ink(), tint=False))
    assert found.ink.status == "estimated"
    assert "no-tint" in {f.code for f in found.findings}
    assert found.tint_band_de00 >= 8


def test_gloss_can_be_taken_off() -> None:
    truth = curved_ink()
    whole = draw_down(truth)
    shiny = DrawDown(
        over_black=whole.over_black + OUTER,
        over_white=whole.over_white + OUTER,
        black_card=BLACK + OUTER,
        white_card=WHITE + OUTER,
        tints=tuple((p, r + OUTER) for p, r in whole.tints),
        spectra=True,
        geometry="specular included",
    )
    kwargs = {"white": find_ink("white"), "density_g_ml": truth.density_g_ml}
    plain, taken = identify("x", whole, **kwargs), identify("x", shiny, **kwargs)  # type: ignore[arg-type]
    assert np.allclose(plain.ink.absorption, taken.ink.absorption, rtol=1e-6)
    wrong = identify("x", replace(whole, geometry="specular included"), **kwargs)  # type: ignore[arg-type]
    assert "gloss" in {f.code for f in wrong.findings}


def test_swapped_films_do_not_fit() -> None:
    whole = draw_down(ink_from_swatch("clear red", (196, 31, 48), opacity="semi"))
    swapped = replace(whole, over_black=whole.over_white, over_white=whole.over_black, tints=())
    assert "poor-fit" in {f.code for f in identify("x", swapped).findings}


def test_what_cannot_be_used() -> None:
    with pytest.raises(UsageError, match="nothing"):
        identify("x", DrawDown())
    with pytest.raises(UsageError, match="white ink"):
        identify("x", draw_down(curved_ink()))
    with pytest.raises(UsageError, match="tint of"):
        identify("x", DrawDown(tints=((0.0, WHITE),)), white=find_ink("white"))


@pytest.mark.parametrize("opacity", list(CONTRAST_RATIO))
def test_a_swatch_keeps_its_colour_and_hides_as_said(opacity: str) -> None:
    ink = ink_from_swatch("x", (196, 31, 48), opacity=opacity)  # type: ignore[arg-type]
    assert ink.srgb == (196, 31, 48)
    assert contrast_ratio(ink.absorption, ink.scattering) == pytest.approx(CONTRAST_RATIO[opacity], abs=0.01)
    assert ink.status == "estimated"


def test_a_black_swatch_tints_like_a_black() -> None:
    ink = ink_from_swatch("x", (20, 20, 22))
    assert ink.absorption.mean() > 8
    with pytest.raises(UsageError, match="opacity"):
        ink_from_swatch("x", (20, 20, 22), opacity="solid")  # type: ignore[arg-type]


def test_fit_finds_two_inks_from_films_and_mixtures() -> None:
    inks = [curved_ink(), find_ink("blue")]
    amounts = np.array([[0.3, 0], [1, 0], [2, 0], [0, 0.3], [0, 1], [0, 2], [0.5, 0.5], [0.2, 0.8]])
    k, s = np.stack([i.absorption for i in inks]), np.stack([i.scattering for i in inks])
    seen = predict(amounts, k, s, WHITE, bare_share=0.0)
    found = fit_coefficients(amounts, seen, WHITE, settings=FitSettings(bare_share=0.0, rounds=60))
    look = predict(np.array([[0.7, 0.3]]), *found, np.full((1, 31), 0.02), bare_share=0.0)
    truth = predict(np.array([[0.7, 0.3]]), k, s, np.full((1, 31), 0.02), bare_share=0.0)
    assert delta_e_2000(reflectance_to_lab(look), reflectance_to_lab(truth)).max() < 1.5
    with pytest.raises(ValueError, match="do not fit"):
        fit_coefficients(amounts, seen[:3], WHITE)
