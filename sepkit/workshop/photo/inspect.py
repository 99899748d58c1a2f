"""sepkit inspect: photographs of a test print held against its print folder.

In: a print folder and photographs. Out: Inspection: each screen's register, spots, lines, colours, findings; and the
folder of pictures, list and page. What can be told was shown on simulated photographs only.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from sepkit.errors import PhotoError
from sepkit.files.folders.print_folder import PrintFolder, read_print_folder
from sepkit.model import Finding
from sepkit.reading.edges import Lines, bare_base_mm2, thin_lines
from sepkit.reading.find import Side, find
from sepkit.reading.gates import check_fit, check_place, check_size
from sepkit.reading.light import light_at
from sepkit.reading.picture import Photo
from sepkit.reading.screens import Fit, fitted
from sepkit.reading.spots import Spot, Spots, agreed, find_spots
from sepkit.reading.told import ToldScreen, told_screens
from sepkit.workshop.photo.chart import chart_values, corrected
from sepkit.workshop.photo.colours import ToldColour, to_approved, told_colours
from sepkit.workshop.photo.findings import inspection_findings
from sepkit.workshop.photo.pair import two_places
from sepkit.workshop.photo.subject import subject_of_folder

if TYPE_CHECKING:
    from sepkit.model import Progress
    from sepkit.reading.camera import Correction
    from sepkit.reading.find import Place
    from sepkit.reading.subject import Subject
    from sepkit.workshop.photo.chart import ChartValues

Top = Side
"""Which side of the photograph the print's top is at."""
ADRIFT = Finding(
    "photo-adrift",
    "warn",
    "no check disc and no screen's edges agree with the films: spots are unsure",
    "photograph it again, all check discs in the picture, flat, from above",
)
USUAL_REGISTER_MM = 0.3
"""Register error of a press that the record does not name (common practice for a small manual press)."""


@dataclass(frozen=True, slots=True, eq=False)
class ReadPhoto:
    """One photograph, laid on the films."""

    path: Path
    photo: Photo
    fit: Fit
    spots: Spots
    lines: Lines
    colours: tuple[ToldColour, ...] = ()


@dataclass(frozen=True, slots=True, eq=False)
class Beside:
    """What lies beside the print in the photograph: a chart's values, and the side that an approved print is at."""

    chart: ChartValues | None = None
    approved: Side | None = None


@dataclass(frozen=True, slots=True, eq=False)
class Inspection:
    """What photographs of a test print say."""

    kept: PrintFolder
    subject: Subject
    photos: tuple[ReadPhoto, ...]
    screens: tuple[ToldScreen, ...]
    spots: tuple[Spot, ...]
    colours: tuple[ToldColour, ...]
    bare_base_mm2: float | None
    findings: tuple[Finding, ...]

    @property
    def px_per_mm(self) -> float:
        """Photo pixels per mm of the print, of the coarsest photograph."""
        return min(one.fit.px_per_mm for one in self.photos)

    @property
    def ruins_the_run(self) -> bool:
        """Whether something should be mended before printing goes on."""
        return any(finding.level == "error" for finding in self.findings)


def inspect(
    folder: Path,
    photos: Sequence[Path],
    *,
    top: Top | None = None,
    chart: str | None = None,
    approved: Side | None = None,
    progress: Progress | None = None,
) -> Inspection:
    """Hold photographs against a print folder.

    ``chart`` is "published" or a file with the values of a chart of 24 patches in the photographs; ``approved`` says at
    which side of the print an approved one lies in them. Raises WriteError for a damaged folder, PhotoError (exit 10)
    for a photograph that cannot be used, UsageError for a chart's values that are none.
    """
    from sepkit.files.art.photo import read_photo

    kept = read_print_folder(folder)
    subject = subject_of_folder(kept)
    beside = Beside(None if chart is None else chart_values(chart), approved)
    read = []
    for done, path in enumerate(photos):
        if progress is not None:
            progress.step("photographs", done, len(photos))
        read.append(_read(subject, Photo(read_photo(path)), path, top, beside))
    fits = [one.fit for one in read]
    screens = told_screens(fits)
    spots = agreed([one.spots for one in read])
    told = [not screen.why for screen in screens]
    bare = bare_base_mm2(subject, fits[0].state.screens) if all(told) else None
    bench = kept.record.bench
    allowed = USUAL_REGISTER_MM if bench is None else bench.press.register_error_mm
    findings = inspection_findings(
        screens, spots, [one.lines for one in read], [one.spots for one in read], bare, allowed
    )
    if any(is_adrift(subject, fit) for fit in fits):
        findings = (ADRIFT, *findings)
    return Inspection(kept, subject, tuple(read), screens, spots, read[0].colours, bare, findings)


def _read(subject: Subject, photo: Photo, path: Path, top: Top | None, beside: Beside) -> ReadPhoto:
    where = str(path)
    if beside.approved is None:
        place = check_place(find(subject, photo, top=top), where=where, what="this print", ambiguous=top is None)
        fit = _fitted(subject, photo, place, where)
        other = None
    else:
        place, second = two_places(subject, photo, beside.approved, top=top, where=where)
        fit, other = _fitted(subject, photo, place, where), _fitted(subject, photo, second, where)
    colours = told_colours(subject, fit, _correction(subject, photo, fit, beside.chart, where))
    if other is not None:
        colours += to_approved(subject, fit, other)
    spots = find_spots(subject, photo, fit)
    if is_adrift(subject, fit):
        spots = replace(spots, spots=tuple(replace(one, sure=False) for one in spots.spots))
    return ReadPhoto(path, photo, fit, spots, thin_lines(subject, photo, fit), colours)


def is_adrift(subject: Subject, fit: Fit) -> bool:
    """Tell whether neither check discs nor edges of any screen agree with the films, though the films have discs.

    The print may then be laid beside its place, and what looks like a spot is no more than that.
    """
    of_use = [k for k in range(len(fit.screens)) if k != fit.state.reference and k not in fit.state.still]
    others = [fit.screens[k] for k in of_use]  # what nothing shows of cannot disagree
    return bool(subject.discs) and len(others) > 0 and all(one.why for one in others)


def _fitted(subject: Subject, photo: Photo, place: Place, where: str) -> Fit:
    check_size(subject, photo, place, where=where)
    try:
        fit = fitted(subject, photo, place)
    except np.linalg.LinAlgError as error:
        hint = "flat, sharp, in even light, from straight above"
        raise PhotoError("cannot be laid on the films", where=where, hint=hint) from error
    check_fit(subject, fit, where=where)
    return fit


def _correction(subject: Subject, photo: Photo, fit: Fit, values: ChartValues | None, where: str) -> Correction | None:
    if values is None:
        return None
    look, homography = fit.state.look, fit.state.warp.homography
    return corrected(photo, values, lambda xy: light_at(subject, look, homography, xy), where=where)[0]
