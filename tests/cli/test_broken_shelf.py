"""A broken file of the shelf ends a command with exit code 3 and one line for each problem: file, line, what to do."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from sepkit.files.shelf.folders import recipes_folder, sample_art_folder
from tests.helpers.runner import run

RED = (recipes_folder() / "inks" / "red.toml").read_text("utf-8")


@pytest.fixture(autouse=True)
def here(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.chdir(tmp_path)
    monkeypatch.delenv("SEPKIT_RECIPES", raising=False)
    return tmp_path


def lines_of(capsys: pytest.CaptureFixture[str]) -> list[str]:
    return capsys.readouterr().err.splitlines()


SEPARATE = ("separate", sample_art_folder() / "neck-label.svg", "--on", "white tee", "--width", "40mm", "-o", "made")


@pytest.mark.parametrize("words", [("ink", "show", "odd"), ("ink", "list"), (*SEPARATE, "--inks", "odd")])
def test_a_broken_ink(words: tuple[object, ...], here: Path, capsys: pytest.CaptureFixture[str]) -> None:
    path = here / "recipes" / "inks" / "odd.toml"
    path.parent.mkdir(parents=True)
    path.write_text(RED.replace("density_g_ml = 1.2", "density_g_ml = 12").replace('"estimated"', '"guessed"'))
    assert run(*words) == 3
    assert lines_of(capsys) == [
        f'{path}:4: status: is "guessed" (one of measured, estimated)',
        f"{path}:5: density_g_ml: is 12 (give 0.3 to 5 g/ml)",
    ]
    assert sorted(p.name for p in here.iterdir()) == ["recipes"]


def test_a_broken_ink_is_in_the_way_of_nobody_else(here: Path) -> None:
    (here / "recipes" / "inks").mkdir(parents=True)
    (here / "recipes" / "inks" / "odd.toml").write_text("name = ")
    assert run("ink", "show", "red", "--quiet") == 0


@pytest.mark.parametrize(
    ("name", "text", "said"),
    [
        ("garments.toml", "[[garment]]\nname = 1\n", ":2: garment.name: is 1 (give text in quotes)"),
        ("meshes.toml", "[[mesh]\n", ":1: is not TOML: "),
        ("presses.toml", "press = 1\n", ":1: press: comes several times (write [[press]] before each)"),
    ],
)
def test_a_broken_recipe_file(
    name: str, text: str, said: str, here: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    (here / name).write_text(text)
    monkeypatch.setenv("SEPKIT_RECIPES", str(here))
    assert run("shelf") == 3
    assert any(line.startswith(f"{here / name}{said}") for line in lines_of(capsys))
    assert run("job", recipes_folder() / "jobs" / "starter.toml", "--check", "--json") == 3
    told = json.loads(capsys.readouterr().out)
    assert not told["ok"] and told["file"] == str(here / name) and told["problems"][-1]["line"] == int(said[1])


def test_a_press_file_of_another_kind_of_text_is_left_alone(here: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (here / "read.csv").write_text("line,0.3\n")
    (here / "p.toml").write_bytes(b"# \xff\n")
    assert run("wedge", "--read", "read.csv", "--to", "p.toml") == 3
    assert lines_of(capsys) == ["p.toml: is not UTF-8 text (save it as UTF-8)"]
    assert (here / "p.toml").read_bytes() == b"# \xff\n"


def test_a_sweatshirt_is_made_as_fleece(here: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """An entry of one's own is all that it takes: its prints are held to the register error of fleece."""
    text = (recipes_folder() / "garments.toml").read_text("utf-8")
    entry = text[text.index('[[garment]]\nname = "black sweatshirt"') : text.index('[[garment]]\nname = "grey sweat')]
    (here / "garments.toml").write_text(entry.replace("black sweatshirt", "river crew"))
    monkeypatch.setenv("SEPKIT_RECIPES", str(here))
    chokes = {}
    for name in ("river crew", "black hoodie", "black long sleeve"):
        words = ["separate", sample_art_folder() / "oar-small.svg", "--on", name, "--width", "60mm", "--film-dpi", 300]
        words += ["--base", "always"]
        assert run(*words, "-o", "made", "--no-ladder", "--force", "--quiet") == 0
        plates = json.loads((here / "made" / "separation.json").read_text("utf-8"))["plates"]
        chokes[name] = max(plate["choke_mm"] for plate in plates)
    assert chokes["river crew"] == chokes["black hoodie"] > chokes["black long sleeve"] > 0
