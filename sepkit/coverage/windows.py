"""Work that looks no farther than some pixels, done again only where a mask changed.

In: a mask (h, w) bool and work on masks whose result at a pixel follows from what lies within a reach of it. Out:
what the work gives for the whole mask. While a lasting Keep is in use windows of WINDOW_PX are worked one by one, known
again by what they hold; else the work is done at once.
"""

from __future__ import annotations

import hashlib
from collections.abc import Callable, Hashable, Iterator
from functools import partial
from typing import TYPE_CHECKING

import numpy as np

from sepkit.coverage.keep import kept_as, lasting

if TYPE_CHECKING:
    from sepkit.model import U8, Bool

Window = tuple[slice, slice]
WINDOW_PX = 384
"""A change by hand touches few such windows of a print; smaller ones cost more calls than they save."""


def windows_of(shape: tuple[int, ...]) -> Iterator[Window]:
    """Yield windows that cover a plane."""
    for top in range(0, shape[0], WINDOW_PX):
        for left in range(0, shape[1], WINDOW_PX):
            yield (
                slice(top, min(top + WINDOW_PX, shape[0])),
                slice(left, min(left + WINDOW_PX, shape[1])),
            )


def known_by(window: U8) -> bytes:
    """Return what a window (h, w) uint8 is known by: its size and a digest of what it holds."""
    size = f"{window.shape[0]} {window.shape[1]} ".encode()
    return hashlib.blake2b(size + window.tobytes(), digest_size=20).digest()


def in_windows(work: Callable[[Bool], Bool], mask: Bool, *, reach_px: int, key: Hashable) -> Bool:
    """Return ``work(mask)``, which must be empty where the mask is; ``key`` tells the work from any other."""
    if not lasting() or max(mask.shape) <= WINDOW_PX:
        return work(mask)
    out = np.zeros_like(mask)
    for rows, columns in windows_of(mask.shape):
        top, left = max(0, rows.start - reach_px), max(0, columns.start - reach_px)
        window = mask[top : rows.stop + reach_px, left : columns.stop + reach_px]
        inner = (
            slice(rows.start - top, rows.stop - top),
            slice(columns.start - left, columns.stop - left),
        )
        if not window[inner].any():
            continue
        edges = (top == 0, left == 0, rows.stop + reach_px >= mask.shape[0], columns.stop + reach_px >= mask.shape[1])
        known = (key, edges, inner[0].start, inner[1].start, known_by(np.packbits(window, axis=1)), window.shape)
        bits = kept_as(known, (), partial(_packed, work, window, inner))
        out[rows, columns] = np.unpackbits(bits, axis=1, count=columns.stop - columns.start).view(bool)
    return out


def _packed(work: Callable[[Bool], Bool], window: Bool, inner: Window) -> U8:
    return np.packbits(work(window)[inner], axis=1)
