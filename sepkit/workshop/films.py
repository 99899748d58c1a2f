"""Films of a print folder: one PDF for each plate and films.pdf with all, in print order, same origin on each page.

In: plates whose images lie in the folder, and their printed size. Out: files in a folder that the caller moves into
place whole, and findings about rulings and meshes.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

from sepkit.files.film_set import FilmJob, write_film_set
from sepkit.files.manifest import plate_slug
from sepkit.film.marks import FilmLabel
from sepkit.film.outline import film_size_px
from sepkit.film.rows import FilmSettings
from sepkit.film.screen import check_halftone
from sepkit.press.mesh import halftone_findings, tone_limits
from sepkit.press.moire import moire_findings

if TYPE_CHECKING:
    from sepkit.model import Finding, Plate, Progress


def film_findings(plates: Sequence[Plate], *, dpi: float) -> tuple[Finding, ...]:
    """Return what to know about the plates' halftones. Raises UsageError for a ruling that the film cannot draw."""
    found: list[Finding] = []
    for plate in plates:
        if plate.halftone is not None:
            check_halftone(plate.halftone, dpi=dpi)
            found += halftone_findings(plate.halftone, plate.mesh, dpi=dpi, plate=plate.name)
            found += moire_findings(plate.halftone, plate.mesh, plate=plate.name)
    return tuple(found)


def write_films(
    folder: Path,
    plates: Sequence[Plate],
    *,
    width_mm: float,
    height_mm: float,
    dpi: float,
    garment: str,
    title: str,
    progress: Progress | None = None,
) -> tuple[int, int]:
    """Write films/NN-name.pdf and films.pdf under ``folder``; return the film's size in pixels.

    The plates' images are read from plates/printed/ and plates/tone/ there, by two processes where there are two cores.
    """
    jobs = []
    for plate in plates:
        name = plate_slug(plate)
        settings = FilmSettings(dpi=dpi)
        if plate.halftone is not None:
            settings = replace(settings, limits=tone_limits(plate.mesh))
        label = FilmLabel(
            plate=plate.name, ink=plate.ink, order=plate.order, of=len(plates), mesh=plate.mesh, garment=garment,
            artwork=title, coats=plate.coats,
        )  # fmt: skip
        tone = None if plate.tone is None else folder / "plates" / "tone" / f"{name}.png"
        image = folder / "plates" / "printed" / f"{name}.png"
        jobs.append(FilmJob(name, image, tone, plate.halftone, width_mm, height_mm, settings, label))
    step = None if progress is None else progress.step
    write_film_set(folder, jobs, title=title, on_step=step)
    return film_size_px(width_mm, height_mm, dpi)
