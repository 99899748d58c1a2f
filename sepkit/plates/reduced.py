"""Areas with fewer inks: each area printed by the ink that stands for it.

In: ink areas at any resolution, and a Reduction. Out: the areas of the inks that are kept.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np

from sepkit.coverage.sums import summed
from sepkit.model import InkArea

if TYPE_CHECKING:
    from sepkit.model import U8, Bool
    from sepkit.plates.knee import Reduction


def stood_areas(areas: Sequence[InkArea], reduction: Reduction) -> tuple[InkArea, ...]:
    """Return the areas of the kept inks, in the order of ``areas``, with all that they stand for; empty ones go."""
    out = []
    for kept in reduction.kept:
        own = areas[kept]
        mine = [(area, one.share) for area, one in zip(areas, reduction.stands, strict=True) if one.ink == kept]
        if len(mine) == 1 and mine[0][1] == 1:
            out.append(own)
            continue
        out.append(InkArea(own.srgb, _sum(mine), _tones(mine), own.name, own.confidence))
    return tuple(area for area in out if area.coverage.any())


def _sum(parts: Sequence[tuple[InkArea, float]]) -> U8:
    """Return coverages added up, tints in part."""
    return summed(
        [
            area.coverage if share == 1 else np.rint(area.coverage * np.float32(share)).astype(np.uint8)
            for area, share in parts
        ]
    )


def _tones(parts: Sequence[tuple[InkArea, float]]) -> Bool | None:
    """Return where the joined plane is dots: where a part is, and all of a tint."""
    masks = [area.tone if share == 1 else area.coverage > 0 for area, share in parts]
    there = [mask for mask in masks if mask is not None]
    return np.logical_or.reduce(there) if there else None
