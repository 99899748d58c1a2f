"""Whether the outlines of a separation are drawn again, and the separation when they are.

In: art and its separation. Out: the separation with smooth outlines, and a finding that tells it. Coarse flat art is
drawn again where compression has made it uneven, where a smaller picture was enlarged (on the grid of that picture),
and where its pixels are hard. Clean antialiasing is already where its outlines run, blocks that are large or dithered
are meant, and tones have no outlines.
"""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Any, Literal

import numpy as np

from sepkit.model import Finding
from sepkit.separation import tuned_mixing as tuned
from sepkit.separation.grid import averaged_planes, enlarge_planes
from sepkit.separation.noise import character
from sepkit.separation.redraw import BOUND_PX, redraw_planes

if TYPE_CHECKING:
    from sepkit.model import U8, Artwork, Bool, EdgeRule, FlatSeparation

Array = np.ndarray[Any, np.dtype[Any]]
Uneven = Literal["compressed", "enlarged", "hard"]

WHY: dict[Uneven, str] = {
    "compressed": "uneven outlines of a noisy picture are drawn again, smooth",
    "enlarged": "coarse outlines of an enlarged picture are drawn again, smooth",
    "hard": "outlines in steps of whole pixels are drawn again, smooth",
}


def unevenness(art: Artwork, flat: FlatSeparation) -> Uneven | None:
    """Return why the outlines of the art are to be drawn again; None for art that is fine, soft, or no flat art."""
    dpi = art.dpi / flat.source_px
    if art.vector or dpi >= tuned.REDRAW.below_dpi or any(area.tone is not None for area in flat.areas):
        return None
    if flat.source_px > 1:
        return "enlarged"
    if character(art.rgb, art.alpha, flat.ground).noisy:
        return "compressed"
    if dpi < tuned.REDRAW.hard_least_dpi or not _hard_pixels(flat):
        return None
    return "hard" if _stairs([area.coverage for area in flat.areas]).any() else None


def _hard_pixels(flat: FlatSeparation) -> bool:
    """Tell whether hardly a pixel on a border is mixed, though the art is no dither."""
    border = mixed = inked = 0
    for area in flat.areas:
        solid = area.coverage > 127
        step = np.zeros(solid.shape, bool)
        step[:, 1:] = solid[:, 1:] != solid[:, :-1]
        step[1:] |= solid[1:] != solid[:-1]
        border += int(step.sum())
        mixed += int(((area.coverage > 0) & (area.coverage < 255)).sum())
        inked += int(solid.sum())
    return mixed < tuned.REDRAW.hard_border_share * border and border < tuned.REDRAW.hard_most_border * inked


def _stairs(planes: list[U8]) -> Bool:
    """Return (h, w) where outlines turn in steps, out and in again; sides along the pixels are as they were meant."""
    from scipy.ndimage import maximum_filter

    reach = 2 * tuned.REDRAW.hard_stair_px + 1
    found = np.zeros(planes[0].shape, bool)
    for plane in planes:
        solid = (plane > 127).astype(np.uint8)
        around = np.zeros((solid.shape[0], solid.shape[1]), np.uint8)
        around[1:, 1:] = solid[1:, 1:] + solid[1:, :-1] + solid[:-1, 1:] + solid[:-1, :-1]
        out, back = (maximum_filter((around == count).view(np.uint8), reach) for count in (1, 3))
        found |= (out & back).astype(bool)
    return found


def redrawn(art: Artwork, flat: FlatSeparation, edges: EdgeRule) -> FlatSeparation:
    """Return the areas with their outlines drawn again where they are uneven, unless ``edges`` is "as-drawn"."""
    why = None if edges == "as-drawn" else unevenness(art, flat)
    if why is None:
        return flat
    planes = _smooth([area.coverage for area in flat.areas], why, flat.source_px)
    areas = tuple(replace(area, coverage=plane) for area, plane in zip(flat.areas, planes, strict=True))
    return replace(flat, areas=areas, findings=(*flat.findings, _told(art, flat, why)))


def _smooth(planes: list[U8], why: Uneven, factor: float) -> list[U8]:
    if why == "hard":
        stairs = _stairs(planes)
        return [np.where(stairs, new, old) for new, old in zip(redraw_planes(planes, hard=True), planes, strict=True)]
    if why == "compressed" or not planes:
        return redraw_planes(planes)
    size = planes[0].shape
    rows, columns = round(size[0] / factor), round(size[1] / factor)
    small = redraw_planes(averaged_planes(planes, (rows, columns)))
    return enlarge_planes(small, (size[0], size[1]), factor=factor, soft=None)


def redraw_findings(art: Artwork, flat: FlatSeparation) -> tuple[Finding, ...]:
    """Return what drawing the art again does to it; nothing when it is not to be."""
    why = unevenness(art, flat)
    return () if why is None else (_told(art, flat, why),)


def _told(art: Artwork, flat: FlatSeparation, why: Uneven) -> Finding:
    dpi = art.dpi / flat.source_px
    more = f"{dpi:.0f} pixels per inch; no outline moves by more than {BOUND_PX * 25.4 / dpi:.2f} mm"
    return Finding("drawn-again", "info", WHY[why], "--edges as-drawn leaves them as they are", more=more)
