"""Art and ink areas averaged down by a whole factor, for plans that are only compared with each other.

In: art or areas at their own resolution. Out: the same at the same size in mm.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np
from PIL import Image

from sepkit.model import InkArea

if TYPE_CHECKING:
    from sepkit.model import U8, Artwork


def smaller_art(art: Artwork, factor: int) -> Artwork:
    """Return the art averaged down by a whole factor, colours weighted by alpha, at the same size in mm."""
    rgba = Image.fromarray(np.dstack([art.rgb, art.alpha])).convert("RGBa").reduce(factor).convert("RGBA")
    small = np.asarray(rgba)
    return replace(art, rgb=small[..., :3].copy(), alpha=small[..., 3].copy(), vector=False, findings=())


def smaller(plane: U8, factor: int) -> U8:
    """Return a plane averaged down by a whole factor."""
    return np.asarray(Image.fromarray(plane).reduce(factor), np.uint8)


def smaller_areas(areas: Sequence[InkArea], factor: int) -> tuple[InkArea, ...]:
    """Return the areas averaged down by a whole factor."""
    out = []
    for area in areas:
        plane = smaller(area.coverage, factor)
        tone = None
        if area.tone is not None:
            tone = smaller(area.tone.astype(np.uint8) * 255, factor) > 127
            tone &= plane > 0
        out.append(InkArea(area.srgb, plane, tone if tone is not None and tone.any() else None, area.name))
    return tuple(out)
