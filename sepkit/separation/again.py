"""Tones solved again with fewer inks: a plan left some out, and those that stay mix what they can of their colours.

In: the art, the garment, areas with tones, and which of them stay. Out: their planes where the art is a tone; flat
parts of the planes are the caller's.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from sepkit.separation import tones
from sepkit.separation.noise import composite

if TYPE_CHECKING:
    from sepkit.model import RGB8, Artwork, InkArea


def tones_again(art: Artwork, ground: RGB8, before: Sequence[InkArea], kept: Sequence[InkArea]) -> tuple[InkArea, ...]:
    """Return ``kept`` with their shares solved again wherever an area of ``before`` is a tone.

    All planes are (h, w) on the art's own grid. Colours mix in linear light, as dots do.
    """
    masks = [area.tone for area in before if area.tone is not None]
    if not masks or not kept:
        return tuple(kept)
    tone = np.logical_or.reduce(masks)
    ends = tones.linear_of(np.array([ground, *(area.srgb for area in kept)], np.uint8))
    shares = tones.shares_of_pixels(tones.unrounded(composite(art.rgb, art.alpha, ground), tone), ends)
    out = []
    for k, area in enumerate(kept, 1):
        plane = area.coverage.copy()
        plane[tone] = shares[:, k]
        mine = tone & (plane > 0)
        own = mine if area.tone is None else mine | (area.tone & (plane > 0))
        out.append(replace(area, coverage=plane, tone=own if own.any() else None))
    return tuple(area for area in out if area.coverage.any())
