from __future__ import annotations

from pathlib import Path

import pytest
from PIL import Image

from sepkit.errors import NotFoundError, WriteError
from sepkit.files.shelf.shelf import Shelf
from sepkit.inks.label import label_advice, label_ink_g
from sepkit.workshop.inks.label import BarePanel, LabelRequest, plan_label
from sepkit.workshop.inks.pictures import ADVISED_GREEN, FAINT_GREY

pytestmark = pytest.mark.usefixtures("own_folder")


def test_the_doses_are_those_of_the_advised_tint_for_the_run(shelf: Shelf) -> None:
    found = plan_label(LabelRequest("white tee", size_mm=(50.0, 40.0), count=200), shelf)
    assert found.advice.points == label_advice(found.garment, found.white, found.tint).points
    mass_g = round(label_ink_g(2000, 200))
    assert sum(dose.mass_g for dose in found.doses) == pytest.approx(mass_g)
    assert found.doses[1].mass_share == pytest.approx(found.advice.best_percent / 100)
    more = plan_label(LabelRequest("white tee", size_mm=(50.0, 40.0), count=200, coats=2.0), shelf)
    assert sum(dose.mass_g for dose in more.doses) == pytest.approx(round(label_ink_g(4000, 200)))


def test_one_row_is_advised_and_those_around_it_are_telling(shelf: Shelf) -> None:
    found = plan_label(LabelRequest("white tee"), shelf)
    (advised,) = [row for row in found.rows if row.advised]
    place = found.rows.index(advised)
    assert advised.point is found.advice.best
    assert all(row.telling for row in found.rows[place - 1 : place + 2])
    assert {0.0, 1.0, 5.0, 20.0, 100.0} <= {row.point.percent for row in found.rows if row.telling}
    assert not all(row.telling for row in found.rows)


def test_cloth_can_be_heavier_or_measured(shelf: Shelf) -> None:
    plain = plan_label(LabelRequest("white tee"), shelf)
    heavy = plan_label(LabelRequest("white tee", weight_g_m2=500.0), shelf)
    assert heavy.garment.weight_g_m2 == 500 != plain.garment.weight_g_m2
    assert heavy.rows[-1].point.flat_de00 < plain.rows[-1].point.flat_de00
    measured = plan_label(LabelRequest("white tee", panel=BarePanel("#e0e0de", "#f3f3f1")), shelf)
    assert plain.cloth_strength is None and measured.cloth_strength is not None
    assert {f.code for f in plain.findings} - {f.code for f in measured.findings} == {"label-cloth-assumed"}


def test_where_pure_white_is_best_no_second_ink_is_weighed(shelf: Shelf) -> None:
    found = plan_label(LabelRequest("black tee"), shelf)
    assert found.advice.best_percent == 0
    assert [dose.ink.name for dose in found.doses] == ["white"] and found.let_downs == ()


def test_white_in_white_on_white_has_no_range(shelf: Shelf) -> None:
    found = plan_label(LabelRequest("#f4f4f2", tint="white"), shelf)
    assert found.advice.range_percent is None
    assert "label-unreadable" in {finding.code for finding in found.findings}


def test_the_curve_is_drawn_once(shelf: Shelf, own_folder: Path) -> None:
    found = plan_label(LabelRequest("white tee"), shelf, curve=Path("label.png"))
    assert found.curve == Path("label.png")
    with Image.open(own_folder / "label.png") as picture:
        colours = {colour for _, colour in picture.getcolors(1 << 20) or []}
    assert {FAINT_GREY, ADVISED_GREEN} <= colours
    with pytest.raises(WriteError, match="already exists"):
        plan_label(LabelRequest("white tee"), shelf, curve=Path("label.png"))
    plan_label(LabelRequest("white tee"), shelf, curve=Path("label.png"), force=True)


def test_inks_and_garment_are_of_the_shelf(shelf: Shelf) -> None:
    for request in (LabelRequest("nosuch"), LabelRequest("white tee", tint="nosuch")):
        with pytest.raises(NotFoundError, match="nosuch"):
            plan_label(request, shelf)
