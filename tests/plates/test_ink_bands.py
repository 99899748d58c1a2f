"""Decisions hold inside the band of what is known of an ink: what may and may not follow from knowing it otherwise."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
from hypothesis import given, settings
from hypothesis import strategies as st

from sepkit.colorimetry.upsampling import srgb8_to_reflectance
from sepkit.decisions import CoatChoice
from sepkit.inks.bands import FROM_A_WORD, MEASURED, TO_ORDER, InkBand, at_strength, band_of, mixed_band_de00, weak_end
from sepkit.inks.identify import CONTRAST_RATIO, ink_from_swatch
from sepkit.inks.mixing import mix
from sepkit.model import Ink, MixPart
from sepkit.plates.base_or_straight import CoatWish, asked_test_print, choose_coats, is_black, is_open
from sepkit.plates.coats import Ground
from tests.helpers.shelf import find_ink

CLOTHS = {"white": (244, 244, 242), "black": (26, 26, 28), "red": (179, 32, 44), "heather": (165, 167, 169)}
WORDS = sorted(set(CONTRAST_RATIO) - {"transparent"})

inks = st.builds(
    lambda red, green, blue, word: ink_from_swatch(
        f"#{red:02x}{green:02x}{blue:02x}", (red, green, blue), opacity=word
    ),
    *[st.integers(0, 255)] * 3,
    st.sampled_from(WORDS),
)
prints = st.lists(st.tuples(inks, st.floats(1.0, 3.0)), min_size=1, max_size=4, unique_by=lambda one: one[0].name)
cloths = st.sampled_from(sorted(CLOTHS))
presses = st.sampled_from([None, 1, 2, 4])


def ground(cloth: str) -> Ground:
    return Ground(find_ink("white"), srgb8_to_reflectance(CLOTHS[cloth]), srgb8_to_reflectance(CLOTHS["white"]))


def chosen(inks: list[tuple[Ink, float]], cloth: str, heads: int | None) -> tuple[CoatChoice, ...]:
    asked = [CoatWish(ink, band=InkBand(strength, 3.0)) for ink, strength in inks]
    return choose_coats(asked, ground(cloth), heads=heads)


def has_base(choices: tuple[CoatChoice, ...]) -> bool:
    return any(choice.chosen.base_coats for choice in choices)


@settings(max_examples=15, deadline=None)
@given(prints, cloths, presses, st.data())
def test_more_opacity_never_adds_a_base(
    inks: list[tuple[Ink, float]], cloth: str, heads: int | None, data: st.DataObject
) -> None:
    at, factor = data.draw(st.integers(0, len(inks) - 1)), data.draw(st.floats(1.0, 4.0))
    ink, strength = inks[at]
    stronger = [*inks[:at], (at_strength(ink, factor), strength), *inks[at + 1 :]]
    assert has_base(chosen(inks, cloth, heads)) or not has_base(chosen(stronger, cloth, heads))


@settings(max_examples=15, deadline=None)
@given(prints, cloths, presses, st.data())
def test_a_wider_band_never_takes_a_base_away(
    inks: list[tuple[Ink, float]], cloth: str, heads: int | None, data: st.DataObject
) -> None:
    at, factor = data.draw(st.integers(0, len(inks) - 1)), data.draw(st.floats(1.0, 3.0))
    ink, strength = inks[at]
    wider = [*inks[:at], (ink, strength * factor), *inks[at + 1 :]]
    assert has_base(chosen(wider, cloth, heads)) or not has_base(chosen(inks, cloth, heads))


def test_a_wider_band_keeps_the_base_where_two_coats_would_come_nearer_as_known() -> None:
    blues = [ink_from_swatch(f"blue {level}", (0, 0, level), opacity="medium") for level in (0xB7, 0xED)]
    for factor in (1.0, 1.5, 2.0, 3.0):
        narrow, wide = [(blues[0], 1.5), (blues[1], 2.0)], [(blues[0], 1.5 * factor), (blues[1], 2.0)]
        assert has_base(chosen(wide, "heather", 2)) or not has_base(chosen(narrow, "heather", 2))


@settings(max_examples=8, deadline=None)
@given(prints, st.integers(8, 40), cloths, presses)
def test_no_black_goes_on_a_base_by_itself(
    inks: list[tuple[Ink, float]], dark: int, cloth: str, heads: int | None
) -> None:
    inks = [(ink_from_swatch("dark", (dark, dark + 2, dark + 4), opacity="good"), 1.0), *inks]
    assert is_black(inks[0][0])
    for (ink, _), choice in zip(inks, chosen(inks, cloth, heads), strict=True):
        assert not (is_black(ink) and choice.chosen.base_coats)


def test_an_ink_that_was_measured_saves_the_base_that_its_estimate_asked_for() -> None:
    """A blue whose one coat is just good enough on grey: as an estimate it may cover less, measured it may not."""
    found = [
        ink
        for ink in (ink_from_swatch("blue", (40, 90, blue), opacity="good") for blue in range(120, 250, 10))
        if not has_base(choose_coats([CoatWish(ink, band=MEASURED)], ground("heather")))
        and has_base(choose_coats([CoatWish(ink, band=TO_ORDER)], ground("heather")))
    ]
    assert found
    (choice,) = choose_coats([CoatWish(found[0], band=TO_ORDER)], ground("heather"))
    assert is_open(choice, 3.0)
    told = asked_test_print({"blue": choice}, 3.0)
    assert told is not None and "one stroke straight, one on base" in told.hint


def test_a_base_that_another_ink_needs_asks_for_no_test_print() -> None:
    yellow, blue = ink_from_swatch("yellow", (245, 205, 60)), ink_from_swatch("blue", (40, 90, 180))
    both = choose_coats([CoatWish(yellow), CoatWish(blue)], ground("black"))
    assert has_base(both[:1]) and not is_open(both[0], 3.0)
    assert asked_test_print(dict(zip(("yellow", "blue"), both, strict=True)), 3.0) is None


def test_bands_are_wide_for_colours_mixed_to_order_and_narrow_where_measured() -> None:
    pot = find_ink("red")
    order = replace(mix([(pot, 50), (find_ink("white"), 50)], name="#ff8080"), parts=(MixPart("red", 0.5),))
    measured = replace(pot, status="measured")
    widths = [band_of(ink).strength for ink in (measured, pot, order)]
    assert widths == [MEASURED.strength, FROM_A_WORD.strength, TO_ORDER.strength]
    assert widths == sorted(widths) and band_of(measured).colour_de00 < band_of(order).colour_de00
    np.testing.assert_allclose(weak_end(pot).scattering * FROM_A_WORD.strength, pot.scattering)


def test_a_mix_of_far_hues_is_known_worse_than_one_of_near_ones() -> None:
    red, green, orange = (replace(find_ink(name), status="measured") for name in ("red", "green", "orange"))
    assert mixed_band_de00([(red, 50), (green, 50)]) > mixed_band_de00([(red, 50), (orange, 50)]) + 1
    assert mixed_band_de00([(red, 99.9), (green, 0.1)]) >= mixed_band_de00([(red, 100)])
    assert mixed_band_de00([(red, 50)]) == MEASURED.colour_de00
    assert mixed_band_de00([(red, 50), (find_ink("white"), 50)]) == TO_ORDER.colour_de00
