from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pytest
from PIL import Image, ImageDraw

from tests.helpers.runner import run


def findings(art: Path, capsys: pytest.CaptureFixture[str], *more: object) -> tuple[int, dict[str, dict[str, object]]]:
    code = run("check", art, "--width", "100mm", "--json", "-o", art.parent / "marked.png", "--force", *more)
    answer = json.loads(capsys.readouterr().out.splitlines()[0])
    return code, {finding["code"]: finding for finding in answer["findings"]}


@pytest.fixture
def lines(tmp_path: Path) -> Path:
    """Bold bars, one hairline of 0.17 mm, one gap of 0.25 mm: 300 dpi at 100 mm."""
    image = Image.new("RGBA", (1181, 900), (0, 0, 0, 0))
    draw = ImageDraw.Draw(image)
    draw.rectangle((100, 100, 500, 300), fill=(20, 20, 20, 255))
    draw.rectangle((504, 100, 900, 300), fill=(20, 20, 20, 255))
    draw.rectangle((100, 600, 1000, 601), fill=(20, 20, 20, 255))
    path = tmp_path / "lines.png"
    image.save(path)
    return path


def test_thin_lines_and_gaps_are_found_where_they_are(lines: Path, capsys: pytest.CaptureFixture[str]) -> None:
    code, found = findings(lines, capsys)
    assert code == 0
    x, y = found["thin-lines"]["place_mm"]  # type: ignore[misc]
    assert (x, y) == (pytest.approx(550 / 11.81, abs=1), pytest.approx(601 / 11.81, abs=0.3))
    x, y = found["thin-gaps"]["place_mm"]  # type: ignore[misc]
    assert (x, y) == (pytest.approx(502 / 11.81, abs=0.5), pytest.approx(200 / 11.81, abs=1))
    marked = np.asarray(Image.open(lines.parent / "marked.png"))
    assert marked.shape[2] == 3


def test_bold_art_has_nothing_to_mark(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    image = Image.new("RGBA", (1181, 900), (0, 0, 0, 0))
    ImageDraw.Draw(image).rectangle((100, 100, 900, 700), fill=(200, 30, 30, 255))
    image.save(tmp_path / "bold.png")
    code, found = findings(tmp_path / "bold.png", capsys)
    assert code == 0
    assert not {"thin-lines", "thin-gaps", "specks", "more-screens-than-heads", "low-resolution"} & set(found)


def test_coarse_art_is_reported(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    image = Image.new("RGBA", (300, 300), (0, 0, 0, 0))
    ImageDraw.Draw(image).rectangle((30, 30, 200, 200), fill=(200, 30, 30, 255))
    image.save(tmp_path / "coarse.png")
    _, found = findings(tmp_path / "coarse.png", capsys)
    assert "76 pixels per inch" in str(found["low-resolution"]["text"])


def test_more_inks_than_heads_are_reported(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    image = Image.new("RGBA", (1181, 400), (0, 0, 0, 0))
    draw = ImageDraw.Draw(image)
    for k, colour in enumerate([(200, 30, 30), (30, 120, 40), (30, 60, 160)]):
        draw.rectangle((100 + 300 * k, 100, 320 + 300 * k, 300), fill=(*colour, 255))
    image.save(tmp_path / "three.png")
    _, found = findings(tmp_path / "three.png", capsys)
    assert "3 screens" in str(found["more-screens-than-heads"]["text"])
    _, found = findings(tmp_path / "three.png", capsys, "--press", "four-head")
    assert "more-screens-than-heads" not in found


def test_a_flat_rectangle_of_garment_colour_fails_with_code_8(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    Image.new("RGB", (400, 400), (244, 244, 242)).save(tmp_path / "blank.png")
    code, found = findings(tmp_path / "blank.png", capsys, "--on", "white tee")
    assert code == 8
    assert found["nothing-to-print"]["level"] == "error"


def test_a_marked_picture_is_not_overwritten_without_force(lines: Path, capsys: pytest.CaptureFixture[str]) -> None:
    taken = lines.parent / "taken.png"
    taken.write_bytes(b"mine")
    assert run("check", lines, "--width", "100mm", "-o", taken) == 7
    assert taken.read_bytes() == b"mine"
    assert "taken.png" in capsys.readouterr().err


def test_art_is_checked_again_over_its_own_marked_picture(lines: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.chdir(lines.parent)
    marked = lines.parent / f"{lines.stem}-check.png"
    assert run("check", lines, "--width", "100mm") == 0 and marked.is_file()
    assert run("check", lines, "--width", "100mm") == 0
    Image.new("RGB", (4, 4)).save(marked)
    theirs = marked.read_bytes()
    assert run("check", lines, "--width", "100mm") == 7 and marked.read_bytes() == theirs


def test_a_ruling_that_beats_with_the_mesh_is_reported(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    ramp = np.zeros((700, 1181, 4), np.uint8)
    ramp[100:600, 100:1080, :3] = np.linspace(30, 220, 980).astype(np.uint8)[None, :, None]
    ramp[100:600, 100:1080, 3] = 255
    Image.fromarray(ramp).save(tmp_path / "ramp.png")
    _, found = findings(tmp_path / "ramp.png", capsys, "--mesh", "77-55", "--lpi", 49, "--angle", 0)
    assert "moire" in found
    assert "--lpi" in str(found["moire"]["hint"])
    _, found = findings(tmp_path / "ramp.png", capsys, "--mesh", "77-55")
    assert "moire" not in found
