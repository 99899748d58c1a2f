from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from sepkit.errors import NotFoundError, UsageError
from sepkit.files.shelf.ink_recipe import recipe_toml
from sepkit.files.shelf.inkfile import ink_toml, new_ink_path
from sepkit.files.shelf.inks import Part, Recipe, read_ink_file
from sepkit.inks.identify import contrast_ratio
from tests.helpers.shelf import find_ink, find_recipe, ink_names

GOOD = ink_toml(find_ink("red"))


def write(folder: Path, text: str) -> Path:
    path = folder / "bad.toml"
    path.write_text(text, encoding="utf-8")
    return path


def test_the_starter_shelf() -> None:
    names = ink_names()
    assert {"white", "black", "yellow", "red", "blue", "green"} <= set(names)
    assert 12 <= len(names) <= 16
    for name in names:
        ink = find_ink(name)
        assert ink.status == "estimated" and ink.source
        assert ink.absorption.shape == ink.scattering.shape == (31,)
        assert 0.9 < ink.density_g_ml < 2
        assert 0 < contrast_ratio(ink.absorption, ink.scattering) <= 1


def test_names_are_found_however_they_are_written() -> None:
    assert find_ink("Gold-Ochre").name == find_ink(" gold_ochre ").name == "gold ochre"
    with pytest.raises(NotFoundError, match="red"):
        find_ink("redd")


def test_read_what_was_written(tmp_path: Path) -> None:
    ink = replace(find_ink("red"), name='my "red"', source="line\nbreak \\ slash", status="measured", date="2026-01-31")
    found = read_ink_file(write(tmp_path, ink_toml(ink))).ink
    assert found.name == ink.name and found.status == "measured" and found.date == "2026-01-31"
    assert np.allclose(found.absorption, ink.absorption, rtol=1e-4)
    assert "\n" not in found.source


def test_the_persons_own_shelf_comes_first(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    monkeypatch.delenv("SEPKIT_RECIPES", raising=False)
    path = new_ink_path("Red")
    assert path == tmp_path / "recipes" / "inks" / "red.toml"
    path.parent.mkdir(parents=True)
    path.write_text(GOOD.replace("density_g_ml = 1.2", "density_g_ml = 1.31"), encoding="utf-8")
    assert find_ink("red").density_g_ml == 1.31
    elsewhere = tmp_path / "shelf"
    elsewhere.mkdir()
    monkeypatch.setenv("SEPKIT_RECIPES", str(elsewhere))
    assert new_ink_path("Red") == elsewhere / "inks" / "red.toml"


@pytest.mark.parametrize("name", ["", "..", "../x", "a/b", "-x", "x" * 90])
def test_names_that_are_no_file_names(name: str) -> None:
    with pytest.raises(UsageError):
        new_ink_path(name)


def test_a_recipe_is_kept_with_its_parts(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(tmp_path)
    monkeypatch.delenv("SEPKIT_RECIPES", raising=False)
    recipe = Recipe((Part("white", 95.0, "W1"), Part("black", 5.0)), "grey", (60.0, 0.0, 0.0), None, (61.0, 0.5, -1.0))
    path = new_ink_path("stall grey")
    path.parent.mkdir(parents=True)
    path.write_text(recipe_toml(replace(find_ink("grey"), name="stall grey"), recipe), encoding="utf-8")
    assert find_recipe("Stall-Grey") == recipe
    assert find_recipe("red") is None and find_recipe("nothing") is None
    assert find_ink("stall grey").name == "stall grey"
