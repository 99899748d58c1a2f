"""Where each colour is solid, and which solid colours each mixed pixel can see.

Labels are (h, w) uint8, NONE where a pixel is no member's colour. A core is a pixel in a 2x2 block of one label.
"""

from __future__ import annotations

from typing import Any

import numpy as np

from sepkit.separation import tuned_mixing as tuned

Array = np.ndarray[Any, np.dtype[Any]]

NONE = 255  # no label
STRIP_ROWS = 128  # rows worked on at once: small enough to stay in the processor's cache
DENSE_TIMES = 4  # more looks than this for each pixel of a picture: all of it is worked at once
WINDOWS_AT_ONCE = 4096  # small windows worked at once
ENCLOSED_PX = 500_000  # about so many pixels are looked at for enclosed areas


def cores(label: Array) -> Array:
    """Return (h, w) bool: labelled, and in a 2x2 block of its own label. Art one pixel thin counts as it is."""
    h, w = label.shape
    if h < 2 or w < 2:
        return np.asarray(label != NONE)
    core = np.zeros((h, w), bool)
    for start in range(0, h - 1, STRIP_ROWS):
        rows = label[start : start + STRIP_ROWS + 1]
        across = rows[:, 1:] == rows[:, :-1]
        block = across[1:] & across[:-1]
        block &= rows[1:, 1:] == rows[:-1, 1:]
        block &= rows[1:, 1:] != NONE
        part = core[start : start + STRIP_ROWS + 1]
        part[1:, 1:] |= block
        part[1:, :-1] |= block
        part[:-1, 1:] |= block
        part[:-1, :-1] |= block
    return core


def deep(label: Array) -> Array:
    """Return (h, w, ...) bool: the whole 3x3 neighbourhood carries one label (or one colour, for packed colours)."""
    out = np.zeros(label.shape, bool)
    across = (label[:, 1:-1] == label[:, :-2]) & (label[:, 1:-1] == label[:, 2:]) & (label[:, 1:-1] != NONE)
    same = across[1:-1] & across[:-2] & across[2:]
    middle = label[1:-1, 1:-1]
    out[1:-1, 1:-1] = same & (middle == label[:-2, 1:-1]) & (middle == label[2:, 1:-1])
    return out


def solid_labels(label: Array, core: Array) -> Array:
    """Return the labels of cores, NONE elsewhere: a bool less one is 0 for True and 255 for False."""
    out = np.subtract(core.view(np.uint8), np.uint8(1))
    return np.bitwise_or(out, label, out=out)


def neighbours(solid: Array, at: Array, *, radii: tuple[int, ...]) -> list[Array]:
    """Return per radius (n,) uint32: bit k set when member k has a core within so many px (square) of ``at``.

    solid: (h, w) uint8 as from ``solid_labels``.
    """
    return [gather(solid, at, bit_table(), radius=radius) for radius in radii]


def deep_neighbours(label: Array, at: Array, *, radius: int) -> Array:
    """Return (n,) uint32: bit k set when a 3x3 block within ``radius`` px (square) of ``at`` is all member k's."""
    height, width = label.shape
    side = 2 * radius + 3
    span = np.arange(side) - radius - 1
    out = np.zeros(len(at), np.uint32)
    for start in range(0, len(at), WINDOWS_AT_ONCE):
        rows, columns = np.divmod(at[start : start + WINDOWS_AT_ONCE], width)
        y, x = rows + span[:, None], columns + span[:, None]
        inside = ((y >= 0) & (y < height))[:, None] & ((x >= 0) & (x < width))[None]
        values = label[np.clip(y, 0, height - 1)[:, None], np.clip(x, 0, width - 1)[None]]
        windows = np.where(inside, values, np.uint8(NONE))
        bits = bit_table()[np.where(deep(windows), windows, np.uint8(NONE))]
        out[start : start + WINDOWS_AT_ONCE] = np.bitwise_or.reduce(bits, axis=(0, 1))
    return out


def bit_table() -> Array:
    """Return (256,) uint32: bit k for member k, none for NONE."""
    table = np.zeros(256, np.uint32)
    table[:32] = np.uint32(1) << np.arange(32, dtype=np.uint32)
    return table


def gather(plane: Array, at: Array, table: Array, *, radius: int) -> Array:
    """Return (n,) uint32: the table's bits of all (h, w) uint8 values within ``radius`` px of flat indices ``at``."""
    side = 2 * radius + 1
    if len(at) * side * side > DENSE_TIMES * plane.size:
        return np.asarray(_held_by_squares(plane, table, radius).reshape(-1)[at])
    height, width = plane.shape
    flat, out = plane.reshape(-1), np.zeros(len(at), np.uint32)
    rows, columns = np.divmod(at, width)
    clear = (rows >= radius) & (rows < height - radius) & (columns >= radius) & (columns < width - radius)
    inner, border = at[clear], np.flatnonzero(~clear)
    found = np.zeros(len(inner), np.uint32)
    for dy in range(-radius, radius + 1):
        for dx in range(-radius, radius + 1):
            found |= table[flat[inner + (dy * width + dx)]]
            y, x = rows[border] + dy, columns[border] + dx
            there = (y >= 0) & (y < height) & (x >= 0) & (x < width)
            out[border[there]] |= table[plane[y[there], x[there]]]
    out[clear] = found
    return out


def _held_by_squares(plane: Array, table: Array, radius: int) -> Array:
    """Return (h, w) uint32: the table's bits of all values in the square of each pixel, by windows that double."""
    height, width = plane.shape
    out = np.empty((height, width), np.uint32)
    for top in range(0, height, STRIP_ROWS):
        stop = min(top + STRIP_ROWS, height)
        first, last = max(0, top - radius), min(height, stop + radius)
        beyond = ((first - top + radius, stop + radius - last), (radius, radius))
        held = table[np.pad(plane[first:last], beyond, constant_values=NONE)]
        for axis in (0, 1):
            lines, reach, window = np.moveaxis(held, axis, 0), 1, 2 * radius + 1
            while reach < window:
                more = min(reach, window - reach)
                lines = lines[:-more] | lines[more:]
                reach += more
            held = np.moveaxis(lines, 0, axis)
        out[top:stop] = held
    return out


def around(solid: Array, at: Array) -> Array:
    """Return (n,) uint32: bit k set when member k has a core in the pixel's tile or a tile beside it."""
    block = tuned.ODDS.region_px
    height, width = solid.shape
    rows, cols = -(-height // block), -(-width // block)
    tiles = np.zeros((rows + 2, cols + 2), np.uint32)
    starts = np.arange(0, width, block)
    for row in range(rows):
        strip = solid[row * block : (row + 1) * block]
        for member in range(min(int((strip + np.uint8(1)).max()), 32)):  # NONE wraps to 0
            held = np.logical_or.reduceat((strip == member).any(axis=0), starts)
            tiles[row + 1, 1:-1] |= held.astype(np.uint32) << np.uint32(member)
    wide = tiles[:, :-2] | tiles[:, 1:-1] | tiles[:, 2:]
    wide = wide[:-2] | wide[1:-1] | wide[2:]
    return np.asarray(wide[at // width // block, at % width // block])


def enclosed(mask: Array) -> int | None:
    """Return a flat index inside the largest part of a (h, w) bool mask that does not reach the border, if any.

    Looked at every few pixels in big pictures: parts thinner than that are edges.
    """
    step = max(1, round((mask.size / ENCLOSED_PX) ** 0.5))
    coarse = mask[::step, ::step]
    numbered, size = components(coarse)
    border = np.concatenate([numbered[0], numbered[-1], numbered[:, 0], numbered[:, -1]])
    size[border] = 0
    size[0] = 0
    if size.max() < tuned.ADVICE.enclosed_tiles:
        return None
    y, x = np.argwhere(numbered == size.argmax())[size.max() // 2]
    return int(y * step * mask.shape[1] + x * step)


def components(mask: Array) -> tuple[Array, Array]:
    """Return 8-connected component numbers (0 = none) of a (h, w) bool mask and the pixel count of each number."""
    from scipy import ndimage

    numbered, count = ndimage.label(mask, structure=np.ones((3, 3), bool))
    return numbered, np.bincount(numbered.ravel(), minlength=count + 1)
