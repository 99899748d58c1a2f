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

from sepkit.coverage.bitmaps import grown, packed, square, unpacked
from sepkit.separation import tuned_mixing as tuned
from sepkit.separation.grid import enlarging_dense
from sepkit.threads import each

if TYPE_CHECKING:
    from sepkit.model import U8

Array = np.ndarray[Any, np.dtype[Any]]

FINER = 4  # times the grid on which films are looked at
BLOCK_PX = 256  # pixels of the picture worked at once, each way
HALO_PX = 12  # and around them: what lies farther changes nothing that is seen
# Ways across a stroke.
WAYS = ((0, 1), (1, 0), (1, 1), (1, -1))
LEVEL = 1 / 255  # of coverage
REACH = 2  # pixels around one, each way, that tell what films draw in it


Block = tuple[tuple[slice, slice], dict[int, tuple[Any, Any]]]


def thin_kept(planes: list[U8], *, noisy: bool) -> list[U8]:
    """Return (h, w) uint8 planes, which sum to at most solid, in which thin strokes and gaps are drawn by films.

    noisy: the art is compressed; a stroke must then be drawn somewhere on its way to be taken for one.
    """
    if not planes:
        return []
    height, width = planes[0].shape
    corners = [(top, left) for top in range(0, height, BLOCK_PX) for left in range(0, width, BLOCK_PX)]
    drawn = list(planes)
    found = each(lambda corner: _block(planes, corner, noisy=noisy), corners, px=height * width)
    for inner, lifted in (part for parts in found for part in parts):
        for n, (level, around) in lifted.items():
            if drawn[n] is planes[n]:
                drawn[n] = planes[n].copy()
            np.copyto(drawn[n][inner], level, where=around)
    return drawn


def _block(planes: list[U8], corner: tuple[int, int], *, noisy: bool) -> list[Block]:
    """Return the block at a corner with the levels of planes in it and where they may differ; nothing where none do."""
    (height, width), (top, left) = planes[0].shape, corner
    y, x = max(0, top - HALO_PX), max(0, left - HALO_PX)
    low, right = min(top + BLOCK_PX, height), min(left + BLOCK_PX, width)
    outer = slice(y, min(low + HALO_PX, height)), slice(x, min(right + HALO_PX, width))
    some = [n for n, plane in enumerate(planes) if plane[outer].any()]
    if not any((planes[n][outer] - np.uint8(1) < 254).any() for n in some):
        return []  # all solid or bare
    share = np.stack([planes[n][outer] for n in some]).astype(np.float32) * np.float32(LEVEL)
    share = np.concatenate([share, np.clip(1 - share.sum(0, keepdims=True), 0, None)])
    middle = middles(share, noisy=noisy)
    inner = slice(top - y, low - y), slice(left - x, right - x)
    if not middle.any():
        return []
    lifted, around = _lifted(share, middle)
    levels = np.floor(lifted[:-1, *inner] * 255 + np.float32(0.01)).astype(np.uint8)
    return [((slice(top, low), slice(left, right)), {n: (levels[k], around[inner]) for k, n in enumerate(some)})]


def middles(share: Array, *, noisy: bool) -> Array:
    """Return (n, h, w) bool where the middle of a stroke of each share runs, of one that is thinner than a pixel.

    share: (n, h, w) float32 that sum to one, the last of them bare. The share is the greatest on a way across, falls to
    less than half of itself within two pixels on both sides, and what lies beyond is the same on both: a stroke on one
    ground, and no seam between two.
    """
    thin = tuned.THIN
    maybe = (share >= (thin.least_noisy if noisy else thin.least)) & (share < thin.most)
    n, y, x = np.nonzero(maybe)
    around = np.pad(share, ((0, 0), (REACH, REACH), (REACH, REACH)), mode="edge")
    most = np.pad(share.argmax(axis=0), REACH, mode="edge")
    wide = most.shape[1]
    at = (y + REACH) * wide + x + REACH
    here, on = n * most.size + at, share[maybe]
    is_middle = np.zeros(len(n), bool)
    for down, right in WAYS:
        step, aside = down * wide + right, right * wide - down
        near, back, far, behind = (around.ravel()[here + by] for by in (step, -step, 2 * step, -2 * step))
        falls = np.maximum(np.minimum(near, far), np.minimum(back, behind)) < thin.fall * on
        ground = most.ravel()[at + 2 * step] == most.ravel()[at - 2 * step]
        along = np.maximum(around.ravel()[here + aside], around.ravel()[here - aside])  # a body that it tops
        is_middle |= (on >= near) & (on >= back) & falls & ground & (along < thin.most)
    found = np.zeros(share.shape, bool)
    found[n[is_middle], y[is_middle], x[is_middle]] = True
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
    thin = tuned.THIN
    around = _grown(np.logical_or.reduce(middle), 1)
    at = np.flatnonzero(around)
    asked, through = share[:, around], middle[:, around]
    films, steps = _Films(share, around), _steps(middle)
    nothing = np.zeros((len(share), 1), np.float32)
    drawn = np.concatenate([share.reshape(len(share), -1), nothing], axis=1)  # beyond the picture there is none
    half = np.where(through, asked * (1 - asked / 2), np.float32(0.5))  # where a line of this width is cut at its width
    drawn[:, at] = _summing_to_one(np.minimum(asked * (np.float32(0.5) / half), 1), through)
    for _ in range(thin.rounds):
        here = np.clip(drawn[:, at] + np.float32(thin.gain) * films.lacking(drawn), 0, 1)
        drawn[:, at] = np.where(through, np.maximum(here, np.float32(thin.over_half)), here)
        _join(drawn, steps)
        drawn[:, at] = _summing_to_one(drawn[:, at], through)
    return drawn[:, :-1].reshape(share.shape), around


class _Films:
    """What films draw of shares, looked at where it matters: around pixels that may change."""

    def __init__(self, share: Array, around: Array) -> None:
        seen, beyond = _grown(around, REACH), around.size
        numbers = np.arange(beyond, dtype=np.int32).reshape(around.shape)
        self.taps = _windows(np.pad(numbers, REACH, constant_values=beyond), seen)
        self.asked = share[:, seen]
        place = np.cumsum(seen.ravel()) - 1
        self.near = place[_windows(np.pad(numbers, REACH, mode="symmetric"), around)]
        inside = np.append(np.ones(beyond, np.float32), np.float32(0))
        part = inside[self.taps] @ _subsampled()
        self.part = None if part.min() > 1 - 1e-5 else part
        """How much of each tap's weight lies in the picture; None where all of all do."""

    def lacking(self, drawn: Array) -> Array:
        """Return how much ink around each pixel that may change is missing in films of these shares, (n, pixels)."""
        steep = np.float32(tuned.THIN.steep)
        got = np.zeros_like(self.asked)
        for k, plane in enumerate(drawn[:-1]):
            values = plane[self.taps]
            some = values.any(axis=1)
            ink = values[some] @ _subsampled()
            if self.part is not None:
                ink /= self.part[some]
            ink = (ink - np.float32(0.5)) * steep + np.float32(0.5)
            got[k, some] = np.clip(ink, 0, 1).mean(axis=1)
        got[-1] = np.clip(1 - got[:-1].sum(axis=0), 0, None)
        return np.stack([lack[self.near] @ _blur() for lack in self.asked - got])


def _grown(mask: Array, reach: int) -> Array:
    """Return a mask (h, w) grown by a square."""
    return unpacked(grown(packed(mask), square(reach)), mask.shape[1])


def _windows(padded: Array, where: Array) -> Array:
    """Return what is padded by REACH around each pixel that is marked, (pixels, 25)."""
    y, x = np.nonzero(where)
    side = 2 * REACH + 1
    steps = (np.arange(side)[:, None] * padded.shape[1] + np.arange(side)).ravel()
    return np.asarray(padded.ravel()[(y * padded.shape[1] + x)[:, None] + steps])


@functools.cache
def _subsampled() -> Array:
    """Return the weights of the (5 x 5) pixels around one at each of the FINER x FINER places in it, (25, 16)."""
    side = 2 * REACH + 1
    middle = slice(REACH * FINER, (REACH + 1) * FINER)
    line = enlarging_dense(side, side * FINER)[middle]
    return np.asarray(np.einsum("iy,jx->yxij", line, line).reshape(side**2, FINER**2), np.float32)


@functools.cache
def _blur() -> Array:
    """Return the weights of the (5 x 5) pixels around one, averaged, (25,)."""
    line = np.exp(-0.5 * (np.arange(-REACH, REACH + 1) / tuned.THIN.sigma_px) ** 2)
    line /= line.sum()
    return np.outer(line, line).ravel().astype(np.float32)


def _steps(middle: Array) -> Array:
    """Return where a stroke steps from pixel to pixel across a corner, (places, 5) whole numbers.

    Its plane; flat in this, the two pixels, and the two beside the step.
    """
    width = middle.shape[2]
    found = []
    for right in (1, -1):
        here = slice(0, -1) if right > 0 else slice(1, None)
        there = slice(1, None) if right > 0 else slice(0, -1)
        one, other = middle[:, :-1, here], middle[:, 1:, there]
        n, y, x = np.nonzero(one & other & ~middle[:, :-1, there] & ~middle[:, 1:, here])
        x = x if right > 0 else x + 1
        at = y * width + x
        found.append(np.stack([n, at, at + width + right, at + right, at + width], axis=1))
    return np.concatenate(found)


def _join(drawn: Array, steps: Array) -> None:
    """Raise what lies beside a step of a stroke from pixel to pixel across a corner, so that the step holds."""
    n, *pixels = steps.T
    one, other, side, below = (drawn[n, at] for at in pixels)
    lack = np.clip(np.float32(4 * tuned.THIN.over_corner) - (one + other + side + below), 0, None) / 2
    for at, before in zip(pixels[2:], (side, below), strict=True):
        np.maximum.at(drawn, (n, at), np.minimum(before + lack, 1))


def _summing_to_one(share: Array, middle: Array) -> Array:
    """Return shares that sum to one: what runs through its middle keeps its own, the others share the rest."""
    first = np.where(middle, share, 0)
    first = first / np.maximum(first.sum(axis=0), 1)
    rest = np.where(middle, 0, share)
    room = np.clip(1 - first.sum(axis=0), 0, None)
    return np.asarray(first + rest * (room / np.maximum(rest.sum(axis=0), np.float32(1e-6))))
