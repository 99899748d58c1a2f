"""Where the white base goes: under the inks that need it, drawn in from the edges that face bare garment.

The base is the union of the areas that need it. It is choked where it meets bare garment, so that it does not peek out
when the press is off. Joins of two inks are inside the print and stay closed. Beside a darker ink without base the base
runs on under it as far as the based ink's trap does, where it would not be seen: else a trap that shows when the press
is off would lie on bare cloth. Areas of the base's own colour are not choked: there the base is the print. Strokes that
the choke would eat keep a smaller choke, or none, and are reported.
Coverage (h, w) uint8; widths in pixels.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from sepkit.coverage.reach import choke_on_bare, spread

if TYPE_CHECKING:
    from sepkit.model import U8, Bool

FINE_LOSS = 0.6
"""Where a choke takes more of the base than this, the art is fine: strokes under 3.3 chokes wide, worn texture."""
FINE_WINDOW = 5
"""The loss is judged over squares of so many chokes."""
HOLE_SHARE = 0.25
"""Inks worth no more choke than this have none round pinholes either: base in a pinhole is nearly the ink's colour."""


@dataclass(frozen=True, slots=True, eq=False)
class Base:
    """The base plate: what the art asks (before choke) and what is printed, and the strokes too thin to choke."""

    coverage: U8
    printed: U8
    tone: Bool | None
    kept_thin: U8
    """255 where a stroke kept less than the full choke."""


def build_base(
    needing: Sequence[U8],
    *,
    choke_px: float,
    own_colour: Sequence[U8] = (),
    others: Sequence[U8] = (),
    tones: Sequence[Bool | None] | None = None,
    run_on: U8 | None = None,
    fine_choke: Sequence[float] = (),
) -> Base:
    """Return the base under ``needing`` planes (inks that need it) and ``own_colour`` planes (inks that are it).

    ``others`` are the inks without base: the base is not choked towards them.
    ``run_on`` is where the base may print besides, under inks that hide it (see ``under_traps``).
    ``fine_choke`` is the share of the choke (0..1) that each of ``needing`` is worth where the art is fine; all of it
    when not given.
    ``tones`` are masks of ``needing`` then ``own_colour``, where the ink is a tone: the base is a tone there too.

    >>> art = np.zeros((12, 12), np.uint8)
    >>> art[1:11, 1:11] = 255
    >>> build_base([art], choke_px=2).printed[6].tolist()
    [0, 0, 0, 255, 255, 255, 255, 255, 255, 0, 0, 0]
    """
    planes = [*needing, *own_colour]
    union = _union(planes)
    tone = _union_tone(tones, union)
    printed = _union([union, *others])
    inner = choke_on_bare(printed, choke_px, tone=tone)
    drawn_in = np.minimum(union, inner)
    thin = np.zeros_like(union)
    if choke_px > 0:
        drawn_in, thin = _keep_thin(union, printed, drawn_in, choke_px, tone)
        for plane in own_colour:
            drawn_in = np.maximum(drawn_in, np.minimum(plane, union))
        drawn_in = _keep_fine(union, printed, drawn_in, choke_px, tone, needing, fine_choke, thin)
    if run_on is not None:
        drawn_in = np.maximum(drawn_in, np.minimum(run_on, inner))
    return Base(union, drawn_in, tone, thin)


def under_traps(
    coverages: Sequence[U8], traps: Sequence[U8], tones: Sequence[Bool | None], hidden: Sequence[tuple[int, int]]
) -> U8 | None:
    """Return where traps lie under inks that hide them and a base: ``hidden`` lists (based ink, ink over its trap).

    Dots hide nothing, so tones of any ink are left out. None where there is nothing.
    """
    masks = [mask for mask in tones if mask is not None]
    tone = np.logical_or.reduce(masks) if masks else None
    out = np.zeros_like(coverages[0])
    for based, over in hidden:
        np.maximum(out, np.minimum(traps[based], _union([coverages[based], coverages[over]])), out=out)
    if tone is not None:
        out[tone] = 0
    return out if out.any() else None


def lightened(printed: U8, planes: Sequence[U8], shares: Sequence[float]) -> tuple[U8, Bool]:
    """Return the base with a tint of ``shares`` (0..1) under each of ``planes``, and where it is a tint now.

    Only pixels that one ink fills are thinned: edges stay solid, and so does the base under shares of 1.

    >>> base = np.full((1, 3), 255, np.uint8)
    >>> ink = np.array([[255, 255, 0]], np.uint8)
    >>> lightened(base, [ink], [0.6])[0].tolist()
    [[153, 153, 255]]
    """
    out = printed.copy()
    tint = np.zeros(printed.shape, bool)
    for plane, share in zip(planes, shares, strict=True):
        if share < 1:
            here = (plane == 255) & (printed == 255)
            out[here] = round(255 * share)
            tint |= here
    return out, tint


def _union(planes: Sequence[U8]) -> U8:
    """Return the summed coverage, at most solid: planes that share a pixel cover it together."""
    total = planes[0].copy()
    for plane in planes[1:]:
        np.add(total, np.minimum(plane, 255 - total), out=total)
    return total


def _union_tone(tones: Sequence[Bool | None] | None, union: U8) -> Bool | None:
    masks = [mask for mask in tones or () if mask is not None]
    if not masks:
        return None
    tone = masks[0].copy()
    for mask in masks[1:]:
        tone |= mask
    tone &= union > 0
    return tone


def _keep_thin(union: U8, printed: U8, drawn_in: U8, choke_px: float, tone: Bool | None) -> tuple[U8, U8]:
    """Give strokes that lost all their base half the choke, and none where that fails too."""
    survivors = spread(drawn_in, 1.5 * choke_px + 1, tone=tone)
    lost = (union > 127) & (survivors < 128)
    thin = np.where(lost, np.uint8(255), np.uint8(0))
    if not lost.any():
        return drawn_in, thin
    half = np.where(lost, np.minimum(union, choke_on_bare(printed, choke_px / 2, tone=tone)), np.uint8(0))
    still = lost & (spread(half, 0.75 * choke_px + 1) < 128)
    kept = np.maximum(drawn_in, np.maximum(half, np.where(still, union, np.uint8(0))))
    return kept, thin


def _keep_fine(
    union: U8,
    printed: U8,
    drawn_in: U8,
    choke_px: float,
    tone: Bool | None,
    needing: Sequence[U8],
    fine_choke: Sequence[float],
    thin: U8,
) -> U8:
    """Give each ink only the choke that it is worth where the art is fine; mark in ``thin`` what was given back."""
    if min(fine_choke, default=1.0) >= 1:
        return drawn_in
    worn = _worn(union, drawn_in, choke_px)
    holed = worn | _beside_pinholes(printed, choke_px) if min(fine_choke) <= HOLE_SHARE else worn
    kept = drawn_in
    for plane, share in zip(needing, fine_choke, strict=False):
        if share < 1:
            here = np.minimum(union, choke_on_bare(printed, share * choke_px, tone=tone)) if share else union
            here = np.where((holed if share <= HOLE_SHARE else worn) & (plane > 0), here, np.uint8(0))
            thin[here > kept] = 255
            kept = np.maximum(kept, here)
    return kept


def _worn(union: U8, drawn_in: U8, choke_px: float) -> Bool:
    """Return where the choke took more than FINE_LOSS of the base round about, judged in blocks of a choke."""
    from scipy.ndimage import uniform_filter

    height, width = union.shape
    step = max(1, round(choke_px))
    padding = ((0, -height % step), (0, -width % step))

    def round_about(plane: U8) -> Any:
        blocks = np.pad(plane, padding).reshape(-(-height // step), step, -(-width // step), step)
        return uniform_filter(blocks.mean(axis=(1, 3), dtype=np.float32), FINE_WINDOW, mode="constant")

    asked = round_about(union)
    worn = (asked > 0) & (round_about(drawn_in) < (1 - FINE_LOSS) * asked)
    out: Bool = np.repeat(np.repeat(worn, step, axis=0), step, axis=1)[:height, :width]
    return out


def _beside_pinholes(printed: U8, choke_px: float) -> Bool:
    """Return what a choke takes round specks of bare garment that are less than two chokes across."""
    wide = spread(255 - spread(printed, choke_px), choke_px + 1)
    specks = np.where((printed < 128) & (wide < 128), np.uint8(255), np.uint8(0))
    near: Bool = spread(specks, choke_px + 1) > 0
    return near
