"""Prints are drawn where the table of places says: measured in the picture, from the edges that are painted there."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from sepkit.colorimetry.srgb import linear_table
from sepkit.errors import UsageError
from sepkit.model import GARMENT_SHAPES, Garment
from sepkit.places import HOOD_TOP_MM, PLACES, Place, most_mm
from sepkit.preview.cloth import PaintedCloth, paint_cloth
from sepkit.preview.drawing import GarmentDrawing
from sepkit.preview.garment import WornPrint, draw_garment, measures
from sepkit.preview.garment_views import draw_for
from tests.helpers.plates import garment

SCALE = 1.0
PIXEL_MM = 1.5
ON = [
    (shape, place) for shape in GARMENT_SHAPES for place in PLACES.values() if shape == "hoodie" or place.part != "hood"
]
LARGEST = [one for at, one in enumerate(ON) if one[1].part == "hood" or at % 4 == 0]
"""Every shape, and places of every kind of part."""


def shirt(shape: str) -> Garment:
    return replace(garment(0.5, shape=shape), hood=shape == "hoodie", fleece=shape == "hoodie")


def worn(place: Place, width_mm: float, height_mm: float) -> WornPrint:
    green = np.broadcast_to(np.array((0, 200, 0), np.uint8), (40, 40, 3))
    return WornPrint.of(green, np.full((40, 40), 255, np.uint8), width_mm, height_mm, place)


def drawing_of(place: Place, cloth: Garment) -> GarmentDrawing:
    chest, length = measures(cloth, "M")
    return draw_for(place, cloth, half_chest_mm=chest, length_mm=length)


def box_mm(one: WornPrint, cloth: Garment) -> tuple[float, float, float, float]:
    """Left, top, right, bottom of the ink in the picture, in the drawing's millimetres."""
    picture = linear_table()[draw_garment(cloth, one, px_per_mm=SCALE)]
    rows, columns = np.nonzero(picture[..., 1] - picture[..., 0] > 0.1)
    painted: PaintedCloth = paint_cloth(drawing_of(one.place, cloth), np.full(3, 0.5), px_per_mm=SCALE)
    x, y = painted.x0_mm, painted.y0_mm
    return (
        x + columns.min() / SCALE,
        y + rows.min() / SCALE,
        x + (columns.max() + 1) / SCALE,
        y + (rows.max() + 1) / SCALE,
    )


def part(drawing: GarmentDrawing, name: str) -> np.ndarray:
    return next(one.outline for one in drawing.parts if one.name == name)


def seam_of_the_collar(drawing: GarmentDrawing, place: Place, shape: str) -> float:
    """Where the cloth of the body, or of the hood over it, ends at the neck, in the middle."""
    name = {"inside": "hood inside" if shape == "hoodie" else "back collar"}.get(place.part, "body")
    middle = part(drawing, name)
    ys = middle[np.abs(middle[:, 0]) < 1e-6, 1]
    return float(ys.max() if place.part == "inside" else ys.min())


@pytest.mark.parametrize(("shape", "place"), ON, ids=[f"{shape}, {place.name}" for shape, place in ON])
def test_a_print_hangs_where_the_table_says(shape: str, place: Place) -> None:
    cloth = shirt(shape)
    drawing = drawing_of(place, cloth)
    left, top, right, bottom = box_mm(worn(place, 60, 30), cloth)
    assert (right - left, bottom - top) == pytest.approx((60, 30), abs=PIXEL_MM)
    side = {"left": 1, "right": -1, "middle": 0}[place.wearers]
    if place.part in ("front", "back", "inside"):
        below = max(place.hang.mm, HOOD_TOP_MM) if shape == "hoodie" and place.part == "back" else place.hang.mm
        assert top - seam_of_the_collar(drawing, place, shape) == pytest.approx(below, abs=PIXEL_MM)
        assert (left + right) / 2 == pytest.approx(side * place.off_centre_mm, abs=PIXEL_MM)
    elif place.part == "sleeve":
        sleeve = part(drawing, "sleeve")
        assert (left + right) / 2 == pytest.approx(0, abs=PIXEL_MM)
        if shape == "tee":
            assert sleeve[:, 1].max() - bottom == pytest.approx(25, abs=PIXEL_MM)
        else:
            assert top - sleeve[:, 1].min() == pytest.approx(75, abs=PIXEL_MM)
    elif place.part == "hem":
        ridge = part(drawing, "waist") if shape == "hoodie" else [s.line for s in drawing.seams if s.stitched][1]
        under = ridge[np.abs(ridge[:, 0] - (left + right) / 2) < 6, 1].min()
        assert under - bottom == pytest.approx(30, abs=PIXEL_MM + 1)
        body = part(drawing, "body")
        beside = body[(np.abs(body[:, 1] - bottom) < 40) & (body[:, 0] > 0), 0]
        assert beside.max() - right == pytest.approx(50, abs=PIXEL_MM + 1)
    else:
        hood = part(drawing, "hood")
        beside = hood[np.abs(hood[:, 1] - (top + bottom) / 2) < 12, 0].min()
        assert left - beside == pytest.approx(45, abs=PIXEL_MM + 1)


@pytest.mark.parametrize(("shape", "place"), LARGEST, ids=[f"{shape}, {place.name}" for shape, place in LARGEST])
def test_the_largest_usual_print_lies_on_cloth(shape: str, place: Place) -> None:
    if shape == "hoodie" and place.name.startswith("oversized"):
        place = PLACES[place.name.replace("oversized", "full")]  # a size M hoodie has no room for it
    cloth = shirt(shape)
    width, height = most_mm(place, cloth)
    if place.part == "inside":
        height = width = 50  # what the neck shows when it is held open
    left, top, right, bottom = box_mm(worn(place, width, height), cloth)
    assert (right - left, bottom - top) == pytest.approx((width, height), abs=PIXEL_MM)
    bare = replace(worn(place, width, height), ink=np.zeros((40, 40, 4), np.float32))
    painted = paint_cloth(drawing_of(place, cloth), np.full(3, 0.5), px_per_mm=SCALE)
    x, y = painted.to_px(left, top)
    picture = draw_garment(cloth, bare, px_per_mm=SCALE)
    under, backdrop = picture[round(y) : round(y + height), round(x) : round(x + width)], picture[0, 0]
    assert (np.abs(under.astype(int) - backdrop).max(axis=2) > 8).mean() > 0.99


def test_the_right_side_is_the_left_one_mirrored() -> None:
    for left, right in (("left chest", "right chest"), ("left sleeve", "right sleeve")):
        cloth = shirt("hoodie")
        a, b = (box_mm(worn(PLACES[name], 70, 50), cloth) for name in (left, right))
        assert (a[0], a[1]) == pytest.approx((-b[2], b[1]), abs=PIXEL_MM)


def test_a_wide_print_runs_down_the_arm_from_the_shoulder() -> None:
    place, cloth = PLACES["left sleeve"], shirt("long sleeve")
    ramp = np.zeros((40, 200, 3), np.uint8)
    ramp[:, :100] = (0, 200, 0)
    one = WornPrint.of(ramp, np.full((40, 200), 255, np.uint8), 300, 60, place)
    left, top, right, bottom = box_mm(one, cloth)
    # The first half of the words, green here, is the upper half on the arm.
    assert (right - left, bottom - top) == pytest.approx((60, 150), abs=PIXEL_MM)
    assert top - part(drawing_of(place, cloth), "sleeve")[:, 1].min() == pytest.approx(75, abs=PIXEL_MM)


def test_a_tee_has_no_side_of_a_hood() -> None:
    with pytest.raises(UsageError, match="plain has no place for a hood side print"):
        draw_garment(shirt("tee"), worn(PLACES["hood side"], 100, 30))
