"""Ink areas joined to fewer: as the separation would for a number of inks, or as a person merges two.

In: areas of the art. Out: areas again, to decide a print from; nothing is separated anew.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from sepkit.coverage.sums import summed
from sepkit.model import InkArea, InkRequest
from sepkit.separation.wishes import OPEN, choose_inks

if TYPE_CHECKING:
    from sepkit.model import RGB8, U8


def joined(areas: Sequence[InkArea], ground: RGB8, count: int) -> tuple[InkArea, ...]:
    """Return flat areas joined to ``count`` inks, as the separation joins flat colours on a garment of ``ground``."""
    colours = np.array([area.srgb for area in areas], np.uint8)
    pixels = np.array([int(area.coverage.sum(dtype=np.int64)) for area in areas])
    inks = choose_inks(colours, pixels, ground, InkRequest(count=count))
    parts = [
        [area for area, to in zip(areas, inks.ink_of, strict=True) if to == number and to != OPEN]
        for number in range(len(inks.rgb))
    ]
    return tuple(InkArea(rgb, _together(own, areas[0])) for rgb, own in zip(inks.rgb, parts, strict=True))


def merged(areas: Sequence[InkArea], gone: RGB8, into: RGB8) -> tuple[InkArea, ...]:
    """Return the areas with the one of colour ``gone`` printed by the ink of the one of colour ``into``."""
    by_colour = {area.srgb: area for area in areas}
    first, second = by_colour[gone], by_colour[into]
    masks = [area.tone for area in (first, second) if area.tone is not None]
    tone = np.logical_or.reduce(masks) if masks else None
    both = replace(second, coverage=summed([second.coverage, first.coverage]), tone=tone)
    return tuple(both if area is second else area for area in areas if area is not first)


def _together(own: Sequence[InkArea], like: InkArea) -> U8:
    """Return the coverage of areas as one; that of a single one is the same plane, and known again."""
    if len(own) == 1:
        return own[0].coverage
    return summed([area.coverage for area in own]) if own else np.zeros_like(like.coverage)
