from __future__ import annotations

from pathlib import Path

import pytest

from sepkit.errors import NotFoundError, UsageError, WriteError
from sepkit.files.shelf.inks import Part
from sepkit.files.shelf.shelf import Shelf
from sepkit.inks.looks import opaque_look, printed_look
from sepkit.inks.mixing import mix
from sepkit.workshop.inks.tint import TintOutputs, TintRequest, predict_tint
from tests.helpers.shelf import find_recipe

pytestmark = pytest.mark.usefixtures("own_folder")

GREY = (("white", 95.0), ("black", 5.0))


def test_looks_are_the_opaque_film_and_each_garment_by_coats(shelf: Shelf) -> None:
    found = predict_tint(TintRequest(GREY, garments=("white tee", "#1a1a1c"), coats=(0.5, 2.0)), shelf)
    ink = mix([(shelf.ink(name), amount) for name, amount in GREY])
    assert [(one.garment, one.coats) for one in found.looks[1:]] == [
        ("white tee", 0.5),
        ("white tee", 2.0),
        ("#1a1a1c", 0.5),
        ("#1a1a1c", 2.0),
    ]
    assert found.looks[0].garment is None and found.looks[0].look == opaque_look(ink)
    assert found.looks[2].look == printed_look([(ink, 2.0)], shelf.garment("white tee").reflectance)
    assert found.density_g_ml == ink.density_g_ml


def test_parts_stand_for_grams_until_a_batch_is_asked_for(shelf: Shelf) -> None:
    plain = predict_tint(TintRequest((("white", 19.0), ("black", 1.0))), shelf)
    assert [(dose.mass_share, dose.mass_g) for dose in plain.doses] == [(0.95, 19.0), (0.05, 1.0)]
    assert plain.findings == ()
    weighed = predict_tint(TintRequest((("white", 999.0), ("black", 1.0)), batch_g=100), shelf)
    assert [dose.mass_g for dose in weighed.doses] == [99.9, 0.1]
    assert {finding.code for finding in weighed.findings} == {"dose-coarse"}


def test_each_target_has_its_distance_though_two_share_a_name(shelf: Shelf, own_folder: Path) -> None:
    (own_folder / "a.csv").write_text("name,hex\none,#939396\n", encoding="utf-8")
    (own_folder / "b.csv").write_text("name,hex\none,#0000ff\n", encoding="utf-8")
    found = predict_tint(TintRequest(GREY, against=("a.csv@one", "b.csv@one")), shelf)
    assert found.targets == ("one", "one")
    near, far = found.looks[0].apart
    assert near.de00 < 1.5 and far.de00 > 30
    asked = next(step for step in found.steps if step.step.asked)
    assert asked.apart == found.looks[0].apart


def test_strip_and_recipe_are_written_both_or_none(shelf: Shelf, own_folder: Path) -> None:
    request, outputs = TintRequest(GREY), TintOutputs(strip=Path("strip.png"), save_as="stall grey")
    found = predict_tint(request, shelf, outputs)
    assert found.strip == Path("strip.png") and found.strip.stat().st_size > 1000
    assert found.kept is not None and found.kept.file.is_file()
    with pytest.raises(WriteError, match=r"stall-grey\.toml: already exists"):
        predict_tint(request, shelf, TintOutputs(strip=Path("other.png"), save_as="stall grey"))
    with pytest.raises(WriteError, match=r"strip\.png: already exists"):
        predict_tint(request, shelf, TintOutputs(strip=Path("strip.png"), save_as="other grey"))
    with pytest.raises(UsageError, match="names no part"):
        predict_tint(request, shelf, TintOutputs(strip=Path("other.png"), save_as="other grey", lots=("red=R7",)))
    assert sorted(path.name for path in own_folder.iterdir()) == ["recipes", "strip.png"]
    assert [path.name for path in found.kept.file.parent.iterdir()] == ["stall-grey.toml"]


def test_a_strip_needs_a_second_ink_and_without_it_nothing_is_kept(shelf: Shelf, own_folder: Path) -> None:
    with pytest.raises(UsageError, match="two inks"):
        predict_tint(TintRequest((("white", 1.0),)), shelf, TintOutputs(strip=Path("s.png"), save_as="plain"))
    assert list(own_folder.iterdir()) == []


def test_a_kept_recipe_holds_lots_target_and_measurement(shelf: Shelf) -> None:
    request = TintRequest((("white", 380.0), ("yellow", 90.0)), against=("#e0c060", "tomato"))
    outputs = TintOutputs(save_as="lantern", measured="lab(72 12 48)", lots=("yellow = Y 3",))
    predict_tint(request, shelf, outputs)
    recipe = find_recipe("lantern")
    assert recipe is not None
    assert recipe.parts == (Part("white", 380.0), Part("yellow", 90.0, "Y 3"))
    assert recipe.target == "#e0c060" and recipe.measured_lab == (72.0, 12.0, 48.0)


def test_what_the_shelf_does_not_hold(shelf: Shelf) -> None:
    with pytest.raises(NotFoundError, match="nosuch"):
        predict_tint(TintRequest(GREY, garments=("nosuch",)), shelf)
    with pytest.raises(UsageError, match="--against"):
        predict_tint(TintRequest(GREY, against=("nosuch",)), shelf)
