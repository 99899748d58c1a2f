"""Shares of a few end colours that mix to a given colour, exact inside their convex hull, nearest point outside.

In: (n, 3) points and (k, 3) ends in one linear space. Out: (n, k) shares >= 0 that sum to 1, at most four of them
above 0. Inside the hull the Delaunay cell decides, so shares are continuous in the colour: neighbouring pixels of
like colour get like shares, which keeps halftones quiet. Barycentric mixing over a tessellated palette hull is the
idea of Tan, Echevarria, Gingold 2018, doi 10.1145/3272127.3275054.
"""

from __future__ import annotations

from itertools import combinations
from typing import Any

import numpy as np

from sepkit.coverage.channels import least, total
from sepkit.separation import tuned_mixing as tuned

Array = np.ndarray[Any, np.dtype[Any]]

CHUNK = 65536  # points solved at once
MOST_CONDITION = 1e12  # flatter cells hold no point
EDGE = 100 * np.finfo(np.float64).eps  # a point so little outside a cell lies in it


def mix_shares(points: Array, ends: Array) -> Array:
    """Return (n, k) float32 shares.

    >>> mix_shares(np.array([[0.25, 0.75]]), np.array([[1.0, 0.0], [0.0, 1.0]])).tolist()
    [[0.25, 0.75]]
    """
    ends = np.asarray(ends, np.float64)
    axes, centre = _axes(ends)
    if not len(axes):
        out = np.zeros((len(points), len(ends)), np.float32)
        out[:, 0] = 1
        return out
    flat_ends = (ends - centre) @ axes.T
    chunks = []
    for start in range(0, len(points), CHUNK):
        flat = (np.asarray(points[start : start + CHUNK], np.float64) - centre) @ axes.T
        chunks.append(_along_line(flat[:, 0], flat_ends[:, 0]) if len(axes) == 1 else _in_cells(flat, flat_ends))
    return np.concatenate(chunks) if chunks else np.zeros((0, len(ends)), np.float32)


def _axes(ends: Array) -> tuple[Array, Array]:
    centre = ends.mean(axis=0)
    _, size, axes = np.linalg.svd(ends - centre, full_matrices=False)
    return axes[size > tuned.TONE_INKS.flat_linear], centre


def _along_line(x: Array, ends: Array) -> Array:
    order = np.argsort(ends, kind="stable")
    place = np.clip(np.searchsorted(ends[order], x) - 1, 0, len(ends) - 2)
    low, high = order[place], order[place + 1]
    width = np.maximum(ends[high] - ends[low], 1e-12)
    t = np.clip((x - ends[low]) / width, 0, 1)
    out = np.zeros((len(x), len(ends)), np.float32)
    rows = np.arange(len(x))
    out[rows, low] = 1 - t
    out[rows, high] += t
    return out


def _in_cells(points: Array, ends: Array) -> Array:
    dims = ends.shape[1]
    out = np.zeros((len(points), len(ends)), np.float32)
    corners, home, part, facets = _cells(points, ends)
    inside = np.flatnonzero(home >= 0)
    bary = np.clip(np.column_stack([part, 1 - total(part)])[inside], 0, 1)
    bary /= total(bary)[:, None]
    for c in range(dims + 1):
        out[inside, corners[home[inside], c]] += bary[:, c].astype(np.float32)
    outside = np.flatnonzero(home < 0)
    if outside.size:
        out[outside] = _onto_hull(points[outside], ends, facets)
    return out


def _cells(points: Array, ends: Array) -> tuple[Array, Array, Array, Array]:
    """Cell corners, the cell of each point (-1 outside), its coordinates in that cell, and the hull's facets."""
    dims = ends.shape[1]
    if len(ends) == dims + 1:
        part = (points - ends[dims]) @ np.linalg.inv(ends[:dims] - ends[dims])
        home = np.where((least(part) >= 0) & (total(part) <= 1), 0, -1)
        facets = np.array(list(combinations(range(dims + 1), dims)))
        return np.arange(dims + 1)[None], home, part, facets
    from scipy.spatial import Delaunay

    cells = Delaunay(ends)
    home, part = np.full(len(points), -1), np.zeros((len(points), dims))
    left = np.arange(len(points))
    for number, cell in enumerate(cells.simplices):  # a handful: all points in one cell at a time beats a walk for each
        sides = ends[cell[:dims]] - ends[cell[dims]]
        if np.linalg.cond(sides) > MOST_CONDITION:
            continue
        own = (points[left] - ends[cell[dims]]) @ np.linalg.inv(sides)
        inside = (least(own) >= -EDGE) & (total(own) <= 1 + EDGE)
        home[left[inside]], part[left[inside]] = number, own[inside]
        left = left[~inside]
    return cells.simplices, home, part, cells.convex_hull


def _onto_hull(points: Array, ends: Array, facets: Array) -> Array:
    """Nearest point of the hull's facets, their edges and corners."""
    faces = {tuple(sorted(sub)) for f in facets.tolist() for n in range(1, len(f) + 1) for sub in combinations(f, n)}
    best = np.full(len(points), np.inf)
    out = np.zeros((len(points), len(ends)), np.float32)
    for face in sorted(faces):
        corner = ends[list(face)]
        offset = points - corner[0]
        if len(face) == 1:
            part = np.zeros((len(points), 0))
            rest = offset
        else:
            span = (corner[1:] - corner[0]).T
            part = offset @ np.linalg.pinv(span).T
            rest = offset - part @ span.T
        first = 1 - total(part) if part.shape[1] else np.ones(len(points))
        distance = total(rest * rest)
        better = (distance < best - 1e-15) & (first >= 0)
        for share in part.T:
            better &= share >= 0
        best[better] = distance[better]
        out[better] = 0
        out[np.ix_(better, [face[0]])] = first[better, None]
        if len(face) > 1:
            out[np.ix_(better, list(face[1:]))] = part[better]
    return out
