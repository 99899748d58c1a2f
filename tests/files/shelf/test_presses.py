from __future__ import annotations

import pytest

from sepkit.errors import DataFileError, NotFoundError
from sepkit.files.shelf.shelf import Shelf
from sepkit.model import Press

GARAGE = """[[press]]
name = "garage"
heads = 1
platens = 1
platen_width_mm = "16in"
platen_height_mm = 500
register_error_mm = 0.8
"""


def test_presses_of_the_shelf():
    shelf = Shelf()
    assert shelf.press_names() == ("two-head", "four-head")
    press = shelf.press("Two-Head")
    assert (press.heads, press.platens, press.register_error_mm) == (2, 1, 0.5)
    assert press.platen_width_mm <= shelf.garment("black tee").half_chest_mm["S"]
    assert shelf.press("four-head").heads == 4
    with pytest.raises(NotFoundError, match=r'no press is called "three".*two-head'):
        shelf.press("three")


def test_own_presses_come_first_and_tell_what_was_measured(own):
    mine = GARAGE.replace("garage", "Two-head")
    own("presses.toml", f"{GARAGE}edge_growth_um = 33.5\nthinnest_line_mm = 0.3\n{mine}")
    shelf = Shelf()
    assert shelf.press_names() == ("garage", "Two-head", "four-head")
    assert shelf.press("garage") == Press("garage", 1, 1, pytest.approx(406.4), 500, 0.8)
    assert shelf.press("two-head").heads == 1
    assert shelf.measured("Garage") == {"register_error_mm": 0.8, "edge_growth_um": 33.5, "thinnest_line_mm": 0.3}
    assert shelf.measured("four-head") == {"register_error_mm": 0.3}
    assert shelf.measured("none") == {}


@pytest.mark.parametrize(
    ("text", "words"),
    [
        (GARAGE.replace("heads = 1", "heads = 1.5"), ':3: press "garage" heads: is 1.5 .give a whole number, 1 to 20'),
        (GARAGE + "ink_factor = 50\n", ":8: .*ink_factor: is 50 .give 0.2 to 5"),
        (GARAGE + "edge_grwth_um = 5\n", ':8: .*"edge_growth_um"'),
    ],
)
def test_broken_files(own, text, words):
    own("presses.toml", text)
    with pytest.raises(DataFileError, match=words):
        Shelf().press_names()
