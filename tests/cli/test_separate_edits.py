"""`sepkit separate --edits`: the same changes give the same folder, and the folder says what became of them."""

from __future__ import annotations

import hashlib
import json
from pathlib import Path

import numpy as np
import pytest
from PIL import Image

from sepkit.files.edits import FILE_NAME
from tests.helpers.runner import run

RED, BLUE, SUN = "#c82828", "#1e3ca0", "#f4c95d"
PART = f'[[part]]\nat_mm = [12.5, 22.5]\nof = "{SUN}"\nto = "{RED}"\n'


@pytest.fixture
def art(tmp_path: Path) -> Path:
    rgba = np.zeros((90, 160, 4), np.uint8)
    for k, colour in enumerate((RED, BLUE, SUN)):
        rgba[10:80, 10 + 45 * k : 50 + 45 * k] = (*bytes.fromhex(colour[1:]), 255)
    rgba[40:50, 20:30] = (*bytes.fromhex(SUN[1:]), 255)  # a sun in the red
    path = tmp_path / "flag.png"
    Image.fromarray(rgba).save(path)
    return path


def made(art: Path, name: str, *more: object) -> Path:
    out = art.parent / name
    words = ("separate", art, "--on", "white tee", "--width", "80mm", "--film-dpi", 200, "--no-ladder", "--quiet")
    assert run(*words, "-o", out, *more) == 0
    return out


def edits(art: Path, text: str) -> Path:
    path = art.with_suffix(".edits.toml")
    path.write_text('schema = "sepkit.edits/1"\n' + text, "utf-8")
    return path


def files_of(folder: Path) -> dict[str, str]:
    return {
        str(path.relative_to(folder)): hashlib.sha256(path.read_bytes()).hexdigest()
        for path in sorted(folder.rglob("*"))
        if path.is_file()
    }


def record_of(folder: Path) -> dict:
    return json.loads((folder / "separation.json").read_text("utf-8"))


def test_the_same_edits_give_the_same_folder(art):
    text = f'[[ink]]\nof = "{BLUE}"\nink = "green"\ncoats = 2\nname = "sea"\n' + PART
    first = made(art, "a", "--edits", edits(art, text))
    again = made(art, "b", "--edits", first / FILE_NAME)
    assert files_of(first) == files_of(again)
    record = record_of(first)
    assert record["edits"]["missed"] == []
    assert len(record["edits"]["applied"]) == 2
    (sea,) = [plate for plate in record["plates"] if plate["name"] == "sea"]
    assert (sea["ink"], sea["coats"]) == ("green", 2)


def test_a_moved_part_prints_from_the_other_screen(art):
    whole = made(art, "whole")
    moved = made(art, "moved", "--edits", edits(art, PART))

    def asked(folder: Path, colour: str) -> np.ndarray:
        (plate,) = [p for p in record_of(folder)["plates"] if p["art_srgb"] == colour]
        with Image.open(folder / plate["plate"]) as picture:
            return np.asarray(picture).astype(int)

    sun = np.zeros((90, 160), bool)
    sun[40:50, 20:30] = True
    assert (asked(whole, SUN)[sun] == 255).all()
    assert (asked(moved, SUN)[sun] == 0).all()
    assert np.array_equal(asked(whole, SUN)[~sun], asked(moved, SUN)[~sun])
    assert (asked(moved, RED)[sun] == 255).all()


def test_edits_for_other_art_apply_where_they_fit_and_are_told(art, capsys):
    text = f'art_sha256 = "{"00" * 32}"\n[[ink]]\nof = "#123456"\nopen = true\n[[ink]]\nof = "{RED}"\nwith = "{SUN}"\n'
    folder = made(art, "other", "--edits", edits(art, text))
    record = record_of(folder)
    assert {finding["code"] for finding in record["findings"]} >= {"edit-missed", "edits-other-art"}
    assert record["edits"]["missed"] == ["#123456 left open"]
    assert sorted(p["art_srgb"] for p in record["plates"] if p["art_srgb"]) == [BLUE, SUN]


def test_edits_that_leave_nothing_are_one_line(art, capsys):
    text = "".join(f'[[ink]]\nof = "{colour}"\nopen = true\n' for colour in (RED, BLUE, SUN))
    code = run(
        "separate", art, "--on", "white tee", "--width", "80mm", "-o", art.parent / "x", "--edits", edits(art, text)
    )
    assert code == 4
    assert "the edits leave nothing to print" in capsys.readouterr().err
    assert not (art.parent / "x").exists()


def test_a_broken_edits_file_ends_with_3(art, capsys):
    code = run("separate", art, "--on", "white tee", "--width", "80mm", "--edits", edits(art, "order = 3\n"))
    assert code == 3
    assert "order" in capsys.readouterr().err
