"""Pixels with their channels: the greatest and the least of them, and pixels taken out of a picture.

NumPy walks a short last axis, such as three channels, pixel by pixel: a ``max`` along it takes thirty times as long as
one of whole planes, and rows of three that are asked for by a mask seven times as long as ``take``.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

if TYPE_CHECKING:
    from sepkit.model import U32, Bool

Array = np.ndarray[Any, np.dtype[Any]]


def greatest(channels: Array) -> Array:
    """Return the greatest channel of each pixel.

    >>> greatest(np.array([[[3, 9, 4]]])).tolist()
    [[9]]
    """
    return _folded(channels, np.maximum)


def least(channels: Array) -> Array:
    """Return the least channel of each pixel.

    >>> least(np.array([[[3, 9, 4]]])).tolist()
    [[3]]
    """
    return _folded(channels, np.minimum)


def total(channels: Array) -> Array:
    """Return the sum of each pixel's channels, floats, with the bits of ``sum(axis=-1)``: it adds up to seven in turn.

    >>> total(np.array([[[0.5, 2.0, 4.0]]])).tolist()
    [[6.5]]
    """
    return _folded(channels, np.add) if 0 < channels.shape[-1] < 8 else np.asarray(channels.sum(axis=-1))


def pixels_where(picture: Array, mask: Bool) -> Array:
    """Return the pixels (p, n) of a picture (h, w, n) where a mask (h, w) holds, row by row.

    >>> pixels_where(np.array([[[1, 2], [3, 4]]]), np.array([[False, True]])).tolist()
    [[3, 4]]
    """
    return pixels_at(picture, np.flatnonzero(mask))


def pixels_at(picture: Array, at: Array) -> Array:
    """Return the pixels (..., n) of a picture (h, w, n) at flat indices.

    >>> pixels_at(np.array([[[1, 2], [3, 4]]]), np.array([1, 0])).tolist()
    [[3, 4], [1, 2]]
    """
    return picture.reshape(-1, picture.shape[-1]).take(at, axis=0)


def pack(rgb: Array) -> U32:
    """Return pixels (..., 3) uint8 as one number each, 0xRRGGBB.

    >>> hex(pack(np.array([1, 2, 3], np.uint8)))
    '0x10203'
    """
    four = np.zeros((*rgb.shape[:-1], 4), np.uint8)
    for k in range(3):
        four[..., 2 - k] = rgb[..., k]
    return four.view("<u4")[..., 0]


def _folded(channels: Array, pick: np.ufunc) -> Array:
    out = channels[..., 0].copy()
    for k in range(1, channels.shape[-1]):
        pick(out, channels[..., k], out=out)
    return out
