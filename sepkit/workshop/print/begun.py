"""Files of a print folder that need no more than its plates: begun once these are decided, while all else is planned.

In: a new folder, and the plates from ``decided``. Out: planes, films and spot.pdf in it, and what a record says of
them. Nothing is begun unless somebody waits for it: ``begins`` names what to do with decided plates in this context.
"""

from __future__ import annotations

import contextvars
import threading
from collections.abc import Callable, Iterator
from concurrent.futures import Future, wait
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from sepkit.files.films.film_set import films_ahead
from sepkit.files.folders.entries import write_plates
from sepkit.files.folders.record import ArtFacts, FilmFacts
from sepkit.film.outline import film_size_px
from sepkit.threads import start
from sepkit.workshop.print.discs import discs_of_plates
from sepkit.workshop.print.films import write_films

if TYPE_CHECKING:
    from sepkit.files.folders.entries import PlateEntry
    from sepkit.film.making import FilmMaking
    from sepkit.model import Artwork, Garment, Plate, Progress


@dataclass(frozen=True, slots=True, eq=False)
class Decided:
    """What the files are made of."""

    art: Artwork
    garment: Garment
    plates: tuple[Plate, ...]
    making: FilmMaking
    check_discs: bool = False


@dataclass(frozen=True, slots=True, eq=False)
class FilmedPrint:
    """What films are made from: the part of a record that is known when plates are."""

    artwork: ArtFacts
    garment: Garment
    plates: tuple[PlateEntry, ...]
    film: FilmFacts


@dataclass(frozen=True, slots=True, eq=False)
class Begun:
    """Files that are being written."""

    known: Future[FilmedPrint]
    """Known once the planes are there."""
    files: Future[None]
    unwanted: threading.Event

    def drop(self) -> None:
        """Have no more files begun, and wait until nothing is written any more: Ctrl-C does not cut that short."""
        self.unwanted.set()
        while not self.files.done():
            with suppress(KeyboardInterrupt):
                wait([self.files])


@dataclass(frozen=True, slots=True)
class _WhileWanted:
    """Passes progress on until what is being made is unwanted; then the next step ends it."""

    progress: Progress | None
    unwanted: threading.Event

    def check(self) -> None:
        """Raise InterruptedError where it is unwanted."""
        if self.unwanted.is_set():
            raise InterruptedError

    def step(self, stage: str, done: int, total: int) -> None:
        self.check()
        if self.progress is not None:
            self.progress.step(stage, done, total)


def begin(folder: Path, given: Decided, progress: Progress | None = None) -> Begun:
    """Begin the files of a print in ``folder``, in a thread beside the caller."""
    unwanted = threading.Event()
    wanted = _WhileWanted(progress, unwanted)
    known = start(lambda: _planes_written(folder, given, wanted))
    return Begun(known, start(lambda: _rest_written(folder, given, known, wanted)), unwanted)


def _planes_written(folder: Path, given: Decided, progress: Progress) -> FilmedPrint:
    progress.step("plates", 0, 1)
    art, making = given.art, given.making
    height_px, width_px = art.alpha.shape
    dotted = any(plate.halftone is not None for plate in given.plates)
    films_ahead(art.width_mm, art.height_mm, making.dpi, count=len(given.plates), dotted=dotted)
    size = (art.width_mm, art.height_mm)
    discs = discs_of_plates(given.plates, given.garment, *size) if given.check_discs else ()
    return FilmedPrint(
        ArtFacts(art.source, width_px, height_px, art.width_mm, art.height_mm),
        given.garment,
        write_plates(folder, given.plates, dpi=art.dpi),
        FilmFacts(making, *film_size_px(art.width_mm, art.height_mm, making.dpi), discs=discs),
    )


def _rest_written(folder: Path, given: Decided, known: Future[FilmedPrint], progress: _WhileWanted) -> None:
    """Write the films, then spot.pdf, as long as they are wanted."""
    filmed = known.result()
    planes = {entry.printed_file: plate.printed for entry, plate in zip(filmed.plates, given.plates, strict=True)}
    write_films(folder, filmed, planes=planes, progress=progress)
    progress.check()
    _write_spot_pdf(folder / "spot.pdf", given)


def _write_spot_pdf(path: Path, given: Decided) -> None:
    from sepkit.files.films.spot_pdf import write_spot_pdf

    art = given.art
    write_spot_pdf(
        path,
        given.plates,
        width_mm=art.width_mm,
        height_mm=art.height_mm,
        title=Path(art.source).stem,
        garment=given.garment.srgb,
    )


@contextmanager
def begins(begin: Callable[[Decided], Begun]) -> Iterator[list[Begun]]:
    """Let plates that are decided in the block begin their files; yield the list of what was begun.

    When the block ends in an error nothing is written any more.
    """
    begun: list[Begun] = []
    token = _waiting.set(lambda given: begun.append(begin(given)))
    try:
        yield begun
    except BaseException:
        for one in begun:
            one.drop()
        raise
    finally:
        _waiting.reset(token)


def decided(given: Decided) -> None:
    """Tell that plates are decided, and that nothing is found that keeps them from being made."""
    waiting = _waiting.get()
    if waiting is not None:
        waiting(given)


_waiting: contextvars.ContextVar[Callable[[Decided], None] | None] = contextvars.ContextVar("waiting", default=None)
