"""Coarse flat art drawn again: outlines smooth and straight where compression made them wobble.

In: coverage planes on the art's grid. Out: the same, as the shares that smooth outlines leave in each pixel; films draw
those as curves. Inks and bare garment share a grid FINER times finer: borders are shortened by diffusion and contest in
turn (threshold dynamics: Merriman, Bence, Osher 1994, doi 10.1006/jcph.1994.1105), while each pixel pulls its shares
back to what they were. Compression wobbles within that pull; corners, thin lines and small parts stand against it.
Nothing moves farther than :data:`BOUND_PX` from where films would draw the planes as they were, and no part or gap is
lost.
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
FINER = 3  # odd: boxes of one pixel are centred
BLOCK_PX = 32  # pixels of the picture drawn at once, each way
HALO_PX = 5  # and around them: farther than all steps together reach


def redraw_planes(planes: list[U8], *, hard: bool = False) -> list[U8]:
    """Return (h, w) uint8 planes, which sum to at most solid, with the shares of smooth outlines.

    hard: pixels are all or nothing, so that each says only which share is most of it.
    """
    if not planes:
        return []
    height, width = planes[0].shape
    drawn = [plane.copy() for plane in planes]
    for outer, inner, into in _blocks(height, width):
        some = [n for n, plane in enumerate(planes) if plane[outer].any()]
        if not some or (len(some) == 1 and (planes[some[0]][outer] == 255).all()):
            continue  # all bare, or all of one ink
        share = np.stack([planes[n][outer] for n in some]).astype(np.float32) / 255
        share = np.concatenate([share, np.clip(1 - share.sum(0, keepdims=True), 0, None)])
        smooth = _redrawn(share, hard)
        for k, n in enumerate(some):
            drawn[n][into] = smooth[k][inner]
    return _with_lost_parts(drawn, planes)


def _blocks(height: int, width: int) -> Iterator[tuple[Window, Window, Window]]:
    """Yield windows of the planes with their halo, of their middles there, and of these in the planes."""
    for top in range(0, height, BLOCK_PX):
        for left in range(0, width, BLOCK_PX):
            low, right = min(top + BLOCK_PX, height), min(left + BLOCK_PX, width)
            y, x = max(0, top - HALO_PX), max(0, left - HALO_PX)
            outer = slice(y, min(low + HALO_PX, height)), slice(x, min(right + HALO_PX, width))
            inner = slice(top - y, low - y), slice(left - x, right - x)
            yield outer, inner, (slice(top, low), slice(left, right))


def _redrawn(share: Array, hard: bool) -> U8:
    """Return (n - 1, h, w) uint8 coverage drawn again, of (n, h, w) float32 shares that sum to one, the last bare."""
    height, width = share.shape[1:]
    first = _strongest(_up(height) @ share @ _up(width).T)
    free = _near_border(first)
    every = np.arange(len(share))[:, None, None]
    label, field = first, (first == every).astype(np.float32)
    redraw = tuned.REDRAW
    wobble = redraw.hard_wobble if hard else redraw.wobble
    for _ in range(redraw.steps):
        held = label == every
        off = share - _counted(held) / np.float32(FINER * FINER)
        off = np.sign(off) * np.maximum(np.abs(off) - wobble, 0) * redraw.pull
        field = _diffused(held[:-1] + off[:-1].repeat(FINER, axis=1).repeat(FINER, axis=2))
        field = np.concatenate([field, 1 - field.sum(axis=0, keepdims=True)])
        label = np.where(free, _strongest(field), first)
    steep = 2 * 0.75 / FINER  # of the difference of two diffused neighbours, per fine pixel: the peak of three boxes
    crisp = np.where(free, _contest(field, steep), first == every).astype(np.float32)
    return np.asarray(np.floor(_averaged(crisp[:-1]) * 255 + np.float32(0.01)).astype(np.uint8))


def _strongest(field: Array) -> U8:
    """Return (h, w) the number of the greatest of (n, h, w), the first of equal ones."""
    most, label = field[0], np.zeros(field[0].shape, np.uint8)
    for k in range(1, len(field)):
        label[field[k] > most] = k
        most = np.maximum(most, field[k])
    return label


def _counted(held: Array) -> Array:
    """Return how many of each pixel's fine ones are held, (n, h, w) uint8."""
    rows = held[:, ::FINER].astype(np.uint8)
    for at in range(1, FINER):
        rows += held[:, at::FINER]
    counts = rows[:, :, ::FINER].copy()
    for at in range(1, FINER):
        counts += rows[:, :, at::FINER]
    return counts


def _averaged(fine: Array) -> Array:
    n, height, width = fine.shape
    return np.asarray(fine.reshape(n, height // FINER, FINER, width // FINER, FINER).mean(axis=(2, 4)))


@functools.lru_cache(maxsize=8)
def _up(small: int) -> Array:
    return np.asarray(enlarging(small, small * FINER).toarray(), np.float32)


def _near_border(label: Array) -> Array:
    """(h, w) bool: some other label lies within BOUND_PX."""
    reach = int(BOUND_PX * FINER)
    padded = np.pad(label, reach, mode="edge")
    out = np.zeros(label.shape, bool)
    for y in range(-reach, reach + 1):
        for x in range(-reach, reach + 1):
            if y * y + x * x <= (BOUND_PX * FINER) ** 2:
                out |= padded[reach + y :, reach + x :][: label.shape[0], : label.shape[1]] != label
    return out


def _diffused(field: Array) -> Array:
    """Return (n, h, w) averaged three times over squares of FINER; a block goes on beyond its border as it ends."""
    return np.asarray(_boxes(field.shape[1]) @ field @ _boxes(field.shape[2]))


@functools.lru_cache(maxsize=8)
def _boxes(length: int) -> Array:
    """Return the (length, length) float32 matrix of three boxes in turn; it is symmetric."""
    at = np.arange(length)
    box = np.zeros((length, length))
    for step in range(-(FINER // 2), FINER // 2 + 1):
        np.add.at(box, (at, np.clip(at + step, 0, length - 1)), 1 / FINER)
    return np.asarray(box @ box @ box, np.float32)


def _contest(field: Array, steep: float) -> Array:
    """Coverage of each share against the greatest of the others, two fine pixels wide where they cross."""
    first, second = np.maximum(field[0], field[1]), np.minimum(field[0], field[1])
    for more in field[2:]:
        second = np.maximum(second, np.minimum(first, more))
        first = np.maximum(first, more)
    rival = np.where(field >= first, second, first)
    out = np.clip((field - rival) / np.float32(2 * steep) + np.float32(0.5), 0, 1)
    return np.asarray(out / np.maximum(out.sum(0), 1))


def _with_lost_parts(drawn: list[U8], planes: list[U8]) -> list[U8]:
    """Put back the parts of each ink, and the gaps, that the planes had and that have vanished."""
    again = _lost(_bare(planes) > 127, _bare(drawn) > 127)
    for old, new in zip(planes, drawn, strict=True):
        again |= _lost(old > 127, new > 127)
    if again.any():
        for old, new in zip(planes, drawn, strict=True):
            new[again] = old[again]
    return drawn


def _bare(planes: list[U8]) -> U8:
    total = np.zeros(planes[0].shape, np.uint16)
    for plane in planes:
        total += plane
    return np.asarray(255 - np.minimum(total, 255), np.uint8)


def _lost(before: Array, after: Array) -> Array:
    """(h, w) bool: 8-connected parts of ``before`` of which little is left in ``after``."""
    from scipy import ndimage

    number, count = ndimage.label(before, structure=np.ones((3, 3), bool))
    size = np.bincount(number.ravel(), minlength=count + 1)
    kept = np.bincount(number[after], minlength=count + 1)
    gone = kept < tuned.REDRAW.kept_share * size
    gone[0] = False
    return np.asarray(gone[number])
