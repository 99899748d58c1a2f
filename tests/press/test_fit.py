from __future__ import annotations

from dataclasses import replace

import pytest

from sepkit.jobs import GarmentLine, HeatPress, Screen
from sepkit.model import Mesh, Press
from sepkit.places import PLACES, Place, is_on, room_mm
from sepkit.press.curing import CURES, cure_findings, cure_lines
from sepkit.press.fit import FitItem, fit_findings, platen_findings, print_findings
from sepkit.press.jobs import GangRules
from tests.helpers.shelf import find_garment

PRESS = Press("p", 2, 1, 450, 620, 0.5)
LARGE = Screen("large", 533, 737, Mesh(43, 80))


def item(place: str, width_mm: float, height_mm: float, *, may_turn_90: bool = False) -> FitItem:
    return FitItem("kite", PLACES[place], width_mm, height_mm, may_turn_90)


def codes(
    item: FitItem,
    garment: str,
    *,
    sizes: tuple[str, ...] = ("S", "L"),
    screens: tuple[Screen, ...] = (LARGE,),
    **line: object,
) -> dict[str, str]:
    worn = GarmentLine(garment, dict.fromkeys(sizes, 5), **line)  # type: ignore[arg-type]
    found = fit_findings(item, [(worn, find_garment(garment))], press=PRESS, screens=screens, rules=GangRules())
    return {f"{finding.code}:{finding.level}": f"{finding.text} {finding.hint} {finding.more}" for finding in found}


def test_a_print_that_fits_says_nothing() -> None:
    assert codes(item("full front", 280, 300), "black tee") == {}


def test_the_smallest_garment_breaks_it_and_is_named() -> None:
    found = codes(item("full back", 370, 400), "black tee", sizes=("S", "XL"))
    told = found["wider-than-garment:error"]
    assert "size S at most 360 mm for size S" in told and "460 mm flat" in told
    found = codes(item("full back", 370, 400), "black tee", sizes=("XL",))
    assert not any("wider" in code for code in found)
    found = codes(item("oversized back", 300, 560), "black tee", sizes=("S",))
    assert "size S" in found["longer-than-garment:error"]


def test_screens_and_platen() -> None:
    small = Screen("small", 355, 455, Mesh(43, 80))
    found = codes(item("full front", 300, 320), "black tee", screens=(small,))
    assert "small leaves 235 x 295 mm" in found["larger-than-every-screen:error"]
    down_the_arm = item("left sleeve", 290, 80, may_turn_90=True)
    assert codes(down_the_arm, "black long sleeve", screens=(small,)) == {}
    across = codes(replace(down_the_arm, may_turn_90=False), "black long sleeve", screens=(small,))
    assert across.keys() >= {"larger-than-platen:error", "larger-than-every-screen:error"}
    found = codes(item("oversized back", 420, 500), "black tee", sizes=("3XL",))
    assert "close-to-platen-edge:warn" in found
    found = codes(item("oversized back", 460, 500), "black tee", sizes=("3XL",))
    assert "larger-than-platen:error" in found


def test_pocket_zip_hood_and_sleeve() -> None:
    chest, front = item("left chest", 90, 90), item("full front", 280, 300)
    assert "pocket-in-the-way:error" in codes(chest, "black tee", opening="pocket")
    assert "pocket-in-the-way:error" not in codes(
        replace(chest, place=PLACES["right chest"]), "black tee", opening="pocket"
    )
    assert "pocket-in-the-way:error" in codes(front, "black hoodie", opening="pocket")
    assert "zip-in-the-way:error" in codes(front, "black hoodie", opening="zip")
    assert "zip-in-the-way:warn" in codes(chest, "black hoodie", opening="zip")
    assert "no-hood:error" in codes(item("hood side", 100, 30), "black tee")
    assert "sleeve-too-short:error" in codes(item("left sleeve", 80, 200), "black tee")
    assert "large-for-children:warn" in codes(front, "white tee", children=True)


def test_a_hood_moves_a_back_down_so_less_height_is_left() -> None:
    tall = item("full back", 300, 500)
    assert "longer-than-garment:error" in codes(tall, "black hoodie", sizes=("S",))
    assert "longer-than-garment:error" not in codes(tall, "black tee", sizes=("S",))


def test_the_platen_must_go_into_the_garment() -> None:
    line = GarmentLine("black tee", {"S": 1, "M": 2})
    (found,) = platen_findings(PRESS, [(line, find_garment("black tee"))])
    assert "size S" in found.text
    assert platen_findings(replace(PRESS, platen_width_mm=440), [(line, find_garment("black tee"))]) == []


def test_polyester_discharge_and_children() -> None:
    tee, mixed = find_garment("black tee"), find_garment("dark heather tee")
    hot, low = HeatPress(set_c=165), HeatPress(set_c=125)

    def found(kind: str, press: HeatPress, garment: object, **line: object) -> set[tuple[str, str]]:
        worn = GarmentLine("x", {"S": 1}, **line)  # type: ignore[arg-type]
        return {(f.code, f.level) for f in cure_findings(kind, press, [(worn, garment)])}  # type: ignore[arg-type,list-item]

    assert ("polyester-hot-cure", "error") in found("plastisol", hot, mixed)
    assert not any(code.startswith("polyester") for code, _ in found("plastisol", low, mixed))
    assert not any(code.startswith("polyester") for code, _ in found("plastisol", hot, tee))
    assert ("children-discharge", "error") in found("discharge", hot, tee, children=True)
    assert ("discharge-needs-cotton", "error") in found("discharge", hot, mixed)
    assert ("children", "warn") in found("plastisol", hot, tee, children=True)
    assert ("scorch", "warn") in found("plastisol", HeatPress(set_c=210), tee)
    assert ("under-cure", "warn") in found("water-based", HeatPress(set_c=110), tee)


@pytest.mark.parametrize("kind", CURES)
def test_the_cure_plan_leaves_the_word_to_the_data_sheet(kind: str) -> None:
    text = " ".join(cure_lines(kind, HeatPress(), presses=2, fleece=True))  # type: ignore[arg-type]
    assert "data sheet" in text
    assert "2 closings" in text


@pytest.mark.parametrize("place", PLACES.values(), ids=list(PLACES))
@pytest.mark.parametrize("name", ["black tee", "black long sleeve", "black hoodie"])
def test_separate_and_job_say_the_same_of_a_print_and_a_garment(place: Place, name: str) -> None:
    garment = find_garment(name)
    every_size = GarmentLine(name, dict.fromkeys(garment.half_chest_mm, 1))
    for width, height in ((60, 30), (280, 320), (360, 430), (420, 600)):
        item = FitItem("the print", place, width, height, may_turn_90=True)
        asked = {(f.code, f.text, f.hint) for f in print_findings(item, garment, PRESS)}
        job = fit_findings(item, [(every_size, garment)], press=PRESS, screens=[], rules=GangRules())
        assert asked == {(f.code, f.text, f.hint) for f in job}
        assert is_on(place, garment) or "no-hood" in {code for code, _, _ in asked}


def test_the_margins_to_the_sides_and_to_the_hem() -> None:
    tee, hoodie = find_garment("black tee"), find_garment("black hoodie")
    assert room_mm(PLACES["full front"], tee, "S")[0] == 460 - 2 * 50
    # From the shoulder: neck 102.3, then 65 to the print; below it 35 to the stitching, 25 above the edge.
    assert room_mm(PLACES["full front"], tee, "S")[1] == pytest.approx(690 - 102.32 - 65 - 35 - 25)
    assert room_mm(PLACES["full back"], hoodie, "S") == (510 - 2 * 50, 670 - 32 - 125 - 35 - 65)
    assert room_mm(PLACES["left sleeve"], tee, "S") == (None, None)


def test_a_print_beside_a_zip_keeps_clear_of_it() -> None:
    for name, width, expected in (
        ("left chest", 80, None),
        ("right chest", 90, "warn"),
        ("centre chest", 90, "error"),
        ("full front", 280, "error"),
    ):
        found = codes(item(name, width, 80), "black hoodie", opening="zip")
        assert [code for code in found if code.startswith("zip")] == (
            [f"zip-in-the-way:{expected}"] if expected else []
        )
