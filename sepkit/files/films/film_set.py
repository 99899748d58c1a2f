"""The films of one job: films/NAME.pdf for each plate (and TIFF, PNG), and films.pdf with all pages in print order.

In: FilmJobs, whose planes are arrays or PNG files. Out: files in a folder that the caller owns; each plate is made and
compressed once, in a process of its own where there are several, and films.pdf copies the compressed rows.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping, Sequence
from concurrent.futures.process import BrokenProcessPool
from contextlib import suppress
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING, Literal

import numpy as np

from sepkit.coverage.bands import pack_bits, row_bands
from sepkit.errors import WriteError
from sepkit.files.films.pdf import SpooledPage, write_film_pdf
from sepkit.files.films.png import write_film_png
from sepkit.files.films.tiff import write_film_tiff
from sepkit.film.marks import FilmLabel, film_page
from sepkit.film.outline import film_size_px
from sepkit.film.rows import Film, FilmSettings, ToneMask, plan_film
from sepkit.processes import ahead, worker_pool, workers_for

if TYPE_CHECKING:
    from sepkit.film.page import Mark, Tile
    from sepkit.model import U8, Bool, Halftone

FilmFormat = Literal["pdf", "tiff", "png"]
MOST_WORKERS = 2
WORTH_PIXELS = 60_000_000
"""Below this many film pixels of dots a second process costs more than it saves."""
CRISP_SHARE = 1 / 16
"""What a film without dots takes of the time of one that is dots all over."""
BAND_ROWS = 256


@dataclass(frozen=True, slots=True, eq=False)
class FilmJob:
    """One plate to put on film; ``tiles`` empty means a page as large as the film needs."""

    name: str
    """File stem, such as 01-underbase."""
    coverage: U8 | Path
    tone: Bool | ToneMask | Path | None
    halftone: Halftone | None
    width_mm: float
    height_mm: float
    settings: FilmSettings
    label: FilmLabel
    tiles: tuple[Tile, ...] = ()
    all_colours: bool = False
    beside: tuple[Mark, ...] = ()
    """More marks, in mm from the art's top left."""


def write_film_set(
    folder: Path,
    jobs: Sequence[FilmJob],
    *,
    title: str,
    formats: Sequence[FilmFormat] = ("pdf",),
    workers: int = MOST_WORKERS,
    planes: Mapping[Path, U8] | None = None,
    on_step: Callable[[str, int, int], None] | None = None,
) -> list[Path]:
    """Write all films below ``folder``; return films.pdf and then each plate's files.

    With several ``workers`` plates are made in processes of their own, where there is enough to do; the caller's main
    module must then be importable, as multiprocessing asks. ``planes`` are those in hand, by their files: what is made
    in this process reads them there.
    Raises WriteError when the disk refuses or a plane cannot be read.
    """
    (folder / "films").mkdir(parents=True, exist_ok=True)
    spooled: list[SpooledPage] = []
    paths: list[Path] = []
    if on_step is not None:
        on_step("films", 0, len(jobs))
    held = planes or {}
    for done, (pages, written) in enumerate(_made(folder, jobs, tuple(formats), workers, held)):
        spooled += pages
        paths += written
        if on_step is not None:
            on_step("films", done + 1, len(jobs))
    write_film_pdf(folder / "films.pdf", spooled, title=title)
    return [folder / "films.pdf", *paths]


def films_ahead(width_mm: float, height_mm: float, dpi: float, *, count: int, dotted: bool) -> None:
    """Make ready for ``count`` films of a print of this size, where that takes processes."""
    width, height = film_size_px(width_mm, height_mm, dpi)
    if count * width * height * (1 if dotted else CRISP_SHARE) >= WORTH_PIXELS:
        ahead(__name__)


def film_of(job: FilmJob) -> Film:
    """Return a job's film, its planes read where they are files."""
    tone = job.tone
    if isinstance(tone, Path):
        tone = _read_tone(tone)
    coverage = _read_grey(job.coverage) if isinstance(job.coverage, Path) else job.coverage
    if tone is not None and tone.shape != coverage.shape:
        raise WriteError("a plate and its tone mask differ in size", where=job.name, hint=_AGAIN)
    return plan_film(
        coverage, tone, job.halftone, width_mm=job.width_mm, height_mm=job.height_mm, settings=job.settings
    )


_AGAIN = "make the folder again with `sepkit separate`"


Made = tuple[list[SpooledPage], list[Path]]


def _made(
    folder: Path, jobs: Sequence[FilmJob], formats: tuple[FilmFormat, ...], workers: int, planes: Mapping[Path, U8]
) -> Iterator[Made]:
    """Yield each job's pages and files, in order. A worker of another pool starts none of its own."""
    count = workers_for(len(jobs), most=workers)
    done = 0
    if count > 1 and sum(map(_pixels, jobs)) >= WORTH_PIXELS:
        # Where a worker is killed, as when memory runs out, the rest is made here, one by one.
        with suppress(BrokenProcessPool):
            for made in _in_processes(folder, jobs, formats, count):
                yield made
                done += 1
    for job in jobs[done:]:
        here = planes.get(job.coverage) if isinstance(job.coverage, Path) else None
        yield _make(folder, job if here is None else replace(job, coverage=here), formats)


def _in_processes(folder: Path, jobs: Sequence[FilmJob], formats: tuple[FilmFormat, ...], count: int) -> Iterator[Made]:
    with worker_pool(count, preload=__name__) as pool:
        for future in [pool.submit(_make, folder, job, formats) for job in jobs]:
            yield future.result()


def _pixels(job: FilmJob) -> float:
    """Return the film pixels of a job, those without dots by what they take."""
    width, height = film_size_px(job.width_mm, job.height_mm, job.settings.dpi)
    return width * height * (CRISP_SHARE if job.halftone is None else 1)


def _make(folder: Path, job: FilmJob, formats: tuple[FilmFormat, ...]) -> tuple[list[SpooledPage], list[Path]]:
    film = film_of(job)
    pages = [
        film_page(film, job.label, tile=tile, all_colours=job.all_colours, beside=job.beside)
        for tile in job.tiles or (None,)
    ]
    path = folder / "films" / f"{job.name}.pdf"
    spooled = write_film_pdf(path, pages, title=f"{job.label.artwork}: {job.label.plate}".strip(": "))
    paths = [path]
    for kind, suffix, write in (("tiff", "tif", write_film_tiff), ("png", "png", write_film_png)):
        if kind not in formats:
            continue
        for number, page in enumerate(pages, 1):
            tail = f"-tile{number}" if len(pages) > 1 else ""
            paths.append(folder / "films" / f"{job.name}{tail}.{suffix}")
            write(paths[-1], page)
    return spooled, paths


def _read_grey(path: Path) -> U8:
    out: U8 | None = None
    for start, rows, shape in _grey_bands(path):
        if out is None:
            out = np.empty(shape, np.uint8)
        out[start : start + rows.shape[0]] = rows
    assert out is not None
    return out


def _read_tone(path: Path) -> ToneMask:
    packed, width = [], 0
    for _, rows, shape in _grey_bands(path):
        packed.append(pack_bits(rows > 127))
        width = shape[1]
    return ToneMask(np.concatenate(packed), width)


def _grey_bands(path: Path) -> Iterator[tuple[int, U8, tuple[int, int]]]:
    """Yield (first row, rows, whole shape) of an 8-bit grey PNG, a few rows at a time."""
    from PIL import Image

    try:
        with Image.open(path) as image:
            if image.mode != "L":
                raise WriteError(f"the plate is {image.mode}, not 8-bit grey", where=str(path), hint=_AGAIN)
            shape = (image.height, image.width)
            for band in row_bands(image.height, BAND_ROWS):
                yield band.start, np.asarray(image.crop((0, band.start, image.width, band.stop))), shape
    except (OSError, SyntaxError, ValueError, Image.DecompressionBombError) as error:
        raise WriteError("a plate cannot be read", where=str(path), hint=_AGAIN) from error
