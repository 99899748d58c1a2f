"""From the colours found to the inks the person wants: all of them, a count, or a named list; the garment is free.

In: flat colours with areas, garment sRGB, the request. Out: which ink each colour goes to (OPEN = bare garment).
Where there are fewer inks than colours, a colour without an ink of its own goes to the nearest ink, or to the garment
where that is nearer: dark colours on black cloth do not come out in the one light ink that is left.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from sepkit.colorimetry.difference import delta_e_2000
from sepkit.colorimetry.srgb import srgb8_to_lab
from sepkit.errors import UsageError
from sepkit.separation import tuned_colours as tuned
from sepkit.separation.palette import MAX_MEMBERS

if TYPE_CHECKING:
    from sepkit.model import RGB8, InkRequest

Array = np.ndarray[Any, np.dtype[Any]]

OPEN = -1  # no ink: bare garment


@dataclass(frozen=True, slots=True)
class InkList:
    """Inks (sRGB in the art, label) and for each flat colour its ink's place in the list, or OPEN."""

    rgb: tuple[RGB8, ...]
    names: tuple[str, ...]
    ink_of: tuple[int, ...]
    left_open: tuple[int, ...] = ()
    """Flat colours unlike the garment that are left open, because it is nearer to them than any ink."""


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


def choose_inks(colours: Array, pixels: Array, ground: RGB8, request: InkRequest, *, toned: bool = False) -> InkList:
    """Map (m, 3) sRGB colours with (m,) pixel areas to inks; ``toned`` art has tones beside its flat colours."""
    if request.named:
        return _named(colours, pixels, ground, request, toned=toned)
    lab = srgb8_to_lab(np.asarray(colours, np.uint8).reshape(-1, 3))
    to_ground = delta_e_2000(lab, srgb8_to_lab(np.array(ground, np.uint8)))
    is_ground = to_ground <= tuned.FLATS.ground_de00
    groups = [[int(k)] for k in np.flatnonzero(~is_ground)]
    while request.count is not None and len(groups) > request.count:
        groups = _merge_cheapest(groups, lab, pixels, to_ground)
    groups.sort(key=lambda g: -int(pixels[g].sum()))
    ink_of = np.full(len(lab), OPEN)
    for number, group in enumerate(groups):
        ink_of[group] = number
    leads = [_lead(group, pixels) for group in groups]
    left = np.flatnonzero((ink_of == OPEN) & ~is_ground)
    return InkList(
        tuple(_rgb(colours[k]) for k in leads), ("",) * len(leads), tuple(ink_of.tolist()), tuple(left.tolist())
    )


def _lead(group: list[int], pixels: Array) -> int:
    """Return the largest colour of a group."""
    return max(group, key=lambda k: int(pixels[k]))


def _rgb(row: Array) -> RGB8:
    r, g, b = (int(v) for v in row)
    return r, g, b


def _merge_cheapest(groups: list[list[int]], lab: Array, pixels: Array, to_ground: Array) -> list[list[int]]:
    """Join the two groups whose union is least visible, or leave a group open where the garment is nearer to it.

    What is seen is the area of the colours that change times their squared difference.
    """
    leads = [_lead(g, pixels) for g in groups]
    ways: list[tuple[float, int, int]] = []
    for b, group in enumerate(groups):
        area = pixels[group]
        ways.append((float((to_ground[group] ** 2 * area).sum()), OPEN, b))
        for a, lead in enumerate(leads):
            if a != b:
                ways.append((float((delta_e_2000(lab[group], lab[lead]) ** 2 * area).sum()), a, b))
    _, a, b = min(ways, key=lambda way: (way[0], way[2], way[1]))
    kept = [g for n, g in enumerate(groups) if n not in (a, b)]
    return kept if a == OPEN else [*kept, groups[a] + groups[b]]


def _named(colours: Array, pixels: Array, ground: RGB8, request: InkRequest, *, toned: bool) -> InkList:
    """Each colour to its nearest named ink, or to the garment when that is nearer: see below.

    The colour nearest to an ink is printed in it, however far it is: the person named that ink for it.
    """
    named = srgb8_to_lab(np.array([c for _, c in request.named], np.uint8))
    lab = srgb8_to_lab(np.asarray(colours, np.uint8).reshape(-1, 3))
    to_ink = delta_e_2000(lab[:, None], named[None])
    to_ground = delta_e_2000(lab, srgb8_to_lab(np.array(ground, np.uint8)))
    is_ground = (to_ground <= tuned.FLATS.ground_de00) & (to_ground < to_ink.min(1))
    if is_ground.all() and not toned:
        is_ground[:] = False  # art in the cloth's colour alone: an ink was named for it, and it prints
    ink_of = np.where(is_ground, OPEN, to_ink.argmin(1))
    rgb = []
    left: list[int] = []
    for number, (_, colour) in enumerate(request.named):
        mine = np.flatnonzero(ink_of == number)
        if mine.size:
            nearest = mine[to_ink[mine, number].argmin()]
            gone = mine[(to_ground[mine] < to_ink[mine, number]) & (mine != nearest)]
            ink_of[gone] = OPEN
            left += gone.tolist()
            mine = np.flatnonzero(ink_of == number)
        rgb.append(_rgb(colours[mine[np.asarray(pixels)[mine].argmax()]]) if mine.size else colour)
    names = tuple(n for n, _ in request.named)
    return InkList(tuple(rgb), names, tuple(int(k) for k in ink_of), tuple(sorted(left)))
