"""Plates and areas in a print folder's record: all of them but their planes, which lie in files beside it."""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from sepkit.coverage.sums import mean_level
from sepkit.files.folders import older
from sepkit.files.folders.parts import JsonTable, halftone_json, halftone_of, mesh_json, mesh_of
from sepkit.files.folders.planes import load_plane, plate_slug, save_mask, save_plane
from sepkit.model import ROLES, InkArea, Plate
from sepkit.units import parse_hex, to_hex

if TYPE_CHECKING:
    from collections.abc import Callable, Iterator, Mapping, Sequence
    from pathlib import Path

    from sepkit.model import RGB8, U8, Bool, Halftone, Ink, Mesh, Role


@dataclass(frozen=True, slots=True, eq=False)
class PlateEntry:
    """A plate, its planes told by their files below the folder."""

    order: int
    name: str
    role: Role
    ink: Ink
    art_srgb: RGB8 | None
    print_srgb: RGB8
    coverage_file: str
    printed_file: str
    tone_file: str | None
    base_file: str | None
    """The area that a seen white is base for."""
    film_file: str
    coverage_pct: float
    coats: int
    flash_after: bool
    halftone: Halftone | None
    mesh: Mesh
    trap_mm: float
    choke_mm: float
    why: str
    confidence: float
    round: int
    flash_why: str

    def load(self, folder: Path, shape: tuple[int, int]) -> Plate:
        """Return the plate with its planes (h, w). Raises WriteError for one that cannot be read."""
        tone = None if self.tone_file is None else load_plane(folder, self.tone_file, shape) > 127
        return Plate(
            order=self.order,
            name=self.name,
            role=self.role,
            ink=self.ink,
            art_srgb=self.art_srgb,
            print_srgb=self.print_srgb,
            coverage=load_plane(folder, self.coverage_file, shape),
            printed=load_plane(folder, self.printed_file, shape),
            tone=tone,
            coats=self.coats,
            flash_after=self.flash_after,
            halftone=self.halftone,
            mesh=self.mesh,
            trap_mm=self.trap_mm,
            choke_mm=self.choke_mm,
            why=self.why,
            confidence=self.confidence,
            round=self.round,
            flash_why=self.flash_why,
            also_base=None if self.base_file is None else load_plane(folder, self.base_file, shape),
        )


@dataclass(frozen=True, slots=True)
class AreaEntry:
    """An area of the art, its plane and its tones told by their files."""

    srgb: RGB8
    name: str
    confidence: float
    plane_file: str
    tone_file: str | None

    def load(self, folder: Path, shape: tuple[int, int]) -> InkArea:
        """Return the area with its planes (h, w). Raises WriteError for one that cannot be read."""
        tone = None if self.tone_file is None else load_plane(folder, self.tone_file, shape) > 127
        return InkArea(self.srgb, load_plane(folder, self.plane_file, shape), tone, self.name, self.confidence)


def write_plates(folder: Path, plates: Sequence[Plate], *, dpi: float) -> tuple[PlateEntry, ...]:
    """Write the planes of plates below ``folder``; return their entries."""
    entries = tuple(entry_of(plate) for plate in plates)
    for plate, entry in zip(plates, entries, strict=True):
        for save, file, plane in _planes_of(plate, entry):
            save(folder / file, plane, dpi)
    return entries


def _planes_of(plate: Plate, entry: PlateEntry) -> Iterator[tuple[Callable[..., None], str, U8 | Bool]]:
    """Yield how each plane of a plate is saved, in which file, and the plane."""
    yield save_plane, entry.coverage_file, plate.coverage
    yield save_plane, entry.printed_file, plate.printed
    if plate.tone is not None and entry.tone_file is not None:
        yield save_mask, entry.tone_file, plate.tone
    if plate.also_base is not None and entry.base_file is not None:
        yield save_plane, entry.base_file, plate.also_base


def write_areas(
    folder: Path, areas: Sequence[InkArea], plates: Sequence[Plate], *, dpi: float
) -> tuple[AreaEntry, ...]:
    """Write the planes of areas that no plate holds alone below ``folder``; return the entries of all."""
    out = []
    for number, area in enumerate(areas, 1):
        own = f"plates/areas/{number:02d}"
        plane = next((_file("plates", plate) for plate in plates if plate.coverage is area.coverage), None)
        tone = next((_file("plates/tone", plate) for plate in plates if plate.tone is area.tone), None)
        if plane is None:
            plane = f"{own}.png"
            save_plane(folder / plane, area.coverage, dpi)
        if area.tone is None:
            tone = None
        elif tone is None:
            tone = f"{own}-tone.png"
            save_mask(folder / tone, area.tone, dpi)
        out.append(AreaEntry(area.srgb, area.name, area.confidence, plane, tone))
    return tuple(out)


def entry_of(plate: Plate) -> PlateEntry:
    """Return the entry of a plate; its files bear its slug."""
    return PlateEntry(
        order=plate.order,
        name=plate.name,
        role=plate.role,
        ink=plate.ink,
        art_srgb=plate.art_srgb,
        print_srgb=plate.print_srgb,
        coverage_file=_file("plates", plate),
        printed_file=_file("plates/printed", plate),
        tone_file=None if plate.tone is None else _file("plates/tone", plate),
        base_file=None if plate.also_base is None else _file("plates/base", plate),
        film_file=f"films/{plate_slug(plate)}.pdf",
        coverage_pct=round(mean_level(plate.printed) / 2.55, 3),
        coats=plate.coats,
        flash_after=plate.flash_after,
        halftone=plate.halftone,
        mesh=plate.mesh,
        trap_mm=plate.trap_mm,
        choke_mm=plate.choke_mm,
        why=plate.why,
        confidence=plate.confidence,
        round=plate.round,
        flash_why=plate.flash_why,
    )


def _file(folder: str, plate: Plate) -> str:
    return f"{folder}/{plate_slug(plate)}.png"


def plate_json(plate: PlateEntry, place_of: Callable[[Ink], int]) -> JsonTable:
    """Return a plate; ``place_of`` tells its ink's place in the record's list."""
    return {
        "order": plate.order,
        "name": plate.name,
        "role": plate.role,
        "ink": plate.ink.name,
        "ink_place": place_of(plate.ink),
        "art_srgb": None if plate.art_srgb is None else to_hex(plate.art_srgb),
        "print_srgb": to_hex(plate.print_srgb),
        "plate": plate.coverage_file,
        "printed": plate.printed_file,
        "tone": plate.tone_file,
        "base": plate.base_file,
        "film": plate.film_file,
        "coverage_pct": plate.coverage_pct,
        "coats": plate.coats,
        "flash_after": plate.flash_after,
        "halftone": halftone_json(plate.halftone),
        "mesh": mesh_json(plate.mesh),
        "trap_mm": plate.trap_mm,
        "choke_mm": plate.choke_mm,
        "why": plate.why,
        "confidence": plate.confidence,
        "round": plate.round,
        "flash_why": plate.flash_why,
        "also_base": plate.base_file is not None,
    }


def plate_of(entry: Mapping[str, Any], inks: tuple[Ink, ...]) -> PlateEntry:
    """Return the plate of ``plate_json``; an earlier record's ink is known by its printed colour."""
    roles = {role: role for role in ROLES}
    art, tone, base = entry.get("art_srgb"), entry.get("tone"), entry.get("base")
    halftone = halftone_of(entry.get("halftone"))
    return PlateEntry(
        order=int(entry["order"]),
        name=str(entry["name"]),
        role=roles[entry["role"]],
        ink=inks[int(entry["ink_place"])] if "ink_place" in entry else older.ink_of(entry),
        art_srgb=parse_hex(art) if art else None,
        print_srgb=parse_hex(entry["print_srgb"]),
        coverage_file=str(entry["plate"]),
        printed_file=str(entry.get("printed", entry["plate"])),
        tone_file=str(tone) if tone else None,
        base_file=str(base) if base else None,
        film_file=str(entry["film"]),
        coverage_pct=float(entry["coverage_pct"]),
        coats=int(entry["coats"]),
        flash_after=bool(entry["flash_after"]),
        halftone=halftone,
        mesh=mesh_of(entry["mesh"]),
        trap_mm=float(entry.get("trap_mm", 0)),
        choke_mm=float(entry.get("choke_mm", 0)),
        why=str(entry.get("why", "")),
        confidence=float(entry.get("confidence", 1)),
        round=int(entry.get("round", 1)),
        flash_why=str(entry.get("flash_why", "")),
    )


def area_json(area: AreaEntry) -> JsonTable:
    """Return an area."""
    return {
        "srgb": to_hex(area.srgb),
        "name": area.name,
        "confidence": area.confidence,
        "plane": area.plane_file,
        "tone": area.tone_file,
    }


def area_of(entry: Mapping[str, Any]) -> AreaEntry:
    """Return the area of ``area_json``."""
    tone = entry["tone"]
    return AreaEntry(
        parse_hex(entry["srgb"]),
        str(entry["name"]),
        float(entry["confidence"]),
        str(entry["plane"]),
        str(tone) if tone else None,
    )
