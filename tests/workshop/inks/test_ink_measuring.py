from __future__ import annotations

from pathlib import Path

import pytest

from sepkit.errors import NotFoundError, UsageError, WriteError
from sepkit.files.shelf.shelf import Shelf
from sepkit.inks.drawdown import DrawDown, identify
from sepkit.workshop.inks.measure import MeasureRequest, Role, measure_ink

pytestmark = pytest.mark.usefixtures("own_folder")

CARDS: dict[Role, str] = {"over black": "#9a1f28", "over white": "#bb2a33"}


def test_cards_and_a_tint_are_trusted_more_than_a_swatch(shelf: Shelf) -> None:
    swatch = measure_ink(MeasureRequest("shop red", films={"masstone": "#c41f30"}), shelf, save=False)
    cards = measure_ink(MeasureRequest("shop red", films=CARDS, tints=((10.0, "#ec777f"),)), shelf, save=False)
    assert (swatch.found.ink.status, cards.found.ink.status) == ("estimated", "measured")
    assert cards.found.tint_band_de00 < swatch.found.tint_band_de00
    assert 0 < swatch.contrast_ratio < 1 and swatch.kept is None
    assert swatch.look.srgb == swatch.found.ink.srgb


def test_a_file_says_the_same_as_options_and_options_come_first(shelf: Shelf, own_folder: Path) -> None:
    rows = "over-black,#9a1f28\nOver white,#bb2a33\nTint 10 %,#ec777f\n"
    (own_folder / "red.csv").write_text("name,hex\n" + rows, encoding="utf-8")
    by_file = measure_ink(MeasureRequest("red two", data=Path("red.csv")), shelf, save=False)
    by_hand = measure_ink(MeasureRequest("red two", films=CARDS, tints=((10.0, "#ec777f"),)), shelf, save=False)
    assert by_file.found.ink.absorption.tolist() == by_hand.found.ink.absorption.tolist()
    other = MeasureRequest("red two", data=Path("red.csv"), films={"over black": "#701018"})
    assert measure_ink(other, shelf, save=False).contrast_ratio < by_file.contrast_ratio


def test_gloss_is_taken_off_when_the_instrument_includes_it(shelf: Shelf) -> None:
    films: dict[Role, str] = {"masstone": "#8a8a8c"}
    plain = measure_ink(MeasureRequest("x", films=films), shelf, save=False)
    shiny = measure_ink(MeasureRequest("x", films=films, specular_included=True), shelf, save=False)
    assert shiny.look.lab[0] < plain.look.lab[0]


def test_the_opacity_word_and_the_density_reach_the_ink(shelf: Shelf) -> None:
    films: dict[Role, str] = {"masstone": "#c41f30"}
    semi = measure_ink(MeasureRequest("x", films=films, opacity="semi", density_g_ml=1.4), shelf, save=False)
    good = measure_ink(MeasureRequest("x", films=films), shelf, save=False)
    assert semi.contrast_ratio < good.contrast_ratio
    assert (semi.found.ink.density_g_ml, good.found.ink.density_g_ml) == (1.4, 1.2)
    codes = [{finding.code for finding in one.findings} for one in (semi, good)]
    assert "density-assumed" not in codes[0] and "density-assumed" in codes[1]


def test_an_ink_is_kept_under_its_name_with_a_date(shelf: Shelf, own_folder: Path) -> None:
    request = MeasureRequest("Shop  Red", films={"masstone": "#c41f30"})
    kept = measure_ink(request, shelf).kept
    assert kept is not None and kept.file == own_folder / "recipes" / "inks" / "shop-red.toml"
    ink = Shelf().ink("shop red")
    assert ink.name == "Shop Red" and len(ink.date) == len("2026-01-31")
    before = kept.file.read_bytes()
    with pytest.raises(WriteError, match="already exists"):
        measure_ink(MeasureRequest("shop red", films={"masstone": "#101010"}), shelf)
    assert kept.file.read_bytes() == before
    measure_ink(MeasureRequest("shop red", films={"masstone": "#101010"}), shelf, force=True)
    assert kept.file.read_bytes() != before


@pytest.mark.parametrize(
    ("request_", "error", "said"),
    [
        (MeasureRequest("x"), UsageError, "nothing was measured"),
        (MeasureRequest("../x", films={"masstone": "#fff"}), UsageError, "cannot be an ink name"),
        (MeasureRequest("x", films={"masstone": "bad"}), UsageError, "--swatch"),
        (MeasureRequest("x", films={"over black": "bad"}), UsageError, "--over-black"),
        (MeasureRequest("x", tints=((100.0, "#fff"),)), UsageError, "a tint of 100 %"),
        (MeasureRequest("x", tints=((10.0, "#fff"),), white="nosuch"), NotFoundError, "nosuch"),
    ],
)
def test_what_is_no_measurement(shelf: Shelf, request_: MeasureRequest, error: type[Exception], said: str) -> None:
    with pytest.raises(error, match=said):
        measure_ink(request_, shelf)


def test_a_row_that_says_not_what_it_is(shelf: Shelf, own_folder: Path) -> None:
    (own_folder / "d.csv").write_text("name,hex\nfirst,#9a1f28\n", encoding="utf-8")
    with pytest.raises(UsageError, match=r'd\.csv: "first" says not what it is'):
        measure_ink(MeasureRequest("x", data=Path("d.csv")), shelf)


def test_a_white_that_no_tint_needs_is_not_looked_up(shelf: Shelf) -> None:
    request = MeasureRequest("x", films={"masstone": "#c41f30"}, white="nosuch")
    assert measure_ink(request, shelf, save=False).found.ink.date == ""


def test_the_draw_down_is_what_was_given(shelf: Shelf, own_folder: Path) -> None:
    bands = ",".join(str(nm) for nm in range(400, 701, 10))
    row = ",".join(["0.2"] * 31)
    (own_folder / "s.csv").write_text(f"name,{bands}\nmasstone,{row}\n", encoding="utf-8")
    found = measure_ink(MeasureRequest("grey", data=Path("s.csv"), kind="water-based"), shelf, save=False).found
    flat = shelf.ink("white").absorption * 0 + 0.2
    same = identify("grey", DrawDown(masstone=flat, spectra=True), opacity="good", kind="water-based")
    assert found.ink.scattering == pytest.approx(same.ink.scattering) and found.ink.kind == "water-based"
