"""The ink card photographed (simulated) and read into an ink; two prints in one photograph."""

from __future__ import annotations

from types import SimpleNamespace

import numpy as np
import pytest

from sepkit.colorimetry.difference import delta_e_2000
from sepkit.errors import PhotoError, UsageError
from sepkit.files.shelf.shelf import Shelf
from sepkit.film.ink_card import CARD_MM, card_places, drawn_over_mm, ink_card
from sepkit.reading import ink_card as reading
from sepkit.reading.find import Place, Search
from sepkit.reading.picture import Photo
from sepkit.workshop.inks.measure import MeasureRequest, measure_ink
from sepkit.workshop.photo import pair
from sepkit.workshop.photo.chart import chart_values
from sepkit.workshop.photo.colours import difference_seen, to_approved
from tests.helpers.photographed_card import card_photo, card_shot, drawn_card, true_labs
from tests.reading.test_geometry import plain_subject


@pytest.fixture(scope="module")
def photographed(tmp_path_factory):
    shelf = Shelf()
    printed = drawn_card(shelf.ink("red"), shelf.ink("white"), shelf.ink("black"))
    shot = card_shot(printed, 2, px_per_mm=4.0)
    return card_photo(tmp_path_factory.mktemp("card") / "card.jpg", printed, shot), true_labs(printed, shot)


FOUND: dict[tuple[int, int], Place | None] = {}


@pytest.fixture(autouse=True)
def found_once(monkeypatch):
    """A card is searched for once, and less finely than for a person."""
    find = reading.find

    def once(subject, photo, **_):
        if photo.size not in FOUND:
            FOUND[photo.size] = find(subject, photo, search=Search(side_px=110, sizes=8))
        return FOUND[photo.size]

    monkeypatch.setattr(reading, "find", once)


def test_with_a_chart_draw_downs_become_an_ink_within_their_band(photographed, tmp_path, monkeypatch):
    photo, true = photographed
    monkeypatch.setenv("SEPKIT_RECIPES", str(tmp_path))
    found = measure_ink(MeasureRequest("shop red", photos=(photo,), chart="published"), Shelf())
    read = found.photographed
    assert read is not None and read.band_de00 >= 5
    by_name = {one.place.name: one.lab for one in read.colours if one.place.name != "tint"}
    assert set(by_name) == {"over black", "over white", "masstone"}
    for name, lab in by_name.items():
        assert float(delta_e_2000(lab, true[name])) < read.band_de00
    assert [one.place.percent for one in read.colours if one.place.name == "tint"] == [10, 30]
    assert abs(read.contrast_ratio - _ratio(true)) < read.ratio_band
    assert found.found.ink.status == "estimated" and "chart" in found.found.ink.source
    assert found.found.print_band_de00 >= read.band_de00
    assert (found.kept is None) == read.too_wide


def test_without_a_chart_it_says_that_the_band_is_too_wide_and_keeps_nothing(photographed, tmp_path, monkeypatch):
    photo, true = photographed
    monkeypatch.setenv("SEPKIT_RECIPES", str(tmp_path))
    found = measure_ink(MeasureRequest("shop red", photos=(photo,)), Shelf())
    assert found.kept is None and not list(tmp_path.rglob("*.toml"))
    told = {finding.code: finding.text for finding in found.findings}
    assert "too wide to replace an estimate" in told["band-too-wide"]
    assert "--opacity" in told["hiding-read"]
    assert abs(found.photographed.contrast_ratio - _ratio(true)) < found.photographed.ratio_band


def _ratio(true):
    from sepkit.colorimetry.srgb import lab_to_xyz

    return float(lab_to_xyz(true["over black"])[1] / lab_to_xyz(true["over white"])[1])


def test_a_photograph_of_something_else_is_refused(photographed, tmp_path, monkeypatch):
    monkeypatch.setattr(reading, "find", lambda *_, **__: None)
    monkeypatch.setenv("SEPKIT_RECIPES", str(tmp_path))
    with pytest.raises(PhotoError, match="does not show the ink card"):
        measure_ink(MeasureRequest("shop red", photos=(photographed[0],)), Shelf())
    with pytest.raises(UsageError, match="without a photograph"):
        measure_ink(MeasureRequest("shop red", chart="published"), Shelf())


def test_places_lie_on_the_card_within_what_is_drawn_there():
    page, boxes = ink_card(), drawn_over_mm()
    assert (page.width_mm, page.height_mm) == pytest.approx(CARD_MM, abs=0.05)
    for place in card_places():
        inside = [
            x < place.x_mm
            and y < place.y_mm
            and place.x_mm + place.width_mm < x + w
            and place.y_mm + place.height_mm < y + h
            for x, y, w, h in boxes
        ]
        assert any(inside) == ("card" not in place.name)


def test_a_charts_file_is_taken_row_by_row_and_cells_in_their_order(tmp_path):
    rows = [
        (f"{row}{column}", 10 + 3 * n) for n, (row, column) in enumerate((r, c) for r in "ABCD" for c in range(1, 7))
    ]
    plain = tmp_path / "chart.csv"
    plain.write_text("name,L,a,b\n" + "".join(f"{name},{light},0,0\n" for name, light in reversed(rows)))
    assert chart_values(str(plain)).lab[:, 0] == pytest.approx([light for _, light in rows], abs=0.1)
    plain.write_text("name,L,a,b\nA1,50,0,0\n")
    with pytest.raises(UsageError, match="holds 1 colours"):
        chart_values(str(plain))
    assert chart_values("published").lab.shape == (24, 3)


def test_the_approved_print_is_the_one_at_the_side_that_was_said(monkeypatch):
    subject = plain_subject()
    left, right = (np.array([[4.0, 0, x], [0, 4.0, 30], [0, 0, 1]]) for x in (10, 400))
    photo = Photo(np.full((300, 800, 3), 90, np.uint8))
    for first, second in ((left, right), (right, left)):
        places = iter([Place(first, 0.9), Place(second, 0.8)])
        monkeypatch.setattr(pair, "find", lambda *_, places=places, **__: next(places))
        test, approved = pair.two_places(subject, photo, "right", top=None, where="x.jpg")
        assert test.homography is left and approved.homography is right
    places = iter([Place(left, 0.9), Place(right, 0.8)])
    monkeypatch.setattr(pair, "find", lambda *_, **__: next(places))
    with pytest.raises(PhotoError, match="do not lie so"):
        pair.two_places(subject, photo, "up", top=None, where="x.jpg")


def test_a_print_that_is_found_is_covered_before_the_next_is_looked_for():
    subject = plain_subject()
    rgb = np.full((300, 400, 3), 90, np.uint8)
    rgb[100:120, 100:120] = 255
    place = Place(np.array([[4.0, 0, 60], [0, 4.0, 60], [0, 0, 1]]), 0.9)
    assert (pair.covered_up(rgb, subject, place)[100:120, 100:120] == 90).all()


def test_difference_to_an_approved_print_takes_the_light_out_by_the_cloth():
    subject = plain_subject()
    count = 1 << subject.count
    seen = np.full(count, 500.0)
    colours = np.linspace(0.15, 0.7, count)[:, None] * np.array([[1.0, 0.9, 0.8]])
    one = SimpleNamespace(state=SimpleNamespace(look=SimpleNamespace(seen=seen, colours=colours)))
    other = SimpleNamespace(state=SimpleNamespace(look=SimpleNamespace(seen=seen, colours=colours * 0.8)))
    told = to_approved(subject, one, other)
    assert told and all(row.de00 < 0.01 and row.band == pytest.approx(0.7) for row in told)
    assert difference_seen(colours[0], colours[0] * 1.2, np.full(3, 0.8)) > 2
