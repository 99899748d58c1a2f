from __future__ import annotations

from pathlib import Path

import pytest

from sepkit.errors import DataFileError
from sepkit.files.shelf.inkfile import ink_toml
from sepkit.files.shelf.inks import Part, read_ink_file
from sepkit.files.shelf.shelf import Shelf

GOOD = ink_toml(Shelf().ink("red"))
RECIPE = """
[recipe]
target = "sea green"
target_lab = [52, 40.5, -20]
parts = [
  { ink = "white", grams = 95.0, lot = "W1" },
  { ink = "black", grams = 0 },
]
"""


def problems(folder: Path, text: str) -> tuple[str, ...]:
    path = folder / "bad.toml"
    path.write_text(text, encoding="utf-8")
    with pytest.raises(DataFileError) as caught:
        read_ink_file(path)
    assert caught.value.exit_code == 3
    return tuple(line.removeprefix(f"{path}:") for line in caught.value.lines())


@pytest.mark.parametrize(
    ("old", "new", "words"),
    [
        ("density_g_ml = 1.2\n", "", "1: density_g_ml: is missing (weigh 10 ml; inks are near 1.2, whites near 1.5"),
        ("density_g_ml = 1.2", "density_g_ml = 0", "5: density_g_ml: is 0 (give 0.3 to 5 g/ml)"),
        ("density_g_ml = 1.2", 'density_g_ml = "heavy"', '5: density_g_ml: is "heavy"'),
        ('status = "estimated"', 'status = "perfect"', '4: status: is "perfect" (one of measured, estimated)'),
        ('name = "red"\n', "", "1: name: is missing"),
        ('name = "red"', 'name = " "', "2: name: is empty"),
        (
            "absorption = [",
            "absorption = [1, ",
            "8: absorption: has 32 numbers (give a list of 31 numbers, each 0 to 1",
        ),
        ("kind =", "kind", "3: is not TOML"),
        ("sepkit.ink/1", "sepkit.ink/2", "1: schema: is 'sepkit.ink/2', this sepkit reads \"sepkit.ink/1\""),
        ("absorption = [", "recipe = 1\nabsorption = [", "8: recipe: is not a table (write [recipe])"),
    ],
)
def test_one_clear_line_each(tmp_path: Path, old: str, new: str, words: str) -> None:
    assert old in GOOD
    (line,) = problems(tmp_path, GOOD.replace(old, new, 1))
    assert line.startswith(words)


@pytest.mark.parametrize("value", ["-1", "nan", "inf", '"x"', "true", "1e9", "9" * 400])
def test_coefficients_that_cannot_be(tmp_path: Path, value: str) -> None:
    head, _, tail = GOOD.partition("scattering = [")
    first, _, rest = tail.partition(",")
    assert float(first) > 0
    (line,) = problems(tmp_path, f"{head}scattering = [{value},{rest}")
    assert line.startswith("9: scattering: holds ") and "at place 1 (give a list of 31 numbers" in line


def test_a_misspelt_key_is_told_with_the_one_that_is_missing(tmp_path: Path) -> None:
    first, second = problems(tmp_path, GOOD.replace("absorption", "absorbtion"))
    assert first.startswith("1: absorption: is missing")
    assert second == '8: absorbtion: is not a key of an ink (did you mean "absorption"?)'


def test_a_recipe_and_all_that_is_wrong_with_it(tmp_path: Path) -> None:
    path = tmp_path / "mixed.toml"
    path.write_text(GOOD + RECIPE, encoding="utf-8")
    recipe = read_ink_file(path).recipe
    assert recipe is not None and recipe.parts == (Part("white", 95.0, "W1"), Part("black", 0.0))
    assert recipe.target_lab == (52, 40.5, -20) and recipe.measured_lab is None
    wrong = RECIPE.replace("95.0", "-95").replace('ink = "black"', "ink = 3").replace("40.5, -20", "40.5")
    assert problems(tmp_path, GOOD + wrong) == (
        "13: recipe.target_lab: has 2 numbers (give a list of 3 numbers, each -200 to 200)",
        "14: recipe.parts.grams: is -95 (give 0 to 1e+06 g)",
        "14: recipe.parts.ink: is 3 (give text in quotes)",
    )
    (line,) = problems(tmp_path, GOOD + RECIPE.replace("95.0", "0"))
    assert line == "14: recipe.parts: weigh nothing (give grams above 0)"
    (line,) = problems(tmp_path, GOOD + "[recipe]\n")
    assert line.startswith("10: recipe.parts: is missing")


def test_a_date_may_be_one(tmp_path: Path) -> None:
    path = tmp_path / "dated.toml"
    path.write_text(GOOD.replace('date = "', "date = 2026-01-31 #", 1), encoding="utf-8")
    assert read_ink_file(path).ink.date == "2026-01-31"
