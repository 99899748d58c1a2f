"""Colours of pixels that several screens cover in part, and how they change with each coverage.

In: coverages (h, w) float 0..1 and stack colours (2^n, 3) in linear light. Where edges of screens meet within a pixel
their coverages are taken as independent (Demichel's products, as in ``preview.stack``).
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

import numpy as np

if TYPE_CHECKING:
    from sepkit.model import F32, F64

    Codes = np.ndarray[Any, np.dtype[np.int64]]

ENCODING_FLOOR = 0.004
"""Linear light added before the cube root, so that dark cloth's noise does not count as colour."""


def mixed(planes: Sequence[F32], colours: F64) -> F32:
    """Return the colour (h, w, 3) of each pixel; most hold one stack and are looked up."""
    code, soft = stack_codes(planes), np.zeros(planes[0].shape, bool)
    for plane in planes:
        soft |= (plane > 0.004) & (plane < 0.996)
    table = np.asarray(colours, np.float32)
    out = table[code]
    if soft.any():
        out[soft] = _products([plane[soft] for plane in planes], table)
    return out


def stack_codes(planes: Sequence[F32]) -> Codes:
    """Return the stack that most of each pixel holds."""
    code: Codes = np.zeros(planes[0].shape, np.int64)
    for k, plane in enumerate(planes):
        code |= (plane > 0.5).astype(np.int64) << k
    return code


def mixed_and_slopes(planes: Sequence[F32], colours: F64) -> tuple[F32, list[F32]]:
    """Return the colour (3, h, w) of each pixel, and its slope (3, h, w) against each screen's coverage."""
    table = np.asarray(colours, np.float32)
    slopes = []
    for k in range(len(planes)):
        without = [s for s in range(len(table)) if not s >> k & 1]
        steps = table[[s | 1 << k for s in without]] - table[without]
        shares = stack_shares([plane for i, plane in enumerate(planes) if i != k] or [np.zeros_like(planes[0])])
        slopes.append(_summed(shares[: len(steps)], steps))
    return _summed(stack_shares(planes), table), slopes


def _summed(shares: Sequence[F32], colours: F32) -> F32:
    """Return the sum (3, h, w) of shares of colours; shares that are nowhere are left out."""
    used = [s for s, share in enumerate(shares) if share.any()]
    h, w = shares[0].shape
    flat = np.stack([shares[s] for s in used]).reshape(len(used), -1)
    return np.asarray((colours[used].T @ flat).reshape(3, h, w), np.float32)


def stack_shares(planes: Sequence[F32]) -> list[F32]:
    """Return each stack's share of every pixel, 2^n images."""
    shares = [np.ones_like(planes[0])]
    for plane in planes:
        shares = [s * (1 - plane) for s in shares] + [s * plane for s in shares]
    return shares


def encoded(linear: F32) -> F32:
    """Return linear light in a space in which equal steps look about equal (a cube root, as in CIE L*)."""
    return np.asarray(np.cbrt(np.maximum(linear, 0) + np.float32(ENCODING_FLOOR)), np.float32)


def _products(planes: Sequence[F32], table: F32) -> F32:
    """Return the sum over stacks of colour and share: the last screen is folded in first."""
    values = [np.broadcast_to(colour, (*planes[0].shape, 3)) for colour in table]
    for k in range(len(planes) - 1, -1, -1):
        cover, half = planes[k][..., None], 1 << k
        values = [values[s] + cover * (values[s + half] - values[s]) for s in range(half)]
    return np.asarray(values[0], np.float32)
