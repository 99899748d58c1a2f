"""Rounds: which screens go on the press together, when there are more screens than heads; and where ink is flashed.

While a garment stays on its platen every screen falls within the press's register error. Taken off and loaded again it
falls 2 to 4 mm elsewhere (common practice), so screens may only be parted by a reload where nothing of theirs is nearer
than that. Screens that touch make a group; a group that fits the heads gets its round, and small groups share one.
A group larger than the press cannot be reloaded: its rounds print with the garment left on the platen.

In: printed planes (h, w) uint8 in print order, dots per inch. Out: rounds as indices of planes; distances in mm.
Distances are measured on cells of half a millimetre, any ink in a cell counting as ink.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from itertools import combinations
from typing import TYPE_CHECKING, Any

import numpy as np

from sepkit.coverage.keep import kept
from sepkit.coverage.sums import strongest_near
from sepkit.decisions import Rounds
from sepkit.errors import UsageError
from sepkit.units import MM_PER_INCH

if TYPE_CHECKING:
    from sepkit.model import U8, Bool

Array = np.ndarray[Any, np.dtype[Any]]

RELOAD_MM = 4.0
"""How far a reloaded garment may fall from where it was: 2 to 4 mm, common practice."""
CELL_MM = 0.5
INK_FROM = 26
"""Coverage that counts as ink: a tenth."""
WET_OVERLAP = 0.2
"""Share of a later screen's ink that may fall on wet ink before a flash pays: wet on wet takes a little overlap, like
traps, and mottles beyond (common practice)."""
OVERLAP_PX_PER_MM = 2.0


def plan_rounds(planes: Sequence[U8], *, heads: int, dpi: float, reload_mm: float = RELOAD_MM) -> Rounds:
    """Return the rounds of ``planes`` (in print order) on a press with ``heads``. Raises UsageError for no heads."""
    if heads < 1:
        raise UsageError(f"a press with {heads} heads prints nothing", where="heads", hint="give 1 or more")
    count = len(planes)
    if count <= heads:
        return Rounds((tuple(range(count)),) if count else (), ())
    apart = distances_mm(planes, dpi=dpi, most_mm=reload_mm)
    rounds = _packed(_groups(apart, reload_mm), heads)
    where = {i: number for number, screens in enumerate(rounds) for i in screens}
    parted = [
        (i, j, float(apart[i, j]))
        for i, j in combinations(range(count), 2)
        if where[i] != where[j] and apart[i, j] <= reload_mm
    ]
    return Rounds(rounds, tuple(sorted(parted, key=lambda pair: pair[2])))


def _packed(groups: Sequence[list[int]], heads: int) -> tuple[tuple[int, ...], ...]:
    """Return rounds of groups: large ones cut in print order, small ones together where they fit the heads."""
    bins: list[list[int]] = []
    for group in sorted((g for g in groups if len(g) <= heads), key=lambda g: (-len(g), g[0])):
        fitting = next((b for b in bins if len(b) + len(group) <= heads), None)
        if fitting is None:
            bins.append(list(group))
        else:
            fitting.extend(group)
    for group in groups:
        if len(group) > heads:
            bins += _chunks(group, heads, bins)
    return tuple(tuple(sorted(b)) for b in sorted(bins, key=min))


def distances_mm(planes: Sequence[U8], *, dpi: float, most_mm: float) -> Array:
    """Return the least distance between the ink of each two planes, (n, n) mm; infinite where it is above ``most_mm``.

    Right to about a cell; 0 where they touch or overlap.
    """
    step = max(1, round(CELL_MM * dpi / MM_PER_INCH))
    cell_mm = step * MM_PER_INCH / dpi
    most = math.ceil(most_mm / cell_mm + math.sqrt(2)) + 1
    cells = [kept(_cells, plane, step) for plane in planes]
    out = np.full((len(planes), len(planes)), np.inf)
    for i, cell in enumerate(cells):
        out[i, i] = 0.0
        for j, other in enumerate(cells[i + 1 :], i + 1):
            least = max(0.0, kept(_apart_cells, cell, other, most) - math.sqrt(2)) * cell_mm
            if least <= most_mm:
                out[i, j] = out[j, i] = least
    return out


def overlap_shares(planes: Sequence[U8], *, dpi: float) -> Array:
    """Return how much of each plane's ink prints on each other one: [i, j] is the share of j's ink that lies on i."""
    factor = max(1, round(dpi / MM_PER_INCH / OVERLAP_PX_PER_MM))
    small = np.stack([kept(_averaged, plane, factor) for plane in planes])
    both = (small @ small.T).astype(np.float64)
    own = np.maximum(small.sum(axis=1, dtype=np.float64), 1e-9)
    out: Array = np.clip(both / own[None, :], 0, 1)
    return out


def flash_reasons(overlaps: Array, *, roles: Sequence[str], names: Sequence[str], rounds: Sequence[int]) -> list[str]:
    """Return for each plate, in print order, why it is flashed before the next screen; empty where it is not.

    ``overlaps`` as from ``overlap_shares``; ``rounds`` are numbers that never fall.
    """
    reasons: list[str] = []
    count = len(roles)
    for k in range(count):
        later = [j for j in range(k + 1, count) if rounds[j] == rounds[k]]
        if roles[k] == "underbase":
            reasons.append("inks on a wet base sink in and smear")
        elif k + 1 < count and rounds[k + 1] != rounds[k]:
            reasons.append("the round ends here")
        elif k + 1 < count and roles[k + 1] == "highlight":
            reasons.append("the highlight stays clean on dry ink")
        else:
            reasons.append(_wet_reason(overlaps, reasons, k, later, names))
    return reasons


def _wet_reason(overlaps: Array, before: Sequence[str], k: int, later: Sequence[int], names: Sequence[str]) -> str:
    """Return why ink that is wet after plate ``k`` must dry: the next screen prints much of its ink on it."""
    if not later:
        return ""
    following = later[0]
    wet = [k]
    for i in range(k - 1, -1, -1):
        if before[i]:
            break
        wet.append(i)
    share, worst = max((float(overlaps[i, following]), i) for i in wet)
    if share <= WET_OVERLAP:
        return ""
    return f"{100 * share:.0f} % of {names[following]} falls on {names[worst]}"


def _averaged(plane: U8, factor: int) -> Any:
    """Return a plane averaged down, as one row of shares 0..1."""
    from PIL import Image

    return np.asarray(Image.fromarray(plane).reduce(factor), np.float32).ravel() / 255


def _cells(plane: U8, step: int) -> Bool:
    """Return which cells hold ink; whole rows are walked, not cells."""
    most: Any = plane
    for axis in (0, 1):
        lines = np.moveaxis(most, axis, 0)
        out = np.ascontiguousarray(lines[::step])
        for at in range(1, min(step, len(lines))):
            part = lines[at::step]
            np.maximum(out[: len(part)], part, out=out[: len(part)])
        most = np.moveaxis(out, 0, axis)
    cells: Bool = np.ascontiguousarray(most) >= INK_FROM
    return cells


def _apart_cells(first: Bool, second: Bool, most: int) -> float:
    """Return the least distance between the ink of two planes in cells, 0 where they share one; inf above ``most``.

    As in Felzenszwalb and Huttenlocher, Theory of Computing 8:415 (2012): distances along columns, then along rows.
    """
    if (first & second).any():
        return 0.0
    down = _down_columns(first, most)
    rows, columns = np.nonzero(second & strongest_near(first.view(np.uint8), most).view(bool))
    if not len(rows):
        return math.inf
    wide = np.pad(down, ((0, 0), (most, most)), constant_values=most + 1)
    square = min(int((wide[rows, columns + most + step] ** 2).min()) + step * step for step in range(-most, most + 1))
    return math.sqrt(square) if square <= most * most else math.inf


def _down_columns(cells: Bool, most: int) -> Array:
    """Return the distance of each cell from the nearest with ink in its column, (h, w) int32; at most ``most`` + 1."""
    rows = np.arange(len(cells), dtype=np.int32)[:, None]
    far = np.int32(len(cells) + most + 1)
    above = np.maximum.accumulate(np.where(cells, rows, -far), axis=0)
    below = np.minimum.accumulate(np.where(cells, rows, 2 * far)[::-1], axis=0)[::-1]
    out: Array = np.minimum(np.minimum(rows - above, below - rows), most + 1)
    return out


def _groups(apart: Array, reload_mm: float) -> list[list[int]]:
    """Return the screens joined by touching, each group sorted, groups by their first screen."""
    left, groups = set(range(len(apart))), []
    while left:
        todo, group = [min(left)], set()
        while todo:
            i = todo.pop()
            if i in group:
                continue
            group.add(i)
            todo += [j for j in left - group if apart[i, j] <= reload_mm]
        left -= group
        groups.append(sorted(group))
    return groups


def _chunks(group: Sequence[int], heads: int, bins: list[list[int]]) -> list[list[int]]:
    """Return a large group cut in print order; what is left over joins a round that has room for it, if any."""
    chunks = [list(group[at : at + heads]) for at in range(0, len(group), heads)]
    last = chunks[-1]
    for other in bins:
        if len(last) < heads and len(last) + len(other) <= heads and min(other) > last[0]:
            last += other
            bins.remove(other)
            break
    return chunks
