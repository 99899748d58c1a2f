"""Spread and choke of a coverage plane by a distance in pixels, sub-pixel and bounded.

A pixel with coverage c at y puts its edge (c - 1/2) px beyond its centre, so the distance from x to the nearest
edge is d(x) = min over y of |x - y| + 1/2 - c(y): a grey dilation with a cone. It is found in two passes (columns,
then rows), only within ``reach_px`` and only in tiles that hold an edge. Tones keep their value: a mask says where
coverage is a tone to halftone, and there the shape is "any ink", not the value.

Coverage in and out is (h, w) uint8; distances are float32 pixels.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import TYPE_CHECKING

import numpy as np

from sepkit.coverage.bands import check_coverage

if TYPE_CHECKING:
    from sepkit.model import F32, U8, Bool

TILE_PX = 160
"""Tiles small enough to skip much of flat art, large enough that the halo costs little."""

FAINT_TONE = 64
"""A tone fainter than a quarter is open garment to its neighbours: a base does not run out under a glow."""

Window = tuple[slice, slice]


def edge_distance(cover: F32, *, reach_px: float) -> F32:
    """Return the distance in pixels from each pixel centre to the nearest edge of ``cover``; negative inside.

    ``cover`` is (h, w) float32 0..1. Distances above about ``reach_px`` come back as a large number.
    """
    radius = int(np.ceil(reach_px)) + 1
    column = np.where(cover > 0, 0.5 - cover, np.float32(1e3)).astype(np.float32)
    steps = np.zeros(cover.shape, np.uint8)
    shift = 1
    while shift <= radius:
        _pull(column, steps, shift)
        shift *= 2
    offset = column - steps
    best: F32 = column.copy()
    rise2 = steps.astype(np.float32) ** 2
    for dx in range(1, min(radius, cover.shape[1] - 1) + 1):
        through = np.sqrt(rise2 + np.float32(dx * dx)) + offset
        np.minimum(best[:, dx:], through[:, :-dx], out=best[:, dx:])
        np.minimum(best[:, :-dx], through[:, dx:], out=best[:, :-dx])
    return best


def spread(coverage: U8, distance_px: float, *, tone: Bool | None = None) -> U8:
    """Return ``coverage`` grown by ``distance_px`` on all sides (0 or less: unchanged).

    In tones the area grows and takes the strongest tone within reach.

    >>> line = np.zeros((9, 9), np.uint8)
    >>> line[:, 4] = 255
    >>> spread(line, 1.5)[4].tolist()
    [0, 0, 128, 255, 255, 255, 128, 0, 0]
    """
    check_coverage(coverage)
    if distance_px <= 0:
        return coverage
    out = coverage.copy()
    for inner, outer in edge_tiles(coverage, distance_px):
        shape = _shape(coverage[outer], None if tone is None else tone[outer])
        grown = np.clip(0.5 + distance_px - edge_distance(shape, reach_px=distance_px + 1), 0, 1)
        if tone is not None and tone[outer].any():
            grown = grown * _strongest(coverage[outer], distance_px)
        grown8 = np.rint(grown * 255).astype(np.uint8)
        view = out[outer][inner]
        np.maximum(view, grown8[inner], out=view)
    return out


def choke(coverage: U8, distance_px: float, *, tone: Bool | None = None) -> U8:
    """Return ``coverage`` shrunk by ``distance_px`` on all sides (0 or less: unchanged). Tones keep their value.

    >>> bar = np.zeros((9, 9), np.uint8)
    >>> bar[:, 2:7] = 255
    >>> choke(bar, 1.5)[4].tolist()
    [0, 0, 0, 128, 255, 128, 0, 0, 0]
    """
    check_coverage(coverage)
    if distance_px <= 0:
        return coverage
    out = coverage.copy()
    for inner, outer in edge_tiles(coverage, distance_px):
        shape = _shape(coverage[outer], None if tone is None else tone[outer])
        kept = np.clip(0.5 - distance_px + edge_distance(_solid_holes(shape), reach_px=distance_px + 1), 0, 1)
        kept8 = np.rint(kept * 255).astype(np.uint8)
        view = out[outer][inner]
        np.minimum(view, kept8[inner], out=view)
    return out


def choke_on_bare(coverage: U8, distance_px: float, *, tone: Bool | None = None) -> U8:
    """Return ``coverage`` choked as ``choke`` does, bare garment outside the picture: its border is an edge too."""
    if distance_px <= 0:
        return coverage
    pad = int(np.ceil(distance_px)) + 2
    border = np.concatenate([coverage[0], coverage[-1], coverage[:, 0], coverage[:, -1]])
    if not border.any():
        return choke(coverage, distance_px, tone=tone)
    wide = choke(np.pad(coverage, pad), distance_px, tone=None if tone is None else np.pad(tone, pad))
    return np.ascontiguousarray(wide[pad:-pad, pad:-pad])


def opened(coverage: U8, distance_px: float) -> U8:
    """Return the parts of ``coverage`` at least ``2 distance_px`` thick: choke, then spread back.

    >>> both = np.zeros((9, 12), np.uint8)
    >>> both[:, 1] = both[:, 5:10] = 255
    >>> opened(both, 1)[4].tolist()
    [0, 0, 0, 0, 0, 255, 255, 255, 255, 255, 0, 0]
    """
    return np.minimum(coverage, spread(choke(coverage, distance_px), distance_px))


def nearer_to(first: U8, second: U8, *, reach_px: float, where: U8) -> U8:
    """Return 255 where ``first`` is nearer than ``second`` within ``reach_px``, fading over a pixel; 0 elsewhere.

    Only tiles in which ``where`` varies are worked. Two points at the same distance give 128.
    """
    out = np.zeros_like(first)
    for inner, outer in edge_tiles(where, reach_px):
        if not (second[outer] > 127).any():
            out[outer][inner] = 255
            continue
        to_first = edge_distance(_shape(first[outer], None), reach_px=reach_px)
        to_second = edge_distance(_shape(second[outer], None), reach_px=reach_px)
        share = np.clip(0.5 + (to_second - to_first) / 2, 0, 1)
        out[outer][inner] = np.rint(share * 255).astype(np.uint8)[inner]
    return out


def _pull(column: F32, steps: U8, shift: int) -> None:
    """Let each pixel take the edge of the pixel ``shift`` rows away where that is nearer, both ways, in place."""
    if shift >= column.shape[0]:
        return
    before, before_steps = column.copy(), steps.copy()
    for to, source in ((slice(shift, None), slice(None, -shift)), (slice(None, -shift), slice(shift, None))):
        offered = before[source] + shift
        better = offered < column[to]
        np.copyto(column[to], offered, where=better)
        np.copyto(steps[to], before_steps[source] + np.uint8(shift), where=better)


def _shape(coverage: U8, tone: Bool | None) -> F32:
    """Return the shape to move, 0..1. A faint pixel counts only beside one that prints: alone it is no edge."""
    shape: F32 = (coverage / np.float32(255)).astype(np.float32)
    prints = coverage > 127
    beside = prints.copy()
    beside[1:] |= prints[:-1]
    beside[:-1] |= prints[1:]
    wide = beside.copy()
    wide[:, 1:] |= beside[:, :-1]
    wide[:, :-1] |= beside[:, 1:]
    shape[~wide] = 0
    if tone is not None:
        shape[tone] = coverage[tone] >= FAINT_TONE
    return shape


def _solid_holes(shape: F32) -> F32:
    """Return the inverse of a shape, without faint holes that would not print."""
    holes = np.rint((1 - shape) * 255).astype(np.uint8)
    return _shape(holes, None)


def _strongest(coverage: U8, distance_px: float) -> F32:
    """Return the largest coverage within a square of ``distance_px``, 0..1."""
    from scipy.ndimage import maximum_filter

    size = 2 * int(np.ceil(distance_px)) + 1
    largest: U8 = maximum_filter(coverage, size=size, mode="nearest")
    return (largest / np.float32(255)).astype(np.float32)


def edge_tiles(coverage: U8, distance_px: float) -> Iterator[tuple[Window, Window]]:
    """Yield (inner within outer, outer) windows of the tiles whose surroundings are not all one value."""
    halo = int(np.ceil(distance_px)) + 2
    height, width = coverage.shape
    for top in range(0, height, TILE_PX):
        rows = slice(max(0, top - halo), min(height, top + TILE_PX + halo))
        strip = coverage[rows]
        low, high = strip.min(axis=0), strip.max(axis=0)
        for left in range(0, width, TILE_PX):
            columns = slice(max(0, left - halo), min(width, left + TILE_PX + halo))
            if low[columns].min() == high[columns].max():
                continue
            inner = (
                slice(top - rows.start, min(height, top + TILE_PX) - rows.start),
                slice(left - columns.start, min(width, left + TILE_PX) - columns.start),
            )
            yield inner, (rows, columns)
