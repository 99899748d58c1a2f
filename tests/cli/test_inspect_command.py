from __future__ import annotations

import json

import numpy as np
import pytest
from PIL import Image

from sepkit.files.art.photo import read_photo
from tests.helpers.photographs import Spot, random_shot, take_photo
from tests.helpers.printed_cloth import printed_folder
from tests.helpers.runner import run
from tests.helpers.small_prints import small_folder


@pytest.fixture(scope="module")
def shot(tmp_path_factory):
    place = tmp_path_factory.mktemp("inspect")
    folder = small_folder(place / "lantern")
    printed = printed_folder(folder)
    shot = random_shot(printed, 8, px_per_mm=7.0, sizes=())
    shot.spots = [Spot("void", 1, 12.0, 32.0, 1.2)]
    (place / "test.jpg").write_bytes(take_photo(printed, shot).jpeg)
    return folder, place / "test.jpg"


def test_an_inspection_is_written_whole_and_told(shot, tmp_path, capsys):
    folder, photo = shot
    out = tmp_path / "seen"
    assert run("inspect", folder, photo, "--top", "up", "-o", out, "--json", "--strict") == 8
    told = json.loads(capsys.readouterr().out)
    assert told["schema"] == "sepkit.inspection/1" and told["ok"]
    assert [screen["name"] for screen in told["screens"]] == ["white", "red", "yellow"]
    assert all(abs(screen["growth_mm"]) < 0.2 for screen in told["screens"] if screen["growth_mm"] is not None)
    assert all(0 < value < 70 for screen in told["screens"][1:] for value in screen["at_mm"])
    void = next(spot for spot in told["spots"] if spot["kind"] == "void" and spot["sure"])
    assert void["screen"] == "red" and np.hypot(void["at_mm"][0] - 12, void["at_mm"][1] - 32) < 0.6
    assert 6.3 < told["px_per_mm"] < 7.7
    names = {path.name for path in out.iterdir()}
    films = {"film-01-white.png", "film-02-red.png", "film-03-yellow.png"}
    assert names == {"marked.png", "spots.csv", "inspection.json", "inspection.html", *films}
    assert "simulated photographs only" in (out / "inspection.html").read_text()


def test_what_is_no_photograph_ends_with_ten_and_one_line(shot, tmp_path, capsys):
    folder, _ = shot
    broken = tmp_path / "x.jpg"
    broken.write_bytes(b"\xff\xd8nothing")
    heic = tmp_path / "x.heic"
    heic.write_bytes(b"0")
    tiny = tmp_path / "tiny.png"
    Image.new("RGB", (50, 50)).save(tiny)
    for path in (broken, heic, tiny, tmp_path / "none.jpg"):
        assert run("inspect", folder, path, "-o", tmp_path / "out") == 10
        assert len(capsys.readouterr().err.strip().splitlines()) == 1
        assert not (tmp_path / "out").exists()


def test_the_guide_a_missing_photograph_and_a_taken_folder(shot, tmp_path, capsys):
    folder, photo = shot
    assert run("inspect", "--guide") == 0
    assert "8 pixels for each mm" in capsys.readouterr().out
    assert run("inspect", folder) == 2
    (tmp_path / "taken").mkdir()
    (tmp_path / "taken" / "mine.txt").write_text("x")
    assert run("inspect", folder, photo, "-o", tmp_path / "taken") == 7
    assert (tmp_path / "taken" / "mine.txt").read_text() == "x"


def test_a_photograph_is_turned_upright_by_its_exif_orientation(tmp_path):
    pixels = np.zeros((240, 320, 3), np.uint8)
    pixels[:40, :40] = 255
    image = Image.fromarray(pixels)
    exif = Image.Exif()
    exif[0x0112] = 6  # the right side of the picture is its top row: turn it clockwise
    image.save(tmp_path / "turned.png", exif=exif)
    read = read_photo(tmp_path / "turned.png")
    assert read.shape == (320, 240, 3)
    assert read[:40, -40:].min() == 255 and read[:40, :40].max() == 0


def test_the_guide_as_a_page_and_the_ink_card(tmp_path, capsys):
    page = tmp_path / "guide.html"
    assert run("inspect", "--guide", "-o", page) == 0
    text = page.read_text("utf-8")
    assert "data:image/png" in text and "2 cm of cloth" in text
    assert run("inspect", "--guide", "-o", page) == 7
    assert run("inspect", "--guide", "-o", tmp_path / "guide.txt") == 2
    card = tmp_path / "card.pdf"
    assert run("ink", "card", "-o", card) == 0
    assert card.read_bytes().startswith(b"%PDF")
    assert run("ink", "card", "-o", card) == 7
    assert run("ink", "measure", "x", "--photo", tmp_path / "none.jpg") == 10
    assert run("inspect", tmp_path, tmp_path / "none.jpg", "--chart", "none.csv", "-o", tmp_path / "o") in (5, 7)
    capsys.readouterr()
