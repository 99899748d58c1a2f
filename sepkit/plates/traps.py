"""Traps: where two inks touch, the lighter grows under the darker, so that a small misregister opens no gap.

The eye reads the darker edge, so its shape stays (common practice). The lighter ink grows only into areas that darker
inks cover, and no further than half way through them, so it never shows on the far side. Where the person asks, dark
lines up to a width are overprinted instead of knocked out: the lighter inks run on under them, and only keep the trap's
distance from bare garment.
Coverage (h, w) uint8; widths in pixels; lightness is CIE L*.
"""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from typing import TYPE_CHECKING

import numpy as np

from sepkit.coverage.blocks import cell_range
from sepkit.coverage.keep import kept
from sepkit.coverage.reach import FAINT_TONE, choke, edge_tiles, half_way, opened, spread, spread_blocks
from sepkit.coverage.sums import summed

if TYPE_CHECKING:
    from sepkit.coverage.blocks import Batch
    from sepkit.model import U8, Bool


def trapped(
    coverages: Sequence[U8],
    *,
    lightness: Sequence[float],
    trap_px: float,
    overprint_px: float = 0.0,
    tones: Sequence[Bool | None] | None = None,
    not_under: Mapping[int, Collection[int]] | None = None,
) -> list[U8]:
    """Return each plane with its trap: grown by ``trap_px`` under touching darker inks, unchanged elsewhere.

    ``not_under`` names, for a plane, darker planes that it does not grow under. Under dark lines thinner than
    ``overprint_px`` the lighter inks run on: nothing is knocked out there.

    >>> light, dark = np.zeros((2, 9, 12), np.uint8)
    >>> light[:, :6], dark[:, 6:] = 255, 255
    >>> trapped([light, dark], lightness=[80, 20], trap_px=2)[0][4].tolist()
    [255, 255, 255, 255, 255, 255, 255, 255, 0, 0, 0, 0]
    """
    planes = list(coverages)
    if max(trap_px, overprint_px) <= 0 or len(planes) < 2:
        return planes
    safe = choke(summed(planes), trap_px) if overprint_px > 0 else None
    masks = list(tones) if tones is not None else [None] * len(planes)

    def grown_under(i: int, under: list[int]) -> U8:
        plane, darker = planes[i], [planes[j] for j in under]
        if not (darker and plane.any()):
            return plane
        grown = plane
        if trap_px > 0:
            grown = kept(_trap_one, plane, darker, trap_px, masks[i], [masks[j] for j in under])
        return grown if safe is None else np.maximum(grown, _run_on(plane, darker, overprint_px, safe, masks[i]))

    return [grown_under(i, under) for i, under in enumerate(_grows_under(lightness, not_under or {}))]


def _grows_under(lightness: Sequence[float], not_under: Mapping[int, Collection[int]]) -> list[list[int]]:
    """Return, for each plane, the darker ones that it grows under; of two equally light the later counts as darker."""
    rank = {index: place for place, index in enumerate(sorted(range(len(lightness)), key=lambda i: -lightness[i]))}
    return [
        [j for j in range(len(lightness)) if rank[j] > rank[i] and j not in not_under.get(i, ())]
        for i in range(len(lightness))
    ]


def tone_traps(coverage: U8, grown: U8, printed: U8, tone: Bool, *, reach_px: float) -> tuple[U8, Bool]:
    """Return ``printed`` and ``tone`` with the traps of tones continued as tones: dots, as strong as those they leave.

    ``grown`` is the plane after traps, ``printed`` has its tones as they are to print. A trap is a tone's where the
    nearest ink of ``coverage`` is one; without this its tint would print solid or not at all, on either side of a half.
    """
    from scipy.ndimage import distance_transform_edt

    new = (grown > coverage) & ~tone
    out, mask = printed.copy(), tone.copy()
    for inner, outer in edge_tiles(np.where(new, np.uint8(255), np.uint8(0)), reach_px):
        if not tone[outer].any():
            continue
        rows, columns = distance_transform_edt(coverage[outer] == 0, return_distances=False, return_indices=True)
        of_tone = new[outer] & tone[outer][rows, columns]
        view, marked, here = out[outer][inner], mask[outer][inner], of_tone[inner]
        view[here] = printed[outer][rows, columns][inner][here]
        marked[here] = True
    return out, mask


def _run_on(plane: U8, darker: Sequence[U8], overprint_px: float, safe: U8, tone: Bool | None) -> U8:
    """Return ``plane`` continued under the darker lines thinner than ``overprint_px``, inside ``safe``."""
    dark = summed(darker)
    lines = np.where(opened(dark, overprint_px / 2) < 128, dark, np.uint8(0))
    room = np.minimum(safe, summed([plane, lines]))
    return np.maximum(plane, np.minimum(spread(plane, overprint_px, tone=tone), room))


def _trap_one(
    plane: U8, darker: Sequence[U8], trap_px: float, tone: Bool | None, darker_tones: Sequence[Bool | None]
) -> U8:
    """Return the plane with its trap, itself where nothing is added.

    Distances are taken in blocks where a darker ink lies, and half way where garment is near: a pixel of the trap is at
    most ``trap_px`` + 1/2 from the plane, so garment further than a pixel and a half more is no nearer, whatever its
    edge.
    """
    room = (cell_range(plane)[0] < 255) & np.logical_or.reduce([cell_range(dark)[1] > 0 for dark in darker])
    planes = [np.ascontiguousarray(one) for one in (plane, *darker)]
    out, added = planes[0].copy(), list[bool]()

    def put(blocks: Batch, cover: U8, grown: U8) -> None:
        over = summed([cover, *(blocks.of(dark) for dark in planes[1:])])
        own = blocks.own(cover)
        np.minimum(grown, blocks.own(over), out=grown)
        contested = np.asarray((grown > own).any(axis=(0, 1)) & (over < 255).any(axis=(0, 1)))
        if contested.any():
            some = blocks.part(contested)
            shape, bare = _asked_and_bare(some, planes, [tone, *darker_tones])
            nearer = half_way(shape, bare, reach_px=trap_px + 2, halo=some.halo)
            grown[..., contested] = np.minimum(grown[..., contested], nearer)
        if (grown > own).any():
            added.append(True)
            blocks.put(out, np.maximum(own, grown))

    spread_blocks(planes[0], trap_px, put, tone=tone, cells=room)
    return out if added else plane


def _asked_and_bare(blocks: Batch, planes: Sequence[U8], tones: Sequence[Bool | None]) -> tuple[U8, U8]:
    """Return what the first plane holds in some blocks, tones as they print, and the garment that all leave bare."""
    shapes = [
        _as_print(blocks.of(plane), None if tone is None else blocks.of(np.ascontiguousarray(tone)))
        for plane, tone in zip(planes, tones, strict=True)
    ]
    bare = summed(shapes)
    np.invert(bare, out=bare)
    if blocks.inside is not None:
        bare[~blocks.inside] = 0  # nothing is asked beyond the border
    return shapes[0], bare


def _as_print(plane: U8, tone: Bool | None) -> U8:
    """Return the plane with its tones solid where they count as print: garment between dots is no edge."""
    return plane if tone is None else np.where(tone & (plane >= FAINT_TONE), np.uint8(255), plane)
