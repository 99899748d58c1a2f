"""A background that fills the picture to its border, left open on request.

In: a separation, with the background's ink among its areas. Out: the same without that ink wherever it hangs together
with the border. The edge pixels were shared between the background and the art's inks before, so what the art keeps
ends as softly as on a transparent ground: no fringe of the old background is left.
"""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from sepkit.model import Finding, FlatSeparation, InkArea
from sepkit.separation import tuned_mixing as tuned

if TYPE_CHECKING:
    from sepkit.model import U8, Artwork, Bool

BORDER_SHARE = 0.5
"""An ink that covers more than this share of the picture's border, most of it, is a background."""


def background_of(flat: FlatSeparation) -> int | None:
    """Return which area fills the border of the picture, or None."""
    for number, area in enumerate(flat.areas):
        plane = area.coverage
        border = np.concatenate([plane[0], plane[-1], plane[:, 0], plane[:, -1]])
        if float((border >= tuned.ADVICE.background_level).mean()) > BORDER_SHARE:
            return number
    return None


def without_background(flat: FlatSeparation) -> FlatSeparation:
    """Return ``flat`` with its background open; unchanged when it has none."""
    number = background_of(flat)
    if number is None:
        return flat
    area = flat.areas[number]
    opened = _open_from_border(area.coverage)
    kept = InkArea(area.srgb, opened, area.tone, area.name, area.confidence)
    areas = tuple(kept if k == number else one for k, one in enumerate(flat.areas))
    told = Finding(
        "background-dropped",
        "info",
        "the background is left open; what it encloses inside the art still prints",
        "--background print prints it as a box",
    )
    findings = tuple(finding for finding in flat.findings if finding.code != "printed-background")
    return replace(flat, areas=areas, findings=(*findings, told))


def art_without(art: Artwork, before: FlatSeparation, after: FlatSeparation) -> Artwork:
    """Return the art transparent where ``after`` lost the background of ``before``, so that prints compare with it."""
    if after is before:
        return art
    gone = np.zeros(art.alpha.shape, np.uint8)
    for old, new in zip(before.areas, after.areas, strict=True):
        np.maximum(gone, old.coverage - new.coverage, out=gone)
    return replace(art, alpha=np.minimum(art.alpha, 255 - gone))


def _open_from_border(plane: U8) -> U8:
    """Return ``plane`` without the solid parts that touch the border, and without their soft edges."""
    from scipy.ndimage import label

    parts, count = label(plane > 127)
    if not count:
        return plane
    touching = np.unique(np.concatenate([parts[0], parts[-1], parts[:, 0], parts[:, -1]]))
    outside = np.zeros(count + 1, bool)
    outside[touching] = True
    outside[0] = False
    gone = outside[parts]
    inside = (parts > 0) & ~gone
    for _ in range(tuned.ADVICE.background_edge_px):
        gone = _grown(gone) & ~inside
    return np.where(gone, np.uint8(0), plane)


def _grown(mask: Bool) -> Bool:
    """Return a mask grown by one pixel up, down, left and right."""
    out = mask.copy()
    out[1:] |= mask[:-1]
    out[:-1] |= mask[1:]
    out[:, 1:] |= mask[:, :-1]
    out[:, :-1] |= mask[:, 1:]
    return out
