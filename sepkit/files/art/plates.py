"""Art that brings its own plates: put together as one Artwork, with a picture of all plates over one another.

In: the page as its renderer draws it, and plates on the same grid. Out: an Artwork. The picture is what the plates say,
for a renderer knows no overprint: inks darken each other as films of glass do (each takes its share of the light that
is left), and where any plate prints the art is opaque. Share and light on encoded values, as viewers blend pages.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from sepkit.errors import ArtworkError
from sepkit.model import ArtPlate, Artwork

if TYPE_CHECKING:
    from sepkit.model import RGB8, U8, Finding

WHITE: RGB8 = (252, 252, 252)
WHITE_NAMES = frozenset({"white", "base", "underbase", "whitebase", "basewhite", "whiteunderbase"})
"""What a plate of white is called, spaces and marks aside; its stand-in is often a tint that can be seen on paper."""


def brought_artwork(
    page: U8, plates: Sequence[ArtPlate], size_mm: tuple[float, float], name: str, findings: Sequence[Finding]
) -> Artwork:
    """Return the art with its plates; ``page`` (h, w, 4) is sRGB and alpha.

    Raises ArtworkError when a plate is not on the page's grid.
    """
    if any(plate.coverage.shape != page.shape[:2] for plate in plates):
        raise ArtworkError("its plates are drawn at another size than its page", where=name, hint="give --by colour")
    plates = [replace(plate, srgb=WHITE) if is_white_name(plate.name) else plate for plate in plates]
    rgb, alpha = together(page, plates)
    return Artwork(rgb, alpha, size_mm[0], size_mm[1], name, True, tuple(findings), tuple(plates))


def is_white_name(name: str) -> bool:
    """Tell whether a plate is called white or base, whatever stands in for it.

    >>> is_white_name("Under-Base"), is_white_name("Off White")
    (True, False)
    """
    return "".join(re.findall(r"[^\W_]+", name.lower())) in WHITE_NAMES


def together(page: U8, plates: Sequence[ArtPlate]) -> tuple[U8, U8]:
    """Return sRGB (h, w, 3) and alpha (h, w) of plates over one another; what no ink is named for is as on the page.

    >>> half = ArtPlate("red", (255, 0, 0), np.full((1, 1), 128, np.uint8))
    >>> rgb, alpha = together(np.zeros((1, 1, 4), np.uint8), [half])
    >>> rgb.tolist(), alpha.tolist()
    ([[[255, 0, 0]]], [[128]])
    """
    alpha = np.maximum.reduce([plate.coverage for plate in plates])
    out = np.zeros((*alpha.shape, 3), np.uint8)
    rest = next((plate.coverage for plate in plates if not plate.name), None)
    safe = np.maximum(alpha, 1).astype(np.float32)
    for channel in range(3):
        light = np.ones(alpha.shape, np.float32)
        for plate in plates:
            if plate.name:
                light *= 1 - plate.coverage / safe * np.float32(1 - plate.srgb[channel] / 255)
        value = light * 255
        if rest is not None:
            share = rest / safe
            value = value * (1 - share) + page[..., channel] * share
        out[..., channel] = np.rint(np.clip(value, 0, 255))
    return out, alpha
