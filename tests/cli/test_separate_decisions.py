"""What `sepkit separate` decides and shows: tables, stress, ladder, sizes, several garments."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pytest
from PIL import Image

from tests.helpers.runner import run

YELLOW, BLUE, WHITE = (245, 205, 60), (30, 60, 150), (250, 250, 248)


@pytest.fixture(scope="module")
def flag(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Three stripes that touch, on transparency."""
    rgba = np.zeros((120, 160, 4), np.uint8)
    for k, rgb in enumerate((YELLOW, BLUE, WHITE)):
        rgba[20:100, 20 + 40 * k : 60 + 40 * k] = (*rgb, 255)
    path = tmp_path_factory.mktemp("art") / "flag.png"
    Image.fromarray(rgba).save(path)
    return path


def separate(art: Path, out: Path, *more: object) -> int:
    return run("separate", art, "--width", "80mm", "--film-dpi", 200, "-o", out, *more)


@pytest.fixture(scope="module")
def folder(flag: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    out = tmp_path_factory.mktemp("print") / "flag"
    assert separate(flag, out, "--on", "black tee", "--sizes", "S,3XL,M", "--quiet") == 0
    return out


def test_pictures_to_look_at_before_a_screen_is_burned(folder: Path) -> None:
    for name in ("stress.png", "ladder.png", "sizes.png"):
        with Image.open(folder / name) as picture:
            assert picture.size[0] > 400
    sheet = (folder / "sheet.html").read_text("utf-8")
    for words in ("How each ink could go", "Out of register", "What fewer inks would cost", "smallest and the largest"):
        assert words in sheet


def test_the_record_holds_rounds_stress_and_ladder(folder: Path) -> None:
    record = json.loads((folder / "separation.json").read_text("utf-8"))
    assert [p["round"] for p in record["plates"]] == sorted(p["round"] for p in record["plates"])
    assert {r["round"] for r in record["rounds"]} == {p["round"] for p in record["plates"]}
    assert all(bool(p["flash_why"]) == p["flash_after"] for p in record["plates"])
    stress = record["stress"]
    for key in ("base_peeking_mm2", "garment_gaps_mm2"):
        assert stress["as_printed"][key] <= 0.02 * stress["without_trap_and_choke"][key] + 0.5
    assert [rung["inks"] for rung in record["ladder"]] == [1, 2, 3]
    for ways in record["options"].values():
        assert len(ways["ways"]) == 4
        assert ways["chosen"] in {way["way"] for way in ways["ways"]}


def test_explain_tells_the_table_of_ways_and_more(
    flag: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert separate(flag, tmp_path / "a", "--on", "black tee", "--no-ladder") == 0
    said = capsys.readouterr().err
    assert "ΔE00 by way" not in said and "order:" not in said
    assert not (tmp_path / "a" / "ladder.png").exists()
    assert separate(flag, tmp_path / "b", "--on", "black tee", "--explain") == 0
    said = capsys.readouterr().err
    assert "ΔE00 by way" in said and "order:" in said and "out of register" in said and "ΔE00 mean" in said


def test_one_white_screen_keeps_the_plates_as_the_art_asks(flag: Path, tmp_path: Path) -> None:
    wishes = ("--white-screens", "one", "--base", "always", "--edges", "as-drawn")
    assert separate(flag, tmp_path / "one", "--on", "black tee", *wishes, "--quiet") == 0
    record = json.loads((tmp_path / "one" / "separation.json").read_text("utf-8"))
    white = next(p for p in record["plates"] if p["also_base"])
    assert white["role"] == "colour" and white["art_srgb"] == "#fafaf8" and white["order"] == 1
    asked = np.asarray(Image.open(tmp_path / "one" / white["plate"]))
    printed = np.asarray(Image.open(tmp_path / "one" / white["printed"]))
    alpha = np.asarray(Image.open(flag))[..., 3]
    assert asked[:, 102:138][alpha[:, 102:138] > 0].min() == 255
    assert asked[:, :98].max() == 0
    assert printed[60, 40] == 255


def test_garments_side_by_side(flag: Path, tmp_path: Path) -> None:
    assert separate(flag, tmp_path / "two", "--on", "black tee", "--on", "navy tee", "--inks", "all", "--quiet") == 0
    with Image.open(tmp_path / "two" / "side-by-side.png") as picture:
        assert picture.size[0] > 600
    record = json.loads((tmp_path / "two" / "black-tee" / "separation.json").read_text("utf-8"))
    assert any(f["code"] == "one-film-set" for f in record["findings"])


@pytest.mark.parametrize(
    ("words", "says"),
    [
        (["--sizes", "S,HUGE"], "HUGE"),
        (["--highlight", "--white-screens", "one"], "second white screen"),
        (["--white-screens", "three"], "three"),
    ],
)
def test_wrong_wishes_give_one_line(
    words: list[str], says: str, flag: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert separate(flag, tmp_path / "k", "--on", "black tee", *words) == 2
    said = capsys.readouterr().err
    assert says in said
    assert "Traceback" not in said
    assert not (tmp_path / "k").exists()


def test_overprint_colours_save_a_screen_and_say_so(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    yellow, blue, green = (246, 212, 15), (42, 143, 208), (60, 128, 60)
    rgba = np.zeros((120, 160, 4), np.uint8)
    for k, rgb in enumerate((yellow, green, blue)):
        rgba[20:100, 20 + 40 * k : 60 + 40 * k] = (*rgb, 255)
    art = tmp_path / "flags.png"
    Image.fromarray(rgba).save(art)
    out = tmp_path / "print"
    assert separate(art, out, "--on", "white tee", "--overprint-colours") == 0
    told = capsys.readouterr().err
    assert "green needs no ink: blue over yellow" in told
    record = json.loads((out / "separation.json").read_text("utf-8"))
    found = record["overprint_colours"]
    assert len(record["plates"]) == 2 and found["screens_without"] == 3
    assert found["colours"][0]["name"] == "green" and found["colours"][0]["de00"] < 6
    assert found["transparent"] == ["blue", "yellow"]
    (saves,) = [f for f in record["findings"] if f["code"] == "overprint-saves"]
    assert "with overprint colours 2 screens and 1 flash, without 3 and 1" in saves["text"]
    sheet = (out / "sheet.html").read_text("utf-8")
    assert "transparent" in sheet and saves["text"] in sheet, "what the terminal leaves out is on the sheet"
