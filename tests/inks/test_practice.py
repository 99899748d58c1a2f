"""What every printer knows: common practice, no published source. Predictions must not contradict it."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from sepkit.colorimetry.difference import delta_e_2000
from sepkit.colorimetry.spectral import reflectance_to_lab
from sepkit.inks.label import HIDDEN_DE00, LEGIBLE_DE00, label_advice, label_curve, label_ink_g
from sepkit.inks.layers import masstone, printed_reflectance
from sepkit.inks.mixing import mix
from sepkit.inks.residue import better_first, residue_de00, residues
from tests.helpers.shelf import find_garment, find_ink


def lightness(percent_black: float) -> float:
    tint = mix([(find_ink("white"), 100 - percent_black), (find_ink("black"), percent_black)])
    return float(reflectance_to_lab(masstone(tint))[0])


def test_half_and_half_is_a_really_dark_grey() -> None:
    assert lightness(50) < 45


def test_five_percent_black_is_a_light_to_mid_grey() -> None:
    assert 50 < lightness(5) < 78


def test_one_coat_of_white_on_black_is_greyish_and_the_second_bright() -> None:
    black = find_garment("black tee")
    one, two = (
        reflectance_to_lab(printed_reflectance([(find_ink("white"), coats)], black.reflectance))[0]
        for coats in (1.0, 2.0)
    )
    assert 70 < one < 85 and two > 88


def test_flash_and_second_coat_is_the_stack_of_two() -> None:
    black, white = find_garment("black tee"), find_ink("white")
    flashed = printed_reflectance([(white, 1.0), (white, 1.0)], black.reflectance)
    assert np.allclose(flashed, printed_reflectance([(white, 2.0)], black.reflectance), atol=1e-12)


def test_a_little_black_ruins_white_and_white_does_not_show_in_black() -> None:
    white, black = find_ink("white"), find_ink("black")
    assert residue_de00(white, black, 1) > 5
    assert residue_de00(black, white, 1) < 1
    assert better_first(black, white).name == "white"
    rows = residues(white, black, [0.1, 1, 5])
    assert [r.in_first_de00 for r in rows] == sorted(r.in_first_de00 for r in rows)


def test_yellow_before_blue() -> None:
    assert better_first(find_ink("blue"), find_ink("yellow")).name == "yellow"


def test_a_grey_label_on_a_heavy_white_hoodie_is_legible_and_hidden() -> None:
    hoodie = replace(find_garment("#f4f4f2"), weight_g_m2=500.0)
    point = label_curve(hoodie, find_ink("white"), find_ink("black"), percents=(5.0,))[0]
    assert point.inside_de00 > LEGIBLE_DE00
    assert point.outside_de00 < HIDDEN_DE00


def test_a_black_label_shows_through_a_white_tee_and_the_advice_says_so() -> None:
    tee = replace(find_garment("white tee"), weight_g_m2=180.0)
    advice = label_advice(tee, find_ink("white"), find_ink("black"))
    black = advice.points[-1]
    best = next(p for p in advice.points if p.percent == advice.best_percent)
    assert black.percent == 100 and black.outside_de00 > 2
    assert best.outside_de00 < black.outside_de00 / 1.5
    assert advice.range_percent is not None and 0.5 <= advice.range_percent[0] <= advice.best_percent <= 6
    assert "label-shows" in {f.code for f in advice.findings}


def test_thinner_cloth_shows_more() -> None:
    white, black = find_ink("white"), find_ink("black")
    shown = [
        label_curve(replace(find_garment("white tee"), weight_g_m2=w), white, black, percents=(100.0,))[0].flat_de00
        for w in (120.0, 180.0, 320.0, 500.0)
    ]
    assert shown == sorted(shown, reverse=True)


def test_black_ink_on_a_black_tee_cannot_be_read() -> None:
    advice = label_advice(find_garment("black tee"), find_ink("black"), replace(find_ink("black"), name="more black"))
    assert advice.range_percent is None
    assert advice.findings[0].code == "label-unreadable"


def test_a_label_is_called_hidden_at_the_limit_or_plain_by_the_worse_of_flat_and_worn() -> None:
    point = label_curve(find_garment("white tee"), find_ink("white"), find_ink("black"), percents=(5.0,))[0]
    seen = [replace(point, flat_de00=flat, worn_de00=0.5).outside for flat in (0.4, 1.0, 1.5, 2.0, 2.1)]
    assert seen == ["hidden", "hidden", "limit", "limit", "plain"]
    assert replace(point, flat_de00=0.0, worn_de00=3.0).outside == "plain"
    assert [replace(point, inside_de00=inside).reads for inside in (9.9, 10.0)] == [False, True]


def test_label_ink_grows_with_count() -> None:
    assert label_ink_g(1800, 200) > label_ink_g(1800, 50) > 30


@pytest.mark.parametrize("name", ["yellow", "orange", "red", "turquoise"])
def test_a_base_brings_a_colour_nearer_to_itself_on_white(name: str) -> None:
    ink, white = find_ink(name), find_ink("white")
    black_cloth, white_cloth = find_garment("black tee").reflectance, find_garment("white tee").reflectance
    there = reflectance_to_lab(printed_reflectance([(ink, 1.0)], white_cloth))
    without = reflectance_to_lab(printed_reflectance([(ink, 1.0)], black_cloth))
    with_base = reflectance_to_lab(printed_reflectance([(white, 1.0), (ink, 1.0)], black_cloth))
    assert delta_e_2000(with_base, there) < delta_e_2000(without, there)
