"""Light on a sheet of paper, and the sheet without it: paper white everywhere, strokes as dark as they are.

In: sRGB of a sheet. Out: sRGB in which paper is 255 in all channels. Division is done in linear light, channel by
channel, so that shadows, falloff and the lamp's colour go together.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from sepkit.colorimetry.srgb import linear_table, linear_to_srgb
from sepkit.coverage.channels import least
from sepkit.intake import tuned

if TYPE_CHECKING:
    from sepkit.model import F32, U8, Bool

ROWS = 256
"""Rows divided at once."""


def evened(rgb: U8) -> U8:
    """Return the sheet under even light, its paper white."""
    height, width = rgb.shape[:2]
    side = max(4, round(max(height, width) / tuned.PAPER.tiles))
    light = paper_light(rgb, side)
    out = np.empty_like(rgb)
    table = linear_table()
    levels = _levels()
    for top in range(0, height, ROWS):
        rows = slice(top, min(top + ROWS, height))
        lit = _enlarged(light, rows, side, width)
        share = table[rgb[rows]] / lit
        out[rows] = levels[np.clip(share * (len(levels) - 1), 0, len(levels) - 1).astype(np.uint16)]
    return out


def beside_as_paper(rgb: U8, inside: Bool) -> U8:
    """Return the picture with all but the sheet, (h, w) bool, painted as paper in the light that falls beside it."""
    height, width = inside.shape
    side = max(4, round(max(height, width) / tuned.PAPER.tiles))
    tiles = _tile_percentile(rgb, side)
    whole = [[inside[y : y + side, x : x + side].all() for x in range(0, width, side)] for y in range(0, height, side)]
    light, levels, out = _bridged(tiles, np.array(whole)), _levels(), rgb.copy()
    for top in range(0, height, ROWS):
        rows = slice(top, min(top + ROWS, height))
        lit = levels[np.rint(_enlarged(light, rows, side, width) * (len(levels) - 1)).astype(np.uint16)]
        np.copyto(out[rows], lit, where=~inside[rows, :, None])
    return out


def paper_light(rgb: U8, side: int) -> F32:
    """Return the linear light of the paper on tiles of ``side`` px, (rows, columns, 3), ink and all marks bridged."""
    from scipy.ndimage import median_filter

    first = _tile_percentile(rgb, side)
    ink = _dark_places(first)
    light = _bridged(first, ~ink)
    light = np.stack([median_filter(light[..., k], 3, mode="nearest") for k in range(3)], -1)
    mean, enough = _tile_paper(rgb, side, light)
    return np.maximum(_smoothed(_bridged(np.where(enough[..., None], mean, light), enough & ~ink)), 1e-3)


def _tile_percentile(rgb: U8, side: int) -> F32:
    """Return each tile's bright percentile, channel by channel."""
    table = linear_table()
    out = [
        [table[_percentile(rgb[y : y + side, x : x + side])] for x in range(0, rgb.shape[1], side)]
        for y in range(0, rgb.shape[0], side)
    ]
    return np.asarray(out, np.float32)


def _percentile(tile: U8) -> U8:
    planes = np.moveaxis(tile, -1, 0).reshape(3, -1)
    at = int(tuned.PAPER.bright_percentile / 100 * (planes.shape[1] - 1))
    return np.asarray(np.partition(planes, at, axis=1)[:, at])


def _dark_places(tiles: F32) -> Bool:
    """Return which tiles are ink: places that lie below all their rim and fall off steeply.

    A dark place is filled up to the lowest point of its rim (grey reconstruction by erosion); what fills is its depth.
    """
    from scipy.ndimage import label, maximum_filter, minimum_filter

    dark = least(tiles)
    filled = np.full_like(dark, dark.max())
    filled[[0, -1]], filled[:, [0, -1]] = dark[[0, -1]], dark[:, [0, -1]]
    for _ in range(sum(dark.shape)):
        lower = np.maximum(dark, minimum_filter(filled, 3, mode="nearest"))
        if np.array_equal(lower, filled):
            break
        filled = lower
    deep = dark < (1 - tuned.PAPER.basin_depth) * filled
    step = (maximum_filter(dark, 3, mode="nearest") - dark) / np.maximum(filled, 1e-4)
    parts, count = label(deep, np.ones((3, 3), int))
    steepest = np.zeros(count + 1)
    np.maximum.at(steepest, parts.ravel(), step.ravel())
    steepest[0] = 0
    found = deep & (steepest >= tuned.PAPER.basin_step)[parts]
    return np.asarray(maximum_filter(found, 3, mode="nearest"))


def _tile_paper(rgb: U8, side: int, light: F32) -> tuple[F32, Bool]:
    """Return the mean of each tile's paper pixels, and where these are enough to count."""
    table, band = linear_table(), tuned.PAPER.paper_band
    mean, enough = light.copy(), np.zeros(light.shape[:2], bool)
    for row, y in enumerate(range(0, rgb.shape[0], side)):
        for column, x in enumerate(range(0, rgb.shape[1], side)):
            pixels = table[rgb[y : y + side, x : x + side]].reshape(-1, 3)
            ratio = (pixels / light[row, column]).min(axis=1)
            paper = ratio > np.median(ratio[ratio > 1 - 3 * band]) - band if (ratio > 1 - 3 * band).any() else ratio < 0
            if paper.mean() > 0.25:
                mean[row, column] = pixels[paper].mean(axis=0)
                enough[row, column] = True
    return mean, enough


def _bridged(tiles: F32, known: Bool) -> F32:
    """Return tiles with those that are not known filled from known ones around, the nearest counting most."""
    from scipy.ndimage import gaussian_filter

    if known.all() or not known.any():
        return tiles
    out, left = tiles.copy(), ~known
    for sigma in (1.0, 2.0, 4.0, 8.0, 16.0, 64.0):
        weight = gaussian_filter(known.astype(np.float32), sigma, mode="nearest")
        fill = left & (weight > 0.02)
        for k in range(3):
            total = gaussian_filter(np.where(known, tiles[..., k], 0).astype(np.float32), sigma, mode="nearest")
            out[..., k][fill] = total[fill] / weight[fill]
        left &= ~fill
    return out


def _smoothed(tiles: F32) -> F32:
    from scipy.ndimage import gaussian_filter

    return np.stack([gaussian_filter(tiles[..., k], 0.8, mode="nearest") for k in range(3)], -1)


def _enlarged(light: F32, rows: slice, side: int, width: int) -> F32:
    """Return the light at every pixel of some rows: between tile middles in proportion."""
    y, y_part = _between(np.arange(rows.start, rows.stop), side, light.shape[0])
    x, x_part = _between(np.arange(width), side, light.shape[1])
    lines = (
        light[y] * (1 - y_part)[:, None, None] + light[y + 1] * y_part[:, None, None]
        if light.shape[0] > 1
        else light[y]
    )
    if light.shape[1] == 1:
        return np.broadcast_to(lines, (len(y), width, 3))
    return np.asarray(lines[:, x] * (1 - x_part)[None, :, None] + lines[:, x + 1] * x_part[None, :, None])


def _between(at: np.ndarray, side: int, count: int) -> tuple[np.ndarray, np.ndarray]:
    place = np.clip((at + 0.5) / side - 0.5, 0, count - 1)
    low = np.minimum(place.astype(int), max(count - 2, 0))
    return low, (place - low).astype(np.float32)


def _levels() -> U8:
    """Return a table from linear 0..1 to sRGB levels."""
    return np.asarray(np.rint(linear_to_srgb(np.linspace(0, 1, 8192, dtype=np.float32)) * 255), np.uint8)
