"""Changes by hand, applied to the areas of a separation before they are decided.

In: areas as found, the size of the print, wishes, PrintEdits. Out: the areas and wishes to decide with, and which
changes found what they name. Nothing of it is an error: art that was changed since may hold other areas.
"""

from __future__ import annotations

from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING

import numpy as np

from sepkit.decisions import AreaWish
from sepkit.model import Finding
from sepkit.units import to_hex

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from sepkit.decisions import AreaEdit, PartEdit, PrintEdits, Wishes
    from sepkit.model import RGB8, U8, Bool, InkArea, Size

HALF = 128
"""Coverage from which a pixel counts as a part's body: parts that only their soft edges join are two."""
NEAR_MM = 0.5
"""A place this near to a part of the area means that part (common practice: a pointer's aim)."""


@dataclass(frozen=True, slots=True, eq=False)
class Edited:
    """What is decided after changes by hand."""

    areas: tuple[InkArea, ...]
    wishes: Wishes
    applied: tuple[str, ...] = ()
    """Each change that found what it names, in words."""
    missed: tuple[str, ...] = ()
    """Each that found nothing."""
    goes: Mapping[RGB8, RGB8 | None] = field(default_factory=dict)
    """Areas without a screen of their own: the area whose screen prints them, None for open cloth."""

    @property
    def findings(self) -> tuple[Finding, ...]:
        """One for each change that found nothing."""
        hint = "the art changed, or the garment leaves it open; others apply"
        return tuple(Finding("edit-missed", "warn", f"{words}: not found", hint) for words in self.missed)


def edited(areas: Sequence[InkArea], size: Size, wishes: Wishes, edits: PrintEdits) -> Edited:
    """Return areas and wishes with the changes: parts first, then areas that print together or stay open.

    Coverage is handed on whole: what an area loses another gains, up to solid. ``trap_mm`` and ``choke_mm`` that are
    wished already stay.
    """
    kept = {area.srgb: area for area in areas}
    notes = _Notes()
    for part in edits.parts:
        _move_part(kept, part, size, notes)
    targets = _targets(edits.areas, kept, notes)
    joined = _joined(kept, targets)
    own = dict(wishes.areas)
    for edit in edits.areas:
        if edit.of in joined and edit.wish:
            own[edit.of] = _both(own.get(edit.of, AreaWish()), edit.wish)
            notes.found(edit.of in kept, f"{to_hex(edit.of)} {_told(edit.wish)}")
        elif edit.of not in kept and not (edit.into or edit.open):
            notes.found(False, f"{to_hex(edit.of)} {_told(edit.wish)}")
    for colour in edits.order:
        notes.found(colour in joined, f"{to_hex(colour)} in the order")
    counted = edits.screens is not None or edits.all_inks
    if counted:
        words = "all inks" if edits.all_inks else f"no more than {edits.screens} screens"
        notes.found(not (wishes.inks.named or wishes.as_brought or wishes.solved), words)
    changed = replace(
        wishes,
        areas=own,
        all_inks=edits.all_inks if counted else wishes.all_inks,
        most_screens=edits.screens if counted else wishes.most_screens,
        order=tuple(colour for colour in edits.order if colour in joined) or wishes.order,
        trap_mm=edits.trap_mm if wishes.trap_mm is None else wishes.trap_mm,
        choke_mm=edits.choke_mm if wishes.choke_mm is None else wishes.choke_mm,
    )
    still = tuple(area for area in joined.values() if area.coverage.any())
    return Edited(still, changed, tuple(notes.applied), tuple(notes.missed), targets)


class _Notes:
    """What was applied and what was not."""

    def __init__(self) -> None:
        self.applied: list[str] = []
        self.missed: list[str] = []

    def found(self, found: bool, words: str) -> None:
        (self.applied if found else self.missed).append(words)


def _both(first: AreaWish, then: AreaWish) -> AreaWish:
    return AreaWish(
        then.ink or first.ink,
        then.base or first.base,
        then.coats or first.coats,
        then.mesh or first.mesh,
        then.name or first.name,
    )


def _told(wish: AreaWish) -> str:
    said = [
        f"printed with {wish.ink.name}" if wish.ink else "",
        f"base {wish.base}" if wish.base else "",
        f"{wish.coats} coats" if wish.coats else "",
        f"mesh {wish.mesh}" if wish.mesh else "",
        f"called {wish.name}" if wish.name else "",
    ]
    return ", ".join(words for words in said if words)


def _targets(edits: Sequence[AreaEdit], kept: Mapping[RGB8, InkArea], notes: _Notes) -> dict[RGB8, RGB8 | None]:
    """Return where each area goes that does not print on a screen of its own; None is open."""
    given: dict[RGB8, RGB8 | None] = {}
    for edit in edits:
        if edit.open:
            notes.found(edit.of in kept, f"{to_hex(edit.of)} left open")
        elif edit.into is not None:
            there = edit.of in kept and edit.into in kept
            notes.found(there, f"{to_hex(edit.of)} printed with {to_hex(edit.into)}")
            if not there:
                continue
        else:
            continue
        given[edit.of] = None if edit.open else edit.into
    return {of: _end_of(of, given) for of in given if of in kept}


def _end_of(of: RGB8, given: Mapping[RGB8, RGB8 | None]) -> RGB8 | None:
    """Follow areas that print with areas that print with others. A ring, which readers refuse, ends where it began."""
    seen = {of}
    to = given[of]
    while to is not None and to in given and to not in seen:
        seen.add(to)
        to = given[to]
    return to


def _joined(kept: Mapping[RGB8, InkArea], targets: Mapping[RGB8, RGB8 | None]) -> dict[RGB8, InkArea]:
    out = {colour: area for colour, area in kept.items() if colour not in targets}
    for of, to in targets.items():
        if to is not None:
            out[to] = with_more(out[to], kept[of].coverage, kept[of].tone)
    return out


def with_more(area: InkArea, coverage: U8, tone: Bool | None) -> InkArea:
    """Return the area with more coverage, up to solid; tone where either is, but not where it comes to be solid."""
    total = area.coverage + np.minimum(coverage, 255 - area.coverage)
    masks = [mask for mask in (area.tone, tone) if mask is not None]
    mixed = np.logical_or.reduce(masks) & (total < 255) if masks else None
    return replace(area, coverage=total, tone=mixed if mixed is not None and mixed.any() else None)


def _move_part(kept: dict[RGB8, InkArea], part: PartEdit, size: Size, notes: _Notes) -> None:
    words = f"part of {to_hex(part.of)} at {part.at_mm[0]:g}, {part.at_mm[1]:g} mm"
    words += " left open" if part.to is None else f" printed with {to_hex(part.to)}"
    from_area = kept.get(part.of)
    found = None
    if from_area is not None and (part.to is None or part.to in kept):
        per_mm = from_area.coverage.shape[1] / size.width_mm
        found = part_at(from_area.coverage, part.at_mm, per_mm=per_mm)
    notes.found(found is not None, words)
    if from_area is None or found is None or part.to == part.of:
        return
    moved = np.where(found, from_area.coverage, 0).astype(np.uint8)
    tone = None if from_area.tone is None else from_area.tone & found
    left = None if from_area.tone is None else from_area.tone & ~found
    kept[part.of] = replace(
        from_area, coverage=from_area.coverage - moved, tone=left if left is not None and left.any() else None
    )
    if part.to is not None:
        kept[part.to] = with_more(kept[part.to], moved, tone if tone is not None and tone.any() else None)


def part_at(coverage: U8, at_mm: tuple[float, float], *, per_mm: float) -> Bool | None:
    """Return the connected part of a plane at a place, (h, w) bool; None where there is none within NEAR_MM.

    ``per_mm`` is pixels per mm. Neighbours by side or corner are connected. Bodies that only soft edges join are
    parts of their own, and a soft pixel goes with the nearest of them.
    """
    from scipy import ndimage

    height, width = coverage.shape
    x, y = at_mm[0] * per_mm - 0.5, at_mm[1] * per_mm - 0.5
    reach = max(1.0, NEAR_MM * per_mm)
    rows = slice(max(0, int(y - reach)), min(height, int(y + reach) + 2))
    columns = slice(max(0, int(x - reach)), min(width, int(x + reach) + 2))
    seen = np.argwhere(coverage[rows, columns] > 0)
    if not len(seen):
        return None
    away = np.hypot(seen[:, 0] + rows.start - y, seen[:, 1] + columns.start - x)
    if away.min() > reach:
        return None
    nearest = seen[int(away.argmin())]
    row, column = int(nearest[0]) + rows.start, int(nearest[1]) + columns.start
    eight = np.ones((3, 3), int)
    label, _ = ndimage.label(coverage > 0, eight)
    number = int(label[row, column])
    box = ndimage.find_objects(label, max_label=number)[number - 1]
    inside = label[box] == number
    bodies, count = ndimage.label(inside & (coverage[box] >= HALF), eight)
    if count > 1:
        at = ndimage.distance_transform_edt(bodies == 0, return_distances=False, return_indices=True)
        bodies = bodies[tuple(at)]
        inside = inside & (bodies == bodies[row - box[0].start, column - box[1].start])
    out = np.zeros(coverage.shape, bool)
    out[box] = inside
    return out
