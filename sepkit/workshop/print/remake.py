"""Films again from a print folder, with other film settings and without separating again.

In: a print folder and FilmOptions. Out: films/, films.pdf and the record replaced, all or nothing, and findings about
rulings, mesh and tones.
"""

from __future__ import annotations

import json
from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

from sepkit.errors import UsageError, WriteError
from sepkit.files.films.film_set import MOST_WORKERS, FilmFormat, FilmJob, write_film_set
from sepkit.files.folders.record import MANIFEST, finding_record, read_record
from sepkit.files.folders.write import renewed
from sepkit.film.outline import film_size_px
from sepkit.film.screen import check_halftone
from sepkit.film.tone import NO_GAIN, DotGain, SmallTones
from sepkit.model import DOT_SHAPES, DotShape, Finding, Halftone, Mesh, is_periodic
from sepkit.press.moire import draw, suggest
from sepkit.press.sheet import Sheet, plan_tiles
from sepkit.sheets.print_sheet import FILMS_AS_MADE
from sepkit.workshop.print.films import FilmMaking, FilmPlate, film_findings, film_jobs, gain_record, recorded_gain

if TYPE_CHECKING:
    from sepkit.film.page import Tile
    from sepkit.model import F64, Progress

FILM_CODES = ("few-grey-levels", "coarse-mesh", "narrow-tones", "moire", "tiled-films", "no-halftones")
ANGLE_STEP_DEG = 30.0
_AGAIN = "make the folder again with `sepkit separate`"


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
    small: SmallTones = "raise"
    mirror: bool = False
    all_colours: bool = False
    sheet: Sheet | None = None
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
    record = read_record(folder)
    try:
        jobs, findings = _jobs(folder, record, options)
    except (KeyError, TypeError, ValueError, AttributeError, OverflowError) as error:
        raise WriteError(
            f"the record is damaged ({type(error).__name__}: {error})", where=str(folder / MANIFEST), hint=_AGAIN
        ) from error
    settings = jobs[0].settings
    size = film_size_px(jobs[0].width_mm, jobs[0].height_mm, settings.dpi)
    with renewed(folder, ("films", "films.pdf", MANIFEST, "sheet.html")) as stage:
        step = None if progress is None else progress.step
        files = write_film_set(
            stage, jobs, title=jobs[0].label.artwork, formats=options.formats, workers=options.workers, on_step=step
        )
        new = _new_record(record, jobs, findings, options)
        (stage / MANIFEST).write_text(json.dumps(new, indent=1, ensure_ascii=False) + "\n", encoding="utf-8")
        if options.moire_pictures:
            files += [path for job in jobs if (path := _moire_picture(stage / "films", job)) is not None]
        _tell_the_sheet(folder / "sheet.html", stage / "sheet.html", new)
        names = [path.relative_to(stage) for path in files]
    return FilmsMade(
        folder,
        tuple(folder / name for name in names),
        tuple(findings),
        settings.dpi,
        *size,
        pages=sum(len(job.tiles) or 1 for job in jobs),
    )


def _jobs(folder: Path, record: dict[str, Any], options: FilmOptions) -> tuple[list[FilmJob], list[Finding]]:
    art, entries = record["artwork"], record["plates"]
    if not entries:
        raise ValueError("no plates")
    dpi = float(record["film"]["dpi"] if options.dpi is None else options.dpi)
    plates: list[FilmPlate] = []
    for entry in entries:
        tone = _inside(folder, entry["tone"]) if entry.get("tone") else None
        nth = sum(plate.halftone is not None for plate in plates)
        plates.append(
            FilmPlate(
                Path(str(entry["film"])).stem,
                _inside(folder, entry.get("printed") or entry["plate"]),
                tone,
                str(entry["name"]),
                str(entry["ink"]),
                int(entry["order"]),
                int(entry["coats"]),
                Mesh(float(entry["mesh"]["threads_per_cm"]), float(entry["mesh"]["thread_um"])),
                _halftone(entry, options, nth) if tone is not None else None,
            )
        )
    making = FilmMaking(dpi, _gain(record, options), options.small, options.mirror, options.all_colours)
    jobs = film_jobs(
        plates,
        making,
        width_mm=float(art["width_mm"]),
        height_mm=float(art["height_mm"]),
        garment=str(record["garment"]["name"]),
        artwork=Path(str(art["file"])).stem,
    )
    findings = [*film_findings(plates, dpi=dpi), *_idle_options(plates, options, dpi=dpi)]
    tiles, found = _tiles(jobs, options.sheet)
    return [replace(job, tiles=tiles) for job in jobs], findings + found


def _gain(record: dict[str, Any], options: FilmOptions) -> DotGain:
    return recorded_gain(record["film"]) if options.gain is None else options.gain


def _idle_options(plates: Sequence[FilmPlate], options: FilmOptions, *, dpi: float) -> list[Finding]:
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
        "--small-tones": options.small != "raise",
        "--moire": options.moire_pictures,
    }
    idle = [name for name, given in asked.items() if given]
    if not idle:
        return []
    text = f"nothing in this art is halftoned, so {', '.join(idle)} changed nothing"
    return [Finding("no-halftones", "info", text, "dots are made where the art fades; its edges are solid")]


def _halftone(entry: dict[str, Any], options: FilmOptions, nth: int) -> Halftone:
    kept = entry.get("halftone") or {"lpi": 45.0, "angle_deg": 22.5, "shape": "ellipse"}
    shape: DotShape = options.shape or kept["shape"]
    if shape not in DOT_SHAPES:
        raise ValueError(f"unknown dot shape {shape!r}")
    angle = float(kept["angle_deg"]) if options.angle_deg is None else options.angle_deg + ANGLE_STEP_DEG * nth
    return Halftone(float(kept["lpi"] if options.lpi is None else options.lpi), angle, shape)


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
    hint = "rows first: lay cross on cross, tape, cut through both along the ticks; a larger sheet needs no joint"
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


def _inside(folder: Path, name: str) -> Path:
    path = (folder / name).resolve()
    if folder.resolve() not in path.parents:
        raise WriteError("a plate lies outside the folder", where=str(name), hint=_AGAIN)
    if not path.is_file():
        raise WriteError("a plate is missing", where=str(folder / name), hint=_AGAIN)
    return path


def _new_record(
    record: dict[str, Any], jobs: Sequence[FilmJob], findings: Sequence[Finding], options: FilmOptions
) -> dict[str, Any]:
    settings = jobs[0].settings
    width, height = film_size_px(jobs[0].width_mm, jobs[0].height_mm, settings.dpi)
    film: dict[str, Any] = {"dpi": settings.dpi, "width_px": width, "height_px": height, "mirror": options.mirror}
    if options.sheet is not None:
        film |= {"sheet": options.sheet.name, "tiles": len(jobs[0].tiles)}
    film |= gain_record(_gain(record, options))
    plates = []
    for entry, job in zip(record["plates"], jobs, strict=True):
        dots = job.halftone
        halftone = None if dots is None else {"lpi": dots.lpi, "angle_deg": dots.angle_deg, "shape": dots.shape}
        plates.append({**entry, "film": f"films/{job.name}.pdf", "halftone": halftone})
    kept = [f for f in record.get("findings", []) if f.get("code") not in FILM_CODES]
    return {**record, "plates": plates, "film": film, "findings": kept + [finding_record(f) for f in findings]}


def _tell_the_sheet(old: Path, new: Path, record: dict[str, Any]) -> None:
    """Copy the sheet with a note that the films were made again; a folder without a sheet stays without."""
    if not old.is_file():
        return
    dots = [p["halftone"] for p in record["plates"] if p["halftone"]]
    said = "; ".join(sorted({f"{d['lpi']:g} lpi, {d['angle_deg']:g}°, {d['shape']}" for d in dots}))
    mirror = ", mirrored" if record["film"].get("mirror") else ""
    note = (
        f"<p><b>The films were made again: {record['film']['dpi']:g} dpi{mirror}{', ' + said if said else ''}.</b> "
        "Where this sheet says otherwise, the films' margins are right.</p>"
    )
    text = old.read_text("utf-8")
    start = text.find(FILMS_AS_MADE)
    if start >= 0:
        end = text.find("<h2>", start)
        text = f"{text[: start + len(FILMS_AS_MADE)]}\n{note}\n{text[end:]}"
    new.write_text(text, "utf-8")


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
