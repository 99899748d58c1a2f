"""Spread and choke of a coverage plane by a distance in pixels, sub-pixel and bounded.

A pixel with coverage c at y puts its edge (c - 1/2) px beyond its centre, so the distance from x to the nearest
edge is d(x) = min over y of |x - y| + 1/2 - c(y): a grey dilation with a cone. It is found in two passes (columns,
then rows), only within ``reach_px`` and only in blocks that hold an edge (``blocks``). Tones keep their value: a mask
says where coverage is a tone to halftone, and there the shape is "any ink", not the value.

Coverage in and out is (h, w) uint8; distances are float32 pixels.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator
from typing import TYPE_CHECKING

import numpy as np

from sepkit.coverage.bands import check_coverage
from sepkit.coverage.blocks import Batch, Window, cells_at, edge_blocks, held_cells, tile_windows, tiles_with
from sepkit.threads import each

if TYPE_CHECKING:
    from sepkit.model import F32, U8, U32, Bool

FAR = np.float32(1e3)
"""Distance where there is no edge."""

FAINT_TONE = 64
"""A tone fainter than a quarter is open garment to its neighbours: a base does not run out under a glow."""


def edge_distance(cover: F32, *, reach_px: float, halo: int = 0) -> F32:
    """Return the distance in pixels from each pixel centre to the nearest edge of ``cover``; negative inside.

    ``cover`` is (h, w) float32 0..1, or (h, w, n) of n blocks; what comes back is smaller by ``halo`` on all sides.
    Distances above about ``reach_px`` come back as a large number.
    """
    radius = int(np.ceil(reach_px)) + 1
    column = np.float32(0.5) - cover
    column += np.multiply(cover <= 0, FAR - np.float32(0.5), dtype=np.float32)  # FAR: a choice costs four times that
    shift = 1
    while shift <= radius:
        _pull(column, shift)
        shift *= 2
    column = column[halo : len(column) - halo]
    steps = np.floor(column + np.float32(0.5))  # a pixel's edge lies within half a pixel of its centre
    offset = column - steps
    rise2 = np.multiply(steps, steps, out=steps)
    width = cover.shape[1]
    best: F32 = column[:, halo : width - halo].copy()
    through = np.empty_like(column)
    for dx in range(1, min(radius, width - 1) + 1):
        np.sqrt(np.add(rise2, np.float32(dx * dx), out=through), out=through)
        through += offset
        for way in (dx, -dx):  # the edge lies to the left, to the right
            first, last = max(halo, way), min(width - halo, width + way)
            own = best[:, first - halo : last - halo]
            np.minimum(own, through[:, first - way : last - way], out=own)
    return best


def spread(coverage: U8, distance_px: float, *, tone: Bool | None = None, only: Bool | None = None) -> U8:
    """Return ``coverage`` grown by ``distance_px`` on all sides (0 or less: unchanged).

    In tones the area grows and takes the strongest tone within reach. Pixels outside ``only`` may stay as they are.

    >>> line = np.zeros((9, 9), np.uint8)
    >>> line[:, 4] = 255
    >>> spread(line, 1.5)[4].tolist()
    [0, 0, 128, 255, 255, 255, 128, 0, 0]
    """
    check_coverage(coverage)
    if distance_px <= 0:
        return coverage
    coverage = np.ascontiguousarray(coverage)
    out = coverage.copy()
    cells = None if only is None else held_cells(only)
    spread_blocks(coverage, distance_px, lambda blocks, _, grown: blocks.put(out, grown), tone=tone, cells=cells)
    return out


def spread_blocks(
    coverage: U8,
    distance_px: float,
    put: Callable[[Batch, U8, U8], None],
    *,
    tone: Bool | None = None,
    cells: Bool | None = None,
) -> None:
    """Work the blocks in which ``spread`` by more than 0 may change a C-ordered plane, less those without ``cells``.

    ``put`` is given each batch, its coverage, halo and all, and its own pixels grown; in two threads where the plane is
    large, which may write to one plane, as no blocks overlap.
    """
    halo = halo_of(distance_px)
    tone = None if tone is None else np.ascontiguousarray(tone)
    toned = None if tone is None else tiles_with(tone, halo)

    def work(blocks: Batch) -> None:
        cover = blocks.of(coverage)
        shape = _shape(cover, None if tone is None else blocks.of(tone))
        grown = np.float32(0.5 + distance_px) - edge_distance(shape, reach_px=_enough(distance_px), halo=halo)
        np.clip(grown, 0, 1, out=grown)
        if toned is not None and (mine := toned[blocks.tile]).any():
            grown[..., mine] *= blocks.own(_strongest(cover[..., mine], distance_px))
        grown *= 255
        put(blocks, cover, np.maximum(blocks.own(cover), np.rint(grown, out=grown).astype(np.uint8)))

    each(work, edge_blocks(coverage, halo, cells=cells), px=coverage.size)


def choke(
    coverage: U8, distance_px: float, *, tone: Bool | None = None, only: Bool | None = None, bare: bool = False
) -> U8:
    """Return ``coverage`` shrunk by ``distance_px`` on all sides (0 or less: unchanged). Tones keep their value.

    Pixels outside ``only`` may stay as they are. ``bare``: garment lies beyond the picture, and its border is an edge.

    >>> bar = np.zeros((9, 9), np.uint8)
    >>> bar[:, 2:7] = 255
    >>> choke(bar, 1.5)[4].tolist()
    [0, 0, 0, 128, 255, 128, 0, 0, 0]
    """
    check_coverage(coverage)
    if distance_px <= 0:
        return coverage
    coverage = np.ascontiguousarray(coverage)
    out = coverage.copy()
    cells = None if only is None else held_cells(only)
    choke_blocks(
        coverage, distance_px, lambda blocks, choked: blocks.put(out, choked), tone=tone, cells=cells, bare=bare
    )
    return out


def choke_blocks(
    coverage: U8,
    distance_px: float,
    put: Callable[[Batch, U8], None],
    *,
    tone: Bool | None = None,
    cells: Bool | None = None,
    bare: bool = False,
) -> None:
    """Work the blocks in which ``choke`` by more than 0 may change a C-ordered plane, less those without ``cells``.

    ``put`` is given each batch and its own pixels choked, in two threads as in ``spread_blocks``.
    """
    halo = halo_of(distance_px)
    tone = None if tone is None else np.ascontiguousarray(tone)

    def work(blocks: Batch) -> None:
        cover = blocks.of(coverage)
        inside = None if bare else blocks.inside
        holes = _holes(cover, None if tone is None else blocks.of(tone), inside)
        kept = np.float32(0.5 - distance_px) + edge_distance(holes, reach_px=_enough(distance_px), halo=halo)
        np.clip(kept, 0, 1, out=kept)
        kept *= 255
        put(blocks, np.minimum(blocks.own(cover), np.rint(kept, out=kept).astype(np.uint8)))

    each(work, edge_blocks(coverage, halo, cells=cells, bare=bare), px=coverage.size)


def spread_at(coverage: U8, distance_px: float, at: U32, *, tone: Bool | None = None) -> U8:
    """Return (n,) what ``spread`` by more than 0 gives at flat indices ``at``: nothing else is worked."""
    coverage = np.ascontiguousarray(coverage)
    out, cells = _known_at(coverage, at), cells_at(at, coverage.shape)
    spread_blocks(coverage, distance_px, lambda blocks, _, grown: blocks.put(out, grown), tone=tone, cells=cells)
    return np.asarray(out.reshape(-1)[at])


def choked_at(coverage: U8, distance_px: float, at: U32, *, tone: Bool | None = None) -> U8:
    """Return (n,) what ``choke_on_bare`` gives at flat indices ``at``: nothing else is worked."""
    coverage = np.ascontiguousarray(coverage)
    if distance_px <= 0:
        return np.asarray(coverage.reshape(-1)[at])
    out, cells = _known_at(coverage, at), cells_at(at, coverage.shape)

    def put(blocks: Batch, choked: U8) -> None:
        blocks.put(out, choked)

    choke_blocks(coverage, distance_px, put, tone=tone, cells=cells, bare=meets_border(coverage))
    return np.asarray(out.reshape(-1)[at])


def _known_at(coverage: U8, at: U32) -> U8:
    """Return a plane of which nothing is known but what another holds at flat indices."""
    out = np.empty_like(coverage)
    out.reshape(-1)[at] = coverage.reshape(-1)[at]
    return out


def choke_on_bare(coverage: U8, distance_px: float, *, tone: Bool | None = None, only: Bool | None = None) -> U8:
    """Return ``coverage`` choked as ``choke`` does, bare garment outside the picture: its border is an edge too."""
    return choke(coverage, distance_px, tone=tone, only=only, bare=meets_border(coverage))


def meets_border(coverage: U8) -> bool:
    """Tell whether anything prints at the border of the picture."""
    return any(bool(side.any()) for side in (coverage[0], coverage[-1], coverage[:, 0], coverage[:, -1]))


def opened(coverage: U8, distance_px: float) -> U8:
    """Return the parts of ``coverage`` at least ``2 distance_px`` thick: choke, then spread back.

    >>> both = np.zeros((9, 12), np.uint8)
    >>> both[:, 1] = both[:, 5:10] = 255
    >>> opened(both, 1)[4].tolist()
    [0, 0, 0, 0, 0, 255, 255, 255, 255, 255, 0, 0]
    """
    return np.minimum(coverage, spread(choke(coverage, distance_px), distance_px))


def half_way(first: U8, second: U8, *, reach_px: float, halo: int) -> U8:
    """Return 255 where ``first`` is nearer than ``second`` within ``reach_px``, fading over a pixel; 0 elsewhere.

    Both are (side, side, n) blocks; what comes back is smaller by ``halo``, see ``halo_of``. Two points at the same
    distance give 128.
    """
    to_first = edge_distance(_shape(first, None), reach_px=reach_px, halo=halo)
    share = edge_distance(_shape(second, None), reach_px=reach_px, halo=halo)
    share -= to_first
    share /= 2
    share += np.float32(0.5)
    np.clip(share, 0, 1, out=share)
    share *= 255
    return np.rint(share, out=share).astype(np.uint8)


def halo_of(distance_px: float) -> int:
    """Return how many pixels around a block a distance of so many pixels is asked of."""
    return int(np.ceil(distance_px)) + 2


def _enough(distance_px: float) -> float:
    """Return the reach beyond which no edge changes a pixel: those farther off move it by nothing."""
    return distance_px - 1


def _pull(column: F32, shift: int) -> None:
    """Let each pixel take the edge of the pixel ``shift`` rows away where that is nearer, both ways, in place."""
    if shift >= column.shape[0]:
        return
    offered = column + np.float32(shift)
    np.minimum(column[shift:], offered[:-shift], out=column[shift:])
    np.minimum(column[:-shift], offered[shift:], out=column[:-shift])


def _shape(coverage: U8, tone: Bool | None) -> F32:
    """Return the shape to move, 0..1; see ``_solid``."""
    return np.true_divide(_solid(coverage, tone), np.float32(255), dtype=np.float32)


def _solid(coverage: U8, tone: Bool | None) -> U8:
    """Return coverage without what is no edge: a faint pixel counts only beside one that prints, a tone as any ink."""
    solid = coverage * _beside(coverage > 127)
    if tone is not None:
        np.multiply(coverage >= FAINT_TONE, np.uint8(255), out=solid, where=tone)
    return solid


def _beside(prints: Bool) -> Bool:
    """Return a mask grown by a pixel all round."""
    beside = prints.copy()
    beside[1:] |= prints[:-1]
    beside[:-1] |= prints[1:]
    wide = beside.copy()
    wide[:, 1:] |= beside[:, :-1]
    wide[:, :-1] |= beside[:, 1:]
    return wide


def _holes(coverage: U8, tone: Bool | None, inside: Bool | None) -> F32:
    """Return the inverse of a shape, without faint holes that would not print, and none beyond the border."""
    holes = np.invert(_solid(coverage, tone))
    if inside is not None:
        holes *= inside
    return _shape(holes, None)


def _strongest(coverage: U8, distance_px: float) -> F32:
    """Return the largest coverage within a square of ``distance_px``, 0..1, in (h, w, n) blocks."""
    from scipy.ndimage import maximum_filter

    size = 2 * int(np.ceil(distance_px)) + 1
    largest: U8 = maximum_filter(coverage, size=(size, size, 1), mode="nearest")
    return (largest / np.float32(255)).astype(np.float32)


def edge_tiles(coverage: U8, distance_px: float) -> Iterator[tuple[Window, Window]]:
    """Yield (inner within outer, outer) windows of the tiles whose surroundings are not all one value."""
    for inner, outer in tile_windows((coverage.shape[0], coverage.shape[1]), halo_of(distance_px)):
        part = coverage[outer]
        if part.min() != part.max():
            yield inner, outer
