"""Strokes and gaps thinner than a pixel of coarse art: kept as wide as they are, where films would break or lose them.

In: coverage planes on the art's grid. Out: the same but for the pixels around such strokes. A film has ink where the
enlarged plane is over half, so a stroke that fills less than half of every pixel on its way is not drawn at all, and
lettering falls to pieces. There a pixel says how much of it is inked, and what is drawn is made to have as much: the
middle of the stroke is lifted over half, and what the enlarged planes then have too much or too little, averaged over a
pixel, is given back in turn (Van Cittert's iteration, 1931).
"""

from __future__ import annotations

import functools
from typing import TYPE_CHECKING, Any

import numpy as np

from sepkit.separation import tuned_mixing as tuned
from sepkit.separation.grid import enlarging

if TYPE_CHECKING:
    from sepkit.model import U8

Array = np.ndarray[Any, np.dtype[Any]]

FINER = 4  # times the grid on which films are looked at
BLOCK_PX = 64  # pixels of the picture worked at once, each way
HALO_PX = 12  # and around them: what lies farther changes nothing that is seen
# Ways across a stroke.
WAYS = ((0, 1), (1, 0), (1, 1), (1, -1))
LEVEL = 1 / 255  # of coverage


def thin_kept(planes: list[U8], *, noisy: bool) -> list[U8]:
    """Return (h, w) uint8 planes, which sum to at most solid, in which thin strokes and gaps are drawn by films.

    noisy: the art is compressed; a stroke must then be drawn somewhere on its way to be taken for one.
    """
    if not planes:
        return []
    height, width = planes[0].shape
    drawn = list(planes)
    for top in range(0, height, BLOCK_PX):
        for left in range(0, width, BLOCK_PX):
            y, x = max(0, top - HALO_PX), max(0, left - HALO_PX)
            low, right = min(top + BLOCK_PX, height), min(left + BLOCK_PX, width)
            outer = slice(y, min(low + HALO_PX, height)), slice(x, min(right + HALO_PX, width))
            some = [n for n, plane in enumerate(planes) if plane[outer].any()]
            if not some:
                continue
            share = np.stack([planes[n][outer] for n in some]).astype(np.float32) * np.float32(LEVEL)
            share = np.concatenate([share, np.clip(1 - share.sum(0, keepdims=True), 0, None)])
            middle = middles(share, noisy=noisy)
            if not middle.any():
                continue
            lifted, around = _lifted(share, middle)
            inner = slice(top - y, low - y), slice(left - x, right - x)
            for k, n in enumerate(some):
                if drawn[n] is planes[n]:
                    drawn[n] = planes[n].copy()
                level = np.floor(lifted[k] * 255 + np.float32(0.01)).astype(np.uint8)
                into = drawn[n][top:low, left:right]
                np.copyto(into, level[inner], where=around[inner])
    return drawn


def middles(share: Array, *, noisy: bool) -> Array:
    """Return (n, h, w) bool where the middle of a stroke of each share runs, of one that is thinner than a pixel.

    share: (n, h, w) float32 that sum to one, the last of them bare. The share is the greatest on a way across, falls to
    less than half of itself within two pixels on both sides, and what lies beyond is the same on both: a stroke on one
    ground, and no seam between two.
    """
    thin = tuned.THIN
    most = share.argmax(axis=0)
    found = np.zeros(share.shape, bool)
    for down, right in WAYS:
        near, back = _moved(share, down, right), _moved(share, -down, -right)
        far, behind = _moved(share, 2 * down, 2 * right), _moved(share, -2 * down, -2 * right)
        falls = np.maximum(np.minimum(near, far), np.minimum(back, behind)) < thin.fall * share
        ground = _moved(most[None], 2 * down, 2 * right) == _moved(most[None], -2 * down, -2 * right)
        along = np.maximum(_moved(share, right, -down), _moved(share, -right, down))  # a body that it tops
        found |= (share >= near) & (share >= back) & falls & ground & (along < thin.most)
    found &= (share >= (thin.least_noisy if noisy else thin.least)) & (share < thin.most)
    return _with_body(found, share) if noisy else found


def _with_body(found: Array, share: Array) -> Array:
    """Of strokes in compressed art, those that are over half somewhere: ringing is not."""
    from scipy import ndimage

    kept = np.zeros_like(found)
    for n, (some, plane) in enumerate(zip(found, share, strict=True)):
        number, count = ndimage.label(some | (plane > 0.5), structure=np.ones((3, 3), bool))
        body = np.zeros(count + 1, bool)
        body[number[plane > 0.5]] = True
        body[0] = False
        kept[n] = some & body[number]
    return kept


def _lifted(share: Array, middle: Array) -> tuple[Array, Array]:
    """Return the shares as films are to get them, and (h, w) bool where they may differ."""
    from scipy import ndimage

    thin = tuned.THIN
    size = np.ones((3, 3), bool)
    around = np.asarray(ndimage.binary_dilation(middle.any(axis=0), size))
    half = np.where(middle, share * (1 - share / 2), np.float32(0.5))  # where a line of this width is cut at its width
    drawn = _summing_to_one(np.minimum(share * (np.float32(0.5) / half), 1), middle)
    rows, cols = _up(share.shape[1]), _up(share.shape[2])
    for _ in range(thin.rounds):
        ink = np.clip((rows @ drawn[:-1] @ cols.T - np.float32(0.5)) * np.float32(thin.steep) + np.float32(0.5), 0, 1)
        n, height, width = ink.shape
        got = ink.reshape(n, height // FINER, FINER, width // FINER, FINER).mean(axis=(2, 4))
        got = np.concatenate([got, np.clip(1 - got.sum(0, keepdims=True), 0, None)])
        off = np.stack([ndimage.gaussian_filter(plane, thin.sigma_px) for plane in share - got])
        drawn = np.clip(drawn + np.float32(thin.gain) * off, 0, 1)
        drawn = _joined(np.where(middle, np.maximum(drawn, np.float32(thin.over_half)), drawn), middle)
        drawn = np.where(around, _summing_to_one(drawn, middle), share)
    return drawn, around


def _joined(drawn: Array, middle: Array) -> Array:
    """Raise what lies beside a step of a stroke from pixel to pixel across a corner, so that the step holds."""
    out = drawn.copy()
    most = np.float32(4 * tuned.THIN.over_corner)
    for right in (1, -1):
        here = slice(0, -1) if right > 0 else slice(1, None)
        there = slice(1, None) if right > 0 else slice(0, -1)
        corners = (slice(0, -1), here), (slice(1, None), there), (slice(0, -1), there), (slice(1, None), here)
        one, other, side, below = (middle[:, y, x] for y, x in corners)
        step = one & other & ~side & ~below
        total = np.sum([drawn[:, y, x] for y, x in corners], axis=0)
        lack = np.where(step, np.clip(most - total, 0, None) / 2, 0)
        for y, x in corners[2:]:
            out[:, y, x] = np.maximum(out[:, y, x], np.minimum(drawn[:, y, x] + lack, 1))
    return out


def _summing_to_one(share: Array, middle: Array) -> Array:
    """Return shares that sum to one: what runs through its middle keeps its own, the others share the rest."""
    first = np.where(middle, share, 0)
    first = first / np.maximum(first.sum(axis=0), 1)
    rest = np.where(middle, 0, share)
    room = np.clip(1 - first.sum(axis=0), 0, None)
    return np.asarray(first + rest * (room / np.maximum(rest.sum(axis=0), np.float32(1e-6))))


def _moved(planes: Array, down: int, right: int) -> Array:
    """Return what lies so many pixels down and right of each pixel; the border goes on."""
    reach = 2
    padded = np.pad(planes, ((0, 0), (reach, reach), (reach, reach)), mode="edge")
    height, width = planes.shape[1:]
    return padded[:, reach + down :, reach + right :][:, :height, :width]


@functools.lru_cache(maxsize=8)
def _up(small: int) -> Array:
    return np.asarray(enlarging(small, small * FINER).toarray(), np.float32)
