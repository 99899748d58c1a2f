from __future__ import annotations

from pathlib import Path

import pytest

from sepkit.errors import NotFoundError, UsageError
from sepkit.files.shelf.shelf import Shelf
from sepkit.inks.doses import Dose
from sepkit.workshop.inks.keep import RecipeNotes, keep, recipe_file, writing
from sepkit.workshop.inks.lookup import chosen_inks, weighed_inks

pytestmark = pytest.mark.usefixtures("own_folder")


def doses(shelf: Shelf, **grams: float) -> list[Dose]:
    total = sum(grams.values())
    return [Dose(shelf.ink(name), mass_g / total, mass_g) for name, mass_g in grams.items()]


def test_weights_keep_their_order_and_an_ink_stands_once(shelf: Shelf) -> None:
    assert [(ink.name, amount) for ink, amount in weighed_inks([("Black", 5), ("white", 95)], shelf)] == [
        ("black", 5),
        ("white", 95),
    ]
    with pytest.raises(UsageError, match="white is named twice"):
        weighed_inks([("white", 50), ("WHITE", 50)], shelf)
    with pytest.raises(UsageError, match="no part weighs"):
        weighed_inks([("white", 0), ("black", 0)], shelf)
    with pytest.raises(NotFoundError, match="nosuch"):
        weighed_inks([("nosuch", 1)], shelf)


def test_without_a_list_all_inks_that_are_not_mixed_are_chosen(shelf: Shelf) -> None:
    before = [ink.name for ink in chosen_inks(None, shelf)]
    keep(recipe_file("stall pink", doses(shelf, white=90, red=10), RecipeNotes()), force=False)
    assert [ink.name for ink in chosen_inks(None, Shelf())] == before
    assert [ink.name for ink in chosen_inks(("stall pink", "white", "White"), Shelf())] == ["stall pink", "white"]
    with pytest.raises(UsageError, match="names no ink"):
        chosen_inks((), shelf)


def test_a_kept_recipe_tells_who_finds_it(
    shelf: Shelf, own_folder: Path, monkeypatch: pytest.MonkeyPatch, tmp_path_factory: pytest.TempPathFactory
) -> None:
    here = keep(recipe_file("Stall Pink", doses(shelf, white=90, red=10), RecipeNotes()), force=False)
    assert here.file == own_folder / "recipes" / "inks" / "stall-pink.toml" and here.folder == own_folder / "recipes"
    assert (here.name, here.found_anywhere, here.hidden_by) == ("stall pink", False, None)
    shop = tmp_path_factory.mktemp("shop")
    monkeypatch.setenv("SEPKIT_RECIPES", str(shop))
    there = keep(recipe_file("Stall Pink", doses(shelf, white=80, red=20), RecipeNotes()), force=False)
    assert there.found_anywhere and there.folder == shop
    assert there.hidden_by == here.file


def test_an_ink_of_which_nothing_is_weighed_is_no_part_of_a_kept_recipe(shelf: Shelf) -> None:
    file = recipe_file("nearly white", doses(shelf, white=100, black=0), RecipeNotes(lots={"white": "W12"}))
    assert '{ ink = "white", grams = 100, lot = "W12" }' in file.text
    assert "black" not in file.text


def test_a_recipe_cannot_be_called_like_a_part_or_like_no_file(shelf: Shelf) -> None:
    with pytest.raises(UsageError, match="own parts"):
        recipe_file("red", doses(shelf, white=90, red=10), RecipeNotes())
    with pytest.raises(UsageError, match="cannot be an ink name"):
        recipe_file("../red", doses(shelf, white=90, red=10), RecipeNotes())


def test_what_fails_while_an_ink_file_is_open_leaves_the_old_one(shelf: Shelf) -> None:
    old = recipe_file("pink", doses(shelf, white=90, red=10), RecipeNotes())
    kept = keep(old, force=False)
    new = recipe_file("pink", doses(shelf, white=50, red=50), RecipeNotes())
    with pytest.raises(ZeroDivisionError), writing(new, force=True):
        raise ZeroDivisionError
    assert kept.file.read_text(encoding="utf-8") == old.text
    assert [path.name for path in kept.file.parent.iterdir()] == ["pink.toml"]
