from __future__ import annotations

import numpy as np
import pytest

from sepkit.colorimetry.spectral import reflectance_to_lab
from sepkit.colorimetry.srgb import srgb8_to_lab
from sepkit.errors import DataFileError, NotFoundError, UsageError
from sepkit.files.shelf.shelf import Shelf

SIZES = ["XS", "S", "M", "L", "XL", "2XL", "3XL"]
SHAPES = {"tee": "tee", "long sleeve": "long sleeve", "hoodie": "hoodie", "sweatshirt": "long sleeve"}
"""How a garment's name ends, and how it is cut."""


def test_every_garment_of_the_shelf_is_sound():
    shelf = Shelf()
    names = shelf.garment_names()
    assert len(names) == len(set(names)) >= 22
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
        "black sweatshirt",
        "grey sweatshirt",
    ):
        assert needed in names
    for name in names:
        garment = shelf.garment(name)
        assert garment.name == name
        assert garment.status == "estimated"
        ending = next(word for word in SHAPES if name.endswith(word))
        assert garment.shape == SHAPES[ending]
        assert garment.fleece == (ending in ("hoodie", "sweatshirt"))
        assert garment.hood == (ending == "hoodie")
        assert list(garment.half_chest_mm) == SIZES == list(garment.body_length_mm)
        for table in (garment.half_chest_mm, garment.body_length_mm):
            assert list(table.values()) == sorted(table.values())
        assert garment.cotton_share + garment.polyester_share <= 1
        assert garment.reflectance.shape == (31,)
        assert 0 <= garment.reflectance.min() <= garment.reflectance.max() <= 1


def test_black_tee_hoodie_and_sweatshirt():
    shelf = Shelf()
    tee = shelf.garment("  BLACK   Tee ")
    assert tee.srgb == (0x1A, 0x1A, 0x1C)
    assert tee.lab == pytest.approx(srgb8_to_lab(np.array(tee.srgb, np.uint8)).tolist())
    weights = [shelf.garment(f"black {kind}").weight_g_m2 for kind in ("tee", "sweatshirt", "hoodie")]
    assert weights == [180, 320, 500]


@pytest.mark.parametrize("name", ["black tee", "white tee", "red tee", "navy tee", "yellow tee", "#00a0ff"])
def test_reflectance_has_the_colour_it_stands_for(name):
    garment = Shelf().garment(name)
    np.testing.assert_allclose(reflectance_to_lab(garment.reflectance), garment.lab, atol=0.5)


def test_a_colour_is_a_plain_tee_of_that_name():
    shelf = Shelf()
    garment = shelf.garment("#FA0")
    assert (garment.name, garment.srgb, garment.shape) == ("#ffaa00", (255, 170, 0), "tee")
    assert garment.half_chest_mm == shelf.garment("white tee").half_chest_mm
    assert not garment.fleece and not garment.hood
    with pytest.raises(UsageError, match='"#12345" is not a colour'):
        shelf.garment("#12345")


def test_unknown_names_come_with_near_ones():
    with pytest.raises(NotFoundError, match=r'no garment is called "blak tee".*"black tee"') as caught:
        Shelf().garment("blak tee")
    assert caught.value.exit_code == 5


TEE = """[[garment]]
name = "river tee"
shape = "tee"
srgb = "#307080"
weight_g_m2 = 150
cotton = 0.5
polyester = 0.5
"""


def test_own_folder_comes_first_and_adds(own):
    mine = TEE.replace("river tee", "Black Tee").replace("150", "240")
    own("garments.toml", f"[sizes.tee]\nhalf_chest_mm = {{ M = 530 }}\n{mine}{TEE}reflectance = {[0.25] * 31}\n")
    shelf = Shelf()
    assert shelf.garment_names()[:2] == ("Black Tee", "river tee")
    assert "white tee" in shelf.garment_names()
    assert shelf.garment("black tee").weight_g_m2 == 240
    assert shelf.garment("black tee").half_chest_mm == {"M": 530} == shelf.garment("#123456").half_chest_mm
    assert shelf.garment("black tee").body_length_mm["M"] == 720, "what a chart does not say stays as it is"
    river = shelf.garment("river tee")
    assert river.status == "measured"
    assert (river.reflectance == 0.25).all()


def test_a_sweatshirt_is_one_entry_more(own):
    """Fleece without a hood, whatever the shape says; a hoodie stays one."""
    words = TEE.replace("river tee", "river sweatshirt").replace('"tee"', '"long sleeve"')
    thin = TEE.replace("river tee", "thin hoodie").replace('"tee"', '"hoodie"')
    own("garments.toml", f"{words}fleece = true\n{thin}fleece = false\n{thin.replace('thin', 'plain')}")
    shelf = Shelf()
    found = {name: shelf.garment(name) for name in ("river sweatshirt", "thin hoodie", "plain hoodie", "black hoodie")}
    assert {name: (one.fleece, one.hood) for name, one in found.items()} == {
        "river sweatshirt": (True, False),
        "thin hoodie": (False, True),
        "plain hoodie": (True, True),
        "black hoodie": (True, True),
    }


def test_a_shape_may_be_fleece_for_all(own):
    own("garments.toml", '[sizes."long sleeve"]\nfleece = true\n')
    garment = Shelf().garment("black long sleeve")
    assert garment.fleece and not garment.hood
    assert list(garment.half_chest_mm) == SIZES


GOOD = {"name": '"x"', "shape": '"tee"', "srgb": '"#102030"', "weight_g_m2": "180", "cotton": "1", "polyester": "0"}


@pytest.mark.parametrize(
    ("changed", "line", "words"),
    [
        ({"weight_g_m2": "18"}, 5, 'garment "x" weight_g_m2: is 18 .give 50 to 1000 g/m²'),
        ({"weight_g_m2": "nan"}, 5, "weight_g_m2: is nan"),
        ({"weight_g_m2": "true"}, 5, "weight_g_m2: is true"),
        ({"weight_g_m2": None}, 1, "weight_g_m2: is missing .weight of the cloth: 50 to 1000 g/m²"),
        ({"shape": '"cape"'}, 3, 'shape: is "cape" .one of tee, long sleeve, hoodie'),
        ({"shape": f'"{"c" * 5000}"'}, 3, "ccc...ccc"),
        ({"srgb": f'"#{"9" * 5000}"'}, 4, "999...999"),
        ({"srgb": '"red"'}, 4, '"red" is not a colour .write it as #rrggbb'),
        ({"polyester": "0.5"}, 7, "polyester: and cotton are 1.5 in all"),
        ({"cotton": '"all"'}, 6, 'cotton: is "all" .give 0 to 1'),
        ({"name": '"#fff"'}, 2, 'name: is "#fff", and #rrggbb is a plain tee'),
        ({"name": None}, 1, "garment.name: is missing"),
        ({"reflectance": "[0.5, 0.5]"}, 8, "reflectance: has 2 numbers .give a list of 31 numbers, each 0 to 1"),
        ({"half_chest_mm": "{ M = 5 }"}, 8, "half_chest_mm: M is 5 .give 150 to 1200 mm"),
        ({"half_chest_mm": "5"}, 8, "half_chest_mm: is 5"),
        ({"fleece": '"yes"'}, 8, 'fleece: is "yes" .give true or false'),
        ({"flece": "true"}, 8, 'flece: is not a key of a garment .did you mean "fleece"'),
    ],
)
def test_broken_entries_name_file_line_key_and_range(own, changed, line, words):
    entry = {**GOOD, **changed}
    text = "[[garment]]\n" + "\n".join(f"{k} = {v}" for k, v in entry.items() if v is not None)
    path = own("garments.toml", text)
    with pytest.raises(DataFileError, match=words) as caught:
        Shelf().garment("x")
    assert caught.value.where == f"{path}:{line}"
    assert caught.value.exit_code == 3
    assert "\n" not in str(caught.value)


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("[[garment]\n", ":1: is not TOML"),
        (b"\xff\xfe", "is not UTF-8"),
        ("garment = 3", ":1: garment: comes several times .write ..garment.."),
        ("sizes = 3", ":1: sizes: is not a table"),
        ("[sizes]\ntee = 3", ":2: sizes.tee: is 3"),
        ("[sizes.cape]\n", ":1: sizes.cape: is not a key of a garment"),
        ("[sizes.tee]\nhalf_chest = {}\n", ':2: sizes.tee.half_chest: is not a key.*"half_chest_mm"'),
        ("[[garmet]]\n", ":1: .garmet.: is not a table of a garment file .did you mean"),
        (TEE + TEE, ':9: garment.name: "river tee" is used twice, first in line 2'),
    ],
)
def test_broken_files(own, text, words):
    own("garments.toml", text)
    with pytest.raises(DataFileError, match=words):
        Shelf().garment_names()
