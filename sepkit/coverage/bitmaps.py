"""Bitmaps in 64-bit words: pixels moved and spread 64 at a time.

Packed rows are (n, bytes), MSB first. As words they are (n, ceil(width / 64)) uint64 with the leftmost pixel in the
highest bit, or the same laid end to end, where an empty word at each row's end keeps rows from running together.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from typing import TYPE_CHECKING, Any

import numpy as np

from sepkit.coverage.bands import row_bands
from sepkit.coverage.sums import CACHED_PIXELS

if TYPE_CHECKING:
    from sepkit.model import U8, U32, Bool

Words = np.ndarray[Any, np.dtype[np.uint64]]
Move = Callable[[Words, int, Words, Words], None]

WORD = 64
SURE_PX = 0.01
"""Room for rounding where a distance between pixels decides without a look at soft edges."""


def spread(flat: Words, span: int, unit: int, spare: tuple[Words, Words], move: Move) -> None:
    """OR ``span`` moved copies (by 0, 1 .. span - 1 units) into ``flat``, doubling."""
    step = 1
    while 2 * step <= span:
        move(flat, step * unit, *spare)
        flat |= spare[0]
        step *= 2
    if step < span:
        move(flat, (span - step) * unit, *spare)
        flat |= spare[0]


def pull(flat: Words, by: int, out: Words, spare: Words) -> None:
    """Write ``flat`` moved left into ``out``: pixel x shows what was at x + by (0 < by < 64)."""
    np.left_shift(flat, np.uint64(by), out=out)
    np.right_shift(flat[1:], np.uint64(WORD - by), out=spare[:-1])
    out[:-1] |= spare[:-1]


def push(flat: Words, by: int, out: Words, spare: Words) -> None:
    """Write ``flat`` moved right into ``out``: pixel x shows what was at x - by (0 < by < 64)."""
    np.right_shift(flat, np.uint64(by), out=out)
    np.left_shift(flat[:-1], np.uint64(WORD - by), out=spare[1:])
    out[1:] |= spare[1:]


def raised(flat: Words, by: int, out: Words, _: Words) -> None:
    """Write ``flat`` moved up by whole words into ``out``."""
    out[:-by] = flat[by:]
    out[-by:] = 0


def lowered(flat: Words, by: int, out: Words, _: Words) -> None:
    """Write ``flat`` moved down by whole words into ``out``."""
    out[by:] = flat[:-by]
    out[:by] = 0


def to_words(rows: U8, width: int) -> Words:
    """Return packed rows as words."""
    words = -(-width // WORD)
    padded = np.zeros((rows.shape[0], words * 8), np.uint8)
    padded[:, : rows.shape[1]] = rows
    return padded.view(">u8").astype(np.uint64)


def from_words(words: Words, row_bytes: int) -> U8:
    """Return words as packed rows of ``row_bytes``."""
    return np.ascontiguousarray(words.astype(">u8").view(np.uint8)[:, :row_bytes])


def packed(mask: Bool) -> Words:
    """Return a mask as words with an empty one at each row's end, as ``grown`` takes them."""
    return to_words(np.packbits(mask, axis=1), mask.shape[1] + WORD)


def printing(plane: U8) -> Words:
    """Return, packed likewise, where a plane (h, w) is over half, a few rows at a time: without a mask of its size."""
    rows = max(1, CACHED_PIXELS // max(plane.shape[1], 1))
    bits = [np.packbits(plane[band.start : band.stop] > 127, axis=1) for band in row_bands(len(plane), rows)]
    return to_words(np.concatenate(bits), plane.shape[1] + WORD)


def set_at(words: Words, width: int) -> U32:
    """Return the flat index, rising, of what is set in words of a mask."""
    rows = np.flatnonzero(words.any(axis=1))
    found = np.flatnonzero(unpacked(words[rows], width))
    down = found // width
    return (found + (rows[down] - down) * width).astype(np.uint32)


def unpacked(words: Words, width: int) -> Bool:
    """Return the mask (h, width) bool of words."""
    return np.unpackbits(from_words(words, -(-width // 8)), axis=1, count=width).view(bool)


def within(mask: Bool, reach_px: float) -> Bool:
    """Return (h, w) True where a pixel's centre is at most ``reach_px`` (below 63) from that of one in ``mask``.

    >>> dot = np.zeros((5, 5), bool)
    >>> dot[2, 2] = True
    >>> within(dot, 2.0).sum(axis=1).tolist()
    [1, 3, 5, 3, 1]
    """
    return unpacked(grown(packed(mask), disc(reach_px)), mask.shape[1])


def surely_reached(mask: Bool, distance_px: float, *, cover: float) -> Bool:
    """Return (h, w) True where ``reach.edge_distance`` is at most ``distance_px`` for sure; see ``sure_disc``."""
    return unpacked(grown(packed(mask), sure_disc(distance_px, cover=cover)), mask.shape[1])


def disc(reach_px: float) -> list[int]:
    """Return how far a disc reaches to both sides in its middle row, a row from it, and so on."""
    return [int(math.sqrt(reach_px * reach_px - dy * dy)) for dy in range(int(reach_px) + 1)]


def square(reach: int) -> list[int]:
    """Return the same of a square."""
    return [reach] * (reach + 1)


def sure_disc(distance_px: float, *, cover: float) -> list[int]:
    """Return the disc around a pixel in which ``reach.edge_distance`` is at most ``distance_px`` for sure.

    The pixel's shape covers at least ``cover`` of it, above 1/2. A pixel y of it at (dx, dy) is looked at
    by way of its column, where a fainter pixel a row nearer may be taken for it: then the distance is at most
    sqrt((dy - 1)^2 + dx^2) + 1/2. Straight up or down, and along its row, nothing is taken for it.
    """
    own, nearer = distance_px - 0.5 + cover - SURE_PX, distance_px - 0.5 - SURE_PX
    if own < 0:
        return []
    halves = [int(own)]
    for dy in range(1, int(own) + 1):
        across = min(own * own - dy * dy, nearer * nearer - (dy - 1) ** 2 if nearer > 0 else 0.0)
        halves.append(int(math.sqrt(max(across, 0.0))))
    return halves


def grown(words: Words, halves: Sequence[int]) -> Words:
    """Return a packed mask grown by rows: ``halves[dy]`` pixels to both sides ``dy`` rows off; never rising.

    Bits beyond the mask's width may be set.
    """
    height = len(words)
    wide, out = words.copy(), np.zeros_like(words)
    other, spare = np.zeros_like(words.reshape(-1)), np.zeros_like(words.reshape(-1))
    half = 0
    for dy in range(min(len(halves), height) - 1, -1, -1):
        while half < min(halves[dy], WORD - 1):
            half += 1
            for move in (pull, push):
                move(words.reshape(-1), half, other, spare)
                wide |= other.reshape(wide.shape)
        out[dy:] |= wide[: height - dy]
        if dy:
            out[:-dy] |= wide[dy:]
    return out
