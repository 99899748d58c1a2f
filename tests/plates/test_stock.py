"""Inks that can stand on the table: of the shelf, a mix that `ink match` repeats, or told that there is none."""

from __future__ import annotations

from pathlib import Path

import numpy as np
import pytest

from sepkit.colorimetry.difference import delta_e_2000
from sepkit.colorimetry.spectral import reflectance_to_lab
from sepkit.colorimetry.srgb import srgb8_to_lab
from sepkit.files.shelf.shelf import Shelf
from sepkit.inks.layers import masstone
from sepkit.inks.mixing import mix
from sepkit.model import RGB8, Ink
from sepkit.plates.stock import stock_findings, stock_inks
from sepkit.units import to_hex
from sepkit.workshop.inks.match import MatchRequest, find_recipes
from sepkit.workshop.print.options import PrintOptions, bench_of


@pytest.fixture(scope="module")
def shelf() -> Shelf:
    return Shelf()


@pytest.fixture(scope="module")
def inks(shelf: Shelf) -> tuple[Ink, ...]:
    """Return the inks that a plan mixes of."""
    return bench_of(PrintOptions(art=Path("art.png"), garment="black tee"), shelf).shelf


@pytest.mark.parametrize(
    ("srgb", "name"),
    [
        ((0, 0, 0), "black"),
        ((20, 20, 22), "black"),
        ((30, 28, 34), "black"),
        ((255, 255, 255), "white"),
        ((247, 246, 242), "white"),
    ],
)
def test_near_blacks_and_whites_come_from_the_pot(srgb: RGB8, name: str, inks: tuple[Ink, ...]) -> None:
    assert stock_inks({srgb: 0.05}, inks, tolerance_de00=3)[srgb].ink.name == name


@pytest.mark.parametrize("name", ["red", "blue", "yellow", "gold ochre"])
def test_the_colour_of_a_pot_is_that_pot(name: str, shelf: Shelf, inks: tuple[Ink, ...]) -> None:
    srgb = shelf.ink(name).srgb
    found = stock_inks({srgb: 0.3}, inks, tolerance_de00=3)[srgb]
    assert found.how == "stock" and found.ink is next(ink for ink in inks if ink.name == name)


@pytest.mark.parametrize("srgb", [(46, 125, 91), (192, 128, 64), (240, 230, 200), (90, 45, 92), (27, 42, 87)])
def test_a_mix_is_the_recipe_that_ink_match_gives(srgb: RGB8, shelf: Shelf, inks: tuple[Ink, ...]) -> None:
    found = stock_inks({srgb: 0.4}, inks, tolerance_de00=3)[srgb]
    asked = find_recipes(MatchRequest(to_hex(srgb)), shelf).targets[0].best
    assert [(p.ink, p.mass_share) for p in found.ink.parts] == [
        (dose.ink.name, pytest.approx(dose.mass_g / 500)) for dose in asked.doses if dose.mass_g
    ]
    assert float(delta_e_2000(reflectance_to_lab(masstone(found.ink)), np.array(asked.look.lab))) < 0.1
    again = mix([(shelf.ink(part.ink), part.mass_share) for part in found.ink.parts])
    np.testing.assert_allclose(again.absorption, found.ink.absorption)


def test_a_cream_that_covers_much_is_mixed_and_a_speck_of_it_is_white(inks: tuple[Ink, ...]) -> None:
    cream = (250, 243, 226)
    much, little = (stock_inks({cream: share}, inks, tolerance_de00=3)[cream] for share in (0.6, 0.01))
    assert much.ink.parts[0].ink == "white" and much.de00 < little.de00
    assert little.ink.name == "white"


def test_what_cannot_be_mixed_is_said_with_what_would_mend_it(inks: tuple[Ink, ...]) -> None:
    neon, ink_black = (0, 255, 0), (0, 0, 0)
    found = stock_inks({neon: 0.2, ink_black: 0.2}, inks, tolerance_de00=3)
    told = stock_findings(tuple(found.values()))
    assert len(told) == 1, "no print is as black as #000000: that is no fault of this one"
    assert "green cannot be mixed" in told[0].text and "purer green" in told[0].hint
    own = srgb8_to_lab(np.array(found[neon].ink.srgb))
    assert float(delta_e_2000(own, srgb8_to_lab(np.array(neon)))) == pytest.approx(found[neon].de00, abs=0.6)


def test_fewer_inks_on_the_shelf_never_come_nearer(inks: tuple[Ink, ...]) -> None:
    few = tuple(ink for ink in inks if ink.name in {"white", "black", "red", "yellow", "blue"})
    for srgb in ((46, 125, 91), (192, 128, 64), (200, 120, 160)):
        all_of, some = (stock_inks({srgb: 0.4}, shelf, tolerance_de00=0.5)[srgb].de00 for shelf in (inks, few))
        assert all_of <= some + 0.25
