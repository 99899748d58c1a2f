"""What a job needs to know of each print once its folder stands: images, inked areas, coats, inks.

In: print folders. Out: PrintFacts; images that are the same film count once.
"""

from __future__ import annotations

import hashlib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

from sepkit.colorimetry.srgb import srgb8_to_lab
from sepkit.coverage.sums import mean_share
from sepkit.files.folders.print_folder import read_print_folder
from sepkit.film.check_discs import disc_marks
from sepkit.plates.bench import register_error_mm
from sepkit.press.filming import film_settings
from sepkit.units import parse_hex

if TYPE_CHECKING:
    from sepkit.film.making import FilmMaking
    from sepkit.film.page import Mark
    from sepkit.film.rows import FilmSettings
    from sepkit.model import RGB8, Finding, Mesh, Plate
    from sepkit.workshop.drop.prints import JobPrint

WHITE_L, WHITE_CHROMA, LIGHT_L = 88.0, 12.0, 65.0


@dataclass(frozen=True, slots=True, eq=False)
class ImageFacts:
    """One film image."""

    name: str
    plate: Plate
    inked_cm2: float
    beside: tuple[Mark, ...] = ()
    """Its check discs, in mm from the art's top left."""

    @property
    def mesh(self) -> Mesh:
        """Return the mesh it is made for."""
        return self.plate.mesh


@dataclass(frozen=True, slots=True, eq=False)
class PrintFacts:
    """One print folder: its images in print order, its size, what was found, its pictures."""

    print: JobPrint
    folder: Path
    width_mm: float
    height_mm: float
    images: tuple[ImageFacts, ...]
    findings: tuple[Finding, ...]
    making: FilmMaking
    rounds: tuple[tuple[int, ...], ...] = ()
    """Places of images by the load of the press that they print in."""
    parted: bool = False
    """Images of different rounds touch, so that the garment must not be loaded again between."""
    register_error_mm: float = 0.5
    ladder: tuple[InkStep, ...] = ()
    """What fewer inks would be, from one ink up; empty where the inks were named."""


@dataclass(frozen=True, slots=True)
class InkStep:
    """A print with this many inks: its screens and how far it is from the art."""

    inks: int
    screens: int
    mean_de00: float
    p95_de00: float
    lost_de00: float = 0.0
    """What is lost to the eye against all inks."""
    lost: tuple[str, ...] = ()
    colours: tuple[RGB8, ...] = ()
    """As printed, the base left out."""


def read_facts(prints: Sequence[JobPrint], folder: Path) -> tuple[PrintFacts, ...]:
    """Read the print folders of a job. Raises WriteError for a damaged one."""
    return tuple(_facts(one, folder / one.folder) for one in prints)


def _facts(one: JobPrint, folder: Path) -> PrintFacts:
    read = read_print_folder(folder)
    record = read.record
    images = [
        ImageFacts(f"{one.print.name}, {plate.name}", plate, 0.0, disc_marks(record.film.discs, nth))
        for nth, plate in enumerate(read.plates)
    ]
    rounds: dict[int, list[int]] = {}
    for nth, plate in enumerate(read.plates):
        rounds.setdefault(plate.round, []).append(nth)
    error_mm = 0.5 if record.bench is None else register_error_mm(record.bench.press, one.garment)
    facts = PrintFacts(
        one,
        folder,
        read.width_mm,
        read.height_mm,
        (),
        record.findings,
        record.film.making,
        tuple(tuple(rounds[number]) for number in sorted(rounds)),
        bool(record.parted),
        error_mm,
        _ladder(record.more.get("ladder", ())),
    )
    return with_images(facts, images)


def _ladder(rungs: Sequence[Mapping[str, Any]]) -> tuple[InkStep, ...]:
    return tuple(
        InkStep(
            int(rung["inks"]),
            int(rung["screens"]),
            float(rung["mean_de00"]),
            float(rung["p95_de00"]),
            float(rung.get("seen_loss_de00", rung["mean_de00"])),
            tuple(str(word) for word in rung["lost"]),
            tuple(parse_hex(colour) for colour in rung["colours"]),
        )
        for rung in rungs
    )


def with_images(facts: PrintFacts, images: Sequence[ImageFacts]) -> PrintFacts:
    """Return the print with these images, the inked area of each counted."""
    counted = []
    for image in images:
        settings = film_settings(facts.making, image.mesh, image.plate.halftone)
        area = inked_cm2(image.plate, width_mm=facts.width_mm, height_mm=facts.height_mm, settings=settings)
        counted.append(replace(image, inked_cm2=area))
    return replace(facts, images=tuple(counted))


def named_films(facts: Sequence[PrintFacts]) -> tuple[PrintFacts, ...]:
    """Return the prints with a name for each film: print and ink, and the garment where one print has several such."""
    films: dict[str, set[str]] = {}
    digests = {
        id(image): _film_digest(image.plate, one.width_mm, one.height_mm) + (repr(image.beside) if image.beside else "")
        for one in facts
        for image in one.images
    }
    names: dict[str, str] = {}
    for one in facts:
        for image in one.images:
            films.setdefault(image.name, set()).add(digests[id(image)])
    for one in facts:
        for image in one.images:
            several = len(films[image.name]) > 1
            names.setdefault(digests[id(image)], f"{image.name} on {one.print.garment.name}" if several else image.name)
    return tuple(
        replace(one, images=tuple(replace(image, name=names[digests[id(image)]]) for image in one.images))
        for one in facts
    )


def inked_cm2(plate: Plate, *, width_mm: float, height_mm: float, settings: FilmSettings) -> float:
    """Return the area that the film inks: counted on the film for dots, from the coverage for crisp art.

    A crisp edge runs through the middle of its soft coverage, so that both give the same area there.
    """
    box = width_mm * height_mm / 100.0
    if plate.halftone is None:
        return mean_share(plate.printed) * box
    from sepkit.film.rows import plan_film

    film = plan_film(
        plate.printed, plate.tone, plate.halftone, width_mm=width_mm, height_mm=height_mm, settings=settings
    )
    count = sum(int(np.bitwise_count(rows).sum()) for rows in film.bands())
    return count / (film.width_px * film.height_px) * box


def ink_family(srgb: RGB8) -> str:
    """Return which inks may share a screen after a wash: white, light or dark ones (common practice)."""
    L, a, b = (float(v) for v in srgb8_to_lab(np.array(srgb, np.uint8)))
    if L > WHITE_L and (a * a + b * b) ** 0.5 < WHITE_CHROMA:
        return "white"
    return "light inks" if L >= LIGHT_L else "dark inks"


def _film_digest(plate: Plate, width_mm: float, height_mm: float) -> str:
    digest = hashlib.sha256(
        repr(
            (plate.ink.name, plate.mesh, plate.halftone, round(width_mm, 3), round(height_mm, 3), plate.printed.shape)
        ).encode()
    )
    digest.update(np.ascontiguousarray(plate.printed).data)
    if plate.tone is not None:
        digest.update(np.packbits(plate.tone).data)
    return digest.hexdigest()
