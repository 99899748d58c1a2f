"""Base and coats by predicted colour. The expected outcomes are common practice on press; no source."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from sepkit.colorimetry.difference import delta_e_2000
from sepkit.colorimetry.spectral import reflectance_to_lab
from sepkit.colorimetry.upsampling import srgb8_to_reflectance
from sepkit.decisions import CoatChoice, CoatOption
from sepkit.errors import UsageError
from sepkit.inks.identify import ink_from_swatch
from sepkit.inks.layers import printed_reflectance
from sepkit.inks.transparent import transparent_ink
from sepkit.plates.base_or_straight import CoatWish, choose_coats
from sepkit.plates.coats import (
    BASE_TINTS,
    Ground,
    base_share_needed,
    best_help,
    choke_share_where_fine,
    coat_options,
    hides,
)
from tests.helpers.shelf import find_garment, find_ink

WHITE_TEE, BLACK_TEE = (244, 244, 242), (26, 26, 28)


def choices(garment: tuple[int, int, int], *names: str, **given: Any) -> list[CoatChoice]:
    rule, rules = given.pop("rule", "auto"), given.pop("rules", {})
    inks = [ink_from_swatch(n, tuple(bytes.fromhex(n[1:]))) if n.startswith("#") else find_ink(n) for n in names]
    asked = [CoatWish(ink, rules.get(ink.name, rule)) for ink in inks]
    return list(choose_coats(asked, ground(garment), **given))


def ground(garment: tuple[int, int, int]) -> Ground:
    return Ground(find_ink("white"), srgb8_to_reflectance(garment), srgb8_to_reflectance(WHITE_TEE))


def test_black_on_white_takes_one_coat_and_no_base() -> None:
    (black,) = choices(WHITE_TEE, "black")
    assert (black.chosen.base_coats, black.chosen.coats) == (0, 1)


def test_white_on_black_takes_two_coats() -> None:
    (white,) = choices(BLACK_TEE, "white")
    assert (white.chosen.base_coats, white.chosen.coats) == (0, 2)
    assert white.options[0].de00 > white.options[1].de00


def test_yellow_on_black_needs_more_than_one_coat() -> None:
    (yellow,) = choices(BLACK_TEE, "yellow")
    assert yellow.chosen.base_coats + yellow.chosen.coats > 1
    assert yellow.options[0].de00 > 2 * yellow.chosen.de00


def test_black_on_black_needs_nothing_more() -> None:
    (black,) = choices(BLACK_TEE, "black")
    assert (black.chosen.base_coats, black.chosen.coats) == (0, 1)


def test_a_base_that_one_ink_needs_serves_the_others() -> None:
    magenta, yellow = choices(BLACK_TEE, "magenta", "yellow")
    assert magenta.chosen.base_coats >= 1
    assert yellow.chosen.base_coats >= 1


def test_rules_of_the_person_win() -> None:
    assert choices(WHITE_TEE, "black", rule="always")[0].chosen.base_coats >= 1
    assert choices(BLACK_TEE, "magenta", rule="never")[0].chosen.base_coats == 0
    magenta, yellow = choices(BLACK_TEE, "magenta", "yellow", rules={"yellow": "never"})
    assert magenta.chosen.base_coats >= 1
    assert yellow.chosen.base_coats == 0


def test_yellow_gets_a_base_on_black_and_none_on_white() -> None:
    assert choices(BLACK_TEE, "yellow")[0].chosen.base_coats == 1
    assert choices(WHITE_TEE, "yellow")[0].chosen.base_coats == 0


def test_a_wide_tolerance_saves_effort_and_a_tight_one_buys_colour() -> None:
    (wide,) = choices(BLACK_TEE, "#f2c14e", tolerance_de00=12.0)
    (tight,) = choices(BLACK_TEE, "#f2c14e", tolerance_de00=1.2)
    assert wide.chosen.label == "straight"
    assert tight.chosen.de00 < wide.chosen.de00
    assert tight.within_tolerance == (tight.chosen.de00 <= 1.2)


def test_white_on_its_own_base_has_its_second_coat_there() -> None:
    white, magenta = choices(BLACK_TEE, "white", "magenta")
    assert magenta.chosen.base_coats >= 1
    assert (white.chosen.base_coats, white.chosen.coats) == (1, 1)


def test_more_white_never_moves_away_from_white() -> None:
    options = coat_options(find_ink("white"), ground(BLACK_TEE))
    lightness = [np.mean(o.srgb) for o in options]
    assert lightness[0] < lightness[1] <= lightness[3] + 0.5


@settings(max_examples=25, deadline=None)
@given(
    st.floats(0.25, 6), st.floats(0.1, 4), st.sampled_from([BLACK_TEE, (179, 32, 44), (30, 36, 56), (165, 167, 169)])
)
def test_more_coats_never_raise_the_error_to_white(coats: float, more: float, garment: tuple[int, int, int]) -> None:
    """Against an opaque film of the white: each coat brings the print nearer, on any cloth darker than the ink."""
    white, cloth = find_ink("white"), srgb8_to_reflectance(garment)
    aim = reflectance_to_lab(printed_reflectance([(white, 200.0)], cloth))
    seen = [reflectance_to_lab(printed_reflectance([(white, c)], cloth)) for c in (coats, coats + more)]
    assert delta_e_2000(aim, seen[1]) <= delta_e_2000(aim, seen[0]) + 1e-6


def test_an_ink_that_no_way_brings_within_tolerance_is_told_what_helps() -> None:
    glaze = ink_from_swatch("glaze", (250, 210, 60), opacity="transparent")
    (choice,) = choose_coats([CoatWish(glaze, "never")], ground(BLACK_TEE))
    assert not choice.within_tolerance
    found = best_help(glaze, choice, ground(BLACK_TEE), tolerance_de00=3.0)
    assert found is not None
    assert found.de00 < choice.chosen.de00
    assert "base" in found.words or "opaque" in found.words


def test_a_good_ink_needs_no_help() -> None:
    (choice,) = choices(BLACK_TEE, "black")
    found = best_help(find_ink("black"), choice, ground(BLACK_TEE), tolerance_de00=0.0001)
    assert found is None or found.de00 <= choice.chosen.de00


def test_wished_coats_are_kept_and_the_base_is_still_decided() -> None:
    plain = choose_coats([CoatWish(find_ink("yellow"))], ground(BLACK_TEE))[0].chosen
    twice = choose_coats([CoatWish(find_ink("yellow"), coats=2)], ground(BLACK_TEE))[0]
    assert (plain.coats, twice.chosen.coats) == (1, 2)
    assert {way.base_coats for way in twice.options} == {0, 1, 2}
    never = choose_coats([CoatWish(find_ink("yellow"), "never", 3)], ground(BLACK_TEE))[0].chosen
    assert (never.base_coats, never.coats) == (0, 3)
    with pytest.raises(UsageError, match="4 coats"):
        coat_options(find_ink("yellow"), ground(BLACK_TEE), coats=4)


def test_a_lighter_base_is_never_lighter_than_the_tolerance_allows() -> None:
    yellow, blue = find_ink("yellow"), find_ink("blue")
    assert base_share_needed(yellow, ground(BLACK_TEE), base_coats=1, tolerance_de00=0.01) == 1.0
    assert base_share_needed(blue, ground(BLACK_TEE), base_coats=1, tolerance_de00=20.0) == min(BASE_TINTS)
    strict = base_share_needed(yellow, ground(BLACK_TEE), base_coats=1, tolerance_de00=3.0)
    assert strict >= base_share_needed(yellow, ground(BLACK_TEE), base_coats=1, tolerance_de00=6.0)


def test_white_on_a_base_of_two_coats_counts_both() -> None:
    """Where the base has two coats, white on it lies on two coats too."""
    white, red = choices((179, 32, 44), "white", "#1d4080")
    assert white.chosen.base_coats in (0, red.chosen.base_coats, 2)
    if white.chosen.base_coats and red.chosen.base_coats:
        assert white.chosen.base_coats == red.chosen.base_coats


def test_on_two_heads_a_second_coat_may_replace_a_base_that_needs_another_round() -> None:
    """Two inks and a base are three screens: with two heads, print-flash-print without base where that is enough."""
    pair = ("#f0ae2d", "#1b7482")
    roomy = choices(BLACK_TEE, *pair, heads=4)
    assert roomy[0].chosen.base_coats == 1
    yellow, blue = choices(BLACK_TEE, *pair, heads=2)
    assert (yellow.chosen.base_coats, yellow.chosen.coats) == (0, 2)
    assert yellow.within_tolerance and blue.within_tolerance
    assert "2 heads" in yellow.why
    (alone,) = choices(BLACK_TEE, "#f0ae2d", heads=2)
    assert alone.chosen.base_coats == 1, "base and one ink fit"
    many = choices(BLACK_TEE, *pair, "#d63c2c", heads=2)
    assert many[0].chosen.base_coats == 1, "three inks do not fit either way: the base stays"
    forced = choices(BLACK_TEE, *pair, heads=2, rule="always")
    assert all(choice.chosen.base_coats for choice in forced)


def test_rounds_never_cost_a_colour_far_out_of_tolerance() -> None:
    glaze = ink_from_swatch("glaze", (250, 210, 60), opacity="transparent")
    found = choose_coats([CoatWish(glaze), CoatWish(find_ink("black"))], ground(BLACK_TEE), heads=2)
    assert found[0].chosen.base_coats >= 1


def test_a_base_under_a_trap_is_hidden_by_inks_that_hide_and_not_by_transparent_ones() -> None:
    black, white = find_garment("black tee").reflectance, find_garment("white tee").reflectance
    base = (find_ink("white"), 1.0)
    navy, violet = ink_from_swatch("navy", (23, 48, 79)), ink_from_swatch("violet", (150, 110, 190), opacity="semi")
    yellow, clear = ink_from_swatch("yellow", (245, 205, 60)), transparent_ink("clear", (245, 205, 60), white=white)
    assert hides([(yellow, 1.0), (navy, 1.0)], base=base, cloth=black, tolerance_de00=3)
    assert hides([(clear, 1.0), (navy, 1.0)], base=base, cloth=black, tolerance_de00=3)
    assert not hides([(clear, 1.0), (violet, 1.0)], base=base, cloth=black, tolerance_de00=3)


def test_a_choke_is_worth_the_whole_error_only_where_the_base_would_be_seen() -> None:
    def choice(straight: tuple[int, int, int], on_base: tuple[int, int, int]) -> CoatChoice:
        ways = (CoatOption("straight", 0, 1, straight, 9.0, 1.0), CoatOption("on a base", 1, 1, on_base, 1.0, 2.0))
        return CoatChoice(ways, ways[1], True, "")

    base = (225, 225, 222)
    red = choke_share_where_fine(choice((190, 52, 40), (202, 57, 41)), base_srgb=base)
    cream = choke_share_where_fine(choice((208, 206, 190), (235, 230, 207)), base_srgb=base)
    assert 0.8 < red < 1
    assert cream == 0
    assert choke_share_where_fine(choice((9, 9, 9), base), base_srgb=base) == 0
