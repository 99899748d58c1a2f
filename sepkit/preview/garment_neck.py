"""The neck of a garment held open: the inside of the back above, the front's collar or hood below and beside it.

In: a Body. Out: GarmentDrawing of the neck alone; prints are measured from the collar seam of the back.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from sepkit.preview.drawing import GarmentDrawing, Part, Seam, curve, full, mirror, mirrored
from sepkit.preview.garment_shapes import back_edge, back_inside, body_outline, collar, folds, neckline, sleeve

if TYPE_CHECKING:
    from sepkit.model import F64
    from sepkit.preview.garment_shapes import Body

OPEN_MM = 150.0
"""How far below the back's seam the front is held."""
TOP_MM = -40.0
HOOD_BAND_MM = 34.0
"""Width of the hood's hem round the opening, as it shows beside the neck."""


def draw_neck(body: Body) -> GarmentDrawing:
    """Return the inside of the back below the neck, where a neck label goes."""
    depth = body.back_seam + OPEN_MM
    tape = neckline(body, body.back_seam)
    half = body.neck + 62
    front = Part("body", body_outline(body, depth, sleeve(body)[1]), casts=0.6)
    inside = back_inside(body, depth)
    if body.hooded:
        parts = [inside, _hood_lining(tape, half), front, *_hood_band(body, depth)]
    else:
        parts = [inside, _back_collar(body, tape), front, collar(body, depth, front=True)]
    seams = (
        Seam(full(tape + np.array([0.0, 3.0])), 6.0, strength=0.12),
        Seam(full(tape + np.array([0.0, 6.0])), 0.5, stitched=True),
    )
    return GarmentDrawing(
        tuple(parts),
        seams,
        tuple(folds(body)),
        {"collar seam": full(tape)},
        frame=(-half, TOP_MM, half, depth + 58),
    )


def _back_collar(body: Body, tape: F64) -> Part:
    top = back_edge(body)
    rib = np.vstack([mirror(tape)[::-1], tape[1:], top[::-1], mirror(top)[1:]])
    edges = (np.vstack([mirror(tape)[::-1], tape[1:]]), np.vstack([mirror(top)[::-1], top[1:]]))
    return Part("back collar", rib, light=0.80, ribs=edges, casts=0.2)


def _hood_lining(tape: F64, half: float) -> Part:
    """Return the inside of the hood, which rises from the seam of the back beyond the picture."""
    above = np.array([(half + 20, 40.0), (half + 20, 2 * TOP_MM), (0.0, 2 * TOP_MM)])
    right = np.vstack([tape, above])
    return Part("hood inside", np.vstack([right, mirror(right)[::-1]]), light=0.74, casts=0.25)


def _hood_band(body: Body, depth: float) -> list[Part]:
    """Return the hood's hem along both sides of the front's neckline, and up beyond the picture."""
    seam, low = neckline(body, depth), depth - HOOD_BAND_MM
    half = body.neck
    outer = np.vstack([seam, curve((half, 0.0), (half + 8, -20.0), (half + 22, -60.0), (half + 26, 2 * TOP_MM))])
    inner = np.vstack(
        [
            curve((0.0, low), (half * 0.55, low - 4), (half * 0.80, low * 0.5), (half - HOOD_BAND_MM, 0.0)),
            curve(
                (half - HOOD_BAND_MM, 0.0),
                (half - HOOD_BAND_MM + 2, -20.0),
                (half - 16, -60.0),
                (half - 14, 2 * TOP_MM),
            ),
        ]
    )
    band = Part("hood", np.vstack([outer, inner[::-1]]), light=0.99, casts=0.45)
    return [band, mirrored(band)]
