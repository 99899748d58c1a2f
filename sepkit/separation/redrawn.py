"""Whether flat art is drawn again, and the art and its areas when it is.

In: art and its separation. Out: both on one finer grid, with a finding that tells it. Art with tones stays as it is.
"""

from __future__ import annotations

import math
from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from sepkit.model import Finding
from sepkit.separation import tuned_mixing as tuned
from sepkit.separation.grid import nearest
from sepkit.separation.redraw import BOUND_PX, redraw_planes

if TYPE_CHECKING:
    from sepkit.model import Artwork, EdgeRule, FlatSeparation


def finer_by(art: Artwork, flat: FlatSeparation) -> int:
    """Return how many times finer each way the art is to be drawn; 1 when it is fine enough, or not flat."""
    redraw = tuned.REDRAW
    if art.dpi >= redraw.below_dpi or any(area.tone is not None for area in flat.areas):
        return 1
    wanted = math.ceil(redraw.fine_dpi / art.dpi)
    return max(1, min(wanted, math.isqrt(int(redraw.most_px / art.alpha.size))))


def redrawn(art: Artwork, flat: FlatSeparation, edges: EdgeRule) -> tuple[Artwork, FlatSeparation]:
    """Return art and areas with their outlines drawn again where they are coarse, unless ``edges`` is "as-drawn"."""
    factor = 1 if edges == "as-drawn" else finer_by(art, flat)
    if factor == 1:
        return art, flat
    planes = redraw_planes([area.coverage for area in flat.areas], factor)
    areas = tuple(replace(area, coverage=plane) for area, plane in zip(flat.areas, planes, strict=True))
    size = art.alpha.shape[0] * factor, art.alpha.shape[1] * factor
    unexplained = None if flat.unexplained is None else nearest(flat.unexplained, size)
    told = Finding(
        "drawn-again",
        "info",
        f"the art has {art.dpi:.0f} pixels per inch at this size: its outlines are drawn again, smooth, at "
        f"{art.dpi * factor:.0f}; none moves by more than {BOUND_PX * 25.4 / art.dpi:.2f} mm",
        "--edges as-drawn leaves them as they are",
    )
    finer = _enlarged(art, size)
    return finer, replace(flat, areas=areas, unexplained=unexplained, findings=(*flat.findings, told))


def _enlarged(art: Artwork, size: tuple[int, int]) -> Artwork:
    """Return the art on a finer grid, for the eye: colours weighted by alpha."""
    from PIL import Image

    rgba = Image.fromarray(np.dstack([art.rgb, art.alpha])).convert("RGBa")
    fine = np.asarray(rgba.resize(size[::-1], Image.Resampling.BICUBIC).convert("RGBA"))
    return replace(art, rgb=fine[..., :3].copy(), alpha=fine[..., 3].copy())
