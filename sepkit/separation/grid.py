"""The grid a picture was really made on: undo enlargement, work there, and bring coverage back.

In: premultiplied pictures and coverage planes (uint8). Enlarged art holds no more than its small original, and its
wide edges would pass for inks; on its own grid the edges are one pixel wide again. Enlarging is modelled as cubic
convolution with a = -1/2 (Keys 1981, doi 10.1109/TASSP.1981.1163711), edge-aligned; shrinking is its least squares
inverse, in which values clipped at 0 and 255 may lie beyond.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from sepkit.separation import tuned_colours as tuned

if TYPE_CHECKING:
    from sepkit.model import U8

Array = np.ndarray[Any, np.dtype[Any]]

FACTORS = (1.5, 2.0, 2.5, 3.0, 3.5, 4.0, 5.0, 6.0, 7.0, 8.0, 10.0, 12.0)  # tried in turn
TEST_ROWS = 48  # rows of the picture that are tried
CLIP_STEPS = 8  # rounds of letting clipped values lie beyond the range; more restore no more pixels
LINES = 4096  # lines inverted at once


def sample_rows(height: int) -> Array:
    """Return which rows of a picture are tried."""
    return np.unique(np.linspace(0, height - 1, TEST_ROWS).astype(int))


def enlargement(rows: U8, height: int, edge_width_px: float) -> float:
    """Return by how much the picture was enlarged: the largest factor whose small grid still explains its rows.

    rows: (r, w, c) uint8, those of ``sample_rows`` of a picture so high. 1.0 when it was not, as far as can be told. A
    picture drawn softly fits a small grid as well, but it fits the same grid moved by half a pixel no worse: nothing
    in it knows of that grid.
    """
    width = rows.shape[1]
    rows = rows.astype(np.float64)
    lines = rows.transpose(1, 0, 2).reshape(width, -1)
    low, high = lines.copy(), lines.copy()
    for shift in (1, 2, 3):
        low[shift:] = np.minimum(low[shift:], lines[:-shift])
        high[shift:] = np.maximum(high[shift:], lines[:-shift])
    edge = high - low > tuned.ENLARGED.edge_levels
    if edge.sum() < TEST_ROWS:
        return 1.0
    contrast = float(np.sqrt(np.mean((high - low)[edge] ** 2)))
    best = 1.0
    for factor in FACTORS:
        small = round(width / factor)
        smallest = min(small, round(height / factor))
        if factor > tuned.ENLARGED.most_per_edge_px * edge_width_px or smallest < tuned.ENLARGED.least_side_px:
            break
        left_over = _misfit(lines, edge, enlarging(small, width))
        if left_over < tuned.ENLARGED.fit_share * contrast:
            moved = _misfit(lines, edge, enlarging(small, width, moved=0.5))
            if left_over < tuned.ENLARGED.own_grid_share * moved:
                best = factor
    return best


def _misfit(lines: Array, edge: Array, up: Any) -> float:
    """Return the root mean square of what lines lose at edges when they are shrunk to the grid of ``up`` and back."""
    residual = lines - np.asarray(up @ _inverter(up)(lines))
    return float(np.sqrt(np.mean(residual[edge] ** 2)))


def shrink(picture: U8, size: tuple[int, int]) -> U8:
    """Return the (h, w, c) uint8 picture of ``size`` (rows, columns) that enlarges to ``picture``."""
    height, width = picture.shape[:2]
    columns = _inverse_clipped(enlarging(size[0], height), picture)  # enlargers work along rows first, so undo it last
    return _inverse_clipped(enlarging(size[1], width), columns.transpose(1, 0, 2)).transpose(1, 0, 2).copy()


def shrink_rgba(rgb: U8, alpha: U8, size: tuple[int, int]) -> tuple[U8, U8]:
    """Return colour and alpha of ``size``; enlargers work on premultiplied colour, so this does."""
    if alpha.min() == 255:
        return shrink(rgb, size), np.full(size, 255, np.uint8)
    a = alpha[..., None].astype(np.uint16)
    premultiplied = ((rgb * a + 127) // 255).astype(np.uint8)
    small = shrink(np.dstack([premultiplied, alpha]), size)
    opacity = small[..., 3:].astype(np.float32)
    colour = np.clip(np.rint(small[..., :3] * np.float32(255) / np.maximum(opacity, 1)), 0, 255)
    return colour.astype(np.uint8), small[..., 3].copy()


def averaged_planes(planes: list[U8], size: tuple[int, int]) -> list[U8]:
    """Return coverage planes averaged down to a smaller (rows, columns) grid; they sum to at most solid."""
    from PIL import Image

    small = [Image.fromarray(plane).resize(size[::-1], Image.Resampling.BOX) for plane in planes]
    share = np.stack([np.asarray(plane, np.float32) for plane in small])
    return list(np.floor(share / np.maximum(share.sum(0) / 255, 1)).astype(np.uint8))


def enlarge_planes(planes: list[U8], size: tuple[int, int], *, factor: float, soft: Array | None) -> list[U8]:
    """Return coverage planes on the (rows, columns) grid with edges one pixel wide where the cubic ones cross half.

    soft: (h, w) bool of the small grid where planes are tones and keep their values. Inks and bare garment compete
    for each pixel, so no gap opens and nothing sums to more than solid.
    """
    if not planes:
        return []
    rows, cols = planes[0].shape
    up_rows, up_cols = enlarging(rows, size[0]), enlarging(cols, size[1])
    tone = None if soft is None or not soft.any() else nearest(soft, size)
    out = [np.zeros(size, np.uint8) for _ in planes]
    step = max(1, 4_000_000 // (size[1] * (len(planes) + 1)))
    for start in range(0, size[0], step):
        part = slice(start, min(start + step, size[0]))
        share = np.stack([_apply(up_cols, (up_rows[part] @ (p.astype(np.float32) / 255)).T).T for p in planes])
        share = np.concatenate([share, 1 - share.sum(0, keepdims=True)])
        crisp = _contest(share, factor)
        if tone is not None:
            plain = np.clip(share, 0, 1)
            crisp = np.where(tone[part], plain / np.maximum(plain.sum(0), 1), crisp)
        level = np.floor(crisp[:-1] * 255 + 0.5).astype(np.uint8)
        for plane, values in zip(out, level, strict=True):
            plane[part] = values
    return out


def _contest(share: Array, factor: float) -> Array:
    """Steepen each share against the greatest of the others, so that edges are about one pixel wide."""
    order = np.sort(share, axis=0)
    first, second = order[-1], order[-2]
    rival = np.where(share >= first, second, first)
    steep = np.clip((share - rival) * np.float32(factor / 2) + 0.5, 0, 1)
    return np.asarray(steep / np.maximum(steep.sum(0), 1e-6))


def nearest(mask: Array, size: tuple[int, int]) -> Array:
    """Return a (h, w) plane on the (rows, columns) grid, each pixel that of the small grid which covers it."""
    y = np.minimum((np.arange(size[0]) + 0.5) * mask.shape[0] / size[0], mask.shape[0] - 1).astype(int)
    x = np.minimum((np.arange(size[1]) + 0.5) * mask.shape[1] / size[1], mask.shape[1] - 1).astype(int)
    return np.asarray(mask[np.ix_(y, x)])


def enlarging(small: int, big: int, *, moved: float = 0.0) -> Any:
    """Return the sparse (big, small) float32 matrix that enlarges a line.

    ``moved`` by less than a small pixel it has one more of them.
    """
    from scipy import sparse

    weight, tap = _taps(small, big, moved)
    small += moved > 0
    rows = np.repeat(np.arange(big), 4)
    return sparse.csr_matrix((weight.ravel(), (rows, tap.ravel())), (big, small), np.float32)


def enlarging_dense(small: int, big: int) -> Array:
    """Return the (big, small) float32 matrix that enlarges a short line."""
    weight, tap = _taps(small, big, 0.0)
    out = np.zeros((big, small), np.float32)
    np.add.at(out, (np.arange(big)[:, None], tap), weight.astype(np.float32))
    return out


def _taps(small: int, big: int, moved: float) -> tuple[Array, Array]:
    """Return the weights of four pixels for each one of the enlarged line, and which these are, both (big, 4)."""
    centre = (np.arange(big) + 0.5) * small / big - 0.5 + moved
    small += moved > 0
    left = np.floor(centre).astype(int) - 1
    tap = left[:, None] + np.arange(4)
    d = np.abs(tap - centre[:, None])
    weight = np.where(d < 1, 1.5 * d**3 - 2.5 * d**2 + 1, np.where(d < 2, -0.5 * d**3 + 2.5 * d**2 - 4 * d + 2, 0))
    weight = np.where((tap >= 0) & (tap < small), weight, 0)
    weight /= weight.sum(1, keepdims=True)
    return weight, np.clip(tap, 0, small - 1)


def _apply(matrix: Any, data: Array) -> Array:
    flat = data.reshape(data.shape[0], -1)
    return np.asarray(matrix @ flat).reshape(matrix.shape[0], *data.shape[1:])


def _inverter(matrix: Any) -> Any:
    """Return a function that applies the least squares inverse of an enlarging matrix to (big, n) lines."""
    from scipy.sparse.linalg import splu

    solve = splu((matrix.T @ matrix).astype(np.float64).tocsc()).solve
    return lambda lines: solve(np.asarray(matrix.T @ lines, np.float64)).astype(np.float32)


def _inverse_clipped(matrix: Any, data: U8) -> U8:
    """Inverse along the first axis; values at 0 and 255 may have been clipped there, so they only bound."""
    inverse = _inverter(matrix)
    lines = data.reshape(data.shape[0], -1)
    small = np.empty((matrix.shape[1], lines.shape[1]), np.float32)
    for start in range(0, lines.shape[1], LINES):
        part = slice(start, start + LINES)
        small[:, part] = inverse(lines[:, part].astype(np.float32))
        todo = np.arange(start, min(start + LINES, lines.shape[1]))
        for _ in range(CLIP_STEPS):
            back = np.asarray(matrix @ small[:, todo])
            given = lines[:, todo]
            beyond = (given == 0) & (back < -0.5) | (given == 255) & (back > 255.5)
            some = beyond.any(axis=0)
            todo = todo[some]
            if not todo.size:
                break
            small[:, todo] = inverse(np.where(beyond[:, some], back[:, some], given[:, some]).astype(np.float32))
    levels = np.rint(np.clip(small, 0, 255)).astype(np.uint8)
    return np.asarray(levels.reshape(matrix.shape[1], *data.shape[1:]))
