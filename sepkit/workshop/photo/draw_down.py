"""sepkit ink measure --photo: draw-downs on the printed card, read from photographs.

In: photographs of the card, and a chart's values or none. Out: colours by what they are, the hiding of the film, and
the band that the photograph costs. Without a chart colours are told against the card's own white and black, whose
values are assumed: that band is too wide to replace an estimate, while hiding, a ratio, still holds.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from sepkit.colorimetry.srgb import lab_to_xyz, linear_to_lab
from sepkit.inks.identify import CONTRAST_RATIO
from sepkit.model import Finding
from sepkit.reading.ink_card import CardReading, card_subject, read_card
from sepkit.reading.light import light_at
from sepkit.reading.picture import Photo
from sepkit.workshop.photo.chart import chart_values, corrected

if TYPE_CHECKING:
    from sepkit.film.ink_card import CardPlace
    from sepkit.model import F64, Progress
    from sepkit.reading.subject import Subject
    from sepkit.workshop.photo.chart import ChartValues

PAPER_R, TONER_R = 0.84, 0.035
"""Reflectance of the card's white and black where no chart tells: matt office paper, toner (typical, from memory)."""
RELATIVE_BAND_DE00 = 16.0
"""Without a chart 95 of 100 printed inks lay within 15, orange and red within 17 to 21, greys within 3 (four simulated
cameras under five lamps, three white balances each)."""
RELATIVE_RATIO_BAND, CHART_RATIO_BAND = 0.10, 0.055
"""Bands of the contrast ratio: 95 of 100 lay within, by grey steps and by a chart."""
TOO_WIDE_DE00 = 6.5
"""Wider than this a photograph tells less than a swatch and an opacity word (expect 4 to 5 on a print)."""


@dataclass(frozen=True, slots=True, eq=False)
class DrawnColour:
    """A draw-down's colour: what it is, and Lab D65/2."""

    place: CardPlace
    lab: F64


@dataclass(frozen=True, slots=True, eq=False)
class DrawDownReading:
    """What photographs of one card say together."""

    colours: tuple[DrawnColour, ...]
    white_lab: F64
    black_lab: F64
    band_de00: float
    contrast_ratio: float | None
    """Luminance over black over luminance over white; None where the film is not on both."""
    ratio_band: float
    source: str
    findings: tuple[Finding, ...]

    @property
    def too_wide(self) -> bool:
        """Whether the colours are too uncertain to replace an estimate."""
        return self.band_de00 > TOO_WIDE_DE00


def write_ink_card(path: Path, *, force: bool) -> Path:
    """Write the card as a PDF at true size. Raises UsageError for a path that is no PDF, WriteError."""
    from sepkit.errors import UsageError
    from sepkit.files.films.pdf import write_film_pdf
    from sepkit.files.folders.write import replace_file
    from sepkit.film.ink_card import ink_card

    if path.suffix.lower() != ".pdf":
        raise UsageError(f'"{path}" is not a PDF', where="--out", hint="name it ink-card.pdf")
    with replace_file(path, force=force) as part:
        write_film_pdf(part, (ink_card(),), title="sepkit ink card")
    return path


def ink_card_subject() -> Subject:
    """Return what a photograph of the card should show."""
    from sepkit.film.ink_card import ink_card
    from sepkit.workshop.photo.subject import page_plane

    return card_subject(page_plane(ink_card()))


def read_draw_down(
    photos: Sequence[Path], *, chart: str | None = None, progress: Progress | None = None
) -> DrawDownReading:
    """Return what photographs of one card say: the mean of each place, the widest band.

    ``chart`` is "published" or a file of the values of a chart that lies beside the card. Raises PhotoError (exit 10),
    UsageError, NotFoundError.
    """
    from sepkit.files.art.photo import read_photo

    values = None if chart is None else chart_values(chart)
    subject = ink_card_subject()
    told = []
    for done, path in enumerate(photos):
        if progress is not None:
            progress.step("photographs", done, len(photos))
        photo = Photo(read_photo(path))
        told.append(_told(subject, photo, read_card(subject, photo, where=str(path)), values, where=str(path)))
    return _together(told, values)


@dataclass(frozen=True, slots=True, eq=False)
class _Told:
    colours: dict[CardPlace, F64]
    white: F64
    black: F64
    band_de00: float


def _told(subject: Subject, photo: Photo, reading: CardReading, values: ChartValues | None, *, where: str) -> _Told:
    if values is None:
        gain = (PAPER_R - TONER_R) / np.maximum(reading.paper - reading.black, 1e-4)

        def lab(linear: F64) -> F64:
            return np.asarray(linear_to_lab(np.clip((linear - reading.black) * gain + TONER_R, 0, 1)), np.float64)

        band = RELATIVE_BAND_DE00
    else:
        fitted, _ = corrected(
            photo, values, lambda xy: light_at(subject, reading.look, reading.homography, xy), where=where
        )
        lab, band = fitted.lab, fitted.band_de00
    return _Told({one.place: lab(one.linear) for one in reading.places}, lab(reading.paper), lab(reading.black), band)


def _together(told: Sequence[_Told], values: ChartValues | None) -> DrawDownReading:
    places = dict.fromkeys(place for one in told for place in one.colours)
    colours = tuple(
        DrawnColour(place, np.mean([one.colours[place] for one in told if place in one.colours], axis=0))
        for place in places
    )
    by_name = {one.place.name: one.lab for one in colours}
    ratio = None
    if "over black" in by_name and "over white" in by_name:
        dark, light = (float(lab_to_xyz(by_name[name])[1]) for name in ("over black", "over white"))
        ratio = min(1.0, dark / max(light, 1e-4))
    band = max(one.band_de00 for one in told)
    source = "a photograph, against its card" if values is None else f"a photograph, by a chart's {values.source}"
    reading = DrawDownReading(
        colours,
        np.mean([one.white for one in told], axis=0),
        np.mean([one.black for one in told], axis=0),
        band,
        ratio,
        RELATIVE_RATIO_BAND if values is None else CHART_RATIO_BAND,
        source,
        (),
    )
    return _with_findings(reading, chart=values is not None)


def _with_findings(reading: DrawDownReading, *, chart: bool) -> DrawDownReading:
    from dataclasses import replace

    found = []
    if reading.too_wide:
        text = f"colours are known to ΔE00 {reading.band_de00:.0f} only, too wide to replace an estimate"
        if chart:
            hint = "even light from two sides, the chart close to the card, and photograph them again"
        else:
            hint = "lay a chart of 24 patches beside the card and give --chart, or give --swatch and --opacity"
        found.append(Finding("band-too-wide", "warn", text, hint))
    if reading.contrast_ratio is not None:
        word = min(CONTRAST_RATIO, key=lambda w: abs(CONTRAST_RATIO[w] - (reading.contrast_ratio or 0.0)))
        text = f"one coat hides {reading.contrast_ratio:.2f} ± {reading.ratio_band:.2f}: --opacity {word}"
        found.append(Finding("hiding-read", "info", text, "hiding is a ratio, and holds without a chart"))
    if not reading.colours:
        text = "no draw-down lies on the card"
        found.append(Finding("empty-card", "warn", text, "fill the boxes to their corners"))
    return replace(reading, findings=tuple(found))
