"""A background that fills the picture to its border, left open on request.

In: a separation, with the background's ink among its areas. Out: the same without that ink wherever it hangs together
with the border. The edge pixels were shared between the background and the art's inks before, so what the art keeps
ends as softly as on a transparent ground: no fringe of the old background is left.
"""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from sepkit.coverage.channels import greatest
from sepkit.model import Finding, FlatSeparation, InkArea
from sepkit.separation import tuned_mixing as tuned

if TYPE_CHECKING:
    from sepkit.model import U8, Artwork, Bool

BORDER_SHARE = 0.5
"""An ink that covers more than this share of the picture's border, most of it, is a background."""
OPAQUE = 250  # alpha from which a pixel hides what is behind it
SAME_COLOUR = 24
"""sRGB steps within which a pixel has the background's colour: the noise of a strongly compressed picture."""


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
        "the background is left open; what it encloses still prints",
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


def without_open_border(art: Artwork, flat: FlatSeparation) -> Artwork:
    """Return the art transparent where its background is left open already because the cloth is near to it.

    That is what has the colour of the picture's border, carries no ink, and hangs together with the border: prints are
    not held against a background that was to be dropped.
    """
    from scipy.ndimage import label

    edges = np.zeros(art.alpha.shape, bool)
    edges[[0, -1]] = edges[:, [0, -1]] = True
    if (art.alpha[edges] < OPAQUE).mean() > 1 - BORDER_SHARE:
        return art
    colour = np.median(art.rgb[edges], axis=0).astype(np.int16)
    bare = greatest(np.abs(art.rgb.astype(np.int16) - colour)) <= SAME_COLOUR
    for area in flat.areas:
        bare &= area.coverage == 0
    parts, count = label(bare)
    outside = np.zeros(count + 1, bool)
    outside[parts[edges]] = True
    outside[0] = False
    return replace(art, alpha=np.where(outside[parts], np.uint8(0), art.alpha))


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
