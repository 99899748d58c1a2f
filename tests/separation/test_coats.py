"""Base and coats by predicted colour. The expected outcomes are common practice on press; no source."""

from __future__ import annotations

import numpy as np

from sepkit.colorimetry.upsampling import srgb8_to_reflectance
from sepkit.files.inkfile import find_ink
from sepkit.inks.identify import ink_from_swatch
from sepkit.separation.coats import CoatChoice, choose_coats, coat_options

WHITE_TEE, BLACK_TEE = (244, 244, 242), (26, 26, 28)


def choices(garment: tuple[int, int, int], *names: str, **given: object) -> list[CoatChoice]:
    inks = [ink_from_swatch(n, tuple(bytes.fromhex(n[1:]))) if n.startswith("#") else find_ink(n) for n in names]
    return list(
        choose_coats(
            inks, base=find_ink("white"), cloth=srgb8_to_reflectance(garment),
            white_cloth=srgb8_to_reflectance(WHITE_TEE), **given,
        )
    )  # fmt: skip


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
    options = coat_options(
        find_ink("white"), base=find_ink("white"), cloth=srgb8_to_reflectance(BLACK_TEE),
        white_cloth=srgb8_to_reflectance(WHITE_TEE),
    )  # fmt: skip
    lightness = [np.mean(o.srgb) for o in options]
    assert lightness[0] < lightness[1] <= lightness[3] + 0.5
