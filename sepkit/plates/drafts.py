"""Rows of the table that deciding fills: one for each area of the art, and later one for each screen.

In: ink areas as the separation found them, the bench. Out: PlateDrafts; every step of deciding takes rows and returns
rows, and ``finished`` makes plates of them.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from sepkit.colorimetry.difference import delta_e_2000
from sepkit.colorimetry.names import distinct_words
from sepkit.colorimetry.srgb import srgb8_to_lab
from sepkit.decisions import AreaWish
from sepkit.errors import UsageError
from sepkit.inks.identify import ink_from_swatch
from sepkit.model import Mesh, Plate
from sepkit.units import to_hex

if TYPE_CHECKING:
    from collections.abc import Callable

    from sepkit.decisions import CoatChoice
    from sepkit.model import RGB8, U8, Bool, Halftone, Ink, InkArea, Role
    from sepkit.plates.bench import Bench
    from sepkit.plates.overprint_pairs import OverprintPair, Overprints

SAME_AS_BASE_DE00 = 6.0
"""An ink this close to the base ink is the base's own colour."""
BASE = -1
"""The index of a base, which is no area."""
ANY_MESH = Mesh(62, 60)
"""Until a screen is chosen."""


@dataclass(frozen=True, slots=True, eq=False)
class PlateDraft:
    """One screen on its way: its area, its ink, how it goes on, what it prints."""

    name: str
    ink: Ink
    coverage: U8
    """(h, w) what the art asks, with the areas that it helps to print."""
    printed: U8
    """(h, w) what the film will carry."""
    index: int = BASE
    """Of its area in the art."""
    area: InkArea | None = None
    """As found; None for a base."""
    pair: OverprintPair | None = None
    """The two inks that print this area over each other: it has no screen of its own."""
    role: Role = "colour"
    choice: CoatChoice | None = None
    place: int = 0
    """In print order, from 0."""
    tone: Bool | None = None
    coats: int = 1
    print_srgb: RGB8 = (0, 0, 0)
    trap_mm: float = 0.0
    choke_mm: float = 0.0
    why: str = ""
    round: int = 1
    flash_why: str = ""
    also_base: U8 | None = None
    mesh: Mesh = ANY_MESH
    halftone: Halftone | None = None

    @property
    def based(self) -> bool:
        """Whether its ink goes on a base."""
        return self.choice is not None and self.choice.chosen.base_coats > 0

    @property
    def called(self) -> set[str]:
        """What a person may call it, in lower case: its name, its ink's, its colour in the art as it was asked."""
        art = set() if self.area is None else {self.area.name.lower(), to_hex(self.area.srgb)}
        return (art | {self.name.lower(), self.ink.name.lower()}) - {""}

    @property
    def is_base(self) -> bool:
        """Whether other inks print on it."""
        return self.role == "underbase" or self.also_base is not None

    @property
    def lightness(self) -> float:
        """L* of its area's own colour, 100 for a base."""
        return 100.0 if self.area is None else lightness_of(self.area.srgb)


def lightness_of(srgb: RGB8) -> float:
    """Return L* of a colour."""
    return float(srgb8_to_lab(np.array(srgb))[0])


def drafts_of(areas: Sequence[InkArea], bench: Bench, overprints: Overprints | None = None) -> list[PlateDraft]:
    """Return a row for each area, with its ink; areas that ``overprints`` stand for carry their pair."""
    saved = {} if overprints is None else overprints.saved
    names = [wish_of(area, bench).name or name for area, name in zip(areas, names_of(areas), strict=True)]
    _distinct(names)
    inks = [ink_of(area, bench) for area in areas] if overprints is None else overprints.inks
    return [
        PlateDraft(
            name, ink, area.coverage, area.coverage, index=index, area=area, pair=saved.get(index), tone=area.tone
        )
        for index, (area, name, ink) in enumerate(zip(areas, names, inks, strict=True))
    ]


def names_of(areas: Sequence[InkArea]) -> list[str]:
    """Return a name for each area: its ink's, or a word for its colour."""
    words = distinct_words([area.asked_srgb for area in areas])
    return [
        area.name if area.name and not area.name.startswith("#") else word
        for area, word in zip(areas, words, strict=True)
    ]


def _distinct(names: Sequence[str]) -> None:
    """Raise UsageError for a name that two areas bear: choices and plates are told apart by it."""
    for at, name in enumerate(names):
        if name.lower() in {other.lower() for other in names[:at]}:
            raise UsageError(f'two areas are called "{name}"', where="name", hint="give one of them another name")


def ink_of(area: InkArea, bench: Bench) -> Ink:
    """Return the ink wished or asked for an area, else the one that was found for its colour on the shelf.

    Without a shelf it is the base white for white art, or an ink mixed to its colour.

    Raises NotFoundError for the name of an ink that the shelf does not hold.
    """
    wished = wish_of(area, bench).ink
    if wished is not None:
        return wished
    if area.name and not area.name.startswith("#"):
        return bench.ink(area.name)
    found = bench.mixed.get(area.asked_srgb)
    if found is not None:
        return found.ink
    colour = area.asked_srgb
    near = float(delta_e_2000(srgb8_to_lab(np.array(colour)), srgb8_to_lab(np.array(bench.base_ink.srgb))))
    if near < SAME_AS_BASE_DE00:
        return bench.base_ink
    return ink_from_swatch(to_hex(colour), colour)


def wish_of(area: InkArea | None, bench: Bench) -> AreaWish:
    """Return what is wished for an area; an empty wish where nothing is, and for a base."""
    return AreaWish() if area is None else bench.wishes.areas.get(area.srgb, AreaWish())


def finished(rows: Sequence[PlateDraft]) -> tuple[Plate, ...]:
    """Return the plates of rows in print order."""
    return tuple(_plate(row, order) for order, row in enumerate(rows, 1))


def _plate(row: PlateDraft, order: int) -> Plate:
    return Plate(
        order=order,
        name=row.name,
        role=row.role,
        ink=row.ink,
        art_srgb=None if row.area is None else row.area.srgb,
        print_srgb=row.print_srgb,
        coverage=row.coverage,
        printed=row.printed,
        tone=row.tone,
        coats=row.coats,
        flash_after=bool(row.flash_why),
        halftone=row.halftone,
        mesh=row.mesh,
        trap_mm=row.trap_mm,
        choke_mm=row.choke_mm,
        why=row.why,
        confidence=1.0 if row.area is None else row.area.confidence,
        round=row.round,
        flash_why=row.flash_why,
        also_base=row.also_base,
    )


def first(rows: Sequence[PlateDraft], wanted: Callable[[PlateDraft], bool]) -> int | None:
    """Return the place of the first row that is wanted, or None."""
    return next((at for at, row in enumerate(rows) if wanted(row)), None)
