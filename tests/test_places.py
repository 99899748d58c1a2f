"""The table of places: names, other names, and what follows from the garment."""

from __future__ import annotations

import pytest

from sepkit.errors import UsageError
from sepkit.model import GARMENT_SHAPES
from sepkit.places import (
    CUTS,
    OTHER_NAMES,
    PLACES,
    Hang,
    hang_of,
    most_mm,
    place_named,
    platen_mm,
    runs_down,
    usual_place,
)
from sepkit.sheets.words import where_words
from tests.helpers.shelf import find_garment, find_press


def test_places_are_named_after_themselves_and_have_room_on_their_platen() -> None:
    press = find_press("two-head")
    for name, place in PLACES.items():
        assert name == place.name
        assert min(*place.most_mm, place.hang.mm, place.effort, place.risk) > 0
        plate, edge = platen_mm(place, press)
        if place.part in ("sleeve", "inside", "hood"):
            assert all(most <= side - 2 * edge for most, side in zip(place.most_mm, plate, strict=True)), name
    assert set(CUTS) == set(GARMENT_SHAPES)
    assert not set(OTHER_NAMES) & set(PLACES)


def test_the_short_words_are_other_names() -> None:
    assert OTHER_NAMES == {"front": "full front", "back": "full back", "sleeve": "left sleeve"}
    assert place_named("back") is PLACES["full back"]
    with pytest.raises(UsageError, match='no placement "left chets"'):
        place_named("left chets")


def test_below_a_hood_no_back_starts_where_the_hood_lies() -> None:
    tee, hoodie = find_garment("black tee"), find_garment("black hoodie")
    backs = [place for place in PLACES.values() if place.part == "back"]
    assert [hang_of(place, tee).mm for place in backs] == [90, 95, 50, 30]
    assert {hang_of(place, hoodie).mm for place in backs} == {125}
    assert hang_of(PLACES["full front"], hoodie) == hang_of(PLACES["full front"], tee) == Hang(65)


def test_a_long_sleeve_takes_a_print_down_the_arm() -> None:
    sleeve, long = PLACES["left sleeve"], find_garment("white long sleeve")
    assert most_mm(sleeve, find_garment("white tee")) == (100, 100)
    assert most_mm(sleeve, long) == (100, 410)
    assert runs_down(sleeve, 290, 80)
    assert not runs_down(sleeve, 90, 60)
    assert not runs_down(sleeve, 80, 290)
    assert not runs_down(PLACES["full front"], 290, 80)


def test_where_a_print_goes_when_nobody_says() -> None:
    assert [usual_place(*size).name for size in ((115, 200), (116, 100), (355, 430), (370, 300), (300, 500))] == [
        "left chest",
        "full front",
        "full front",
        "oversized front",
        "oversized front",
    ]


def test_the_job_sheet_says_it_as_whoever_loads_it_measures() -> None:
    tee, long, hoodie = (find_garment(name) for name in ("black tee", "black long sleeve", "black hoodie"))
    said = {
        ("full back", tee): "full back, 90 mm below the collar seam",
        ("full back", hoodie): "full back, 125 mm below the collar seam",
        ("left chest", tee): "left chest, 85 mm below the collar seam, its middle 90 mm to the wearer's left",
        ("right sleeve", tee): "right sleeve, ends 25 mm above the sleeve hem",
        ("right sleeve", long): "right sleeve, 75 mm below the shoulder seam",
        ("hem", tee): "hem, ends 30 mm above the hem's stitching, 50 mm from the left side seam",
        ("hood side", hoodie): "hood side, starts 45 mm behind the hood's opening",
    }
    for (name, garment), words in said.items():
        assert where_words(PLACES[name], [garment]) == words
    assert where_words(PLACES["full back"], [hoodie, tee, long]) == (
        "full back, on black hoodie 125 mm below the collar seam; "
        "on black tee, black long sleeve 90 mm below the collar seam"
    )
