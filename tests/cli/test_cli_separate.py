"""The main job through the command line: the print folder's contract, and one clear line for whatever is wrong."""

from __future__ import annotations

import json
import shutil
from pathlib import Path

import numpy as np
import pytest
from PIL import Image, ImageDraw

from sepkit.workshop.print import write as write_room
from tests.helpers.runner import run

RED, BLUE = (200, 40, 40), (30, 60, 150)


@pytest.fixture(scope="module")
def kite(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A red kite with a blue band on transparency: 200 px across."""
    big = Image.new("RGBA", (800, 1000), (0, 0, 0, 0))
    draw = ImageDraw.Draw(big)
    draw.polygon([(400, 40), (760, 400), (400, 960), (40, 400)], fill=(*RED, 255))
    draw.rectangle((150, 360, 650, 440), fill=(*BLUE, 255))
    path = tmp_path_factory.mktemp("art") / "kite.png"
    big.resize((200, 250), Image.Resampling.BOX).save(path)
    return path


def separate(art: Path, out: Path, *more: object, on: str = "#1a1a1c") -> int:
    return run("separate", art, "--on", on, "--width", "100mm", "--film-dpi", 200, "-o", out, "--quiet", *more)


@pytest.fixture(scope="module")
def folder(kite: Path, tmp_path_factory: pytest.TempPathFactory) -> Path:
    out = tmp_path_factory.mktemp("print") / "kite"
    assert separate(kite, out) == 0
    return out


def test_the_print_folder_is_whole(folder: Path) -> None:
    record = json.loads((folder / "separation.json").read_text("utf-8"))
    assert record["schema"] == "sepkit.separation/1"
    assert record["artwork"]["width_px"] == 200
    assert record["artwork"]["height_mm"] == pytest.approx(125)
    assert [plate["order"] for plate in record["plates"]] == list(range(1, len(record["plates"]) + 1))
    for name in ("films.pdf", "spot.pdf", "preview.png", "compare.png", "sheet.html"):
        assert (folder / name).stat().st_size > 500, name
    for plate in record["plates"]:
        with Image.open(folder / plate["plate"]) as image:
            assert image.size == (200, 250)
        assert (folder / plate["film"]).stat().st_size > 500
    assert not [path for path in folder.rglob("*") if "part" in path.name]


def test_plates_are_what_the_art_asks(folder: Path, kite: Path) -> None:
    record = json.loads((folder / "separation.json").read_text("utf-8"))
    colours = {plate["art_srgb"]: plate for plate in record["plates"] if plate["role"] == "colour"}
    assert set(colours) == {"#c82828", "#1e3c96"}
    total = sum(np.asarray(Image.open(folder / plate["plate"])).astype(int) for plate in colours.values())
    alpha = np.asarray(Image.open(kite))[..., 3].astype(int)
    assert np.abs(total - alpha).max() <= 3


def test_no_trap_and_no_choke_leave_the_plates_as_asked(kite: Path, tmp_path: Path) -> None:
    assert separate(kite, tmp_path / "k", "--trap", "0mm", "--choke", "0mm", "--base", "always") == 0
    record = json.loads((tmp_path / "k" / "separation.json").read_text("utf-8"))
    assert record["plates"][0]["role"] == "underbase"
    for plate in record["plates"]:
        asked = np.asarray(Image.open(tmp_path / "k" / plate["plate"]))
        printed = np.asarray(Image.open(tmp_path / "k" / plate["printed"]))
        assert (asked == printed).all()


def test_two_garments_make_two_folders(kite: Path, tmp_path: Path) -> None:
    assert separate(kite, tmp_path / "both", "--on", "white tee", on="black tee") == 0
    assert {p.name for p in (tmp_path / "both").iterdir()} == {
        "black-tee",
        "white-tee",
        "prints.json",
        "side-by-side.png",
    }


def test_json_is_one_object(kite: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    code = run(
        "separate", kite, "--on", "black tee", "--width", "100mm", "--film-dpi", 200, "-o", tmp_path / "k", "--json"
    )
    said = capsys.readouterr()
    assert code == 0
    answer = json.loads(said.out)
    assert answer["ok"] is True
    assert answer["prints"][0]["schema"] == "sepkit.separation/1"


def test_named_inks_are_kept(kite: Path, tmp_path: Path) -> None:
    assert separate(kite, tmp_path / "k", "--inks", "red,#1e3c96") == 0
    record = json.loads((tmp_path / "k" / "separation.json").read_text("utf-8"))
    assert {plate["ink"] for plate in record["plates"] if plate["role"] == "colour"} == {"red", "#1e3c96"}


@pytest.mark.parametrize(
    ("words", "code", "says"),
    [
        (["--width", "0mm"], 2, "outside 1 to 3000 mm"),
        (["--width", "3 km"], 2, "is not a length"),
        (["--width", "4m"], 2, "outside"),
        (["--inks", "0"], 2, "1 to 12"),
        (["--inks", "99"], 2, "1 to 12"),
        (["--inks", "purpel"], 5, "purpel"),
        (["--inks", "red,red"], 2, "twice"),
        (["--inks", "#12"], 2, "not a colour"),
        (["--base", "blue=sometimes"], 2, "--base"),
        (["--base", "mauve=always"], 2, "mauve"),
        (["--base", "red=always", "--base", "red=never"], 2, "two different things"),
        (["--press", "three-head"], 5, "three-head"),
        (["--mesh", "110"], 2, "110"),
        (["--film-dpi", "5"], 2, "150"),
        (["--lpi", "0"], 2, "10"),
        (["--angle", "steep"], 2, "steep"),
        (["--on", "blak tee"], 5, "black tee"),
        (["--on", "#zzz"], None, "zzz"),
    ],
)
def test_wrong_options_give_one_line(
    words: list[str], code: int | None, says: str, kite: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    given = [] if "--on" in words else ["--on", "black tee"]
    size = [] if "--width" in words else ["--width", "100mm"]
    got = run("separate", kite, *given, *size, *words, "-o", tmp_path / "k")
    said = capsys.readouterr().err
    assert got == code if code is not None else got in (2, 5)
    assert says in said
    assert "Traceback" not in said
    assert not (tmp_path / "k").exists()
    assert list(tmp_path.iterdir()) == []


def test_an_existing_folder_is_refused_without_force(folder: Path, kite: Path, tmp_path: Path) -> None:
    out = tmp_path / "k"
    shutil.copytree(folder, out)
    before = {path: path.read_bytes() for path in out.rglob("*") if path.is_file()}
    assert separate(kite, out) == 7
    assert before == {path: path.read_bytes() for path in out.rglob("*") if path.is_file()}
    assert separate(kite, out, "--inks", "1", "--force") == 0
    record = json.loads((out / "separation.json").read_text("utf-8"))
    assert len([plate for plate in record["plates"] if plate["role"] == "colour"]) == 1


def test_a_folder_that_is_not_ours_is_never_replaced(kite: Path, tmp_path: Path) -> None:
    out = tmp_path / "photos"
    out.mkdir()
    (out / "holiday.txt").write_text("keep me")
    assert separate(kite, out, "--force") == 7
    assert (out / "holiday.txt").read_text() == "keep me"


@pytest.mark.parametrize("error", [KeyboardInterrupt(), OSError(28, "No space left on device")])
def test_an_end_in_the_middle_leaves_the_old_folder_whole(
    error: BaseException,
    folder: Path,
    kite: Path,
    tmp_path: Path,
    monkeypatch: pytest.MonkeyPatch,
    capsys: pytest.CaptureFixture[str],
) -> None:
    out = tmp_path / "k"
    shutil.copytree(folder, out)
    before = {path: path.read_bytes() for path in out.rglob("*") if path.is_file()}

    def broken(*_: object, **__: object) -> None:
        raise error

    monkeypatch.setattr(write_room, "record_json", broken)
    code = separate(kite, out, "--force")
    assert code == (130 if isinstance(error, KeyboardInterrupt) else 7)
    said = capsys.readouterr().err.strip()
    assert len(said.splitlines()) == 1
    assert before == {path: path.read_bytes() for path in out.rglob("*") if path.is_file()}
    assert [path.name for path in tmp_path.iterdir()] == ["k"]


@pytest.mark.parametrize(
    ("name", "content"),
    [("missing.png", None), ("empty.png", b""), ("words.png", b"not a picture at all"), ("cut.png", "cut")],
)
def test_bad_art_gives_one_line_and_code_4(
    name: str, content: bytes | str | None, kite: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = tmp_path / name
    if content == "cut":
        path.write_bytes(kite.read_bytes()[:200])
    elif isinstance(content, bytes):
        path.write_bytes(content)
    assert separate(path, tmp_path / "k") == 4
    said = capsys.readouterr().err.strip()
    assert len(said.splitlines()) == 1
    assert name in said
    assert not (tmp_path / "k").exists()


def test_art_of_the_garments_colour_is_nothing_to_print(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    art = tmp_path / "white.png"
    Image.new("RGB", (60, 60), (244, 244, 242)).save(art)
    assert separate(art, tmp_path / "k", on="white tee") == 4
    assert "nothing to print" in capsys.readouterr().err


def test_explain_rings_what_no_ink_explains(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    picture = Image.new("RGB", (300, 300), (244, 244, 242))
    draw = ImageDraw.Draw(picture)
    draw.rectangle((20, 20, 140, 280), fill=RED)
    draw.rectangle((160, 20, 280, 280), fill=BLUE)
    picture.save(tmp_path / "two.png")
    assert separate(tmp_path / "two.png", tmp_path / "all", "--explain", on="#f4f4f2") == 0
    ringed = {}
    ringed["all"] = np.asarray(Image.open(tmp_path / "all" / "explain.png").convert("RGB"))
    assert separate(tmp_path / "two.png", tmp_path / "plain", on="#f4f4f2") == 0
    assert not (tmp_path / "plain" / "explain.png").exists()
    violet = np.array([120, 60, 200])
    assert not (np.abs(ringed["all"].astype(int) - violet).max(axis=2) < 12).any()
    grey = Image.fromarray(np.random.default_rng(0).integers(0, 255, (300, 300, 3)).astype(np.uint8))
    grey.save(tmp_path / "noise.png")
    assert separate(tmp_path / "noise.png", tmp_path / "noise", "--explain", "--inks", "#c82828", on="#f4f4f2") == 0
    noisy = np.asarray(Image.open(tmp_path / "noise" / "explain.png").convert("RGB")).astype(int)
    assert (np.abs(noisy - violet).max(axis=2) < 12).sum() > 50


def test_a_print_that_does_not_fit_is_told(kite: Path, tmp_path: Path) -> None:
    words = (
        "separate",
        kite,
        "--on",
        "black tee",
        "--width",
        "480mm",
        "--film-dpi",
        150,
        "-o",
        tmp_path / "k",
        "--quiet",
    )
    assert run(*words, "--no-ladder") == 0
    found = {
        f["code"]: f["text"] + f.get("more", "")
        for f in json.loads((tmp_path / "k" / "separation.json").read_text("utf-8"))["findings"]
    }
    assert "450" in found["larger-than-platen"]
    assert " S" in found["wider-than-garment"]
    assert "3XL" not in found["wider-than-garment"]


def test_places_are_those_of_a_job_and_short_words_are_other_names(
    kite: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    def preview(place: str) -> bytes:
        out = tmp_path / place
        assert separate(kite, out, "--placement", place, "--no-ladder") == 0
        return (out / "preview.png").read_bytes()

    assert preview("back") == preview("Full back") != preview("upper back")
    assert preview("right chest") != preview("left chest")
    capsys.readouterr()
    assert separate(kite, tmp_path / "hood", "--placement", "hood side") == 2
    assert "#1a1a1c has no hood" in capsys.readouterr().err
    assert separate(kite, tmp_path / "hat", "--placement", "left chets") == 2
    assert 'did you mean "left chest"' in capsys.readouterr().err
    assert not (tmp_path / "hood").exists()


def test_a_missing_file_is_told_before_an_existing_folder(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    (tmp_path / "k").mkdir()
    (tmp_path / "k" / "mine.txt").write_text("x")
    assert separate(tmp_path / "kyte.png", tmp_path / "k") == 4
    assert "no such file" in capsys.readouterr().err


def test_the_sheet_says_how_to_mix_and_when_films_were_made_again(folder: Path, tmp_path: Path) -> None:
    out = tmp_path / "k"
    shutil.copytree(folder, out)
    sheet = (out / "sheet.html").read_text("utf-8")
    assert "<td>mix " in sheet, "mixes stand there with their grams"
    assert "made again" not in sheet
    assert run("films", out, "--dpi", 300, "--mirror") == 0
    for _ in range(2):
        assert run("films", out, "--dpi", 240) == 0
    again = (out / "sheet.html").read_text("utf-8")
    assert again.count("The films were made again: 240 dpi") == 1
    assert "mirrored" not in again


def test_a_background_is_dropped_on_request(tmp_path: Path) -> None:
    picture = Image.new("RGB", (300, 300), (255, 255, 255))
    ImageDraw.Draw(picture).ellipse((40, 40, 260, 260), fill=RED)
    picture.save(tmp_path / "dot.png")
    assert separate(tmp_path / "dot.png", tmp_path / "box") == 0
    assert separate(tmp_path / "dot.png", tmp_path / "open", "--background", "drop") == 0
    inks = {}
    for name in ("box", "open"):
        record = json.loads((tmp_path / name / "separation.json").read_text("utf-8"))
        assert record["difference"]["p95_de00"] < 15
        inks[name] = {plate["art_srgb"] for plate in record["plates"] if plate["role"] == "colour"}
    assert inks["box"] == {"#ffffff", "#c82828"}
    assert inks["open"] == {"#c82828"}
