"""What check discs stand on: an ink's base, unless the ink hardly shows there."""

from __future__ import annotations

from types import SimpleNamespace

import numpy as np
import pytest

from sepkit.files.shelf.shelf import Shelf
from sepkit.workshop.print.discs import discs_of_plates


@pytest.mark.parametrize(
    ("garment", "inks", "stand"),
    [
        # white on a white base on black cloth: on cloth, framed by the base; red and yellow on their base
        ("black tee", ("white", "white", "red", "yellow"), [(None, None), (None, 0), (0, None), (0, None)]),
        # no base on white cloth: blue shows best there and frames the others
        ("white tee", ("yellow", "blue"), [(None, 1), (None, None)]),
    ],
)
def test_discs_stand_where_they_show(garment, inks, stand):
    shelf, plane = Shelf(), np.full((40, 40), 255, np.uint8)
    based = garment == "black tee"
    plates = [
        SimpleNamespace(ink=shelf.ink(ink), coats=1, printed=plane, is_base=based and k == 0)
        for k, ink in enumerate(inks)
    ]
    discs = discs_of_plates(plates, shelf.garment(garment), 80.0, 80.0)
    assert len(discs) == 8 * len(inks)
    for k, (on, framed) in enumerate(stand):
        assert {(d.on, d.framed) for d in discs if d.plate == k} == {(on, framed)}
