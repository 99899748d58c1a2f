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
    """Return planes (..., h, w) moved by a fraction of pixels (linear between pixels); nothing comes in."""
    out = plane
    for axis, by in ((-1, right_px), (-2, down_px)):
        whole, part = _steps(by)
        near = _slid(out, whole, axis)
        out = _between(near, _slid(out, whole + 1, axis), part) if part else near
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
    """Return what lies ``part`` 256ths of the way from near to far; a few rows, or pictures, at a time."""
    out = np.empty(near.shape, np.uint8)
    for band in row_bands(len(near), max(1, CACHED_PIXELS // max(math.prod(near.shape[1:]), 1))):
        some = slice(band.start, band.stop)
        mixed = np.multiply(near[some], np.uint16(256 - part), dtype=np.uint16)
        mixed += np.multiply(far[some], np.uint16(part), dtype=np.uint16)
        mixed += np.uint16(128)
        mixed >>= np.uint16(8)
        out[some] = mixed
    return out


def _slid(values: U8, by: int, axis: int) -> U8:
    out = np.zeros_like(values)
    size = values.shape[axis]
    if abs(by) >= size:
        return out
    to, source = [slice(None)] * values.ndim, [slice(None)] * values.ndim
    to[axis] = slice(max(by, 0), size + min(by, 0))
    source[axis] = slice(max(-by, 0), size + min(-by, 0))
    out[tuple(to)] = values[tuple(source)]
    return out
