"""Films again from a print folder, with other film settings and without separating again.

In: a print folder and FilmOptions. Out: films/, films.pdf and the record replaced, all or nothing, and findings about
rulings, mesh and tones.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING

from sepkit.errors import UsageError
from sepkit.files.films.film_set import MOST_WORKERS, FilmFormat, FilmJob, write_film_set
from sepkit.files.folders.entries import PlateEntry
from sepkit.files.folders.record import MANIFEST, FilmFacts, PrintRecord, read_record, record_json, write_record
from sepkit.files.folders.write import renewed
from sepkit.film.making import FilmMaking
from sepkit.film.outline import film_size_px
from sepkit.film.screen import check_halftone
from sepkit.film.tone import NO_GAIN, DotGain, SmallTones
from sepkit.model import DotShape, Finding, Halftone, is_periodic
from sepkit.press.advice import ANGLES_DEG, DEFAULT_LPI
from sepkit.press.moire import draw, suggest
from sepkit.press.sheet import Sheet, plan_tiles
from sepkit.sheets.html import with_film_note
from sepkit.workshop.print.discs import discs_of_folder, no_room
from sepkit.workshop.print.films import film_findings, film_jobs

if TYPE_CHECKING:
    from sepkit.film.page import Tile
    from sepkit.model import F64, Progress

FILM_CODES = (
    "no-check-discs",
    "few-grey-levels",
    "coarse-mesh",
    "narrow-tones",
    "moire",
    "tiled-films",
    "no-halftones",
)
ANGLE_STEP_DEG = 30.0
CAPTION_PX = 24
"""Height of the line of words above a drawn tint."""


@dataclass(frozen=True, slots=True)
class FilmOptions:
    """What to change; None keeps what the print folder says."""

    dpi: float | None = None
    lpi: float | None = None
    angle_deg: float | None = None
    """Of the first tone plate; the next turn by 30 degrees each."""
    shape: DotShape | None = None
    gain: DotGain | None = None
    small: SmallTones = "fewer"
    mirror: bool = False
    all_colours: bool = False
    sheet: Sheet | None = None
    check_discs: bool | None = None
    """Rows of check discs beside the art; None keeps what the print folder says."""
    formats: tuple[FilmFormat, ...] = ("pdf",)
    workers: int = MOST_WORKERS
    moire_pictures: bool = False
    """Also draw films/moire-NAME.png for each halftone: as it is, and with the ruling that is suggested."""


@dataclass(frozen=True, slots=True)
class FilmsMade:
    """The files, in the order films.pdf then each plate's, and what to know about them."""

    folder: Path
    files: tuple[Path, ...]
    findings: tuple[Finding, ...]
    dpi: float
    width_px: int
    height_px: int
    pages: int


def remake_films(folder: Path, options: FilmOptions, *, progress: Progress | None = None) -> FilmsMade:
    """Replace the films of ``folder``.

    Raises WriteError for a damaged folder or a disk that refuses, UsageError for settings that make no film.
    """
    made = _with_discs(folder, _as_asked(read_record(folder), options), options)
    jobs = film_jobs(folder, made)
    tiles, tiled = _tiles(jobs, options.sheet)
    jobs = [replace(job, tiles=tiles) for job in jobs]
    dpi = made.film.making.dpi
    findings = (*film_findings(made.plates, dpi=dpi), *_idle_options(made.plates, options, dpi=dpi), *tiled)
    if options.check_discs and not made.film.discs:
        findings = (*findings, no_room(made.artwork.width_mm, made.artwork.height_mm))
    record = _told(made, findings, options.sheet, len(tiles))
    with renewed(folder, ("films", "films.pdf", MANIFEST, "sheet.html")) as stage:
        step = None if progress is None else progress.step
        files = write_film_set(
            stage, jobs, title=jobs[0].label.artwork, formats=options.formats, workers=options.workers, on_step=step
        )
        write_record(stage, record_json(record))
        if options.moire_pictures:
            files += [path for job in jobs if (path := _moire_picture(stage / "films", job)) is not None]
        _tell_the_sheet(folder / "sheet.html", stage / "sheet.html", record)
        names = [path.relative_to(stage) for path in files]
    return FilmsMade(
        folder,
        tuple(folder / name for name in names),
        findings,
        dpi,
        record.film.width_px,
        record.film.height_px,
        pages=sum(len(job.tiles) or 1 for job in jobs),
    )


def _as_asked(record: PrintRecord, options: FilmOptions) -> PrintRecord:
    """Return the record with films made as asked, and as before where nothing is asked."""
    was = record.film.making
    making = FilmMaking(
        was.dpi if options.dpi is None else options.dpi,
        was.gain if options.gain is None else options.gain,
        options.small,
        options.mirror,
        options.all_colours,
    )
    size = film_size_px(record.artwork.width_mm, record.artwork.height_mm, making.dpi)
    plates, tones = [], 0
    for plate in record.plates:
        plates.append(replace(plate, halftone=_halftone(plate, options, tones), film_file=_film_file(plate)))
        tones += plate.tone_file is not None
    return replace(record, plates=tuple(plates), film=FilmFacts(making, *size, discs=record.film.discs))


def _with_discs(folder: Path, record: PrintRecord, options: FilmOptions) -> PrintRecord:
    """Return the record with check discs where they are asked for, or were and are not refused now."""
    wanted = bool(record.film.discs) if options.check_discs is None else options.check_discs
    discs = discs_of_folder(folder, record, options.sheet) if wanted else ()
    return replace(record, film=replace(record.film, discs=discs))


def _film_file(plate: PlateEntry) -> str:
    return f"films/{Path(plate.film_file).stem}.pdf"


def _told(record: PrintRecord, findings: Sequence[Finding], sheet: Sheet | None, tiles: int) -> PrintRecord:
    """Return the record with what these films tell in the place of what the films before told."""
    film = record.film if sheet is None else replace(record.film, sheet=sheet.name, tiles=tiles)
    kept = [finding for finding in record.findings if finding.code not in FILM_CODES]
    return replace(record, film=film, findings=(*kept, *findings))


def _idle_options(plates: Sequence[PlateEntry], options: FilmOptions, *, dpi: float) -> list[Finding]:
    """Tell which options do nothing where nothing is halftoned. Raises UsageError for a ruling no film draws."""
    if any(plate.halftone is not None for plate in plates):
        return []
    # Without a ruling any that the film can draw will do: the angle is still checked.
    lpi = dpi / 12 if options.lpi is None else options.lpi
    check_halftone(Halftone(lpi, options.angle_deg or 0.0, options.shape or "round"), dpi=dpi)
    gain = options.gain or NO_GAIN
    asked = {
        "--lpi": options.lpi is not None,
        "--angle": options.angle_deg is not None,
        "--shape": options.shape is not None,
        "--edge-growth": gain.edge_um > 0,
        "--printed": bool(gain.points),
        "--small-tones": options.small != "fewer",
        "--moire": options.moire_pictures,
    }
    idle = [name for name, given in asked.items() if given]
    if not idle:
        return []
    text = f"nothing in this art is halftoned, so {', '.join(idle)} changed nothing"
    return [Finding("no-halftones", "info", text, "dots are made where the art fades; its edges are solid")]


def _halftone(plate: PlateEntry, options: FilmOptions, nth: int) -> Halftone | None:
    """Return the dots of the ``nth`` tone plate (0, 1, ...) as asked; None for a plate without tones."""
    if plate.tone_file is None:
        return None
    kept = plate.halftone or Halftone(DEFAULT_LPI, ANGLES_DEG[0], "ellipse")
    return Halftone(
        kept.lpi if options.lpi is None else options.lpi,
        kept.angle_deg if options.angle_deg is None else options.angle_deg + ANGLE_STEP_DEG * nth,
        options.shape or kept.shape,
    )


def _tiles(jobs: Sequence[FilmJob], sheet: Sheet | None) -> tuple[tuple[Tile, ...], list[Finding]]:
    """Return the tiles that all films share, and a finding when there are several."""
    if sheet is None:
        return (), []
    first = jobs[0]
    size = film_size_px(first.width_mm, first.height_mm, first.settings.dpi)
    tiles = plan_tiles(*size, dpi=first.settings.dpi, sheet=sheet)
    if len(tiles) == 1:
        return tiles, []
    across, down = _ink_profiles(jobs)
    tiles = plan_tiles(*size, dpi=first.settings.dpi, sheet=sheet, ink_across=across, ink_down=down)
    text = f"each film is cut into {len(tiles)} tiles of {sheet.name}"
    hint = "rows first: lay cross on cross, tape, cut along the ticks"
    return tiles, [Finding("tiled-films", "info", text, hint)]


def _moire_picture(folder: Path, job: FilmJob) -> Path | None:
    """Draw 30 mm of an even tint on its mesh, beside the same with the suggested ruling when that differs."""
    import numpy as np
    from PIL import Image, ImageDraw, ImageFont

    dots, mesh = job.halftone, job.label.mesh
    if dots is None or mesh is None or not is_periodic(dots.shape):
        return None
    better = suggest(mesh, dots.lpi, dots.angle_deg, shape=dots.shape)
    rulings = [dots.lpi] if better == dots.lpi else [dots.lpi, better]
    squares = [draw(mesh, lpi, dots.angle_deg, shape=dots.shape) for lpi in rulings]
    path = folder / f"moire-{job.name}.png"
    drawn = np.hstack(squares)
    picture = Image.new("L", (drawn.shape[1], drawn.shape[0] + CAPTION_PX), 255)
    picture.paste(Image.fromarray(drawn), (0, CAPTION_PX))
    for square, (lpi, name) in enumerate(zip(rulings, ("as asked", "suggested"), strict=False)):
        at = (square * squares[0].shape[1] + 6, CAPTION_PX // 2)
        words = f"{lpi:g} lpi, {name}"
        ImageDraw.Draw(picture).text(at, words, fill=0, font=ImageFont.load_default(CAPTION_PX * 0.6), anchor="lm")
    picture.save(path, dpi=(8 * 25.4, 8 * 25.4))
    return path


def _ink_profiles(jobs: Sequence[FilmJob]) -> tuple[F64, F64]:
    """Return the ink of each column and each row, all plates together, so that cuts cross as little as they can."""
    import numpy as np

    from sepkit.files.films.film_set import film_of

    across: F64 = np.zeros(1)
    down: F64 = np.zeros(1)
    for job in jobs:
        coverage = film_of(replace(job, tone=None)).coverage
        across = across + coverage.sum(axis=0, dtype=np.float64)
        down = down + coverage.sum(axis=1, dtype=np.float64)
    return across, down


def _tell_the_sheet(old: Path, new: Path, record: PrintRecord) -> None:
    """Copy the sheet with a note that the films were made again; a folder without a sheet stays without."""
    if not old.is_file():
        return
    dots = [plate.halftone for plate in record.plates if plate.halftone is not None]
    said = "; ".join(sorted({f"{d.lpi:g} lpi, {d.angle_deg:g}°, {d.shape}" for d in dots}))
    making = record.film.making
    mirror = ", mirrored" if making.mirror else ""
    note = (
        f"The films were made again: {making.dpi:g} dpi{mirror}{', ' + said if said else ''}. "
        "Where this sheet says otherwise, the films' margins are right."
    )
    new.write_text(with_film_note(old.read_text("utf-8"), note), "utf-8")


def gain_from_text(edge_mm: float | None, points: str | None) -> DotGain | None:
    """Return the dot gain from an edge growth in mm or points as ``25:41,50:72`` in percent; None for neither.

    Raises UsageError.
    """
    if points is None:
        return None if edge_mm is None else DotGain(edge_um=edge_mm * 1000)
    if edge_mm:
        raise UsageError("give an edge growth or measured points, not both", where="dot gain", hint="drop one")
    pairs = []
    for part in points.split(","):
        film, colon, printed = part.partition(":")
        try:
            pairs.append((float(film) / 100, float(printed) / 100))
        except ValueError as error:
            raise UsageError(
                f'"{part.strip()}" is no measured point', where="--printed", hint="write film:printed, as 25:41,50:72"
            ) from error
        if not colon:
            raise UsageError(f'"{part}" is no measured point', where="--printed", hint="write film:printed")
    return DotGain(points=tuple(pairs))
