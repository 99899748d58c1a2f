"""A whole job: the folder's contract, what is made again and what is not, and nothing half-written."""

from __future__ import annotations

import json
import re
from pathlib import Path

import pytest
from PIL import Image, ImageDraw

from sepkit.errors import ArtworkError, ChecksFailedError, WriteError
from sepkit.workshop.drop import make as job_room
from sepkit.workshop.drop.load import load_job
from sepkit.workshop.drop.make import JobChecksError, MadeJob, make_job

JOB = """schema = 1
title = "Kites & friends"
[press]
name = "two-head"
platen_width_mm = 400
[film]
dpi = 200
[heat_press]
plate_width_mm = 100
plate_height_mm = 100
[money]
hour = 15
price = 20
[[screen]]
name = "large"
inside_width_mm = 400
inside_height_mm = 600
mesh = "55-64"
count = 4
[[blade]]
width_mm = 200
[[garment]]
name = "black tee"
sizes = { S = 2, M = 6 }
[[garment]]
name = "white tee"
sizes = { M = 4 }
[[print]]
name = "front"
art = "kite.png"
placement = "full front"
width_mm = 120
one_ink = "white"
one_ink_on = { "white tee" = "black" }
one_ink_from = "shape"
[[print]]
name = "chest"
art = "kite.png"
placement = "left chest"
width_mm = 60
garments = ["black tee"]
one_ink = "white"
one_ink_from = "shape"
"""


_HEAD, _BLACK, _WHITE = JOB.split("[[garment]]")
SMALL = f"{_HEAD}[[garment]]{_BLACK}" + JOB[JOB.rindex("[[print]]") :]
"""One garment, one print."""


@pytest.fixture(scope="module")
def art(tmp_path_factory: pytest.TempPathFactory) -> bytes:
    big = Image.new("RGBA", (800, 1000), (0, 0, 0, 0))
    draw = ImageDraw.Draw(big)
    draw.polygon([(400, 40), (760, 400), (400, 960), (40, 400)], fill=(40, 60, 150, 255))
    path = tmp_path_factory.mktemp("art") / "kite.png"
    big.resize((160, 200), Image.Resampling.BOX).save(path)
    return path.read_bytes()


@pytest.fixture
def folder(tmp_path: Path, art: bytes) -> Path:
    (tmp_path / "kite.png").write_bytes(art)
    (tmp_path / "drop.toml").write_text(SMALL, encoding="utf-8")
    return tmp_path


@pytest.fixture(scope="module")
def full(tmp_path_factory: pytest.TempPathFactory, art: bytes) -> tuple[Path, MadeJob]:
    """The whole job, made once."""
    folder = tmp_path_factory.mktemp("job")
    (folder / "kite.png").write_bytes(art)
    return folder, make(folder, JOB)


def make(folder: Path, text: str = "", **more: bool) -> MadeJob:
    if text:
        (folder / "drop.toml").write_text(text, encoding="utf-8")
    return make_job(folder / "drop.toml", folder / "out", force=more.pop("force", False), **more)


def names(folder: Path) -> set[str]:
    return {path.name for path in folder.iterdir()}


def test_the_job_folder(full: tuple[Path, MadeJob]) -> None:
    folder, made = full
    out = folder / "out"
    assert made.prints_made == 3 and not made.unchanged
    assert names(folder) == {"kite.png", "drop.toml", "out"}
    record = json.loads((out / "job.json").read_text())
    assert record["schema"] == "sepkit.job/1"
    # Each print's folder holds what a single print's folder holds; one ink has no fewer to be held against.
    for one in record["prints"]:
        place = out / one["folder"]
        assert (place / "stress.png").is_file() and not (place / "ladder.png").exists()
        assert json.loads((place / "separation.json").read_text())["stress"]["register_error_mm"] > 0
    # White front and chest share a screen, the black front has its own.
    assert len(record["screens"]) == 2
    assert record["screens_one_each"] == 3
    assert {image["name"] for screen in record["screens"] for image in screen["images"]} == {
        "front, white",
        "front, black",
        "chest, white",
    }
    assert len(list((out / "screens").glob("*.pdf"))) == 2
    assert len(list((out / "screens").glob("*.png"))) == 2
    blanks = {(b["garment"], b["size"]): b for b in record["blanks"]}
    # One black tee carries front and chest: it tests both.
    assert {name: b["tests"] for name, b in blanks.items() if b["tests"]} == {("black tee", "M"): 1}
    assert all(b["buy"] == b["ordered"] + b["spares"] + b["tests"] for b in record["blanks"])
    # Two placements compound on black, one on white.
    assert blanks["black tee", "M"]["loss"] == pytest.approx(1 - 0.98**2, abs=1e-4)
    assert blanks["white tee", "M"]["loss"] == pytest.approx(0.02)
    assert [level for level, found in record["spares"].items() if found["chosen"]] == ["least cost"]
    for ink in record["ink"]:
        assert sum(part["mass_g"] for part in ink["parts"]) == pytest.approx(ink["stage_g"], abs=0.2)
    steps = record["order"]["steps"]
    assert {(s["print"], s["garment"]) for s in steps} == {
        ("front", "black tee"),
        ("front", "white tee"),
        ("chest", "black tee"),
    }
    assert next(s for s in steps if s["garment"] == "white tee")["pieces"] == blanks["white tee", "M"]["buy"]


def test_the_sheet_tells_everything(full: tuple[Path, MadeJob]) -> None:
    text = (full[0] / "out" / "sheet.html").read_text()
    for word in (
        "Kites &amp; friends",
        "To buy",
        "Ink cups",
        "Wash test before the run",
        "At the press",
        "Films",
        "Take care",
        "black tee",
        "data sheet",
        "end A to the clamp",
        "closings of the heat",
    ):
        assert word in text, word
    assert text.count("data:image/") == 3 + 2
    assert text.count('class="box"') > 20
    assert not re.search(r"https?://|<script", text)


def test_nothing_changed_nothing_made(full: tuple[Path, MadeJob]) -> None:
    folder = full[0]
    before = {p: p.stat().st_mtime_ns for p in (folder / "out").rglob("*")}
    again = make(folder)
    assert again.unchanged
    assert {p: p.stat().st_mtime_ns for p in (folder / "out").rglob("*")} == before


def test_only_what_changed_is_made_again(folder: Path) -> None:
    make(folder)
    orders = make(folder, SMALL.replace("M = 6", "M = 9"))
    assert (orders.prints_made, orders.prints_kept) == (0, 1)
    assert next(b for b in orders.record["blanks"] if b["ordered"] == 9)["garment"] == "black tee"
    assert make(folder, SMALL.replace("width_mm = 60", "width_mm = 70")).prints_made == 1
    digest = job_room.job_prints(load_job(folder / "drop.toml"), recipes="a")[0].digest
    assert job_room.job_prints(load_job(folder / "drop.toml"), recipes="b")[0].digest != digest
    Image.open(folder / "kite.png").rotate(90).save(folder / "kite.png")
    assert job_room.job_prints(load_job(folder / "drop.toml"), recipes="a")[0].digest != digest


def test_a_folder_that_someone_touched_is_not_replaced(folder: Path) -> None:
    make(folder)
    (folder / "out" / "notes.txt").write_text("mine")
    changed = SMALL.replace("M = 6", "M = 9")
    with pytest.raises(WriteError, match=r"notes\.txt is not as sepkit left it"):
        make(folder, changed)
    assert (folder / "out" / "notes.txt").exists()
    assert make(folder, changed, force=True).prints_made == 0
    assert not (folder / "out" / "notes.txt").exists()
    (folder / "other.toml").write_text(SMALL)
    with pytest.raises(WriteError, match="holds another job"):
        make_job(folder / "other.toml", folder / "out", force=False)
    (folder / "full").mkdir()
    (folder / "full" / "a.txt").write_text("mine")
    with pytest.raises(WriteError):
        make_job(folder / "other.toml", folder / "full", force=True)
    assert (folder / "full" / "a.txt").exists()


def test_whole_or_not_at_all(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    make(folder)
    old = (folder / "out" / "job.json").read_bytes()

    def broken(*_args: object, **_more: object) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr("sepkit.sheets.job_sheet.job_sheet", broken)
    with pytest.raises((OSError, WriteError)):
        make(folder, SMALL.replace("M = 6", "M = 9"))
    assert (folder / "out" / "job.json").read_bytes() == old
    assert names(folder) == {"kite.png", "drop.toml", "out"}


def test_broken_art_leaves_nothing(folder: Path) -> None:
    (folder / "kite.png").write_bytes(b"\x89PNG\r\n\x1a\n broken")
    with pytest.raises(ArtworkError):
        make(folder)
    assert names(folder) == {"kite.png", "drop.toml"}


@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        ("width_mm = 120", "width_mm = 420", "too wide for black tee size M"),
        ("width_mm = 120", "width_mm = 290", "fits on no screen"),
        ("sizes = { M = 4 }", 'sizes = { M = 4 }\nopening = "zip"', "has a zip under the print"),
        ('name = "white tee"', 'name = "dark heather tee"', "50% polyester"),
    ],
)
def test_checks_stop_before_anything_is_made(folder: Path, old: str, new: str, said: str) -> None:
    text = JOB.replace("S = 2, ", "").replace(old, new)
    if "heather" in new:
        text = text.replace('"white tee" = "black"', '"dark heather tee" = "black"')
    with pytest.raises(JobChecksError) as caught:
        make(folder, text)
    assert isinstance(caught.value, ChecksFailedError)
    assert any(said in finding.text for finding in caught.value.findings if finding.level == "error")
    assert names(folder) == {"kite.png", "drop.toml"}


def test_anyway_goes_on(folder: Path) -> None:
    text = SMALL.replace("sizes = {", 'opening = "zip"\nsizes = {').replace("left chest", "full front")
    made = make(folder, text, anyway=True)
    assert "zip-in-the-way" in {finding["code"] for finding in made.record["findings"]}


def test_anyway_goes_on_where_the_garment_has_no_such_place(folder: Path) -> None:
    made = make(folder, SMALL.replace("left chest", "hood side"), anyway=True)
    assert "no-hood" in {finding["code"] for finding in made.record["findings"]}


def test_a_jobs_edge_growth_goes_into_the_films_of_its_prints(folder: Path) -> None:
    made = make(folder, SMALL.replace("schema = 1", "schema = 1\nedge_growth_um = 40"))
    (one,) = made.record["prints"]
    record = json.loads((folder / "out" / one["folder"] / "separation.json").read_text())
    assert record["film"]["dot_gain"]["edge_um"] == 40
    again = make(folder, SMALL, force=True)
    assert again.prints_made == 1
    (one,) = again.record["prints"]
    assert "dot_gain" not in json.loads((folder / "out" / one["folder"] / "separation.json").read_text())["film"]
