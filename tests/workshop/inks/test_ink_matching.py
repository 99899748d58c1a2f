from __future__ import annotations

from pathlib import Path

import pytest

from sepkit.errors import NotFoundError, UsageError, WriteError
from sepkit.files.shelf.shelf import Shelf
from sepkit.inks.looks import printed_look
from sepkit.inks.mixing import mix
from sepkit.workshop.inks.match import AsPrinted, MatchRequest, find_recipes

pytestmark = pytest.mark.usefixtures("own_folder")

FEW = ("white", "orange", "violet", "red", "brown")


def test_recipes_come_in_doses_best_first(shelf: Shelf) -> None:
    found = find_recipes(MatchRequest("#b4552d", inks=FEW, batch_g=400, recipes=2), shelf)
    (one,) = found.targets
    assert one.reached and one.reached_exactly and found.missed == () and found.kept is None
    assert len(one.recipes) == 2 and one.best is one.recipes[0]
    for recipe in one.recipes:
        assert sum(dose.mass_g for dose in recipe.doses) == pytest.approx(400)
        assert [dose.ink for dose in recipe.doses] == list(recipe.blend.inks)
        assert [dose.mass_share for dose in recipe.doses] == recipe.blend.mass_shares.tolist()
    assert "ink-estimated" in {finding.code for finding in one.findings}


def test_a_coarse_scale_moves_the_recipe_and_a_paste_stands_in(shelf: Shelf) -> None:
    request = MatchRequest("lab(90 0 3)", inks=("white", "black", "yellow"), batch_g=100, step_g=0.1)
    (one,) = find_recipes(request, shelf).targets
    assert one.best.rounded_de00 != one.best.blend.de00
    assert one.let_downs and all(paste.main == "white" for paste in one.let_downs)


def test_the_prints_are_those_of_what_is_weighed(shelf: Shelf) -> None:
    (one,) = find_recipes(MatchRequest("#8a3b2a", garment="black tee", inks=FEW), shelf).targets
    ink = mix([(dose.ink, dose.mass_g) for dose in one.best.doses])
    white, cloth = shelf.ink("white"), shelf.garment("black tee").reflectance
    assert [(look.coats, look.base) for look in one.prints] == [(1, False), (2, False), (1, True), (2, True)]
    assert one.prints[1].look == printed_look([(ink, 2.0)], cloth)
    assert one.prints[2].look == printed_look([(white, 1.0), (ink, 1.0)], cloth)


def test_a_recipe_for_the_print_is_near_as_printed(shelf: Shelf) -> None:
    request = MatchRequest("#8a3b2a", garment="black tee", inks=FEW, as_printed=AsPrinted(coats=1.0, base=True))
    (one,) = find_recipes(request, shelf).targets
    assert one.as_printed
    assert one.best.rounded_de00 == pytest.approx(one.prints[2].de00, abs=0.01)
    with pytest.raises(UsageError, match="needs its garment"):
        find_recipes(MatchRequest("#8a3b2a", as_printed=AsPrinted()), shelf)


def test_a_list_gives_each_target_and_the_farthest_missed_first(shelf: Shelf, own_folder: Path) -> None:
    (own_folder / "list.csv").write_text("name,hex\npink,#ff00ff\nsand,#c2b280\nlime,#00ff00\n", encoding="utf-8")
    found = find_recipes(MatchRequest("list.csv"), shelf)
    assert [one.target.name for one in found.targets] == ["pink", "sand", "lime"]
    assert {one.target.name for one in found.missed} == {"pink", "lime"}
    off = [one.best.blend.de00 for one in found.missed]
    assert off == sorted(off, reverse=True)
    with pytest.raises(UsageError, match="many recipes"):
        find_recipes(MatchRequest("list.csv"), shelf, save_as="x")
    with pytest.raises(NotFoundError):
        find_recipes(MatchRequest("nofile.csv"), shelf)


def test_the_best_recipe_is_kept_once(shelf: Shelf, own_folder: Path) -> None:
    found = find_recipes(MatchRequest("#c2b280"), shelf, save_as="sand")
    assert found.kept is not None and found.kept.file == own_folder / "recipes" / "inks" / "sand.toml"
    before = found.kept.file.read_bytes()
    with pytest.raises(WriteError, match="already exists"):
        find_recipes(MatchRequest("#ffffff"), shelf, save_as="sand")
    assert found.kept.file.read_bytes() == before
    assert Shelf().ink("sand").source.startswith("mixed: ")


def test_the_batch_is_checked_before_anything_is_read(shelf: Shelf) -> None:
    with pytest.raises(UsageError, match="batch"):
        find_recipes(MatchRequest("nofile.csv", batch_g=1), shelf)
