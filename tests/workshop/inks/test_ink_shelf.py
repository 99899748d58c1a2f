from __future__ import annotations

from pathlib import Path

import pytest
from PIL import Image

from sepkit.errors import DataFileError, NotFoundError, UsageError, WriteError
from sepkit.files.shelf.shelf import Shelf
from sepkit.inks.residue import residue_de00
from sepkit.workshop.inks.contaminate import leave_residue
from sepkit.workshop.inks.shelf import list_inks, show_ink

pytestmark = pytest.mark.usefixtures("own_folder")


def test_the_list_tells_how_each_ink_hides_and_tints(shelf: Shelf) -> None:
    found = list_inks(shelf)
    rows = {one.ink.name: one for one in found.inks}
    assert list(rows) == sorted(rows) and found.card is None
    assert found.any_estimated == any(one.ink.status == "estimated" for one in found.inks)
    assert all(0 < one.contrast_ratio <= 1 for one in found.inks)
    black, white = rows["black"].tint_lightness, rows["white"].tint_lightness
    assert black is not None and white is not None and black < 70 < 90 < white


def test_an_ink_shows_alone_in_white_and_on_cloth(shelf: Shelf) -> None:
    found = show_ink("Red", shelf)
    assert found.heading.startswith("red: plastisol, estimated")
    assert [one.label for one in found.looks] == [
        "masstone",
        *(f"in white, {percent} %" for percent in (2, 5, 10, 20, 50)),
        *(
            f"on {cloth} cloth, {how}"
            for cloth in ("white", "black")
            for how in ("1 coat", "2 coats", "over white base")
        ),
    ]
    looks = {one.label: one for one in found.looks}
    assert looks["masstone"].look.srgb == found.ink.srgb and looks["masstone"].ground is None
    assert looks["on black cloth, 1 coat"].look.lab[0] < looks["on black cloth, over white base"].look.lab[0]
    assert looks["on black cloth, 1 coat"].ground == (26, 26, 28)


def test_white_has_no_tints_in_itself(shelf: Shelf) -> None:
    assert {one.group for one in show_ink("white", shelf).looks} == {"masstone", "on white cloth", "on black cloth"}


def test_cards_are_written_once(shelf: Shelf, own_folder: Path) -> None:
    assert show_ink("red", shelf, card=Path("red.png")).card == Path("red.png")
    assert list_inks(shelf, card=Path("shelf.png")).card == Path("shelf.png")
    with Image.open(own_folder / "red.png") as one, Image.open(own_folder / "shelf.png") as whole:
        assert one.height < whole.height
        assert shelf.ink("red").srgb in {colour for _, colour in one.getcolors(1 << 20) or []}
    with pytest.raises(WriteError, match="already exists"):
        show_ink("blue", shelf, card=Path("red.png"))
    with pytest.raises(WriteError, match="already exists"):
        list_inks(shelf, card=Path("shelf.png"))


def test_an_ink_that_is_not_there_or_broken(shelf: Shelf, own_folder: Path) -> None:
    with pytest.raises(NotFoundError, match='"red"'):
        show_ink("reed", shelf)
    (own_folder / "recipes" / "inks").mkdir(parents=True)
    (own_folder / "recipes" / "inks" / "odd.toml").write_text('name = "odd"\n', encoding="utf-8")
    with pytest.raises(DataFileError, match=r"odd\.toml"):
        list_inks(Shelf())


def test_residue_in_both_orders_and_which_ink_goes_first(shelf: Shelf) -> None:
    found = leave_residue("black", "white", shelf, percents=(0.5, 2.0))
    assert [one.percent for one in found.residues] == [0.5, 2.0]
    assert found.residues[1].in_second_de00 == residue_de00(shelf.ink("white"), shelf.ink("black"), 2.0)
    assert (found.print_first.name, found.print_second.name) == ("white", "black")
    turned = leave_residue("white", "black", shelf, percents=(0.5,))
    assert (turned.print_first.name, turned.print_second.name) == ("white", "black")
    with pytest.raises(UsageError, match="both are white"):
        leave_residue("white", "White", shelf, percents=(1.0,))
