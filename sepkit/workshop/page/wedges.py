"""The wedge for the page: its films, and photographs of it read into the press file."""

from __future__ import annotations

import os
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from sepkit.files.shelf.folders import OWN_FOLDER_VARIABLE
from sepkit.film.wedge import WedgeSettings
from sepkit.workshop.wedge import fill_from_photos, read_into_press, write_wedge

if TYPE_CHECKING:
    from sepkit.model import Progress
    from sepkit.workshop.page.values import Values

SETTINGS = WedgeSettings()
"""As ``sepkit wedge`` makes it when nothing is asked."""


def film_of_wedge(path: Path) -> tuple[Path, Path]:
    """Write the films and the reading sheet beside them. Raises WriteError where they stand already."""
    return write_wedge(path, SETTINGS, force=False)


def read_wedge_photos_into_press(photos: Sequence[Path], film: Path, *, press: str, progress: Progress) -> Values:
    """Fill the reading sheet from photographs, and the press file from the sheet; return what was found.

    Raises PhotoError, DataFileError, NotFoundError, UsageError or WriteError.
    """
    filled = fill_from_photos(photos, film.with_suffix(".csv"), SETTINGS, progress=progress)
    readings = filled.readings
    own = os.environ.get(OWN_FOLDER_VARIABLE, "").strip()
    read = read_into_press(filled.sheet, press=press, file=None if own else film.with_name("presses.toml"))
    findings = (*readings.findings, *read.numbers.findings)
    return {
        "sheet": filled.sheet.name,
        "press": read.press.name,
        "file": str(read.file) if own else read.file.name,
        "used": read.on_shelf,
        "tint_points": readings.tone_band,
        "register_band_mm": readings.register_band_mm,
        "numbers": read.written,
        "findings": [{"word": one.word, "text": one.text, "hint": one.hint} for one in findings],
    }
