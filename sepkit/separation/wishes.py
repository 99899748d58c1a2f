"""From the colours found to the inks the person wants: all of them, a count, or a named list; the garment is free.

In: flat colours with areas, garment sRGB, the request. Out: which ink each colour goes to (OPEN = bare garment).
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from sepkit.colorimetry.difference import delta_e_2000
from sepkit.colorimetry.srgb import srgb8_to_lab
from sepkit.errors import UsageError
from sepkit.separation.palette import MAX_MEMBERS

if TYPE_CHECKING:
    from sepkit.model import RGB8, InkRequest

Array = np.ndarray[Any, np.dtype[Any]]

OPEN = -1
GROUND_DE00 = 6.0  # art this near the garment's colour is left open: cloth photographs vary more than that


@dataclass(frozen=True, slots=True)
class InkList:
    """Inks (sRGB in the art, label) and for each flat colour its ink's place in the list, or OPEN."""

    rgb: tuple[RGB8, ...]
    names: tuple[str, ...]
    ink_of: tuple[int, ...]


def check_request(request: InkRequest) -> None:
    """Raise UsageError for a request that makes no sense."""
    if request.count is not None and request.named:
        raise UsageError("give a number of inks or their names, not both", where="--inks")
    if request.count is not None and not 1 <= request.count <= MAX_MEMBERS:
        raise UsageError(f"{request.count} inks cannot be separated", where="--inks", hint=f"1 to {MAX_MEMBERS}")
    names = [n for n, _ in request.named]
    twice = sorted({n for n in names if names.count(n) > 1})
    if twice:
        raise UsageError(f'"{twice[0]}" is named twice', where="--inks", hint="name each ink once")
    if len(names) > MAX_MEMBERS:
        raise UsageError(f"{len(names)} inks cannot be separated", where="--inks", hint=f"at most {MAX_MEMBERS}")


def choose_inks(colours: Array, pixels: Array, ground: RGB8, request: InkRequest) -> InkList:
    """Map (m, 3) sRGB colours with (m,) pixel areas to inks."""
    if request.named:
        return _named(colours, pixels, ground, request)
    lab = srgb8_to_lab(np.asarray(colours, np.uint8).reshape(-1, 3))
    is_ground = delta_e_2000(lab, srgb8_to_lab(np.array(ground, np.uint8))) <= GROUND_DE00
    groups = [[k] for k in range(len(lab)) if not is_ground[k]]
    while request.count is not None and len(groups) > request.count:
        groups = _merge_cheapest(groups, lab, pixels)
    groups.sort(key=lambda g: -sum(int(pixels[k]) for k in g))
    ink_of = [OPEN] * len(lab)
    rgb: list[RGB8] = []
    for number, group in enumerate(groups):
        lead = max(group, key=lambda k: int(pixels[k]))
        rgb.append(_rgb(colours[lead]))
        for k in group:
            ink_of[k] = number
    return InkList(tuple(rgb), ("",) * len(rgb), tuple(ink_of))


def _rgb(row: Array) -> RGB8:
    r, g, b = (int(v) for v in row)
    return r, g, b


def _merge_cheapest(groups: list[list[int]], lab: Array, pixels: Array) -> list[list[int]]:
    """Join the two groups whose union is least visible: area of the smaller's colours times squared difference."""
    leads = [max(g, key=lambda k: int(pixels[k])) for g in groups]
    best: tuple[float, int, int] | None = None
    for a in range(len(groups)):
        for b in range(len(groups)):
            if a == b:
                continue
            moved = delta_e_2000(lab[groups[b]], lab[leads[a]])
            loss = float((moved**2 * pixels[groups[b]]).sum())
            if best is None or loss < best[0]:
                best = (loss, a, b)
    if best is None:
        return groups
    _, a, b = best
    return [g for n, g in enumerate(groups) if n not in (a, b)] + [groups[a] + groups[b]]


def _named(colours: Array, pixels: Array, ground: RGB8, request: InkRequest) -> InkList:
    """Each colour to its nearest named ink, or to the garment when that is nearer and near enough to be it."""
    named = srgb8_to_lab(np.array([c for _, c in request.named], np.uint8))
    lab = srgb8_to_lab(np.asarray(colours, np.uint8).reshape(-1, 3))
    to_ink = delta_e_2000(lab[:, None], named[None])
    to_ground = delta_e_2000(lab, srgb8_to_lab(np.array(ground, np.uint8)))
    ink_of = np.where((to_ground <= GROUND_DE00) & (to_ground < to_ink.min(1)), OPEN, to_ink.argmin(1))
    rgb = []
    for number, (_, colour) in enumerate(request.named):
        mine = np.flatnonzero(ink_of == number)
        rgb.append(_rgb(colours[mine[np.asarray(pixels)[mine].argmax()]]) if mine.size else colour)
    return InkList(tuple(rgb), tuple(n for n, _ in request.named), tuple(int(k) for k in ink_of))
