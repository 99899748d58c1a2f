"""Which side of a garment shows a place, and where on the drawing of that side a print lies.

In: a Place, the garment and its measures, a print's size. Out: GarmentDrawing; left and top of the print in mm.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from sepkit.errors import UsageError
from sepkit.places import hang_of
from sepkit.preview.drawing import GarmentDrawing, Point, other_side
from sepkit.preview.garment_neck import draw_neck
from sepkit.preview.garment_shapes import Body, draw_whole
from sepkit.preview.garment_side import draw_side

if TYPE_CHECKING:
    from sepkit.model import Garment
    from sepkit.places import Place, Size


def draw_for(place: Place, garment: Garment, *, half_chest_mm: float, length_mm: float) -> GarmentDrawing:
    """Return the drawing of a garment that shows a place. Raises UsageError for one that it has not."""
    body = Body(garment.shape, half_chest_mm, length_mm)
    if place.part == "inside":
        return draw_neck(body)
    if place.part in ("sleeve", "hood"):
        drawing = draw_side(body)
        if hang_of(place, garment).edge not in drawing.edges:
            raise UsageError(f"{garment.name} has no place for a {place.name} print", where="placement")
        return other_side(drawing) if place.wearers == "right" else drawing
    return draw_whole(body, front=place.part != "back")


def top_left_mm(drawing: GarmentDrawing, place: Place, garment: Garment, size_mm: Size) -> Point:
    """Return the left and top of a print on the drawing of its place: as far from its edges as the table says.

    Distances from the collar count from its lowest point, in the middle.
    """
    width, height = size_mm
    hang = hang_of(place, garment)
    edge = drawing.edges[hang.edge]
    if hang.side == "front":
        low, high = float(edge[:, 1].max()), float(edge[:, 1].min())
        middle = (low + high) / 2
        return _at(edge[:, ::-1], middle) + hang.mm, middle - height / 2
    # The wearer's left is on the right of the front.
    side = {"left": 1, "right": -1, "middle": 0}[place.wearers]
    centre = side * place.off_centre_mm
    if place.off_side_mm:
        seam_x = _at(drawing.edges["side seam"][:, ::-1], float(edge[:, 1].mean()) - hang.mm)
        centre = side * (seam_x - place.off_side_mm - width / 2)
    if hang.side == "bottom":
        return centre - width / 2, _at(edge, centre) - hang.mm - height
    top = float(edge[:, 1].max() if hang.edge == "collar seam" else _at(edge, centre))
    return centre - width / 2, top + hang.mm


def _at(line: np.ndarray, x: float) -> float:
    """Return y of a line (n, 2) at ``x``, between its points."""
    order = np.argsort(line[:, 0])
    return float(np.interp(x, line[order, 0], line[order, 1]))
