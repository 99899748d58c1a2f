"""Whether a photograph lies on its films as fitted: told by the edges themselves, not by what the fit thinks of itself.

In: a fit's state. Out: the share of tiles, those with most edges and those around check discs, whose edges lie
elsewhere. A tile's own residual is robust and hardly notices edges that lie beside their place; this measure does.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from sepkit.reading.mixing import encoded, mixed
from sepkit.reading.tiles import Tile, choose_tiles, coverages, disc_tiles, lit, patch_of

if TYPE_CHECKING:
    from sepkit.reading.picture import Photo
    from sepkit.reading.subject import Subject
    from sepkit.reading.tiles import State

PX_PER_MM = 6.0
TILE_MM, TILES = 8.0, 60
AROUND_PX = 5
"""Contrast of an edge is that of this many samples around."""
VISIBLE = 0.12
"""An edge of less contrast (cube root of light, the sum of three channels) is not looked at."""
LEAST_SAMPLES = 12
ELSEWHERE = 0.33
"""Edges that lie as fitted differ by up to 0.2 of their contrast (blur, grain), those 0.2 mm beside it by 0.4."""


def strayed(subject: Subject, photo: Photo, state: State) -> float:
    """Return the share of tiles whose edges lie elsewhere than fitted, 0 to 1; NaN where no tile shows an edge."""
    tiles = [*choose_tiles(subject, side_mm=TILE_MM, most=TILES), *disc_tiles(subject)]
    off = [share for tile in tiles if (share := _off(subject, photo, state, tile)) is not None]
    return float(np.mean([share > ELSEWHERE for share in off])) if off else float("nan")


def _off(subject: Subject, photo: Photo, state: State, tile: Tile) -> float | None:
    """Return how far, as a share of their contrast, the edges of a tile differ from the fit."""
    from scipy.ndimage import gaussian_filter, maximum_filter, minimum_filter

    patch = patch_of(tile, PX_PER_MM)
    seen = lit(photo, state.warp, state.look, subject, patch)
    good = np.isfinite(seen[..., 0]) & ~subject.tones(patch)
    model = encoded(gaussian_filter(mixed(coverages(subject, state.screens, patch), state.look.colours), (0.5, 0.5, 0)))
    size = (AROUND_PX, AROUND_PX, 1)
    contrast = (maximum_filter(model, size) - minimum_filter(model, size)).sum(-1)
    steep = sum(np.hypot(*np.gradient(model[..., c])) for c in range(3))
    core = good & (contrast > VISIBLE) & (steep > 0.2 * contrast)
    if core.sum() < LEAST_SAMPLES:
        return None
    rest = np.abs(encoded(np.where(good[..., None], seen, 0)) - model).sum(-1)
    return float(rest[core].sum() / contrast[core].sum())
