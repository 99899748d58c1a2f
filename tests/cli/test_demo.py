from __future__ import annotations

from pathlib import Path

import pytest

from sepkit.cli.main import main
from sepkit.files.shelf.folders import sample_art_folder
from sepkit.workshop.demo import DARK_ONLY, demo_art


def test_the_demo_makes_a_folder_for_each_garment(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    with pytest.raises(SystemExit) as stop:
        main(["demo", "-o", str(tmp_path / "demo"), "--art", "neck-label.svg"])
    assert not stop.value.code
    said = capsys.readouterr()
    for garment in ("black-tee", "white-tee"):
        folder = tmp_path / "demo" / garment
        assert (folder / "separation.json").is_file()
        for name in ("preview.png", "compare.png", "films.pdf", "sheet.html"):
            assert str(folder / name) in said.out
            assert (folder / name).is_file()


def test_every_piece_of_the_demo_is_there() -> None:
    for piece in demo_art():
        assert (sample_art_folder() / piece).is_file()
    assert set(demo_art()) >= DARK_ONLY


def test_a_piece_that_is_not_there_names_near_ones(capsys: pytest.CaptureFixture[str]) -> None:
    with pytest.raises(SystemExit) as stop:
        main(["demo", "--art", "habour-flat.png"])
    assert stop.value.code == 5
    assert "harbour-flat.png" in capsys.readouterr().err
