"""Bitmaps in 64-bit words: pixels moved and spread 64 at a time.

Packed rows are (n, bytes), MSB first. As words they are (n, ceil(width / 64)) uint64 with the leftmost pixel in the
highest bit, or the same laid end to end, where an empty word at each row's end keeps rows from running together.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING, Any

import numpy as np

if TYPE_CHECKING:
    from sepkit.model import U8

Words = np.ndarray[Any, np.dtype[np.uint64]]
Move = Callable[[Words, int, Words, Words], None]

WORD = 64


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
