"""Worn texture told apart from dirt: small holes and specks that are meant to look old, and specks that are not.

In: a plane of coverage (h, w) uint8. Out: where it is worn, None where nothing is. Wear eats into what is thick: many
small holes inside of broad shapes, with specks of what is left about them. The counters of small type lie in thin
strokes, and dirt lies on open ground.
"""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np

from sepkit.coverage.bitmaps import grown, packed, square, unpacked, within
from sepkit.coverage.parts import Parts
from sepkit.units import mm_to_px

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from sepkit.model import U8, Bool

    I64 = NDArray[np.int64]

MOST_HOLE_MM = 1.2
"""A hole of more than this across is drawn."""
THICK_MM = 3.0
"""Shapes at least this broad once their small holes are filled."""
LEAST_HOLES = 40
"""Fewer are the dots and counters of a drawing, or dust in a scan."""
AROUND_MM = 2.0
"""Wear reaches this far beyond the shapes that it eats."""
ENOUGH_DPI = 120.0


def worn_area(coverage: U8, *, dpi: float) -> Bool | None:
    """Return where the art is worn, (h, w); None where it is not."""
    from PIL import Image

    solid = coverage > 127
    holes = _small_holes(solid, dpi)
    if holes is None:
        return None
    *at, number = holes
    factor = max(1, int(dpi // ENOUGH_DPI))
    filled = np.where(solid, np.uint8(255), np.uint8(0))
    filled[at[0], at[1]] = 255
    small = np.asarray(Image.fromarray(filled).reduce(factor)) > 127 if factor > 1 else filled > 0
    body = _opened(small, mm_to_px(THICK_MM, dpi / factor) / 2)
    height, width = body.shape
    inside = body[np.minimum(at[0] // factor, height - 1), np.minimum(at[1] // factor, width - 1)]
    if len(np.unique(number[inside])) < LEAST_HOLES:
        return None
    reach = max(1, round(mm_to_px(AROUND_MM, dpi / factor)))
    near = unpacked(grown(packed(body), square(reach)), body.shape[1])
    return _full(near, factor, coverage.shape)


def _small_holes(solid: Bool, dpi: float) -> tuple[I64, I64, I64] | None:
    """Return rows, columns and numbers of the pixels of small holes; None where there are too few of these.

    A hole touches no border; pixels of the ground that meet at a corner alone are not joined, those of a hole are.
    """
    ground = Parts.of(~solid, corners=False)
    height, width = solid.shape
    at_border = (ground.rows == 0) | (ground.rows == height - 1) | (ground.starts == 0) | (ground.stops == width)
    inside = np.ones(ground.count + 1, bool)
    inside[[0, *np.unique(ground.labels[at_border])]] = False
    if np.count_nonzero(inside) < LEAST_HOLES:
        return None
    holes = Parts.of(ground.mask(inside))
    small = holes.areas <= mm_to_px(MOST_HOLE_MM, dpi) ** 2
    small[0] = False
    return holes.pixels(small) if np.count_nonzero(small) >= LEAST_HOLES else None


def _opened(mask: Bool, radius_px: float) -> Bool:
    """Return the mask without what a disc of this radius does not fit in; beyond the border all is open."""
    nearer_px = math.sqrt(
        math.ceil(radius_px * radius_px) - 0.5
    )  # squares of distances are whole: less than the radius
    core = ~within(np.pad(~mask, 1, constant_values=True), nearer_px)[1:-1, 1:-1]
    return within(core, nearer_px)


def _full(mask: Bool, factor: int, shape: tuple[int, ...]) -> Bool:
    """Return a reduced mask on the full grid."""
    if factor == 1:
        return mask
    rows = np.minimum(np.arange(shape[0]) // factor, mask.shape[0] - 1)
    wide = np.repeat(mask, factor, axis=1)
    wide = np.pad(wide, ((0, 0), (0, max(0, shape[1] - wide.shape[1]))), mode="edge")
    return np.asarray(wide[rows, : shape[1]])
