"""Files of every kind that is read as TOML, damaged: each is read, or refused with all that is wrong, line by line."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from sepkit.errors import DataFileError
from sepkit.files.shelf.folders import recipes_folder
from sepkit.files.shelf.inks import read_ink_file
from sepkit.files.shelf.shelf import Shelf
from sepkit.workshop.drop.load import load_job

JOB = """schema = 1
title = "Kites"
ink_kind = "water-based"
[press]
name = "two-head"
heads = 1
[spoilage]
loss_by_placement = { "full front" = 0.06 }
[[screen]]
name = "large"
inside_width_mm = 533
inside_height_mm = "29in"
mesh = "43-80"
[[garment]]
name = "black tee"
sizes = { S = 2, M = 3 }
opening = "pocket"
[[print]]
name = "front"
art = "sample:neck-label.svg"
placement = "full front"
width_mm = 200
garments = ["black tee"]
base = ["auto"]
one_ink_on = { "black tee" = "white" }
"""
GARMENTS = f"""# mine
[sizes.tee]
half_chest_mm = {{ S = 460, M = 510 }}
fleece = false
[[garment]]
name = "river tee"
shape = "tee"
srgb = "#307080"
weight_g_m2 = 150
cotton = 0.5
polyester = 0.5
reflectance = {[0.25] * 31}
[[garment]]
name = "river sweatshirt"
shape = "long sleeve"
srgb = "#307080"
weight_g_m2 = 320
cotton = 1
polyester = 0
fleece = true
"""
MESHES = """[[mesh]]
threads_per_cm = 43
thread_um = 80
usual = true
use = "base"
[[mesh]]
threads_per_cm = 62
thread_um = 60
"""
PRESSES = """[[press]]
name = "garage"
heads = 1
platens = 1
platen_width_mm = 400
platen_height_mm = "20in"
register_error_mm = 0.8   # seen on ten prints
edge_growth_um = 33.5
"""
INK = (
    (recipes_folder() / "inks" / "red.toml").read_text("utf-8")
    + """
[recipe]
target = "sea green"
target_lab = [52, 40.5, -20]
parts = [
  { ink = "white", grams = 95.0, lot = "W1" },
  { ink = "black", grams = 5 },
]
"""
)


def read_garments(_: Path) -> None:
    shelf = Shelf()
    for name in (*shelf.garment_names()[:3], "#123456"):
        shelf.garment(name)


def read_meshes(_: Path) -> None:
    assert Shelf().mesh_uses()


def read_presses(_: Path) -> None:
    shelf = Shelf()
    for name in shelf.press_names():
        assert shelf.measured(shelf.press(name).name)


KINDS: dict[str, tuple[str, str, Callable[[Path], object]]] = {
    "job": ("drop.toml", JOB, load_job),
    "garments": ("garments.toml", GARMENTS, read_garments),
    "meshes": ("meshes.toml", MESHES, read_meshes),
    "presses": ("presses.toml", PRESSES, read_presses),
    "ink": ("ink.toml", INK, read_ink_file),
}
VALUES = (
    "1",
    "-1",
    "0",
    "1e999",
    "nan",
    "true",
    '""',
    '"x"',
    '"#fff"',
    "[]",
    "{}",
    "[1, 2]",
    "[{}]",
    "{ a = { } }",
    "=",
)
VALUES += ("2026-01-31", "'''\n[x]\n'''", '"\\u001b[2J\\u202e"', "9" * 400, "9" * 5000, "[" * 2000, f'"{"x" * 5000}"')


@st.composite
def damages(draw: st.DrawFn, text: str) -> str:
    """Lines lost, doubled and swapped, values replaced, signs lost and put in."""
    for _ in range(draw(st.integers(1, 5))):
        lines = text.split("\n")
        at = draw(st.integers(0, len(lines) - 1))
        kind = draw(st.sampled_from(("value", "value", "value", "key", "lose", "double", "swap", "sign")))
        head, sign, _ = lines[at].partition("=")
        if kind == "value" and sign:
            lines[at] = f"{head}= {draw(st.sampled_from(VALUES))}"
        elif kind == "key" and sign:
            lines[at] = lines[at][1:]
        elif kind == "lose":
            del lines[at]
        elif kind == "double":
            lines.insert(at, lines[at])
        elif kind == "swap":
            other = draw(st.integers(0, len(lines) - 1))
            lines[at], lines[other] = lines[other], lines[at]
        elif kind == "sign":
            where = draw(st.integers(0, len(lines[at])))
            more = draw(st.text(st.characters(codec="utf-8"), max_size=2))
            lines[at] = lines[at][:where] + more + lines[at][where + draw(st.integers(0, 1)) :]
        text = "\n".join(lines)
    return text


@pytest.mark.parametrize("kind", list(KINDS))
@settings(max_examples=150, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(data=st.data())
def test_random_damage(kind: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, data: st.DataObject) -> None:
    name, text, read = KINDS[kind]
    monkeypatch.setenv("SEPKIT_RECIPES", str(tmp_path))
    path = tmp_path / name
    broken = data.draw(damages(text))
    path.write_text(broken, encoding="utf-8", newline="")
    try:
        read(path)
    except DataFileError as error:
        assert error.exit_code == 3 and error.file == str(path)
        lines = error.lines()
        assert len(lines) == len(error.problems) >= 1
        assert all(line.startswith(str(path)) and line.isprintable() and len(line) <= 900 for line in lines)
        assert all(0 <= problem.line <= broken.count("\n") + 1 for problem in error.problems)


THREE = {
    "job": (
        {'"water-based"': '"watery"', "inside_width_mm = 533": "inside_width_mm = 5", "base =": "bse ="},
        [
            (3, "ink_kind", "is"),
            (11, 'screen "large" inside_width_mm', "is 5"),
            (24, 'print "front" bse', "is not a key"),
        ],
    ),
    "garments": (
        {"S = 460": "S = 46", "weight_g_m2 = 150": "weight_g_m2 = true", "fleece = true": 'fleece = "yes"'},
        [
            (3, "sizes.tee.half_chest_mm", "S is 46"),
            (9, 'garment "river tee" weight_g_m2', "is true"),
            (20, 'garment "river sweatshirt" fleece', 'is "yes"'),
        ],
    ),
    "meshes": (
        {"= 43": '= "43"', "usual": "useful", "thread_um = 60": "thread_um = 600"},
        [(2, "mesh.threads_per_cm", 'is "43"'), (4, "mesh.useful", "is not a key"), (8, "mesh.thread_um", "is 600")],
    ),
    "presses": (
        {"heads = 1": "heads = 1.5", '"20in"': '"20ft"', "33.5": "3350"},
        [
            (3, 'press "garage" heads', "is 1.5"),
            (6, 'press "garage" platen_height_mm', '"20ft" is not a length'),
            (8, 'press "garage" edge_growth_um', "is 3350"),
        ],
    ),
    "ink": (
        {'"estimated"': '"guessed"', "density_g_ml = 1.2": "density_g_ml = 12", "grams = 5": "grms = 5"},
        [
            (4, "status", 'is "guessed"'),
            (5, "density_g_ml", "is 12"),
            (14, "recipe.parts.grms", "is not a key"),
            (14, "recipe.parts.grams", "is missing"),
        ],
    ),
}


@pytest.mark.parametrize("kind", list(KINDS))
def test_three_faults_are_all_told(kind: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    name, text, read = KINDS[kind]
    monkeypatch.setenv("SEPKIT_RECIPES", str(tmp_path))
    path = tmp_path / name
    path.write_text(text, encoding="utf-8")
    read(path)
    changed, expected = THREE[kind]
    for old, new in changed.items():
        assert old in text
        text = text.replace(old, new, 1)
    path.write_text(text, encoding="utf-8")
    with pytest.raises(DataFileError) as caught:
        read(path)
    found = [(problem.line, problem.key, problem.text) for problem in caught.value.problems]
    assert [(line, key) for line, key, _ in found] == [(line, key) for line, key, _ in expected]
    assert all(said.startswith(start) for (_, _, said), (_, _, start) in zip(found, expected, strict=True))
    assert [line.split(": ")[0] for line in caught.value.lines()] == [f"{path}:{line}" for line, _, _ in expected]
