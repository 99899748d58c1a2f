from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pytest
from PIL import Image

from sepkit.errors import WriteError
from sepkit.files.folders.planes import plate_slug
from sepkit.files.folders.print_folder import read_print_folder
from sepkit.files.folders.record import MANIFEST
from sepkit.inks.identify import ink_from_swatch
from sepkit.model import Artwork, Finding, Garment, Halftone, Mesh, Plate, Separation
from tests.helpers.print_folders import grey_ink, write_folder


def made(folder: Path) -> Separation:
    rng = np.random.default_rng(1)
    coverage = rng.integers(0, 256, (30, 40)).astype(np.uint8)
    tone = coverage > 100
    art = Artwork(np.zeros((30, 40, 3), np.uint8), np.full((30, 40), 255, np.uint8), 101.6, 76.2, "kite.png")
    cloth = Garment("black tee", "tee", (26, 26, 28), (9.0, 0.0, 0.0), np.full(31, 0.02), 180, 1.0, 0.0)
    plates = (
        Plate(
            1,
            "underbase",
            "underbase",
            grey_ink("white"),
            None,
            (230, 230, 225),
            coverage,
            coverage // 2,
            None,
            1,
            True,
            None,
            Mesh(43, 80),
            choke_mm=0.5,
            why="needed",
        ),
        Plate(
            2,
            "Dark Red 2",
            "colour",
            ink_from_swatch("#aa1122", (170, 17, 34)),
            (170, 17, 34),
            (168, 20, 36),
            coverage,
            coverage,
            tone,
            2,
            False,
            Halftone(45, 22.5, "ellipse"),
            Mesh(77, 55),
            trap_mm=0.25,
            confidence=0.9,
        ),
    )
    separation = Separation(art, cloth, plates, 1.5, 4.0, (Finding("x", "warn", "look", "do", (3.0, 4.0)),))
    write_folder(folder, separation)
    return separation


def test_a_print_folder_reads_back_as_it_was(tmp_path: Path) -> None:
    separation = made(tmp_path)
    back = read_print_folder(tmp_path)
    assert (back.width_mm, back.height_mm, back.record.garment.name, back.title) == (101.6, 76.2, "black tee", "kite")
    for before, after in zip(separation.plates, back.plates, strict=True):
        for key in (
            "order",
            "name",
            "role",
            "art_srgb",
            "print_srgb",
            "coats",
            "flash_after",
            "halftone",
            "mesh",
            "trap_mm",
            "choke_mm",
            "why",
            "confidence",
        ):
            assert getattr(before, key) == getattr(after, key), key
        assert (before.coverage == after.coverage).all()
        assert (before.printed == after.printed).all()
        assert (before.tone is None) == (after.tone is None)
        if before.tone is not None:
            assert (before.tone == after.tone).all()


def test_the_record_keeps_the_contract(tmp_path: Path) -> None:
    made(tmp_path)
    record = json.loads((tmp_path / MANIFEST).read_text("utf-8"))
    assert record["schema"] == "sepkit.separation/1"
    assert set(record) >= {"artwork", "garment", "plates", "film", "difference", "findings"}
    first, second = record["plates"]
    assert first["art_srgb"] is None
    assert first["plate"] == "plates/01-underbase.png"
    assert second["film"] == "films/02-dark-red-2.pdf"
    assert second["halftone"] == {"lpi": 45, "angle_deg": 22.5, "shape": "ellipse"}
    assert record["findings"][0]["place_mm"] == [3.0, 4.0]
    with Image.open(tmp_path / first["plate"]) as image:
        assert image.mode == "L"
        assert image.info["dpi"][0] == pytest.approx(10, abs=0.02)


def test_slugs_are_safe_file_names() -> None:
    plate = Plate(
        7,
        "../Ü & so!",
        "colour",
        grey_ink("x"),
        None,
        (0, 0, 0),
        np.zeros((1, 1), np.uint8),
        np.zeros((1, 1), np.uint8),
        None,
        1,
        False,
        None,
        Mesh(43, 80),
    )
    assert plate_slug(plate) == "07-ü-so"


@pytest.mark.parametrize(
    ("damage", "word"),
    [
        (lambda f: (f / MANIFEST).unlink(), "not a print folder"),
        (lambda f: (f / MANIFEST).write_text("{"), "damaged"),
        (lambda f: (f / MANIFEST).write_text("[1]"), "schema"),
        (lambda f: (f / MANIFEST).write_text(json.dumps({"schema": "sepkit.separation/9"})), "schema"),
        (lambda f: (f / MANIFEST).write_text(json.dumps({"schema": "sepkit.separation/1"})), "damaged"),
        (lambda f: (f / "plates/01-underbase.png").unlink(), "missing"),
        (lambda f: (f / "plates/01-underbase.png").write_bytes(b"nonsense"), "cannot be read"),
        (lambda f: Image.new("L", (3, 3)).save(f / "plates/01-underbase.png"), "the record says"),
        (lambda f: edit(f, "plate", "../../etc/passwd"), "outside"),
        (lambda f: edit(f, "mesh", None), "damaged"),
        (lambda f: edit(f, "coats", float("inf")), "damaged"),
        (lambda f: edit(f, "halftone", {"lpi": 3, "angle_deg": 0, "shape": "heart"}), "damaged"),
    ],
)
def test_a_damaged_folder_gives_one_clear_line(tmp_path: Path, damage: object, word: str) -> None:
    made(tmp_path)
    damage(tmp_path)  # type: ignore[operator]
    with pytest.raises(WriteError) as error:
        read_print_folder(tmp_path)
    assert word in str(error.value)
    assert error.value.hint
    assert "\n" not in str(error.value)


def edit(folder: Path, key: str, value: object) -> None:
    record = json.loads((folder / MANIFEST).read_text("utf-8"))
    record["plates"][0][key] = value
    (folder / MANIFEST).write_text(json.dumps(record))
