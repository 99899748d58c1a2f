"""Remnants: ink specks and pinholes of a halftone that no mesh holds, found on packed rows.

Where a tone meets an edge the threshold cuts dots, and leaves crumbs. A crumb is a connected group (8 neighbours) that
fits in a square of ``size`` pixels with an empty border round that square. Crumbs are cleared, and nothing else is
touched: a window of size + 2 pixels whose border is empty holds only groups that fit in it, so the test is local and
does not depend on the bands. A crumb that lies closer to a dot prints as part of it and stays.

In and out: packed rows (n, bytes), MSB first, 1 = ink, with the rows around them that the windows read.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from typing import TYPE_CHECKING, Any

import numpy as np

if TYPE_CHECKING:
    from sepkit.model import U8

Words = np.ndarray[Any, np.dtype[np.uint64]]
WORD = 64


def clear_remnants(rows: U8, width: int, *, ink_px: int, gap_px: int, where: U8 | None = None) -> U8:
    """Return ``rows`` without ink groups up to ``ink_px`` and holes up to ``gap_px`` square; outside counts as far.

    ``where`` (packed like rows) limits the change to tone areas. Shapes (n, ceil(width / 8)).
    """
    words = _to_words(rows, width)
    valid = _to_words(np.packbits(np.ones((1, width), bool), axis=1), width)
    change = np.zeros_like(words)
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
    # One row and column of nothing on the top and left, size + 1 below, so that windows may hang over the edges.
    grid = np.pad(bits, ((size + 1, size + 1), (1, 1)))
    span = size + 2
    across = _or_from(grid, span)
    column = grid.copy()
    _or_rows(column, size)
    ring = across[: -(span - 1)] | across[span - 1 :]
    sides = column[1 : 1 + ring.shape[0]]
    ring |= sides | _pull(sides, size + 1)
    inside = ~ring
    # inside[y, x] clears (y + 1 .. y + size, x + 1 .. x + size) of the grid.
    inside = _push(inside, 1)
    step = 1
    while 2 * step <= size:
        inside |= _push(inside, step)
        step *= 2
    if step < size:
        inside |= _push(inside, size - step)
    tall = np.zeros_like(grid)
    tall[1 : 1 + inside.shape[0]] = inside
    flipped = tall[::-1]
    _or_rows(flipped, size)
    return tall[size + 1 : -(size + 1), 1:-1]


def _or_from(grid: Words, span: int) -> Words:
    """Return at x the OR of pixels x .. x + span - 1."""
    out, step = grid.copy(), 1
    while 2 * step <= span:
        out |= _pull(out, step)
        step *= 2
    if step < span:
        out |= _pull(out, span - step)
    return out


def _or_rows(grid: Words, span: int) -> None:
    """Replace row y by the OR of rows y .. y + span - 1 (fewer at the end), in place."""
    step = 1
    while 2 * step <= span:
        grid[:-step] |= grid[step:].copy()
        step *= 2
    if step < span:
        grid[: -(span - step)] |= grid[span - step :].copy()


def _pull(grid: Words, by: int) -> Words:
    """Return the grid moved left: pixel x shows what was at x + by (0 <= by)."""
    whole, part = divmod(by, WORD)
    if whole:
        grid = np.pad(grid[:, whole:], ((0, 0), (0, whole)))
    if not part:
        return grid.copy()
    out = grid << np.uint64(part)
    out[:, :-1] |= grid[:, 1:] >> np.uint64(WORD - part)
    return out


def _push(grid: Words, by: int) -> Words:
    """Return the grid moved right: pixel x shows what was at x - by."""
    whole, part = divmod(by, WORD)
    if whole:
        grid = np.pad(grid[:, :-whole], ((0, 0), (whole, 0)))
    if not part:
        return grid.copy()
    out = grid >> np.uint64(part)
    out[:, 1:] |= grid[:, :-1] << np.uint64(WORD - part)
    return out


def _to_words(rows: U8, width: int) -> Words:
    words = -(-width // WORD)
    padded = np.zeros((rows.shape[0], words * 8), np.uint8)
    padded[:, : rows.shape[1]] = rows
    return padded.view(">u8").astype(np.uint64)


def _from_words(words: Words, row_bytes: int) -> U8:
    return np.ascontiguousarray(words.astype(">u8").view(np.uint8)[:, :row_bytes])
