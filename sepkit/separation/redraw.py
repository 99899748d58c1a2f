"""Coarse flat art drawn again: smooth outlines on a finer grid, from the coverage of coarse pixels.

In: coverage planes and by how much finer. Out: the planes on the finer grid, with edges one fine pixel wide. Inks and
bare garment share the plane; borders between them are shortened by diffusion and contest in turn (threshold dynamics:
Merriman, Bence, Osher 1994, doi 10.1006/jcph.1994.1105), while each coarse pixel pulls its shares back to what they
were. Compression wobbles within that pull, and corners, thin lines and small parts stand against it. Nothing moves
farther than :data:`BOUND_PX` from where films would draw the coarse planes, and no part and no gap is lost.
"""

from __future__ import annotations

import functools
from collections.abc import Iterator
from typing import TYPE_CHECKING, Any

import numpy as np

from sepkit.separation import tuned_mixing as tuned
from sepkit.separation.grid import enlarging

if TYPE_CHECKING:
    from sepkit.model import U8

Array = np.ndarray[Any, np.dtype[Any]]
Window = tuple[slice, slice]

BOUND_PX = 0.5
"""No outline moves farther than this many pixels of the picture."""
BLOCK_PX = 32  # pixels of the picture drawn at once, each way
HALO_PX = 5  # and around them: farther than all steps together reach
BARE = 255


def redraw_planes(planes: list[U8], factor: int) -> list[U8]:
    """Return (h, w) uint8 planes, which sum to at most solid, on a grid ``factor`` times finer each way."""
    if not planes:
        return []
    height, width = planes[0].shape
    drawn = [np.kron(plane, np.ones((factor, factor), np.uint8)) for plane in planes]
    first = np.full(drawn[0].shape, BARE, np.uint8)
    for n, plane in enumerate(drawn):
        first[plane == 255] = n
    for outer, inner, into in _blocks(height, width, factor):
        some = [n for n, plane in enumerate(planes) if plane[outer].any()]
        if not some or (len(some) == 1 and (planes[some[0]][outer] == 255).all()):
            continue  # all bare, or all of one ink
        share = np.stack([planes[n][outer] for n in some]).astype(np.float32) / 255
        share = np.concatenate([share, np.clip(1 - share.sum(0, keepdims=True), 0, None)])
        smooth, label = _redrawn(share, factor)
        for k, n in enumerate(some):
            drawn[n][into] = smooth[k][inner]
        first[into] = np.array([*some, BARE], np.uint8)[label[inner]]
    return _with_lost_parts(drawn, first)


def _blocks(height: int, width: int, factor: int) -> Iterator[tuple[Window, Window, Window]]:
    """Yield windows of the coarse planes with their halo, and of their middles there and in the finer planes."""
    for top in range(0, height, BLOCK_PX):
        for left in range(0, width, BLOCK_PX):
            low, right = min(top + BLOCK_PX, height), min(left + BLOCK_PX, width)
            y, x = max(0, top - HALO_PX), max(0, left - HALO_PX)
            outer = slice(y, min(low + HALO_PX, height)), slice(x, min(right + HALO_PX, width))
            inner = _fine(slice(top - y, low - y), factor), _fine(slice(left - x, right - x), factor)
            yield outer, inner, (_fine(slice(top, low), factor), _fine(slice(left, right), factor))


def _fine(part: slice, factor: int) -> slice:
    return slice(part.start * factor, part.stop * factor)


def _redrawn(share: Array, factor: int) -> tuple[U8, U8]:
    """Return (n, h, w) uint8 coverage drawn again, and (h, w) the share most of each fine pixel as films would draw it.

    share: (n, h, w) float32, which sum to one.
    """
    rows, cols = _up(share.shape[1], factor), _up(share.shape[2], factor)
    first = (rows @ share @ cols.T).argmax(axis=0).astype(np.uint8)
    free = _near_border(first, factor)
    every = np.arange(len(share))[:, None, None]
    label, field = first, (first == every).astype(np.float32)
    side = factor if factor % 2 else factor + 1
    for _ in range(tuned.REDRAW.steps):
        held = (label == every).astype(np.float32)
        off = share - held.reshape(len(share), share.shape[1], factor, share.shape[2], factor).mean(axis=(2, 4))
        off = np.sign(off) * np.maximum(np.abs(off) - tuned.REDRAW.wobble, 0) * tuned.REDRAW.pull
        field = _diffused(held[:-1] + off[:-1].repeat(factor, axis=1).repeat(factor, axis=2), side)
        field = np.concatenate([field, 1 - field.sum(axis=0, keepdims=True)])
        label = np.where(free, field.argmax(axis=0), first).astype(np.uint8)
    steep = 2 * 0.75 / side  # of the difference of two diffused neighbours, per fine pixel: the peak of three boxes
    crisp = np.where(free, _contest(field, steep), first == every)
    return np.asarray(np.floor(crisp[:-1] * 255).astype(np.uint8)), first


@functools.lru_cache(maxsize=8)
def _up(small: int, factor: int) -> Array:
    return np.asarray(enlarging(small, small * factor).toarray(), np.float32)


def _near_border(label: Array, factor: int) -> Array:
    """(h, w) bool: some other label lies within BOUND_PX."""
    reach = int(BOUND_PX * factor)
    padded = np.pad(label, reach, mode="edge")
    out = np.zeros(label.shape, bool)
    for y in range(-reach, reach + 1):
        for x in range(-reach, reach + 1):
            if y * y + x * x <= (BOUND_PX * factor) ** 2:
                out |= padded[reach + y :, reach + x :][: label.shape[0], : label.shape[1]] != label
    return out


def _diffused(field: Array, side: int) -> Array:
    from scipy import ndimage

    for _ in range(3):
        for axis in (1, 2):
            field = ndimage.uniform_filter1d(field, side, axis=axis, mode="nearest")
    return field


def _contest(field: Array, steep: float) -> Array:
    """Coverage of each share against the greatest of the others, a fine pixel wide where they cross."""
    first, second = np.maximum(field[0], field[1]), np.minimum(field[0], field[1])
    for more in field[2:]:
        second = np.maximum(second, np.minimum(first, more))
        first = np.maximum(first, more)
    rival = np.where(field >= first, second, first)
    out = np.clip((field - rival) / np.float32(2 * steep) + np.float32(0.5), 0, 1)
    return np.asarray(out / np.maximum(out.sum(0), 1))


def _with_lost_parts(drawn: list[U8], first: Array) -> list[U8]:
    """Put back the parts of each ink, and the gaps, that were drawn before and have vanished."""
    total = np.zeros(first.shape, np.uint16)
    again = np.zeros(first.shape, bool)
    for n, plane in enumerate(drawn):
        again |= _lost(first == n, plane > 127)
        total += plane
    again |= _lost(first == BARE, total < 128)
    if again.any():
        for n, plane in enumerate(drawn):
            plane[again] = np.where(first[again] == n, 255, 0)
    return drawn


def _lost(before: Array, after: Array) -> Array:
    """(h, w) bool: 8-connected parts of ``before`` of which little is left in ``after``."""
    from scipy import ndimage

    number, count = ndimage.label(before, structure=np.ones((3, 3), bool))
    size = np.bincount(number.ravel(), minlength=count + 1)
    kept = np.bincount(number[after], minlength=count + 1)
    gone = kept < tuned.REDRAW.kept_share * size
    gone[0] = False
    return np.asarray(gone[number])
