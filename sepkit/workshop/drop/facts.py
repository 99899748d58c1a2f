"""What a job needs to know of each print once its folder stands: images, inked areas, coats, inks.

In: print folders. Out: PrintFacts; images that are the same film count once.
"""

from __future__ import annotations

import hashlib
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from sepkit.colorimetry.srgb import srgb8_to_lab
from sepkit.files.folders.print_folder import PrintFolder, read_print_folder
from sepkit.film.check_discs import disc_marks
from sepkit.press.filming import film_settings

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


def read_facts(prints: Sequence[JobPrint], folder: Path) -> tuple[PrintFacts, ...]:
    """Read the print folders of a job. Raises WriteError for a damaged one."""
    reads = [(one, read_print_folder(folder / one.folder)) for one in prints]
    digests = [
        [_film_digest(plate, read.width_mm, read.height_mm) + _discs(read, k) for k, plate in enumerate(read.plates)]
        for _, read in reads
    ]
    names = _image_names(reads, digests)
    out = []
    for (one, read), films in zip(reads, digests, strict=True):
        images = []
        for k, (plate, digest) in enumerate(zip(read.plates, films, strict=True)):
            settings = film_settings(read.record.film.making, plate.mesh, plate.halftone)
            inked = inked_cm2(plate, width_mm=read.width_mm, height_mm=read.height_mm, settings=settings)
            images.append(ImageFacts(names[digest], plate, inked, disc_marks(read.record.film.discs, k)))
        out.append(
            PrintFacts(
                one,
                folder / one.folder,
                read.width_mm,
                read.height_mm,
                tuple(images),
                read.record.findings,
                read.record.film.making,
            )
        )
    return tuple(out)


def _discs(read: PrintFolder, k: int) -> str:
    """Return what parts films of the same art by their check discs."""
    discs = read.record.film.discs
    return repr(disc_marks(discs, k)) if discs else ""


def _image_names(reads: Sequence[tuple[JobPrint, PrintFolder]], digests: Sequence[Sequence[str]]) -> dict[str, str]:
    """Return a name for each film: the print and its ink, and the garment where one print has several such films."""
    names: dict[str, str] = {}
    films: dict[str, set[str]] = {}
    for (one, read), row in zip(reads, digests, strict=True):
        for plate, digest in zip(read.plates, row, strict=True):
            films.setdefault(f"{one.print.name}, {plate.name}", set()).add(digest)
    for (one, read), row in zip(reads, digests, strict=True):
        for plate, digest in zip(read.plates, row, strict=True):
            name = f"{one.print.name}, {plate.name}"
            names.setdefault(digest, f"{name} on {one.garment.name}" if len(films[name]) > 1 else name)
    return names


def inked_cm2(plate: Plate, *, width_mm: float, height_mm: float, settings: FilmSettings) -> float:
    """Return the area that the film inks: counted on the film for dots, from the coverage for crisp art.

    A crisp edge runs through the middle of its soft coverage, so that both give the same area there.
    """
    box = width_mm * height_mm / 100.0
    if plate.halftone is None:
        return float(plate.printed.mean()) / 255.0 * box
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
