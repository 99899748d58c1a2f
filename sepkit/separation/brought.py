"""Plates that the art brings, taken as the areas they are.

In: an :class:`~sepkit.model.Artwork` with plates, the garment's sRGB, what becomes of soft shadows. Out: a
FlatSeparation whose areas are the plates, names kept, each with its own colour; tints are tones to halftone.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from sepkit.model import FlatSeparation, InkArea

if TYPE_CHECKING:
    from sepkit.model import RGB8, U8, Artwork, Bool, SoftRule

EDGE_PX = 1
"""Soft edges of vector art are a pixel wide, two where they cross: what is partly covered further in is a tint."""


def areas_brought(art: Artwork, ground: RGB8, *, soft: SoftRule = "tone") -> FlatSeparation:
    """Return the named plates of the art as areas. ``soft`` is for tints: "drop" and "solid" leave none."""
    areas: list[InkArea] = []
    for plate in art.plates:
        if not plate.name:
            continue
        tone = tints_of(plate.coverage)
        coverage = plate.coverage
        if tone is not None and soft != "tone":
            level = np.where(plate.coverage > 127, np.uint8(255), np.uint8(0)) if soft == "solid" else np.uint8(0)
            coverage, tone = np.where(tone, level, plate.coverage), None
        areas.append(InkArea(_own(plate.srgb, areas), coverage, tone, plate.name))
    return FlatSeparation(tuple(areas), ground, "encoded")


def tints_of(coverage: U8) -> Bool | None:
    """Return where a plate is a tint, not a soft edge, (h, w); None where nowhere.

    >>> plane = np.zeros((9, 9), np.uint8)
    >>> plane[2:7, 2:7] = 102
    >>> int(tints_of(plane).sum()), tints_of(np.eye(9, dtype=np.uint8) * 90) is None
    (25, True)
    """
    from scipy.ndimage import binary_dilation, binary_erosion

    partly = (coverage > 0) & (coverage < 255)
    if not partly.any():
        return None
    square = np.ones((3, 3), bool)
    body = binary_erosion(partly, square, iterations=EDGE_PX, border_value=1)
    if not body.any():
        return None
    return np.asarray(binary_dilation(body, square, iterations=EDGE_PX + 1) & partly)


def _own(srgb: RGB8, areas: list[InkArea]) -> RGB8:
    """Return the colour, a step aside where another plate has it: areas are known by their colour."""
    taken = {area.srgb for area in areas}
    red, green, blue = srgb
    while (red, green, blue) in taken:
        blue = blue + 1 if blue < 255 else 0
    return (red, green, blue)
