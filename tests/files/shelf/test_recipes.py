from __future__ import annotations

import os
import subprocess
import sys
import zipfile
from pathlib import Path

import numpy as np
import pytest

from sepkit.colorimetry.srgb import srgb8_to_lab
from sepkit.errors import JobFileError, NotFoundError, UsageError
from sepkit.files.shelf.recipes import (
    find_garment,
    find_mesh,
    find_press,
    garment_names,
    mesh_names,
    press_names,
    recipes_folder,
    sample_art_folder,
)
from sepkit.model import Mesh, Press

ROOT = Path(__file__).resolve().parents[3]
SIZES = ["XS", "S", "M", "L", "XL", "2XL", "3XL"]


@pytest.fixture
def own(tmp_path, monkeypatch):
    monkeypatch.setenv("SEPKIT_RECIPES", str(tmp_path))

    def write(name, text):
        (tmp_path / name).write_bytes(text if isinstance(text, bytes) else text.encode())

    return write


def test_every_garment_of_the_shelf_is_sound():
    names = garment_names()
    assert len(names) == len(set(names)) >= 20
    for needed in (
        "black tee",
        "white tee",
        "natural tee",
        "red tee",
        "navy tee",
        "heather grey tee",
        "black long sleeve",
        "white long sleeve",
        "black hoodie",
        "white hoodie",
        "grey hoodie",
    ):
        assert needed in names
    for name in names:
        garment = find_garment(name)
        assert garment.name == name
        assert garment.status == "estimated"
        assert garment.shape in name
        assert list(garment.half_chest_mm) == SIZES == list(garment.body_length_mm)
        for table in (garment.half_chest_mm, garment.body_length_mm):
            assert list(table.values()) == sorted(table.values())
        assert garment.cotton_share + garment.polyester_share <= 1
        assert garment.reflectance.shape == (31,)
        assert 0 <= garment.reflectance.min() <= garment.reflectance.max() <= 1


def test_black_tee_and_hoodie():
    tee = find_garment("  BLACK   Tee ")
    assert tee.srgb == (0x1A, 0x1A, 0x1C)
    assert tee.weight_g_m2 == 180
    assert find_garment("black hoodie").weight_g_m2 == 500
    assert tee.lab == pytest.approx(srgb8_to_lab(np.array(tee.srgb, np.uint8)).tolist())


@pytest.mark.parametrize("name", ["black tee", "white tee", "red tee", "navy tee", "yellow tee", "#00a0ff"])
def test_reflectance_has_the_colour_it_stands_for(name):
    from sepkit.colorimetry.spectral import reflectance_to_lab

    garment = find_garment(name)
    np.testing.assert_allclose(reflectance_to_lab(garment.reflectance), garment.lab, atol=0.5)


def test_a_colour_is_a_plain_tee_of_that_name():
    garment = find_garment("#FA0")
    assert (garment.name, garment.srgb, garment.shape) == ("#ffaa00", (255, 170, 0), "tee")
    assert garment.half_chest_mm["M"] == find_garment("white tee").half_chest_mm["M"]
    with pytest.raises(UsageError, match='"#12345" is not a colour'):
        find_garment("#12345")


def test_unknown_names_come_with_near_ones():
    with pytest.raises(NotFoundError, match=r'no garment is called "blak tee".*"black tee"') as caught:
        find_garment("blak tee")
    assert caught.value.exit_code == 5
    with pytest.raises(NotFoundError, match=r'no press is called "three".*two-head'):
        find_press("three")


@pytest.mark.parametrize(
    "text",
    [
        "43-80",
        "43–80",
        "43 - 80",
        "43.80",
        "43x80",
        "43/cm-80um",
        "43/cm",
        "43 / CM",
        "43T",
        "110 tpi",
        "110tpi",
        "110/in",
        " 43-80 ",
    ],
)
def test_meshes_as_people_write_them(text):
    assert find_mesh(text) == Mesh(43.0, 80.0)


@pytest.mark.parametrize(
    ("text", "mesh"),
    [
        ("160 tpi", (62, 60)),
        ("156 tpi", (61, 64)),
        ("230 tpi", (90, 48)),
        ("305 tpi", (120, 34)),
        ("300 tpi", (120, 34)),
        ("120/cm", (120, 34)),
        ("77/cm", (77, 55)),
        ("54-70", (54, 70)),
        ("48,5-70", (48.5, 70)),
    ],
)
def test_counts_take_the_usual_thread_and_pairs_are_free(text, mesh):
    assert find_mesh(text) == Mesh(*map(float, mesh))


@pytest.mark.parametrize(
    ("text", "error", "words"),
    [
        ("110", UsageError, '"110" may be threads per cm or per inch.*110/cm, 110 tpi'),
        ("110 mesh", UsageError, '"110 mesh" may be.*110/cm, 110 tpi'),
        ("fine", UsageError, "is not a mesh"),
        ("", UsageError, "is not a mesh"),
        ("43-300", UsageError, "cannot be woven"),
        ("0-80", UsageError, "cannot be woven"),
        ("500 tpi", NotFoundError, "known: 24-120"),
        ("0 tpi", NotFoundError, "no mesh"),
        ("31/cm", NotFoundError, "43-80"),
    ],
)
def test_meshes_that_cannot_be_told(text, error, words):
    with pytest.raises(error, match=words):
        find_mesh(text)


def test_mesh_shelf_covers_the_trade():
    assert mesh_names()[0] == "24-120"
    assert {"43-80", "49-70", "55-64", "62-60", "77-48", "77-55", "90-40", "120-34"} <= set(mesh_names())
    for name in mesh_names():
        assert 10000 / find_mesh(name).threads_per_cm > find_mesh(name).thread_um


def test_presses():
    assert press_names() == ("two-head", "four-head")
    press = find_press("Two-Head")
    assert (press.heads, press.platens, press.register_error_mm) == (2, 1, 0.5)
    assert press.platen_width_mm <= find_garment("black tee").half_chest_mm["S"]
    assert find_press("four-head").heads == 4


def test_own_folder_comes_first_and_adds(own):
    own(
        "garments.toml",
        "[sizes.tee]\nhalf_chest_mm = { M = 530 }\n"
        '[[garment]]\nname = "Black Tee"\nshape = "tee"\nsrgb = "#101010"\nweight_g_m2 = 240\ncotton = 1\n'
        "polyester = 0\n"
        '[[garment]]\nname = "river tee"\nshape = "tee"\nsrgb = "#307080"\nweight_g_m2 = 150\ncotton = 0.5\n'
        f"polyester = 0.5\nreflectance = {[0.25] * 31}\n",
    )
    own(
        "presses.toml",
        '[[press]]\nname = "garage"\nheads = 1\nplatens = 1\nplaten_width_mm = 400\n'
        "platen_height_mm = 500\nregister_error_mm = 0.8\n",
    )
    assert garment_names()[:2] == ("Black Tee", "river tee")
    assert "white tee" in garment_names()
    assert find_garment("black tee").weight_g_m2 == 240
    assert find_garment("black tee").half_chest_mm == {"M": 530}
    river = find_garment("river tee")
    assert river.status == "measured"
    assert (river.reflectance == 0.25).all()
    assert find_press("garage") == Press("garage", 1, 1, 400, 500, 0.8)
    assert find_mesh("43/cm") == Mesh(43, 80)


GOOD = {"name": '"x"', "shape": '"tee"', "srgb": '"#102030"', "weight_g_m2": "180", "cotton": "1", "polyester": "0"}


@pytest.mark.parametrize(
    ("changed", "words"),
    [
        ({"weight_g_m2": "18"}, "x: weight_g_m2 = 18 .give a number of 50 to 1000"),
        ({"weight_g_m2": "nan"}, "weight_g_m2 = nan"),
        ({"weight_g_m2": "true"}, "weight_g_m2 = True"),
        ({"weight_g_m2": None}, "x: weight_g_m2 is missing"),
        ({"shape": '"cape"'}, 'shape "cape" is not known'),
        ({"shape": f'"{"c" * 5000}"'}, "ccc...ccc"),
        ({"srgb": f'"#{"9" * 5000}"'}, "999...999"),
        ({"srgb": '"red"'}, 'x: srgb "red" is not a colour'),
        ({"polyester": "0.5"}, "cotton . polyester is over 1"),
        ({"cotton": '"all"'}, "x: cotton = 'all'"),
        ({"name": None}, "an entry has no name"),
        ({"reflectance": "[0.5, 0.5]"}, "reflectance is not 31 values"),
        ({"half_chest_mm": "{ M = 5 }"}, "x, half_chest_mm: M = 5 .give a number of 150 to 1200"),
        ({"half_chest_mm": "5"}, "half_chest_mm is not a table"),
    ],
)
def test_broken_entries_name_file_key_and_range(own, tmp_path, changed, words):
    entry = {**GOOD, **changed}
    own("garments.toml", "[[garment]]\n" + "\n".join(f"{k} = {v}" for k, v in entry.items() if v is not None))
    with pytest.raises(JobFileError, match=words) as caught:
        find_garment("x")
    assert caught.value.where == str(tmp_path / "garments.toml")
    assert caught.value.exit_code == 3
    assert "\n" not in str(caught.value)


@pytest.mark.parametrize(
    ("name", "text", "words"),
    [
        ("garments.toml", "[[garment]\n", "is not TOML"),
        ("garments.toml", b"\xff\xfe", "is not UTF-8"),
        ("garments.toml", "garment = 3", "garment is not a list of tables"),
        ("garments.toml", "sizes = 3", "sizes"),
        ("meshes.toml", "[[mesh]]\nthreads_per_cm = 43\nthread_um = 300", "43-300 has no opening"),
        ("meshes.toml", "[[mesh]]\nthreads_per_cm = 43", "thread_um is missing"),
        ("meshes.toml", "[[mesh]]\nthreads_per_cm = 43\nthread_um = 80\nusual = 1", "usual is not true or false"),
        ("presses.toml", '[[press]]\nname = "p"\nheads = 1.5', "heads = 1.5 .give a whole number"),
    ],
)
def test_broken_files(own, name, text, words):
    own(name, text)
    with pytest.raises(JobFileError, match=words):
        {"garments.toml": garment_names, "meshes.toml": mesh_names, "presses.toml": press_names}[name]()


def test_own_folder_that_is_not_there(monkeypatch, tmp_path):
    monkeypatch.setenv("SEPKIT_RECIPES", str(tmp_path / "none"))
    with pytest.raises(NotFoundError, match="SEPKIT_RECIPES: there is no folder"):
        garment_names()


ASK = """
from sepkit.files.shelf import recipes
import sepkit
print(sepkit.__file__)
print(recipes.recipes_folder())
print(recipes.sample_art_folder())
print(recipes.find_garment("black tee").weight_g_m2, recipes.find_mesh("110 tpi"), recipes.find_press("two-head").heads)
print(sorted(p.suffix for p in recipes.sample_art_folder().iterdir())[-1])
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
    assert values.startswith("180.0 Mesh(threads_per_cm=43.0")


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
    assert values.startswith("180.0 Mesh(threads_per_cm=43.0")
    assert suffix
