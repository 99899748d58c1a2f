"""Films of a print folder: one PDF for each plate and films.pdf with all, in print order, same origin on each page.

In: plates and their printed size. Out: files in a folder that the caller moves into place whole.
"""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from sepkit.files.film_pdf import SpooledPage, write_film_pdf
from sepkit.files.manifest import plate_slug
from sepkit.film.marks import FilmLabel, film_page
from sepkit.film.rows import FilmSettings, plan_film

if TYPE_CHECKING:
    from sepkit.film.rows import Film
    from sepkit.model import Plate, Progress


def film_of(plate: Plate, *, width_mm: float, height_mm: float, settings: FilmSettings) -> Film:
    """Return the film of one plate: what is printed, at its true size."""
    return plan_film(
        plate.printed, plate.tone, plate.halftone, width_mm=width_mm, height_mm=height_mm, settings=settings
    )


def write_films(
    folder: Path,
    plates: Sequence[Plate],
    *,
    width_mm: float,
    height_mm: float,
    settings: FilmSettings,
    garment: str,
    title: str,
    progress: Progress | None = None,
) -> tuple[int, int]:
    """Write films/NN-name.pdf and films.pdf under ``folder``; return the film's size in pixels.

    Each film is made and compressed once; films.pdf copies the compressed rows.
    """
    (folder / "films").mkdir(parents=True, exist_ok=True)
    spooled: list[SpooledPage] = []
    size = (0, 0)
    for number, plate in enumerate(plates):
        if progress is not None:
            progress.step("films", number, len(plates))
        film = film_of(plate, width_mm=width_mm, height_mm=height_mm, settings=settings)
        size = (film.width_px, film.height_px)
        label = FilmLabel(
            plate=plate.name, ink=plate.ink, order=plate.order, of=len(plates), mesh=plate.mesh, garment=garment,
            artwork=title, coats=plate.coats,
        )  # fmt: skip
        path = folder / "films" / f"{plate_slug(plate)}.pdf"
        spooled += write_film_pdf(path, [film_page(film, label)], title=f"{title}: {plate.name}")
    write_film_pdf(folder / "films.pdf", spooled, title=title)
    return size
