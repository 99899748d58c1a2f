"""Art as people bring it, on the command line: its kind first, one ink, colours that were asked for, paper."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pytest
from PIL import Image, ImageDraw

from tests.helpers.paper import drawn, photograph
from tests.helpers.runner import run


def figure() -> Image.Image:
    """A ring and a bar on nothing, antialiased: 255 where it is."""
    big = Image.new("L", (960, 720), 0)
    draw = ImageDraw.Draw(big)
    draw.ellipse((160, 80, 640, 560), fill=255)
    draw.ellipse((280, 200, 520, 440), fill=0)
    draw.rectangle((120, 600, 840, 660), fill=255)
    return big.resize((240, 180), Image.Resampling.BOX)


@pytest.fixture(scope="module")
def logo(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A black logo on white."""
    path = tmp_path_factory.mktemp("art") / "logo.png"
    Image.fromarray(255 - np.asarray(figure())).convert("RGB").save(path)
    return path


def made(art: Path, out: Path, *more: object) -> dict:
    assert run("separate", art, "--width", "80mm", "--film-dpi", 200, "--no-ladder", "-o", out, *more) == 0
    return json.loads((out / "separation.json").read_text("utf-8"))


def codes(record: dict) -> list[str]:
    return [finding["code"] for finding in record["findings"]]


def test_a_black_logo_on_a_black_tee_is_told_and_one_ink_prints_it(logo, tmp_path, capsys):
    record = made(logo, tmp_path / "box", "--on", "black tee")
    assert codes(record)[0] == "kind-of-art"
    told = capsys.readouterr().err
    assert "art of one colour: black on white" in told
    assert "--one-ink white" in told
    assert "one-colour-box" in codes(record)

    record = made(logo, tmp_path / "white", "--on", "black tee", "--one-ink", "white")
    assert [plate["ink"] for plate in record["plates"]] == ["white"]
    plate = np.asarray(Image.open(tmp_path / "white" / record["plates"][0]["plate"]).convert("L")).astype(int)
    wanted = np.asarray(figure()).astype(int)
    assert min(np.abs(plate - wanted).max(), np.abs(255 - plate - wanted).max()) < 12
    assert codes(record)[:2] == ["kind-of-art", "one-ink"]


def test_with_the_ground_dropped_scratches_are_no_print(logo, tmp_path):
    worn = np.asarray(Image.open(logo)).copy()
    worn[40:60:6, 60:100] = 255
    Image.fromarray(worn).save(tmp_path / "worn.png")
    record = made(tmp_path / "worn.png", tmp_path / "out", "--on", "black tee", "--background", "drop")
    assert "one-colour-scratches" in codes(record)


def test_nothing_to_print_says_the_words_to_type(tmp_path, capsys):
    rgba = np.zeros((180, 240, 4), np.uint8)
    rgba[..., 3] = np.asarray(figure())
    Image.fromarray(rgba).save(tmp_path / "black.png")
    assert run("separate", tmp_path / "black.png", "--on", "black tee", "--width", "80mm", "-o", tmp_path / "x") == 4
    assert "--one-ink white" in capsys.readouterr().err
    made(tmp_path / "black.png", tmp_path / "y", "--on", "black tee", "--one-ink", "white")


def test_a_colour_that_was_asked_for_is_the_ink(logo, tmp_path):
    record = made(logo, tmp_path / "red", "--on", "white tee", "--inks", "#ff0000")
    (plate,) = record["plates"]
    red, green, blue = (int(plate["print_srgb"][k : k + 2], 16) for k in (1, 3, 5))
    assert red > 180 and green < 110 and blue < 110
    assert {"far-wish", "falls-to"} <= set(codes(record))


def test_one_ink_and_a_list_of_inks_do_not_go_together(logo, tmp_path, capsys):
    asked = ("--on", "black tee", "--width", "80mm", "--one-ink", "white", "--inks", "red", "-o", tmp_path / "x")
    assert run("separate", logo, *asked) == 2
    assert "--one-ink" in capsys.readouterr().err


def test_check_takes_the_same_art_as_separate(logo, tmp_path, capsys):
    run("check", logo, "--on", "black tee", "--width", "80mm", "--one-ink", "white", "--json", "-o", tmp_path / "m.png")
    found = json.loads(capsys.readouterr().out)
    assert [ink["name"] for ink in found["inks"]] == ["white"]
    assert found["findings"][0]["code"] == "kind-of-art"


def test_a_drawing_leaves_its_paper_and_its_width_is_its_own(tmp_path):
    Image.fromarray(photograph(np.minimum(drawn(), 1))).save(tmp_path / "pen.png")
    record = made(tmp_path / "pen.png", tmp_path / "out", "--on", "white tee")
    assert "drawing on paper: the A sheet" in record["findings"][0]["text"]
    assert [plate["ink"] for plate in record["plates"]] == ["black"]
    assert record["plates"][0]["coverage_pct"] < 20
    assert record["artwork"]["width_mm"] == pytest.approx(80)
    rows, columns = np.nonzero(drawn())
    aspect = (rows.max() - rows.min()) / (columns.max() - columns.min())
    assert record["artwork"]["height_mm"] / 80 == pytest.approx(aspect, rel=0.02)
    record = made(tmp_path / "pen.png", tmp_path / "dark", "--on", "black tee", "--one-ink", "white")
    assert [plate["ink"] for plate in record["plates"]] == ["white"]
