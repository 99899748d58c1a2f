"""Remnants: ink specks and pinholes of a halftone that no mesh holds, found on packed rows.

Where a tone meets an edge the threshold cuts dots, and leaves crumbs. A crumb is a connected group (8 neighbours) that
fits in a square of ``size`` pixels with an empty border round that square. Crumbs are cleared, and nothing else is
touched: a window of size + 2 pixels whose border is empty holds only groups that fit in it, so the test is local and
does not depend on the bands. A crumb that lies closer to a dot prints as part of it and stays.

In and out: packed rows (n, bytes), MSB first, 1 = ink, with the rows around them that the windows read.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from typing import TYPE_CHECKING

import numpy as np

from sepkit.coverage.bitmaps import WORD, Words, from_words, lowered, pull, push, raised, spread, to_words

if TYPE_CHECKING:
    from sepkit.model import U8

MOST_PX = WORD - 2
"""The largest crumb that one word's shift reaches."""


def clear_remnants(rows: U8, width: int, *, ink_px: int, gap_px: int, where: U8 | None = None) -> U8:
    """Return ``rows`` without ink groups up to ``ink_px`` and holes up to ``gap_px`` square; outside counts as far.

    ``where`` (packed like rows) limits the change to tone areas. Shapes (n, ceil(width / 8)).
    """
    words = to_words(rows, width)
    valid = to_words(np.packbits(np.ones((1, width), bool), axis=1), width)
    change = np.zeros_like(words)
    ink_px, gap_px = min(ink_px, MOST_PX), min(gap_px, MOST_PX)
    if ink_px > 0:
        change |= _small_groups(words, ink_px) & words
    if gap_px > 0:
        gaps = ~words & valid
        change |= _small_groups(gaps, gap_px) & gaps
    if where is not None:
        change &= to_words(where, width)
    return from_words(words ^ change, rows.shape[1])


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
            yield _cleaned(held, held_tone, width, slice(done, ready), ink_px=ink_px, gap_px=gap_px)
            keep = max(0, ready - halo)
            held, held_tone, done = held[keep:], held_tone[keep:], ready - keep
    if held.shape[0] > done:
        yield _cleaned(held, held_tone, width, slice(done, None), ink_px=ink_px, gap_px=gap_px)


def _cleaned(held: U8, tone: U8, width: int, ready: slice, *, ink_px: int, gap_px: int) -> U8:
    if not tone[ready].any():
        return held[ready]
    return clear_remnants(held, width, ink_px=ink_px, gap_px=gap_px, where=tone)[ready]


def _small_groups(bits: Words, size: int) -> Words:
    """Return the insides of all windows whose border is empty."""
    # Nothing all round, so that windows may hang over the edges and no row runs into the next: rows lie end to end.
    grid = np.zeros((bits.shape[0] + 2 * size + 2, bits.shape[1] + 2), np.uint64)
    grid[size + 1 : -(size + 1), 1:-1] = bits
    stride = grid.shape[1]
    flat = grid.ravel()
    spare = np.empty_like(flat), np.empty_like(flat)
    across = flat.copy()
    spread(across, size + 2, 1, spare, pull)
    column = flat.copy()
    spread(column, size, stride, spare, raised)
    # ring[p]: the border of the window whose top left is p.
    ring = across
    ring[: -(size + 1) * stride] |= across[(size + 1) * stride :].copy()
    ring[:-stride] |= column[stride:]
    pull(column, size + 1, *spare)
    ring[:-stride] |= spare[0][stride:]
    inside = np.invert(ring, out=ring)
    # Windows that would reach below the last row are none.
    inside[-(size + 1) * stride :] = 0
    # A window at p clears size x size from one right and one below.
    push(inside, 1, *spare)
    inside[...] = spare[0]
    spread(inside, size, 1, spare, push)
    spread(inside, size, stride, spare, lowered)
    cleared = inside.reshape(grid.shape)
    return cleared[size : size + bits.shape[0], 1:-1]
