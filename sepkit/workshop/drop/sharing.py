"""One film for all garments of a print, wherever one geometry serves, and what that costs on each.

In: the facts of a job's prints. Out: the same facts with films shared, and the cost of each film that is not a
garment's own: more overlap in mm, and how far the print comes out from what films of its own would give (ΔE00).

A garment's own film differs from another's by trap and choke, which follow how far cloth creeps, and by a rim where a
neighbouring ink is left to the cloth. Films to choose from are those of each garment, and what they cover together. One
serves when no garment's colour moves by more than is just seen and no more base or cloth shows when the press is off.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from functools import cached_property
from typing import TYPE_CHECKING

import numpy as np

from sepkit.colorimetry.difference import delta_e_2000
from sepkit.colorimetry.srgb import srgb8_to_lab
from sepkit.preview.stack import printed_rgb
from sepkit.units import MM_PER_INCH
from sepkit.workshop.drop.facts import ImageFacts, PrintFacts, with_images
from sepkit.workshop.drop.small import smaller_plate

if TYPE_CHECKING:
    from sepkit.model import U8, Bool, Plate

LOOK_PX = 320
"""Side of the small pictures that are compared."""
MOST_MEAN_DE00 = 1.0
"""A mean shift of the print that is just seen side by side (common practice)."""
MOST_FAR_SHARE = 0.02
FAR_DE00 = 5.0
"""No more than MOST_FAR_SHARE of the print may move by more than this."""
SHOWS_MM2 = 3.0
"""Base or cloth that shows more than before in the worst case: a line of 0.3 mm by a centimetre."""
SAID_MM = 0.05
"""Overlap that differs by less is not told."""


@dataclass(frozen=True, slots=True)
class SharedFilm:
    """A film that garments share, as one print takes it instead of its own."""

    image: str
    on: str
    """The garments that take it."""
    own: str
    """The garments that it was made for."""
    overlap_mm: float
    own_overlap_mm: float
    mean_de00: float
    """Of the print, against films of its own."""

    @property
    def words(self) -> str:
        """Return what sharing costs here."""
        mm = self.overlap_mm - self.own_overlap_mm
        lap = f"{self.overlap_mm:.2f} mm of overlap instead of {self.own_overlap_mm:.2f}" if abs(mm) > SAID_MM else ""
        shift = f"ΔE00 {self.mean_de00:.1f} on average"
        return f"{self.image}: {self.on} takes the film of {self.own}, {lap + ', ' if lap else ''}{shift}"


def with_shared_films(facts: Sequence[PrintFacts]) -> tuple[tuple[PrintFacts, ...], tuple[SharedFilm, ...]]:
    """Return the prints with films shared between cloths wherever one serves all, and what that costs."""
    out = list(facts)
    costs: list[SharedFilm] = []
    groups: dict[tuple[str, str], list[int]] = {}
    for at, one in enumerate(facts):
        groups.setdefault((one.print.print.name, one.print.ink), []).append(at)
    for members in groups.values():
        if len(members) > 1:
            told = _shared([_Look(out[at]) for at in members])
            for at, (changed, cost) in zip(members, told, strict=True):
                out[at] = changed
                costs += cost
    return tuple(out), tuple(costs)


@dataclass(frozen=True, slots=True, eq=False)
class _Film:
    """A plane that may go on a film, who it was made for, and the mesh and dots that it is made with."""

    plate: Plate
    own: str


class _Look:
    """A print on one cloth, small: what it looks like with one film or another."""

    def __init__(self, facts: PrintFacts) -> None:
        self.facts = facts
        self.garment = facts.print.garment
        self.name = ", ".join(garment.name for _, garment in facts.print.wearers)
        self.plates = [image.plate for image in facts.images]
        self.small = [self.reduced(plate) for plate in self.plates]
        self.chosen: dict[int, _Film] = {}

    @staticmethod
    def reduced(plate: Plate) -> Plate:
        """Return a plate averaged down."""
        return smaller_plate(plate, most_px=LOOK_PX)

    @cached_property
    def picture(self) -> U8:
        """The print with films of its own."""
        return printed_rgb(self.small, self.garment)

    @cached_property
    def inked(self) -> Bool:
        """Where anything prints."""
        found: Bool = np.maximum.reduce([plate.printed for plate in self.small]) > 0
        return found

    def with_films(self, films: dict[int, Plate]) -> list[Plate]:
        """Return the small plates with the planes of other films."""
        return [
            plate if nth not in films else replace(plate, printed=films[nth].printed, tone=films[nth].tone)
            for nth, plate in enumerate(self.small)
        ]

    def shift(self, films: dict[int, Plate]) -> tuple[float, float]:
        """Return the mean ΔE00 of the print with these films, and the share that moves by more than FAR_DE00."""
        other = printed_rgb(self.with_films(films), self.garment)
        moved = self.inked & (other != self.picture).any(axis=2)
        count = max(int(self.inked.sum()), 1)
        away = delta_e_2000(srgb8_to_lab(self.picture[moved]), srgb8_to_lab(other[moved]))
        return float(away.sum()) / count, float((away > FAR_DE00).sum()) / count

    def serves(self, films: dict[int, Plate]) -> bool:
        """Tell whether the colour moves by no more than is just seen."""
        if all(np.array_equal(self.small[nth].printed, plate.printed) for nth, plate in films.items()):
            return True
        mean, far = self.shift(films)
        return mean <= MOST_MEAN_DE00 and far <= MOST_FAR_SHARE

    def bears(self, films: dict[int, Plate], error_mm: float) -> bool:
        """Tell whether no more base or cloth shows than with films of its own when the press is off."""
        from sepkit.preview.stress import exposed

        dpi = self.small[0].printed.shape[1] * MM_PER_INCH / self.facts.width_mm
        own = exposed(self.small, which="printed", dpi=dpi, error_mm=error_mm)
        now = exposed(self.with_films(films), which="printed", dpi=dpi, error_mm=error_mm)
        return max(now.peek_mm2 - own.peek_mm2, now.gap_mm2 - own.gap_mm2) < SHOWS_MM2


def _shared(looks: list[_Look]) -> list[tuple[PrintFacts, list[SharedFilm]]]:
    """Choose films for the cloths of one print: those that creep most first, for they ask for most overlap."""
    looks_by_need = sorted(looks, key=lambda look: (-look.facts.register_error_mm, look.garment.lab[0]))
    for places in _same_inks(looks_by_need):
        film = _one_film(places)
        if film is not None:
            for look, nth in places:
                look.chosen[nth] = film
    for look in looks_by_need:
        films = {nth: look.reduced(film.plate) for nth, film in look.chosen.items() if not _is_own(look, nth)}
        if films and not look.bears(films, look.facts.register_error_mm):
            look.chosen = {nth: film for nth, film in look.chosen.items() if nth not in films}
    taken = [id(film) for look in looks for film in look.chosen.values()]
    for look in looks:
        look.chosen = {nth: film for nth, film in look.chosen.items() if taken.count(id(film)) > 1}
    return [_told(look) for look in looks]


def _is_own(look: _Look, nth: int) -> bool:
    mine, film = look.plates[nth], look.chosen[nth].plate
    return mine is film or (np.array_equal(mine.printed, film.printed) and mine.mesh == film.mesh)


def _same_inks(looks: Sequence[_Look]) -> list[list[tuple[_Look, int]]]:
    """Return the plates of one ink and role on several cloths, as (look, place of the plate)."""
    groups: dict[tuple[object, ...], list[tuple[_Look, int]]] = {}
    for look in looks:
        seen: dict[tuple[object, ...], int] = {}
        for nth, plate in enumerate(look.plates):
            key = (plate.ink.name, plate.role == "underbase", plate.printed.shape)
            seen[key] = seen.get(key, 0) + 1
            groups.setdefault((*key, seen[key]), []).append((look, nth))
    return [places for places in groups.values() if len(places) > 1]


def _one_film(places: Sequence[tuple[_Look, int]]) -> _Film | None:
    """Return a film that serves all: that of the cloth that asks for most overlap, or of all together, or another."""
    lead = places[0][0].plates[places[0][1]]
    films = [
        _Film(replace(look.plates[nth], mesh=lead.mesh, halftone=lead.halftone), look.name) for look, nth in places
    ]
    if all(film.plate.tone is None for film in films):
        union = np.maximum.reduce([film.plate.printed for film in films])
        films.insert(1, _Film(replace(lead, printed=union), " and ".join(film.own for film in films)))
    for film in films:
        small = _Look.reduced(film.plate)
        if all(look.serves({nth: small}) for look, nth in places):
            return film
    return None


def _told(look: _Look) -> tuple[PrintFacts, list[SharedFilm]]:
    """Return a print with the films chosen for it, and what those that are not its own cost."""
    images: list[ImageFacts] = []
    costs: list[SharedFilm] = []
    for nth, image in enumerate(look.facts.images):
        film = look.chosen.get(nth)
        if film is None:
            images.append(image)
            continue
        plate = film.plate
        images.append(
            replace(
                image,
                plate=replace(
                    image.plate, printed=plate.printed, tone=plate.tone, mesh=plate.mesh, halftone=plate.halftone
                ),
            )
        )
        if not _is_own(look, nth):
            mean, _ = look.shift({nth: look.reduced(plate)})
            mine, theirs = image.plate, plate
            overlap = (theirs.choke_mm, mine.choke_mm) if mine.role == "underbase" else (theirs.trap_mm, mine.trap_mm)
            costs.append(SharedFilm(image.name, look.name, film.own, *overlap, mean))
    return with_images(look.facts, images), costs
