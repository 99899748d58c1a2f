"""sepkit wedge --photo: photographs of the printed wedge read, and its form filled in.

In: photographs and the form. Out: the form's text with what was measured where it was blank, then the press file, as
a form filled in by hand. Several photographs are averaged; each adds a line of register.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from statistics import median
from typing import TYPE_CHECKING

import numpy as np

from sepkit.errors import PhotoError
from sepkit.film.wedge import STEP_GAP_MM, WedgeSettings, calibration_film, wedge_tests
from sepkit.model import Finding
from sepkit.reading.find import Place, find
from sepkit.reading.gates import check_fit, check_place, check_size
from sepkit.reading.picture import Photo
from sepkit.reading.screens import fitted
from sepkit.reading.subject import PX_PER_MM, Subject
from sepkit.reading.wedge import WedgeFigures, read_wedge

if TYPE_CHECKING:
    from sepkit.film.page import FilmPage
    from sepkit.model import U8, Bool, Progress

FINER = 2
"""Films are drawn this many times finer than planes, and averaged."""
DARK_ON_LIGHT = np.array([[0.8] * 3, [0.05] * 3, [0.1] * 3, [0.05] * 3])
LIGHT_ON_DARK = np.array([[0.03] * 3, [0.7] * 3, [0.6] * 3, [0.7] * 3])
"""Linear light of cloth, first screen, second, both, until the photograph tells."""


@dataclass(frozen=True, slots=True)
class WedgeReadings:
    """What photographs of the wedge say together; bands are half the spread that figures show, or the method's own."""

    tones: dict[tuple[float, float], float]
    """(ruling, percent asked) to percent printed."""
    widths: dict[float, float]
    thinnest_line_mm: float | None
    thinnest_gap_mm: float | None
    register: tuple[tuple[float, float], ...]
    register_band_mm: float | None
    """None where no photograph tells the register."""
    tone_band: float
    """Points of percent."""
    findings: tuple[Finding, ...]


def read_wedge_photos(
    photos: Sequence[Path], settings: WedgeSettings, *, progress: Progress | None = None
) -> WedgeReadings:
    """Return what photographs of one wedge say. Raises PhotoError (exit 10) for one that cannot be used."""
    from sepkit.files.art.photo import read_photo

    subject = wedge_subject(settings)
    figures = []
    for done, path in enumerate(photos):
        if progress is not None:
            progress.step("photographs", done, len(photos))
        figures.append(_figures(subject, Photo(read_photo(path)), settings, where=str(path)))
    return _together(figures)


def _figures(subject: Subject, photo: Photo, settings: WedgeSettings, *, where: str) -> WedgeFigures:
    found: list[tuple[float, Subject, Place]] = []
    for colours in (DARK_ON_LIGHT, LIGHT_ON_DARK):
        guess = replace(subject, colours=colours)
        place = find(guess, photo)
        if place is not None:
            found.append((place.score, guess, place))
    if not found:
        raise PhotoError("does not show the wedge", where=where, hint="photograph the whole sheet of tests")
    _, guess, place = max(found, key=lambda one: one[0])
    check_place(place, where=where, what="the wedge")
    check_size(guess, photo, place, where=where)
    fit = fitted(guess, photo, place)
    check_fit(guess, fit, where=where)
    return read_wedge(guess, photo, fit, wedge_tests(settings))


def _together(figures: Sequence[WedgeFigures]) -> WedgeReadings:
    tones: dict[tuple[float, float], list[float]] = {}
    for one in figures:
        for tone in one.tones:
            tones.setdefault((tone.lpi, round(tone.asked * 100)), []).append(100 * tone.printed)
    widths: dict[float, list[float]] = {}
    for one in figures:
        for film, printed in one.widths:
            widths.setdefault(film, []).append(printed)
    lines = [one.thinnest_line_mm for one in figures if one.thinnest_line_mm is not None]
    gaps = [one.thinnest_gap_mm for one in figures if one.thinnest_gap_mm is not None]
    spreads = [max(values) - min(values) for values in tones.values()]
    register = tuple(one.register_mm for one in figures if one.register_mm is not None)
    bands = [one.register_band_mm for one in figures if one.register_mm is not None]
    findings = []
    if len(register) < len(figures):
        findings.append(
            Finding(
                "register-not-read",
                "warn",
                "the second screen's ladders could not be read in every photograph",
                "read them by eye, and write what you see into the form",
            )
        )
    return WedgeReadings(
        {key: float(np.mean(values)) for key, values in tones.items()},
        {film: float(np.mean(values)) for film, values in widths.items()},
        median(lines) if lines else None,
        median(gaps) if gaps else None,
        register,
        max(bands, default=None),
        max(2.0, max(spreads, default=0.0) / 2),
        tuple(findings),
    )


def wedge_subject(settings: WedgeSettings) -> Subject:
    """Return what a photograph of the wedge should show; colours stand for dark ink on light cloth."""
    dpi = PX_PER_MM * FINER * 25.4
    pages = calibration_film(replace(settings, dpi=dpi)).pages
    planes = tuple(_averaged(page) for page in pages)
    width, height = pages[0].width_mm, pages[0].height_mm
    return Subject(
        width,
        height,
        0.0,
        planes,
        DARK_ON_LIGHT,
        ("first screen", "second screen"),
        tone=_tone_rows(settings, planes[0].shape),
    )


def _averaged(page: FilmPage) -> U8:
    from sepkit.film.raster import page_rows

    width, height = page.width_px // FINER, page.height_px // FINER
    out, start = np.zeros((height, width), np.uint8), 0
    left = np.zeros((0, page.width_px), np.uint8)
    for band in page_rows(page):
        rows = np.concatenate([left, np.unpackbits(np.asarray(band), axis=1)[:, : page.width_px]])
        whole = min(rows.shape[0] // FINER, height - start)
        cells = rows[: whole * FINER, : width * FINER].reshape(whole, FINER, width, FINER)
        out[start : start + whole] = np.rint(cells.mean(axis=(1, 3), dtype=np.float32) * 255).astype(np.uint8)
        start, left = start + whole, rows[whole * FINER :]
    return out


def _tone_rows(settings: WedgeSettings, shape: tuple[int, int]) -> Bool:
    out = np.zeros(shape, bool)
    for test in wedge_tests(settings):
        if test.test == "tone":
            x, y, w, h = (round(v * PX_PER_MM) for v in (test.x_mm, test.y_mm, test.width_mm, test.height_mm))
            gap = round(STEP_GAP_MM / 2 * PX_PER_MM) // 2
            out[max(0, y - gap) : y + h + gap, max(0, x - gap) : x + w + gap] = True
    return out


def rows_of(readings: WedgeReadings) -> dict[tuple[str, ...], str]:
    """Return what belongs behind the last comma of the form's rows, by what stands before it."""
    out: dict[tuple[str, ...], str] = {}
    for (lpi, percent), printed in readings.tones.items():
        out["tone", f"{lpi:g}", f"{percent:g}"] = f"{printed:.1f}"
    for film, printed in readings.widths.items():
        out["width", f"{film:g}"] = f"{printed:.3f}"
    for test, value in (("line", readings.thinnest_line_mm), ("gap", readings.thinnest_gap_mm)):
        if value is not None:
            out[(test,)] = f"{value:.2f}"
    return out
