"""Remnants: ink specks and pinholes of a halftone that no mesh holds, found on packed rows.

Where a tone meets an edge the threshold cuts dots, and leaves crumbs. A crumb is a connected group (8 neighbours) that
fits in a square of ``size`` pixels with an empty border round that square. Crumbs are cleared, and nothing else is
touched: a window of size + 2 pixels whose border is empty holds only groups that fit in it, so the test is local and
does not depend on the bands. A crumb that lies closer to a dot prints as part of it and stays.

In and out: packed rows (n, bytes), MSB first, 1 = ink, with the rows around them that the windows read.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from typing import TYPE_CHECKING, Any

import numpy as np

if TYPE_CHECKING:
    from sepkit.model import U8

Words = np.ndarray[Any, np.dtype[np.uint64]]
Move = Callable[[Words, int, Words, Words], None]
WORD = 64
MOST_PX = WORD - 2
"""The largest crumb that one word's shift reaches."""


def clear_remnants(rows: U8, width: int, *, ink_px: int, gap_px: int, where: U8 | None = None) -> U8:
    """Return ``rows`` without ink groups up to ``ink_px`` and holes up to ``gap_px`` square; outside counts as far.

    ``where`` (packed like rows) limits the change to tone areas. Shapes (n, ceil(width / 8)).
    """
    words = _to_words(rows, width)
    valid = _to_words(np.packbits(np.ones((1, width), bool), axis=1), width)
    change = np.zeros_like(words)
    ink_px, gap_px = min(ink_px, MOST_PX), min(gap_px, MOST_PX)
    if ink_px > 0:
        change |= _small_groups(words, ink_px) & words
    if gap_px > 0:
        gaps = ~words & valid
        change |= _small_groups(gaps, gap_px) & gaps
    if where is not None:
        change &= _to_words(where, width)
    return _from_words(words ^ change, rows.shape[1])


def cleaned_rows(bands: Iterable[tuple[U8, U8 | None]], width: int, *, ink_px: int, gap_px: int) -> Iterator[U8]:
    """Yield cleaned bands from (rows, tone rows or None for no tone) bands in order; holds back a few rows."""
    halo = max(ink_px, gap_px) + 1
    held = np.zeros((0, -(-width // 8)), np.uint8)
    held_tone = held.copy()
    done = 0
    for rows, tone in bands:
        held = np.concatenate([held, rows])
        held_tone = np.concatenate([held_tone, np.zeros_like(rows) if tone is None else tone])
        ready = held.shape[0] - halo
        if ready > done:
            yield _cleaned(held, held_tone, width, done, ready, ink_px=ink_px, gap_px=gap_px)
            keep = max(0, ready - halo)
            held, held_tone, done = held[keep:], held_tone[keep:], ready - keep
    if held.shape[0] > done:
        yield _cleaned(held, held_tone, width, done, held.shape[0], ink_px=ink_px, gap_px=gap_px)


def _cleaned(held: U8, tone: U8, width: int, start: int, stop: int, *, ink_px: int, gap_px: int) -> U8:
    if not tone[start:stop].any():
        return held[start:stop]
    return clear_remnants(held, width, ink_px=ink_px, gap_px=gap_px, where=tone)[start:stop]


def _small_groups(bits: Words, size: int) -> Words:
    """Return the insides of all windows whose border is empty."""
    # Nothing all round, so that windows may hang over the edges and no row runs into the next: rows lie end to end.
    grid = np.zeros((bits.shape[0] + 2 * size + 2, bits.shape[1] + 2), np.uint64)
    grid[size + 1 : -(size + 1), 1:-1] = bits
    stride = grid.shape[1]
    flat = grid.ravel()
    spare = np.empty_like(flat), np.empty_like(flat)
    across = flat.copy()
    _spread(across, size + 2, 1, spare, _pull)
    column = flat.copy()
    _spread(column, size, stride, spare, _raise)
    # ring[p]: the border of the window whose top left is p.
    ring = across
    ring[: -(size + 1) * stride] |= across[(size + 1) * stride :].copy()
    ring[:-stride] |= column[stride:]
    _pull(column, size + 1, *spare)
    ring[:-stride] |= spare[0][stride:]
    inside = np.invert(ring, out=ring)
    # Windows that would reach below the last row are none.
    inside[-(size + 1) * stride :] = 0
    # A window at p clears size x size from one right and one below.
    _push(inside, 1, *spare)
    inside[...] = spare[0]
    _spread(inside, size, 1, spare, _push)
    _spread(inside, size, stride, spare, _lower)
    cleared = inside.reshape(grid.shape)
    return cleared[size : size + bits.shape[0], 1:-1]


def _spread(flat: Words, span: int, unit: int, spare: tuple[Words, Words], move: Move) -> None:
    """OR ``span`` moved copies (by 0, 1 .. span - 1 units) into ``flat``, doubling."""
    step = 1
    while 2 * step <= span:
        move(flat, step * unit, *spare)
        flat |= spare[0]
        step *= 2
    if step < span:
        move(flat, (span - step) * unit, *spare)
        flat |= spare[0]


def _pull(flat: Words, by: int, out: Words, spare: Words) -> None:
    """Write ``flat`` moved left into ``out``: pixel x shows what was at x + by (0 < by < 64)."""
    np.left_shift(flat, np.uint64(by), out=out)
    np.right_shift(flat[1:], np.uint64(WORD - by), out=spare[:-1])
    out[:-1] |= spare[:-1]


def _push(flat: Words, by: int, out: Words, spare: Words) -> None:
    """Write ``flat`` moved right into ``out``: pixel x shows what was at x - by (0 < by < 64)."""
    np.right_shift(flat, np.uint64(by), out=out)
    np.left_shift(flat[:-1], np.uint64(WORD - by), out=spare[1:])
    out[1:] |= spare[1:]


def _raise(flat: Words, by: int, out: Words, _: Words) -> None:
    """Write ``flat`` moved up by whole words into ``out``."""
    out[:-by] = flat[by:]
    out[-by:] = 0


def _lower(flat: Words, by: int, out: Words, _: Words) -> None:
    """Write ``flat`` moved down by whole words into ``out``."""
    out[by:] = flat[:-by]
    out[:by] = 0


def _to_words(rows: U8, width: int) -> Words:
    words = -(-width // WORD)
    padded = np.zeros((rows.shape[0], words * 8), np.uint8)
    padded[:, : rows.shape[1]] = rows
    return padded.view(">u8").astype(np.uint64)


def _from_words(words: Words, row_bytes: int) -> U8:
    return np.ascontiguousarray(words.astype(">u8").view(np.uint8)[:, :row_bytes])
