from __future__ import annotations

import os
import subprocess
import sys
import zipfile
from pathlib import Path

import pytest

from sepkit.errors import NotFoundError
from sepkit.files.shelf.folders import recipes_folder, sample_art_folder
from sepkit.files.shelf.shelf import Shelf

ROOT = Path(__file__).resolve().parents[3]


def test_own_folder_that_is_not_there(monkeypatch, tmp_path):
    monkeypatch.setenv("SEPKIT_RECIPES", str(tmp_path / "none"))
    with pytest.raises(NotFoundError, match="SEPKIT_RECIPES: there is no folder"):
        Shelf().garment_names()


ASK = """
from sepkit.files.shelf import folders
from sepkit.files.shelf.shelf import Shelf
import sepkit
shelf = Shelf()
print(sepkit.__file__)
print(folders.recipes_folder())
print(folders.sample_art_folder())
print(shelf.garment("black tee").weight_g_m2, shelf.mesh("110 tpi"), shelf.press("two-head").heads)
print(sorted(p.suffix for p in folders.sample_art_folder().iterdir())[-1])
"""


def ask(folder, cwd):
    """What a fresh process finds whose only way to sepkit is ``folder``."""
    environment = {k: v for k, v in os.environ.items() if k != "SEPKIT_RECIPES"} | {"PYTHONPATH": str(folder)}
    run = subprocess.run(
        [sys.executable, "-c", ASK], cwd=cwd, env=environment, capture_output=True, text=True, check=False
    )
    assert run.returncode == 0, run.stderr
    return run.stdout.splitlines()


def test_a_checkout_finds_its_data(tmp_path):
    """As with an editable install, which puts the checkout on the path."""
    package, recipes, art, values, _ = ask(ROOT, tmp_path)
    assert package == str(ROOT / "sepkit" / "__init__.py")
    assert recipes == str(ROOT / "recipes") == str(recipes_folder())
    assert art == str(ROOT / "sample_art") == str(sample_art_folder())
    assert values.startswith("180.0 43-80")


def test_a_wheel_carries_its_data(tmp_path):
    build = [sys.executable, "-m", "hatchling", "build", "-t", "wheel", "-d", str(tmp_path / "dist")]
    made = subprocess.run(build, cwd=ROOT, capture_output=True, text=True, check=False)
    assert made.returncode == 0, made.stderr
    (wheel,) = (tmp_path / "dist").glob("*.whl")
    site = tmp_path / "site"
    with zipfile.ZipFile(wheel) as archive:
        archive.extractall(site)
    elsewhere = tmp_path / "elsewhere"
    elsewhere.mkdir()
    package, recipes, art, values, suffix = ask(site, elsewhere)
    assert package == str(site / "sepkit" / "__init__.py")
    assert recipes == str(site / "sepkit" / "_data" / "recipes")
    assert art == str(site / "sepkit" / "_data" / "sample_art")
    assert values.startswith("180.0 43-80")
    assert suffix
