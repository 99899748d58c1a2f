"""A chart of 6 x 4 patches found anywhere in a photograph, at any turn, and read.

In: a Photo and the patches' true Lab, row by row. Out: their linear light and where each lies. Even areas of about one
size and a box's shape are gathered, grown to a lattice neighbour by neighbour, and the 24 that fit the known values
best under one matrix are taken; a chart that no arrangement fits is none. Limits were chosen on simulated photographs.
"""

from __future__ import annotations

from collections import deque
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from sepkit.colorimetry.difference import delta_e_2000
from sepkit.colorimetry.srgb import lab_to_xyz, xyz_to_lab
from sepkit.reading.picture import STEPS
from sepkit.reading.warp import applied

if TYPE_CHECKING:
    from sepkit.model import F32, F64, Bool
    from sepkit.reading.picture import Photo

    I64 = np.ndarray[Any, np.dtype[np.int64]]

COLUMNS, ROWS = 6, 4
SIDES_PX = (900, 500)
"""The photograph is looked over at about these sizes."""
EVEN = (0.006, 0.012, 0.024)
"""Steepness (encoded light a pixel) below which an area is even; each is tried."""
LEAST_BOX_PX = 30
BOX = (0.8, 1.12)
"""Area over that of the box with the same second moments: 1 for a box."""
LONGEST = 1.6
ALIKE = 1.8
"""Boxes of one chart differ by less than this in area."""
NEAR = 0.22
"""A neighbour lies this near to where the lattice puts it, as a share of the pitch."""
LEAST_BOXES = 12
INSIDE = 0.22
"""Patches are read within this share of the pitch around their middles."""
MOST_OFF_DE00 = 9.0
"""Mean ΔE00 under one matrix: a chart's own is below 5, another arrangement's above 12."""


@dataclass(frozen=True, slots=True, eq=False)
class ReadChart:
    """A chart in a photograph."""

    linear: F64
    """(24, 3), row by row as its values."""
    xy: F64
    """(24, 2) photo pixels of the patches' middles."""
    fit_de00: float
    """Mean ΔE00 under one matrix."""


@dataclass(frozen=True, slots=True, eq=False)
class _Boxes:
    """Even boxes: middles (n, 2) in pixels of the small picture, and areas."""

    xy: F64
    area: F64


def find_chart(photo: Photo, lab: F64) -> ReadChart | None:
    """Return the chart of these values, (24, 3) Lab D65/2, or None where the photograph shows none."""
    best: ReadChart | None = None
    for side in SIDES_PX:
        by = max([k for k in STEPS if k <= max(photo.size) / side + 0.35], default=1)
        small = np.sqrt(np.clip(photo.shrunk(by) if by > 1 else photo.linear(), 0, 1))
        steep = _steepness(small)
        for level in EVEN:
            for lattice in _lattices(_boxes(steep < level)):
                found = _best_window(photo, lattice, by, lab)
                if found is not None and (best is None or found.fit_de00 < best.fit_de00):
                    best = found
        if best is not None and best.fit_de00 < MOST_OFF_DE00:
            return best
    return None


def _steepness(small: F32) -> F32:
    from scipy.ndimage import gaussian_gradient_magnitude

    return np.asarray(np.max([gaussian_gradient_magnitude(small[..., c], 1.0) for c in range(3)], axis=0))


def _boxes(even: Bool) -> _Boxes:
    from scipy.ndimage import find_objects, label

    labels, _ = label(even)
    xy, areas = [], []
    most = even.size / 40
    for nth, part in enumerate(find_objects(labels), 1):
        h, w = part[0].stop - part[0].start, part[1].stop - part[1].start
        if not LEAST_BOX_PX <= h * w <= 2 * most:
            continue
        ys, xs = np.nonzero(labels[part] == nth)
        if len(ys) < LEAST_BOX_PX:
            continue
        cov = np.cov(np.stack([xs, ys])) + np.eye(2) / 12
        low, high = np.linalg.eigvalsh(cov)
        shape = len(ys) / (12 * np.sqrt(low * high))
        if BOX[0] < shape < BOX[1] and np.sqrt(high / low) < LONGEST:
            xy.append((xs.mean() + part[1].start, ys.mean() + part[0].start))
            areas.append(float(len(ys)))
    return _Boxes(np.array(xy, np.float64).reshape(-1, 2), np.array(areas))


def _lattices(boxes: _Boxes) -> list[dict[tuple[int, int], F64]]:
    """Return lattices of boxes: places in the small picture by column and row."""
    out: list[dict[tuple[int, int], F64]] = []
    used: set[int] = set()
    for seed in np.argsort(-boxes.area):
        if int(seed) in used:
            continue
        lattice = _grown(boxes, int(seed))
        used |= set(lattice.values())
        if len(lattice) >= LEAST_BOXES:
            out.append({at: boxes.xy[nth] for at, nth in lattice.items()})
    return out


def _grown(boxes: _Boxes, seed: int) -> dict[tuple[int, int], int]:
    alike = np.flatnonzero((boxes.area < ALIKE * boxes.area[seed]) & (boxes.area > boxes.area[seed] / ALIKE))
    ways = boxes.xy[alike] - boxes.xy[seed]
    far = np.hypot(*ways.T)
    order = [i for i in np.argsort(far) if far[i] > 0][:8]
    if len(order) < 2:
        return {(0, 0): seed}
    right = ways[order[0]]
    square = [ways[i] for i in order[1:] if _across(right, ways[i])]
    if not square:
        return {(0, 0): seed}
    down = square[0] if right[0] * square[0][1] - right[1] * square[0][0] > 0 else -square[0]
    return _walked(boxes, alike, seed, (right, down))


def _across(right: F64, way: F64) -> bool:
    length = np.hypot(*way) / np.hypot(*right)
    lean = abs(float(right @ way)) / (np.hypot(*right) * np.hypot(*way))
    return bool(0.7 < length < 1.43 and lean < 0.35)


def _walked(boxes: _Boxes, alike: I64, seed: int, ways: tuple[F64, F64]) -> dict[tuple[int, int], int]:
    found = {(0, 0): seed}
    queue = deque([((0, 0), ways)])
    steps = (((1, 0), 0, 1), ((-1, 0), 0, -1), ((0, 1), 1, 1), ((0, -1), 1, -1))
    while queue:
        at, (right, down) = queue.popleft()
        for (dx, dy), axis, sign in steps:
            to = (at[0] + dx, at[1] + dy)
            if to in found or abs(to[0]) > 2 * COLUMNS or abs(to[1]) > 2 * COLUMNS:
                continue
            way = (right, down)[axis] * sign
            aim = boxes.xy[found[at]] + way
            off = np.hypot(*(boxes.xy[alike] - aim).T)
            near = int(np.argmin(off))
            nth = int(alike[near])
            if off[near] > NEAR * np.hypot(*way) or nth in found.values():
                continue
            found[to] = nth
            seen = (boxes.xy[nth] - boxes.xy[found[at]]) * sign
            queue.append((to, (seen, down) if axis == 0 else (right, seen)))
    return found


def _best_window(photo: Photo, lattice: dict[tuple[int, int], F64], by: int, lab: F64) -> ReadChart | None:
    """Return the 24 places of a lattice, at one of four turns, that fit the values best."""
    at = np.array(list(lattice), np.float64)
    xy = (np.array(list(lattice.values())) + 0.5) * by - 0.5
    place = _homography(at, xy)
    best: ReadChart | None = None
    low, high = at.min(axis=0).astype(int), at.max(axis=0).astype(int)
    for wide, tall in ((COLUMNS, ROWS), (ROWS, COLUMNS)):
        for x in range(high[0] - wide, low[0] + 2):
            for y in range(high[1] - tall, low[1] + 2):
                cells = np.array([(x + i, y + j) for j in range(tall) for i in range(wide)], np.float64)
                inside = sum((int(cx), int(cy)) in lattice for cx, cy in cells)
                if inside < LEAST_BOXES:
                    continue
                seen = _patches(photo, place, cells)
                if not np.isfinite(seen).all():
                    continue
                for turn in _turns(wide, tall):
                    off = _off(seen[turn], lab)
                    if best is None or off < best.fit_de00:
                        best = ReadChart(seen[turn], applied(place, cells[turn]), off)
    return best


def _turns(wide: int, tall: int) -> list[I64]:
    """Return the orders in which a window's cells (row by row) may be the chart's patches (row by row)."""
    cells = np.arange(wide * tall).reshape(tall, wide)
    if wide == COLUMNS:
        return [cells.ravel(), cells[::-1, ::-1].ravel()]
    return [np.rot90(cells).ravel(), np.rot90(cells, -1).ravel()]


def _homography(at: F64, xy: F64) -> F64:
    """Return the map from lattice to photo by least squares on normalised points (Hartley, IEEE TPAMI 19:580, 1997)."""
    middle, scale = xy.mean(axis=0), max(float(xy.std()), 1e-6)
    u = (xy - middle) / scale
    rows = []
    for (x, y), (p, q) in zip(at, u, strict=True):
        rows += [[x, y, 1, 0, 0, 0, -p * x, -p * y, -p], [0, 0, 0, x, y, 1, -q * x, -q * y, -q]]
    _, _, v = np.linalg.svd(np.array(rows))
    back = np.array([[scale, 0, middle[0]], [0, scale, middle[1]], [0, 0, 1.0]])
    found = back @ v[-1].reshape(3, 3)
    return np.asarray(found / found[2, 2], np.float64)


def _patches(photo: Photo, place: F64, cells: F64) -> F64:
    """Return the light (n, 3) of cells: the median of 9 x 9 samples within each; NaN for one outside."""
    step = np.linspace(-INSIDE, INSIDE, 9)
    grid = np.stack(np.meshgrid(step, step), -1).reshape(1, -1, 2)
    points = applied(place, cells[:, None] + grid)
    pitch = float(np.median(np.hypot(*(applied(place, np.add(cells, (1, 0))) - applied(place, cells)).T)))
    return np.asarray(np.median(photo.sample(points, max(1.0, pitch * 2 * INSIDE / 9)), axis=1), np.float64)


def _off(seen: F64, lab: F64) -> float:
    """Return the mean ΔE00 of patches under the matrix that fits them best."""
    xyz = np.asarray(lab_to_xyz(lab), np.float64)
    weight = (1 / (np.cbrt(xyz[:, 1]) + 0.1))[:, None]
    terms = np.concatenate([seen, np.ones((len(seen), 1))], axis=1)
    matrix, *_ = np.linalg.lstsq(terms * weight, xyz * weight, rcond=None)
    return float(np.mean(delta_e_2000(np.asarray(xyz_to_lab(np.maximum(terms @ matrix, 0)), np.float64), lab)))
