"""sepkit wedge: the calibration film and its reading sheet; what was measured into the person's press file.

In: settings and paths. Out: a PDF of two films and a CSV; or an updated presses.toml.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from sepkit.errors import UsageError, near_names
from sepkit.film.wedge import TONES_PERCENT, WedgeSettings, calibration_film
from sepkit.model import PERIODIC_DOTS
from sepkit.press.wedge_reading import PressNumbers, WedgeReading, press_numbers

if TYPE_CHECKING:
    from sepkit.files.shelf.shelf import Shelf
    from sepkit.files.wedge_csv import SheetHead, WedgeRows
    from sepkit.model import Mesh, PeriodicDot, Press, Progress
    from sepkit.workshop.photo.wedge import WedgeReadings

MOST_RULINGS = 2


@dataclass(frozen=True, slots=True)
class WrittenReading:
    """What a reading came to, and where it was written."""

    press: Press
    numbers: PressNumbers
    written: dict[str, float]
    file: Path

    @property
    def on_shelf(self) -> bool:
        """Whether commands read that file as things are, without naming its folder to them."""
        from sepkit.files.shelf.folders import recipe_folders

        return self.file.resolve().parent in [folder.resolve() for folder in recipe_folders()]


def write_wedge(path: Path, settings: WedgeSettings, *, force: bool) -> tuple[Path, Path]:
    """Write the films to ``path`` and the reading sheet beside it; return both paths.

    Raises UsageError for more rulings than the film holds and for a path that is no PDF, WriteError.
    """
    from sepkit.files.films.pdf import write_film_pdf
    from sepkit.files.folders.write import replace_file
    from sepkit.files.wedge_csv import reading_sheet

    if len(settings.lpi) > MOST_RULINGS:
        raise UsageError(f"{len(settings.lpi)} rulings", where="--lpi", hint="the film holds two rows of tone steps")
    if path.suffix.lower() != ".pdf":
        raise UsageError(f'"{path}" is not a PDF', where="--out", hint="name it wedge.pdf")
    wedge = calibration_film(settings)
    sheet = path.with_suffix(".csv")
    text = reading_sheet(
        lpi=settings.lpi,
        tones=TONES_PERCENT,
        shape=settings.shape,
        angle_deg=settings.angle_deg,
        area_cm2=wedge.inked_cm2,
    )
    # Both or none: the second is opened before the first is in its place.
    with replace_file(path, force=force) as film_part, replace_file(sheet, force=force) as sheet_part:
        write_film_pdf(film_part, wedge.pages, title="sepkit wedge")
        sheet_part.write_text(text, encoding="utf-8")
    return path, sheet


@dataclass(frozen=True, slots=True)
class FilledSheet:
    """A reading sheet as photographs filled it in, and what they said."""

    sheet: Path
    readings: WedgeReadings


def fill_from_photos(
    photos: Sequence[Path], sheet: Path, settings: WedgeSettings, *, progress: Progress | None = None
) -> FilledSheet:
    """Read photographs of the printed wedge and fill in its reading sheet where it is blank.

    The sheet says which film it belongs to; where there is none yet it is made for ``settings``. Raises PhotoError for
    a photograph that cannot be used, DataFileError for a broken sheet, WriteError; then the sheet is as it was.
    """
    from sepkit.files.folders.write import replace_file
    from sepkit.files.wedge_csv import filled_sheet, reading_sheet, sheet_head
    from sepkit.workshop.photo.wedge import read_wedge_photos, rows_of

    if sheet.is_file():
        settings = _settings_of(sheet_head(sheet), settings)
        text = sheet.read_text("utf-8-sig")
    else:
        text = reading_sheet(
            lpi=settings.lpi,
            tones=TONES_PERCENT,
            shape=settings.shape,
            angle_deg=settings.angle_deg,
            area_cm2=calibration_film(settings).inked_cm2,
        )
    readings = read_wedge_photos(photos, settings, progress=progress)
    filled = filled_sheet(text, rows_of(readings), readings.register)
    with replace_file(sheet, force=True) as part:
        part.write_text(filled, encoding="utf-8")
    return FilledSheet(sheet, readings)


def _settings_of(head: SheetHead, settings: WedgeSettings) -> WedgeSettings:
    from dataclasses import replace

    shapes: dict[str, PeriodicDot] = {shape: shape for shape in PERIODIC_DOTS}
    if head.dots is not None and head.dots not in shapes:
        raise UsageError(f'no dot shape "{head.dots}"', where="dots", hint=near_names(head.dots, shapes))
    return replace(
        settings,
        lpi=head.lpi or settings.lpi,
        angle_deg=settings.angle_deg if head.angle_deg is None else head.angle_deg,
        shape=settings.shape if head.dots is None else shapes[head.dots],
    )


def read_into_press(readings: Path, *, press: str, file: Path | None) -> WrittenReading:
    """Write what ``readings`` say into the entry of ``press`` in ``file``, or in the person's own press file.

    Raises DataFileError, NotFoundError, UsageError or WriteError; then the file is as it was.
    """
    from sepkit.files.folders.write import replace_file
    from sepkit.files.shelf.pressfile import own_press_file, with_measured
    from sepkit.files.shelf.shelf import Shelf
    from sepkit.files.toml.read import read_text
    from sepkit.files.wedge_csv import read_wedge

    shelf = Shelf()
    found = shelf.press(press)
    reading = reading_of(read_wedge(readings), shelf)
    numbers = press_numbers(reading)
    target = file or own_press_file()
    written = measured(numbers, reading.mesh)
    old = read_text(target, what="a press") if target.is_file() else ""
    text = with_measured(old, found, written, file=target)
    with replace_file(target, force=True) as part:
        part.write_text(text, encoding="utf-8")
    return WrittenReading(found, numbers, written, target)


def measured(numbers: PressNumbers, mesh: Mesh | None = None) -> dict[str, float]:
    """Return the numbers that were measured, by their keys in the press file, and the mesh they were measured on."""
    found = {
        "register_error_mm": numbers.register_error_mm,
        "edge_growth_um": numbers.edge_growth_um,
        "ink_factor": numbers.ink_factor,
        "thinnest_line_mm": numbers.thinnest_line_mm,
        "thinnest_gap_mm": numbers.thinnest_gap_mm,
        "smallest_type_pt": numbers.smallest_type_pt,
        "smallest_reversed_pt": numbers.smallest_reversed_pt,
    }
    if mesh is not None:
        found |= {"measured_threads_per_cm": mesh.threads_per_cm, "measured_thread_um": mesh.thread_um}
    return {key: value for key, value in found.items() if value is not None}


def reading_of(rows: WedgeRows, shelf: Shelf) -> WedgeReading:
    """Return the reading of a filled-in sheet. Raises NotFoundError or UsageError for a mesh or ink that is none."""
    from sepkit.files.words import shown

    numbers, texts = rows.numbers, rows.texts
    dots = texts.get("dots", "ellipse").lower()
    shapes: dict[str, PeriodicDot] = {shape: shape for shape in PERIODIC_DOTS}
    if dots not in shapes:
        raise UsageError(f'no dot shape "{shown(dots)}"', where="dots", hint=near_names(dots, shapes))
    return WedgeReading(
        tones=tuple((lpi, film / 100, printed / 100) for lpi, film, printed in numbers.get("tone", ())),
        widths=tuple((film, printed) for film, printed in numbers.get("width", ())),
        thinnest_line_mm=_last(numbers, "line"),
        thinnest_gap_mm=_last(numbers, "gap"),
        smallest_type_pt=_last(numbers, "type"),
        smallest_reversed_pt=_last(numbers, "reversed type"),
        misses_mm=tuple((x, y) for x, y in numbers.get("register", ())),
        weighed_g=tuple(after - before for before, after in numbers.get("weight", ())),
        scale=tuple((film, seen) for film, seen in numbers.get("scale", ())),
        shape=shapes[dots],
        angle_deg=_last(numbers, "angle") or 22.5,
        mesh=shelf.mesh(texts["mesh"]) if "mesh" in texts else None,
        density_g_ml=shelf.ink(texts["ink"]).density_g_ml if "ink" in texts else None,
        inked_cm2=_last(numbers, "area"),
        coats=round(_last(numbers, "coats") or 1),
    )


def _last(numbers: Mapping[str, tuple[tuple[float, ...], ...]], test: str) -> float | None:
    rows = numbers.get(test)
    return rows[-1][0] if rows else None
