"""Films of a print folder: one PDF for each plate and films.pdf with all, in print order, same origin on each page.

In: plates as the record tells them, their planes in the folder, their printed size, and how films are made. Out: film
jobs, files in a folder that the caller moves into place whole, and findings about rulings and meshes.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Protocol

from sepkit.files.films.film_set import FilmJob, write_film_set
from sepkit.files.folders.planes import plane_path
from sepkit.film.check_discs import disc_marks
from sepkit.film.marks import FilmLabel
from sepkit.film.screen import check_halftone
from sepkit.press.filming import film_settings
from sepkit.press.mesh import halftone_findings
from sepkit.press.moire import moire_findings

if TYPE_CHECKING:
    from sepkit.files.folders.entries import PlateEntry
    from sepkit.files.folders.record import ArtFacts, FilmFacts
    from sepkit.model import U8, Finding, Garment, Halftone, Mesh, Progress


class Screened(Protocol):
    """What findings ask of a plate."""

    @property
    def name(self) -> str:
        """Its name for people."""
        ...

    @property
    def halftone(self) -> Halftone | None:
        """Its dots, or none."""
        ...

    @property
    def mesh(self) -> Mesh:
        """Its mesh."""
        ...


class Filmed(Protocol):
    """What films ask of a print's record."""

    @property
    def artwork(self) -> ArtFacts:
        """Its name and size."""
        ...

    @property
    def garment(self) -> Garment:
        """What it is printed on."""
        ...

    @property
    def plates(self) -> tuple[PlateEntry, ...]:
        """In print order."""
        ...

    @property
    def film(self) -> FilmFacts:
        """How films are made."""
        ...


def film_findings(plates: Sequence[Screened], *, dpi: float) -> tuple[Finding, ...]:
    """Return what to know about the plates' halftones. Raises UsageError for a ruling that the film cannot draw."""
    found: list[Finding] = []
    for plate in plates:
        if plate.halftone is not None:
            check_halftone(plate.halftone, dpi=dpi)
            found += halftone_findings(plate.halftone, plate.mesh, dpi=dpi, plate=plate.name)
            found += moire_findings(plate.halftone, plate.mesh, plate=plate.name)
    return tuple(found)


def film_jobs(folder: Path, record: Filmed) -> list[FilmJob]:
    """Return the films of a print folder in print order, each on a page as large as it needs.

    Raises WriteError for planes that are missing.
    """
    art, making = record.artwork, record.film.making
    return [
        FilmJob(
            Path(plate.film_file).stem,
            plane_path(folder, plate.printed_file),
            None if plate.tone_file is None else plane_path(folder, plate.tone_file),
            plate.halftone,
            art.width_mm,
            art.height_mm,
            film_settings(making, plate.mesh, plate.halftone),
            FilmLabel(
                plate=plate.name,
                ink=plate.ink.name,
                order=plate.order,
                of=len(record.plates),
                mesh=plate.mesh,
                garment=record.garment.name,
                artwork=Path(art.file).stem,
                coats=plate.coats,
            ),
            all_colours=making.all_colours,
            beside=disc_marks(record.film.discs, nth),
        )
        for nth, plate in enumerate(record.plates)
    ]


def write_films(
    folder: Path, record: Filmed, *, planes: Mapping[str, U8] | None = None, progress: Progress | None = None
) -> None:
    """Write films/NN-name.pdf and films.pdf under ``folder``, from the planes there.

    ``planes`` are those in hand, by their files in the folder. By two processes where there are two cores and enough
    to do.
    """
    jobs = film_jobs(folder, record)
    step = None if progress is None else progress.step
    held = {plane_path(folder, name): plane for name, plane in (planes or {}).items()}
    write_film_set(folder, jobs, title=Path(record.artwork.file).stem, planes=held, on_step=step)
