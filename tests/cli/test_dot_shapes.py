"""Every dot shape goes through separate, films and gang; one that is added in its two places does so too."""

from __future__ import annotations

import json
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest
from PIL import Image

from sepkit.film.screen import SPOTS
from sepkit.model import DOT_SHAPES, PERIODIC_DOTS, is_periodic
from tests.helpers.runner import run

ADDED = """
import sys
import numpy as np
from sepkit import model

model.PERIODIC_DOTS += ("square",)
model.DOT_SHAPES += ("square",)
from sepkit.film.screen import SPOTS, Spot

SPOTS["square"] = Spot(lambda u, v: -np.maximum(abs(u % 1 - 0.5), abs(v % 1 - 0.51)))
from sepkit.cli.main import main

main(sys.argv[1:])
"""
"""A program that adds a shape where shapes are registered, and runs a command."""
GANG = ("--screen", "400x500mm", "--film-dpi", "200", "--quiet")


@pytest.fixture(scope="module")
def fade(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A black glow, 25 mm across at 100 dpi."""
    y, x = np.mgrid[-1:1:100j, -1:1:100j]
    rgba = np.zeros((100, 100, 4), np.uint8)
    rgba[..., 3] = np.clip(255 * (1 - np.hypot(x, y)), 0, 255)
    path = tmp_path_factory.mktemp("art") / "glow.png"
    Image.fromarray(rgba).save(path)
    return path


def separate_words(art: Path, folder: Path, shape: str) -> list[str]:
    said = (
        "separate",
        art,
        "--on",
        "white tee",
        "--width",
        "25mm",
        "--inks",
        "black",
        "--no-ladder",
        "--film-dpi",
        200,
    )
    return [str(word) for word in (*said, "--shape", shape, "-o", folder, "--quiet")]


def shapes_in(folder: Path) -> set[str]:
    record = json.loads((folder / "separation.json").read_text("utf-8"))
    return {plate["halftone"]["shape"] for plate in record["plates"] if plate["halftone"]}


def test_every_periodic_shape_has_a_spot_function() -> None:
    assert set(SPOTS) == set(PERIODIC_DOTS) == {shape for shape in DOT_SHAPES if is_periodic(shape)}


@pytest.mark.parametrize("shape", DOT_SHAPES)
def test_a_shape_goes_through_separate_films_and_gang(shape: str, fade: Path, tmp_path: Path) -> None:
    folder, out = tmp_path / "glow", tmp_path / "screens"
    assert run(*separate_words(fade, folder, shape)) == 0
    assert shapes_in(folder) == {shape}
    assert run("films", folder, "--lpi", "25", "--moire", "--quiet") == 0
    assert shapes_in(folder) == {shape}
    assert bool(list((folder / "films").glob("moire-*"))) == is_periodic(shape)
    assert run("gang", "--print", f"glow={folder}", *GANG, "-o", out) == 0
    assert len(list(out.glob("*.pdf"))) == 1


def test_a_shape_that_is_added_goes_through_them_too(fade: Path, tmp_path: Path) -> None:
    def added(*words: object) -> None:
        said = subprocess.run(
            [sys.executable, "-c", ADDED, *map(str, words)], capture_output=True, text=True, check=False, cwd=tmp_path
        )
        assert said.returncode == 0, said.stderr

    folder, out = tmp_path / "glow", tmp_path / "screens"
    added(*separate_words(fade, folder, "square"))
    assert shapes_in(folder) == {"square"}
    squares = (folder / "films.pdf").read_bytes()
    added("films", folder, "--shape", "round", "--quiet")
    assert (folder / "films.pdf").read_bytes() != squares
    added("films", folder, "--shape", "square", "--edge-growth", "30um", "--moire", "--quiet")
    assert shapes_in(folder) == {"square"}
    added("gang", "--print", f"glow={folder}", *GANG, "-o", out)
    assert len(list(out.glob("*.pdf"))) == 1
    added("wedge", "--shape", "square", "--film-dpi", "200", "--quiet")
    assert (tmp_path / "wedge.csv").read_text("utf-8").count("square") == 1
