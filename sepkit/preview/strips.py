"""What lies side by side in a pixel that several plates cover in part: strips, and dots within them.

In: shares (plates, pixels) 0..1. Out: strips, each with its pixel, its width and its stack as bits (plate i: 1 << i).
"""

from __future__ import annotations

from typing import Any

import numpy as np

Array = np.ndarray[Any, np.dtype[Any]]


def flat_stacks(shares: Array, under: tuple[bool, ...]) -> tuple[Array, Array, Array]:
    """Return what lies side by side in each pixel: pixel, width of the strip, its stack as bits."""
    count, pixels = shares.shape
    start, stop = _side_by_side(shares, under)
    soft = ((shares > 0) & (shares < 1)).any(axis=0)
    solid = np.zeros(pixels, np.intp)
    for i in range(count):
        solid |= (shares[i] >= 1).astype(np.intp) << i
    plain = np.flatnonzero(~soft)
    found = [(plain, np.ones(len(plain)), solid[plain])]
    edge = np.flatnonzero(soft)
    start, stop = start[:, edge], stop[:, edge]
    before = np.zeros(len(edge))
    for cut in np.sort(np.concatenate([start, stop, np.ones((1, len(edge)))]), axis=0):
        width, middle = cut - before, (cut + before) / 2
        before = cut
        wide = width > 1e-9
        stack = np.zeros(len(edge), np.intp)
        for i in range(count):
            stack |= ((start[i] <= middle) & (middle < stop[i])).astype(np.intp) << i
        found.append((edge[wide], width[wide], stack[wide]))
    owner, weight, stacks = (np.concatenate(parts) for parts in zip(*found, strict=True))
    return owner, weight, stacks


def with_dots(
    owner: Array, weight: Array, stack: Array, share: Array, dots: Array, plate: int
) -> tuple[Array, Array, Array]:
    """Split strips where a plate has dots into a part with its ink and a part without (Demichel)."""
    split = dots[owner]
    if not split.any():
        return owner, weight, stack
    here = owner[split]
    inked = weight[split] * share[here]
    left = weight.copy()
    left[split] -= inked
    return (
        np.concatenate([owner, here]),
        np.concatenate([left, inked]),
        np.concatenate([stack, stack[split] | (1 << plate)]),
    )


def _side_by_side(shares: Array, under: tuple[bool, ...]) -> tuple[Array, Array]:
    """Place each plate's share of a pixel on 0..1: colours one beside the other, bases and highlights from 0.

    Colours that together ask for more than the pixel overlap at its end.
    """
    start = np.zeros_like(shares)
    filled = np.zeros(shares.shape[1])
    for i, share in enumerate(shares):
        if under[i]:
            continue
        soft = (share > 0) & (share < 1)
        start[i] = np.where(soft, np.minimum(filled, 1 - share), 0.0)
        filled = np.where(soft, np.minimum(filled + share, 1.0), filled)
    return start, start + shares
