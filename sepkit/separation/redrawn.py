"""Whether the outlines of a separation are drawn again, and the separation when they are.

In: art and its separation. Out: the separation with smooth outlines, and a finding that tells it. Coarse flat art is
drawn again where compression has made it uneven, where a smaller picture was enlarged (on the grid of that picture),
and where its pixels are hard. Clean antialiasing is already where its outlines run, but for strokes thinner than a
pixel; blocks that are large or dithered are meant, and tones have no outlines.
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
from sepkit.separation.thin import thin_kept

if TYPE_CHECKING:
    from sepkit.model import U8, Artwork, Bool, EdgeRule, FlatSeparation

Array = np.ndarray[Any, np.dtype[Any]]
Uneven = Literal["compressed", "enlarged", "hard", "clean"]

CODE = "drawn-again"  # of the finding
WHY: dict[Uneven, str] = {
    "compressed": "uneven outlines of a noisy picture are drawn again, smooth",
    "enlarged": "coarse outlines of an enlarged picture are drawn again, smooth",
    "hard": "outlines in steps of whole pixels are drawn again, smooth",
    "clean": "strokes thinner than a pixel are drawn whole",
}


def unevenness(art: Artwork, flat: FlatSeparation) -> Uneven | None:
    """Return how coarse flat art is uneven, "clean" where it is not; None for fine art, soft art, and tones."""
    dpi = art.dpi / flat.source_px
    if art.vector or dpi >= tuned.REDRAW.below_dpi or any(area.tone is not None for area in flat.areas):
        return None
    if flat.source_px > 1:
        return "enlarged"
    if character(art.rgb, art.alpha, flat.ground).noisy:
        return "compressed"
    if dpi < tuned.REDRAW.hard_least_dpi:
        return None
    if not _hard_pixels(flat):
        return "clean"
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
    before = [area.coverage for area in flat.areas]
    planes = _drawn(before, why, flat.source_px)
    if why == "clean" and all(new is old for new, old in zip(planes, before, strict=True)):
        return flat
    areas = tuple(replace(area, coverage=plane) for area, plane in zip(flat.areas, planes, strict=True))
    return replace(flat, areas=areas, findings=(*flat.findings, _told(art, flat, why)))


def _drawn(planes: list[U8], why: Uneven, factor: float) -> list[U8]:
    if why == "hard":
        stairs = _stairs(planes)
        return [np.where(stairs, new, old) for new, old in zip(redraw_planes(planes, hard=True), planes, strict=True)]
    if why == "clean" or not planes:
        return thin_kept(planes, noisy=False)
    if why == "compressed":
        return _smooth(planes)
    size = planes[0].shape
    rows, columns = round(size[0] / factor), round(size[1] / factor)
    small = _smooth(averaged_planes(planes, (rows, columns)))
    return enlarge_planes(small, (size[0], size[1]), factor=factor, soft=None)


def _smooth(planes: list[U8]) -> list[U8]:
    """Smooth outlines, but for strokes thinner than a pixel: these have no outlines on this grid."""
    whole = thin_kept(planes, noisy=True)
    thin = [new != old for new, old in zip(whole, planes, strict=True)]
    any_thin = np.logical_or.reduce(thin)
    return [np.where(any_thin, new, smooth) for new, smooth in zip(whole, redraw_planes(whole), strict=True)]


def _told(art: Artwork, flat: FlatSeparation, why: Uneven) -> Finding:
    dpi = art.dpi / flat.source_px
    bound = f"no outline moves by more than {BOUND_PX * 25.4 / dpi:.2f} mm; strokes thinner than a pixel are whole"
    more = f"{dpi:.0f} pixels per inch; {'other outlines stay' if why == 'clean' else bound}"
    return Finding(CODE, "info", WHY[why], "--edges as-drawn leaves them as they are", more=more)
