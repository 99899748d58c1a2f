"""Whether the outlines of a separation are drawn again, and the separation when they are.

In: art and its separation. Out: the separation with smooth outlines, and a finding that tells it. Only coarse flat art
that compression has made uneven is drawn again: clean art's own antialiasing is already where its outlines run, hard
pixels may be meant, and tones have no outlines.
"""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from sepkit.model import Finding
from sepkit.separation import tuned_mixing as tuned
from sepkit.separation.noise import character
from sepkit.separation.redraw import BOUND_PX, redraw_planes

if TYPE_CHECKING:
    from sepkit.model import Artwork, EdgeRule, FlatSeparation


def is_uneven(art: Artwork, flat: FlatSeparation) -> bool:
    """Tell whether the outlines of the art are to be drawn again: flat, coarse at its print size, compressed."""
    if art.vector or art.dpi >= tuned.REDRAW.below_dpi or any(area.tone is not None for area in flat.areas):
        return False
    return character(art.rgb, art.alpha, flat.ground).noisy


def redrawn(art: Artwork, flat: FlatSeparation, edges: EdgeRule) -> FlatSeparation:
    """Return the areas with their outlines drawn again where they are uneven, unless ``edges`` is "as-drawn"."""
    if edges == "as-drawn" or not is_uneven(art, flat):
        return flat
    planes = redraw_planes([area.coverage for area in flat.areas])
    areas = tuple(replace(area, coverage=plane) for area, plane in zip(flat.areas, planes, strict=True))
    return replace(flat, areas=areas, findings=(*flat.findings, _told(art)))


def redraw_findings(art: Artwork, flat: FlatSeparation) -> tuple[Finding, ...]:
    """Return what drawing the art again does to it; nothing when it is not to be."""
    return (_told(art),) if is_uneven(art, flat) else ()


def _told(art: Artwork) -> Finding:
    move_mm = BOUND_PX * 25.4 / art.dpi
    text = "outlines that compression made uneven are drawn again, smooth"
    more = f"the art has {art.dpi:.0f} pixels per inch; no outline moves by more than {move_mm:.2f} mm"
    return Finding("drawn-again", "info", text, "--edges as-drawn leaves them as they are", more=more)
