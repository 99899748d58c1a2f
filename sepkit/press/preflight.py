"""What is wrong with artwork before any film is made, as a printer reads it: one finding for each kind of fault.

In: ink areas, each with the mesh that is to print it. Out: findings, and the places to mark in mm from the top left,
the worst of each kind first. Letters of one line are one place; worn texture is told as what it is, not place by place.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

import numpy as np

from sepkit.coverage.gathered import Place, gathered
from sepkit.coverage.parts import Parts
from sepkit.coverage.strokes import ThinPart, thin_gaps, thin_strokes
from sepkit.model import Finding
from sepkit.press.advice import usable_as_measured
from sepkit.press.cut import cut_places, missing_letters
from sepkit.press.worn import worn_area
from sepkit.units import mm_to_px, px_to_mm

if TYPE_CHECKING:
    from sepkit.model import Bool, InkArea, Mesh, Press

SPECK_MM = 0.3
"""A part smaller than this across is lost on a thread or reads as dirt (common practice)."""
MOST_PLACES = 40
"""Of one kind, in the marked picture: the worst of them."""
MOST_SPECKS = 5000

MarkKind = Literal["thin line", "thin gap", "speck", "cut by the edge", "missing letter"]


@dataclass(frozen=True, slots=True)
class Mark:
    """A place to mark in the picture: its middle and its box in mm."""

    kind: MarkKind
    place_mm: tuple[float, float]
    ink: str
    box_mm: tuple[float, float, float, float] = (0.0, 0.0, 0.0, 0.0)


@dataclass(frozen=True, slots=True, eq=False)
class Screened:
    """An ink area, the name of its ink, and the mesh that is to print it."""

    area: InkArea
    name: str
    mesh: Mesh


@dataclass(frozen=True, slots=True)
class Preflight:
    """Findings and the places they are about."""

    findings: tuple[Finding, ...]
    marks: tuple[Mark, ...]


@dataclass(frozen=True, slots=True)
class _Fault:
    """Places of one kind in one ink, the worst first, and words for that ink."""

    kind: MarkKind
    ink: str
    words: str
    places: tuple[Place, ...]


@dataclass(frozen=True, slots=True)
class _Kind:
    """How faults of one kind are told."""

    code: str
    head: str
    hint: str


_KINDS: dict[MarkKind, _Kind] = {
    "thin line": _Kind("thin-lines", "lines too thin for their mesh", "thicken them, or use a finer mesh"),
    "thin gap": _Kind("thin-gaps", "gaps too thin for their mesh", "open them, or use a finer mesh"),
    "speck": _Kind("specks", f"specks smaller than {SPECK_MM} mm", "remove them, or ask for cleaner art"),
    "cut by the edge": _Kind(
        "cut-by-edge", "the edge of the page cuts through ink", "is type or art cut off? ask for it with a margin"
    ),
    "missing letter": _Kind(
        "missing-letters", "empty boxes where letters are missing", "ask for the art with its text as outlines"
    ),
}


def preflight(
    areas: Sequence[Screened], *, press: Press, bases: int, dpi: float, measured: Mapping[str, float] | None = None
) -> Preflight:
    """Check each ink area against its mesh, and their number against the press's heads.

    ``bases`` is 1 when the garment needs a base, else 0. ``measured`` is what the press file holds of a calibration
    print.
    """
    faults: list[_Fault] = []
    findings: list[Finding] = []
    for screened in areas:
        worn = None if screened.area.tone is not None else worn_area(screened.area.coverage, dpi=dpi)
        if worn is not None:
            findings.append(_worn(screened))
        faults += _faults(screened, worn, dpi, measured or {})
    told = [_told(kind, [fault for fault in faults if fault.kind == kind]) for kind in _KINDS]
    marks = [mark for kind in _KINDS for mark in _marks([fault for fault in faults if fault.kind == kind])]
    found = [finding for finding in told if finding is not None] + findings
    if len(areas) + bases > press.heads:
        found.append(_too_many(len(areas), press, bases))
    return Preflight(tuple(found), tuple(marks))


def _faults(screened: Screened, worn: Bool | None, dpi: float, measured: Mapping[str, float]) -> list[_Fault]:
    area, name, mesh = screened.area, screened.name, screened.mesh
    line_mm, gap_mm = usable_as_measured(mesh, measured)
    specks = _clear_of(worn, _specks(area, dpi), dpi)
    found = [_Fault("speck", name, "", tuple(gathered(specks)))]
    if area.tone is None:
        lines = _clear_of(worn, thin_strokes(area.coverage, least_mm=line_mm, dpi=dpi)[1], dpi)
        gaps = _clear_of(worn, thin_gaps(area.coverage, least_mm=gap_mm, dpi=dpi)[1], dpi)
        under = f"under {{:.2f}} mm on mesh {mesh}"
        found += [
            _Fault(
                "thin line", name, under.format(line_mm) + _as(measured, "thinnest_line_mm"), tuple(gathered(lines))
            ),
            _Fault("thin gap", name, under.format(gap_mm) + _as(measured, "thinnest_gap_mm"), tuple(gathered(gaps))),
            _Fault("missing letter", name, "", _boxes(missing_letters(area.coverage, dpi=dpi))),
        ]
    found.append(_Fault("cut by the edge", name, "", _boxes(cut_places(area.coverage, dpi=dpi))))
    return [fault for fault in found if fault.places]


def _told(kind: MarkKind, faults: Sequence[_Fault]) -> Finding | None:
    """Return one finding for all faults of a kind, at the worst place."""
    if not faults:
        return None
    how = _KINDS[kind]
    worst = min(faults, key=lambda fault: (fault.places[0].width_mm, -fault.places[0].length_mm))
    place = worst.places[0]
    x, y = place.middle_mm
    each = "; ".join(
        f"{fault.ink} {_count(len(fault.places))}{' ' * bool(fault.words)}{fault.words}" for fault in faults
    )
    thin = f"; the worst about {place.width_mm:.2f} mm" if kind in ("thin line", "thin gap") else ""
    text = f"{how.head}, {worst.ink}, worst at {x:.0f}, {y:.0f} mm"
    return Finding(how.code, "warn", text, how.hint, (x, y), f"{each}{thin}; places are from the art's top left")


def _marks(faults: Sequence[_Fault]) -> list[Mark]:
    """Return the marks of one kind: the worst of all inks."""
    rows = [(place.width_mm, -place.length_mm, fault, place) for fault in faults for place in fault.places]
    rows.sort(key=lambda row: row[:2])
    return [Mark(fault.kind, place.middle_mm, fault.ink, place.box_mm) for _, _, fault, place in rows[:MOST_PLACES]]


def _count(places: int) -> str:
    return "at one place" if places == 1 else f"at {places} places"


def _worn(screened: Screened) -> Finding:
    return Finding(
        "worn-texture",
        "info",
        f"{screened.name} seems worn on purpose: its holes are no faults",
        "a finer mesh keeps more of it",
        more="small holes and specks are not counted; what is under the mesh's finest line prints as it comes",
    )


def _clear_of(worn: Bool | None, parts: Sequence[ThinPart], dpi: float) -> list[ThinPart]:
    """Return the parts outside of worn texture."""
    if worn is None:
        return list(parts)
    height, width = worn.shape
    rows = [min(int(mm_to_px(part.place_mm[1], dpi)), height - 1) for part in parts]
    columns = [min(int(mm_to_px(part.place_mm[0], dpi)), width - 1) for part in parts]
    return [part for part, y, x in zip(parts, rows, columns, strict=True) if not worn[y, x]]


def _too_many(inks: int, press: Press, bases: int) -> Finding:
    base = " with the base" if bases else ""
    return Finding(
        "more-screens-than-heads",
        "warn",
        f"{inks + bases} screens{base}, and {press.name} has {press.heads} heads",
        "fewer inks save rounds; `sepkit separate` plans them",
    )


def _specks(area: InkArea, dpi: float) -> list[ThinPart]:
    """Return parts smaller than a speck; solid ink that runs into a tone, and a tone's own dots, are none."""
    solid = area.coverage > 127
    ink = solid if area.tone is None else solid | (area.tone & (area.coverage > 0))
    least_px = np.pi / 4 * mm_to_px(SPECK_MM, dpi) ** 2
    return _small_parts(ink, least_px, dpi, of=solid if area.tone is None else solid & ~area.tone)


def _small_parts(ink: Bool, least_px: float, dpi: float, *, of: Bool) -> list[ThinPart]:
    """Return the small parts of ``ink`` that hold some of the solid ``of``, the largest first."""
    found = Parts.of(ink)
    areas, boxes = found.areas, found.boxes
    rows, columns, numbers = found.pixels(areas < least_px)
    small = np.flatnonzero(np.bincount(numbers[of[rows, columns]], minlength=found.count + 1))
    small = small[np.argsort(-areas[small], kind="stable")][:MOST_SPECKS]
    parts = []
    for k in small.tolist():
        top, left, bottom, right = (px_to_mm(side, dpi) for side in boxes[k].tolist())
        middle = ((left + right) / 2, (top + bottom) / 2)
        parts.append(ThinPart(middle, SPECK_MM, SPECK_MM, (left, top, right, bottom)))
    return parts


def _boxes(boxes: Sequence[tuple[float, float, float, float]]) -> tuple[Place, ...]:
    """Return boxes as places, the largest first."""
    places = [Place(1, 0.0, max(box[2] - box[0], box[3] - box[1]), box) for box in boxes]
    return tuple(sorted(places, key=lambda place: -place.length_mm))


def _as(measured: Mapping[str, float], key: str) -> str:
    return " as measured on your press" if key in measured else ""
