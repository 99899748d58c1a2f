"""Spread, choke and the half-way line as they are defined, over a whole small plane at once: nothing is skipped."""

from __future__ import annotations

import numpy as np

from sepkit.coverage.reach import FAINT_TONE


def plain_distance(cover: np.ndarray, reach_px: float) -> np.ndarray:
    """Return the distance to the nearest edge, found in columns and then along rows."""
    radius = int(np.ceil(reach_px)) + 1
    column = np.where(cover > 0, 0.5 - cover, np.float32(1e3)).astype(np.float32)
    steps = np.zeros(cover.shape, np.uint8)
    shift = 1
    while shift <= radius:
        before, before_steps = column.copy(), steps.copy()
        for to, source in ((slice(shift, None), slice(None, -shift)), (slice(None, -shift), slice(shift, None))):
            offered = before[source] + shift
            better = offered < column[to]
            np.copyto(column[to], offered, where=better)
            np.copyto(steps[to], before_steps[source] + np.uint8(shift), where=better)
        shift *= 2
    offset, rise2 = column - steps, steps.astype(np.float32) ** 2
    best = column.copy()
    for dx in range(1, min(radius, cover.shape[1] - 1) + 1):
        through = np.sqrt(rise2 + np.float32(dx * dx)) + offset
        np.minimum(best[:, dx:], through[:, :-dx], out=best[:, dx:])
        np.minimum(best[:, :-dx], through[:, dx:], out=best[:, :-dx])
    return best


def plain_shape(coverage: np.ndarray, tone: np.ndarray | None = None) -> np.ndarray:
    """Return the shape that moves: faint pixels count beside those that print."""
    from scipy.ndimage import binary_dilation

    shape = (coverage / np.float32(255)).astype(np.float32)
    shape[~binary_dilation(coverage > 127, np.ones((3, 3)))] = 0
    if tone is not None:
        shape[tone] = coverage[tone] >= FAINT_TONE
    return shape


def plain_spread(coverage: np.ndarray, distance_px: float, tone: np.ndarray | None = None) -> np.ndarray:
    """Return the plane grown."""
    from scipy.ndimage import maximum_filter

    if coverage.min() == coverage.max():
        return coverage
    shape = plain_shape(coverage, tone)
    grown = np.clip(0.5 + distance_px - plain_distance(shape, distance_px + 1), 0, 1)
    if tone is not None and tone.any():
        size = 2 * int(np.ceil(distance_px)) + 1
        grown = grown * (maximum_filter(coverage, size=size, mode="nearest") / np.float32(255)).astype(np.float32)
    return np.maximum(coverage, np.rint(grown * 255).astype(np.uint8))


def plain_choke(coverage: np.ndarray, distance_px: float, tone: np.ndarray | None = None) -> np.ndarray:
    """Return the plane shrunk."""
    if coverage.min() == coverage.max():
        return coverage
    holes = plain_shape(np.rint((1 - plain_shape(coverage, tone)) * 255).astype(np.uint8))
    kept = np.clip(0.5 - distance_px + plain_distance(holes, distance_px + 1), 0, 1)
    return np.minimum(coverage, np.rint(kept * 255).astype(np.uint8))


def plain_nearer(first: np.ndarray, second: np.ndarray, reach_px: float) -> np.ndarray:
    """Return 255 where ``first`` is nearer than ``second``."""
    if not (second > 127).any():
        return np.full_like(first, 255)
    to_first, to_second = plain_distance(plain_shape(first), reach_px), plain_distance(plain_shape(second), reach_px)
    return np.rint(np.clip(0.5 + (to_second - to_first) / 2, 0, 1) * 255).astype(np.uint8)
