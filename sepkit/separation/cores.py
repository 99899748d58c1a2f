"""Where each colour is solid, and which solid colours each mixed pixel can see.

Labels are (h, w) uint8, NONE where a pixel is no member's colour. A core is a pixel in a 2x2 block of one label.
"""

from __future__ import annotations

from typing import Any

import numpy as np

Array = np.ndarray[Any, np.dtype[Any]]

NONE = 255


def cores(label: Array) -> Array:
    """Return (h, w) bool: labelled, and in a 2x2 block of its own label. Art one pixel thin counts as it is."""
    h, w = label.shape
    known = label != NONE
    if h < 2 or w < 2:
        return np.asarray(known)
    across = label[:, 1:] == label[:, :-1]
    block = across[1:] & across[:-1] & (label[1:, 1:] == label[:-1, 1:]) & known[1:, 1:]
    core = np.zeros((h, w), bool)
    core[1:, 1:] |= block
    core[1:, :-1] |= block
    core[:-1, 1:] |= block
    core[:-1, :-1] |= block
    return core


def neighbours(label: Array, core: Array, at: Array, *, radius: int) -> Array:
    """Return (n,) uint32: bit k set when member k has a core within ``radius`` px (square) of flat index ``at``."""
    w = label.shape[1]
    table = np.zeros(256, np.uint32)
    table[:32] = np.uint32(1) << np.arange(32, dtype=np.uint32)
    seen = np.where(core, label, NONE)
    padded = np.pad(seen, radius, constant_values=NONE)
    wide = w + 2 * radius
    flat = padded.ravel()
    base = (at // w + radius) * wide + (at % w) + radius
    out = np.zeros(len(at), np.uint32)
    for dy in range(-radius, radius + 1):
        for dx in range(-radius, radius + 1):
            out |= table[flat[base + dy * wide + dx]]
    return out


def components(mask: Array) -> tuple[Array, Array]:
    """Return 8-connected component numbers (0 = none) of a (h, w) bool mask and the pixel count of each number."""
    from scipy import ndimage

    numbered, count = ndimage.label(mask, structure=np.ones((3, 3), bool))
    return numbered, np.bincount(numbered.ravel(), minlength=count + 1)
