"""Where a halftoned plate has outlines: edges from solid to nothing that are to stay crisp between dots.

In: coverage (h, w) uint8 and where it is a tone. Out: the tone without its outlines. An outline is where solid and
empty coverage lie within ``REACH_PX`` pixels of one another: no tone runs that fast, and dots would fray the edge.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from sepkit.coverage.bands import pack_bits, row_bands
from sepkit.coverage.bitmaps import Words, from_words, lowered, push, spread, to_words

if TYPE_CHECKING:
    from sepkit.model import U8

SOLID_LEVEL, EMPTY_LEVEL = 240, 15
REACH_PX = 2
BAND_ROWS = 256


def without_outlines(tone: U8, coverage: U8) -> U8:
    """Return packed tone rows (h, ceil(w / 8)) with the outlines of ``coverage`` cleared."""
    width = coverage.shape[1]
    out = tone.copy()
    for band in row_bands(coverage.shape[0], BAND_ROWS, halo=REACH_PX):
        rows = coverage[band.outer_start : band.outer_stop]
        solid, empty = pack_bits(rows >= SOLID_LEVEL), pack_bits(rows <= EMPTY_LEVEL)
        if solid.any() and empty.any():
            outline = _near(to_words(solid, width)) & _near(to_words(empty, width))
            out[band.start : band.stop] &= ~from_words(outline[band.inner], tone.shape[1])
    return out


def _near(bits: Words) -> Words:
    """Return bits spread by REACH_PX all round (a square)."""
    side = 2 * REACH_PX + 1
    grid = np.zeros((bits.shape[0] + 2 * REACH_PX, bits.shape[1] + 2), np.uint64)
    # Bits go one word in and are spread right and down, then read REACH_PX further on.
    grid[: bits.shape[0], 1:-1] = bits
    flat = grid.ravel()
    spare = np.empty_like(flat), np.empty_like(flat)
    spread(flat, side, 1, spare, push)
    spread(flat, side, grid.shape[1], spare, lowered)
    flat[:-1] = (flat[:-1] << np.uint64(REACH_PX)) | (flat[1:] >> np.uint64(64 - REACH_PX))
    return grid[REACH_PX : REACH_PX + bits.shape[0], 1:-1]
