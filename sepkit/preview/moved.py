"""Planes moved by a fraction of pixels, linear between them."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING

import numpy as np

from sepkit.coverage.bands import row_bands
from sepkit.coverage.sums import CACHED_PIXELS

if TYPE_CHECKING:
    from sepkit.model import U8


def moved(plane: U8, *, right_px: float, down_px: float) -> U8:
    """Return a plane (h, w) moved by a fraction of pixels (linear between pixels); nothing comes in.

    It is moved a few rows at a time.
    """
    (right, right_part), (down, down_part) = _steps(right_px), _steps(down_px)
    out = np.empty_like(plane)
    for band in row_bands(len(plane), max(1, CACHED_PIXELS // max(plane.shape[1], 1))):
        rows = _rows(plane, band.start - down - 1, band.stop - down)
        near = _slid(rows, right)
        if right_part:
            near = _between(near, _slid(rows, right + 1), right_part)
        out[band.start : band.stop] = _between(near[1:], near[:-1], down_part) if down_part else near[1:]
    return out


def moved_within(plane: U8, right_px: float, down_px: float, halo: int) -> U8:
    """Return what ``moved`` gives of planes (n, side, side), without a ``halo`` that is wider than the move."""
    side = plane.shape[-1] - 2 * halo
    (right, right_part), (down, down_part) = _steps(right_px), _steps(down_px)
    rows = plane[:, halo - down - 1 : halo - down + side]
    near = rows[..., halo - right : halo - right + side]
    if right_part:
        near = _between(near, rows[..., halo - right - 1 : halo - right - 1 + side], right_part)
    return _between(near[:, 1:], near[:, :-1], down_part) if down_part else near[:, 1:]


def _steps(by: float) -> tuple[int, int]:
    """Return a move as whole pixels and 256ths of the next."""
    whole = math.floor(by + 1e-6)
    return whole, round((by - whole) * 256)


def _between(near: U8, far: U8, part: int) -> U8:
    """Return what lies ``part`` 256ths of the way from near to far; a few rows, or tiles, at a time."""
    out = np.empty(near.shape, np.uint8)
    for band in row_bands(len(near), max(1, CACHED_PIXELS // max(math.prod(near.shape[1:]), 1))):
        some = slice(band.start, band.stop)
        mixed = np.multiply(near[some], np.uint16(256 - part), dtype=np.uint16)
        mixed += np.multiply(far[some], np.uint16(part), dtype=np.uint16)
        mixed += np.uint16(128)
        mixed >>= np.uint16(8)
        out[some] = mixed
    return out


def _rows(plane: U8, start: int, stop: int) -> U8:
    """Return the rows from ``start`` to ``stop``; beyond the plane they are bare."""
    out = np.zeros((stop - start, plane.shape[1]), np.uint8)
    first, last = max(start, 0), min(stop, len(plane))
    if first < last:
        out[first - start : last - start] = plane[first:last]
    return out


def _slid(rows: U8, by: int) -> U8:
    """Return rows moved to the right by whole pixels."""
    out, width = np.zeros_like(rows), rows.shape[1]
    if abs(by) < width:
        out[:, max(by, 0) : width + min(by, 0)] = rows[:, max(-by, 0) : width + min(-by, 0)]
    return out
