"""What is wrong with artwork before any film is made: thin lines and gaps, specks, too many inks for the press.

In: artwork and what the separation found. Out: findings and the places to mark, in mm from the top left.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

import numpy as np

from sepkit.coverage.strokes import ThinPart, thin_gaps, thin_strokes
from sepkit.model import Finding
from sepkit.press.advice import usable_as_measured
from sepkit.units import mm_to_px, px_to_mm

if TYPE_CHECKING:
    from sepkit.model import U8, Bool, InkArea, Mesh, Press

SPECK_MM = 0.3
"""A part smaller than this across is lost on a thread or reads as dirt (common practice)."""
MOST_PLACES = 40

MarkKind = Literal["thin line", "thin gap", "speck"]


@dataclass(frozen=True, slots=True)
class Mark:
    """A place to ring in the marked picture."""

    kind: MarkKind
    place_mm: tuple[float, float]
    ink: str


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


def preflight(
    areas: Sequence[Screened], *, press: Press, bases: int, dpi: float, measured: Mapping[str, float] | None = None
) -> Preflight:
    """Check each ink area against its mesh, and their number against the press's heads.

    ``bases`` is 1 when the garment needs a base, else 0. ``measured`` is what the press file holds of a calibration
    print.
    """
    findings: list[Finding] = []
    marks: list[Mark] = []
    for screened in areas:
        checks = [_specks(screened, dpi)]
        if screened.area.tone is None:
            checks = [_lines(screened, dpi, measured or {}), _gaps(screened, dpi, measured or {}), *checks]
        for found, placed in checks:
            findings += found
            marks += placed
    if len(areas) + bases > press.heads:
        findings.append(_too_many(len(areas), press, bases))
    return Preflight(tuple(findings), tuple(marks))


def _too_many(inks: int, press: Press, bases: int) -> Finding:
    base = " with the base" if bases else ""
    return Finding(
        "more-screens-than-heads",
        "warn",
        f"{inks + bases} screens{base}, and {press.name} has {press.heads} heads",
        "`sepkit separate` puts them in rounds; fewer inks, or the garment's colour for one of them, save one",
    )


def _lines(screened: Screened, dpi: float, measured: Mapping[str, float]) -> tuple[list[Finding], list[Mark]]:
    name, mesh = screened.name, screened.mesh
    least = usable_as_measured(mesh, measured)[0]
    _, parts = thin_strokes(screened.area.coverage, least_mm=least, dpi=dpi)
    text = f"{name}: lines thinner than {least:.2f} mm may be lost on {_mesh(mesh)}{_as(measured, 'thinnest_line_mm')}"
    return _report(parts, "thin-lines", "thin line", name, text, f"thicken them to {least:.2f} mm, or use a finer mesh")


def _gaps(screened: Screened, dpi: float, measured: Mapping[str, float]) -> tuple[list[Finding], list[Mark]]:
    name, mesh = screened.name, screened.mesh
    least = usable_as_measured(mesh, measured)[1]
    _, parts = thin_gaps(screened.area.coverage, least_mm=least, dpi=dpi)
    text = f"{name}: gaps thinner than {least:.2f} mm may close on {_mesh(mesh)}{_as(measured, 'thinnest_gap_mm')}"
    return _report(parts, "thin-gaps", "thin gap", name, text, f"open them to {least:.2f} mm")


def _specks(screened: Screened, dpi: float) -> tuple[list[Finding], list[Mark]]:
    name, area = screened.name, screened.area
    solid = area.coverage > 127
    ink = solid if area.tone is None else solid | (area.tone & (area.coverage > 0))
    least_px = np.pi / 4 * mm_to_px(SPECK_MM, dpi) ** 2
    places = _small_parts(ink.view(np.uint8), least_px, dpi, of=solid if area.tone is None else solid & ~area.tone)
    parts = [ThinPart(place, SPECK_MM) for place in places]
    text = f"{name}: specks smaller than {SPECK_MM} mm"
    return _report(parts, "specks", "speck", name, text, "remove them, or ask for cleaner art")


def _small_parts(ink: U8, least_px: float, dpi: float, *, of: Bool) -> list[tuple[float, float]]:
    """Return the middles in mm of the small parts of ``ink`` that hold some of the solid ``of``.

    Solid ink that runs into a tone, and a tone's own dots, are no specks.
    """
    from scipy.ndimage import center_of_mass, label

    labels, count = label(ink, structure=np.ones((3, 3), int))
    if not count:
        return []
    solid = np.bincount(labels[of], minlength=count + 1)[1:] > 0
    small = np.flatnonzero(solid & (np.bincount(labels.ravel())[1:] < least_px)) + 1
    if not len(small):
        return []
    middles = center_of_mass(ink, labels, small[:500])
    return [(px_to_mm(x + 0.5, dpi), px_to_mm(y + 0.5, dpi)) for y, x in middles]


def _report(
    parts: Sequence[ThinPart], code: str, kind: MarkKind, ink: str, text: str, hint: str
) -> tuple[list[Finding], list[Mark]]:
    if not parts:
        return [], []
    x, y = parts[0].place_mm
    count = "one place" if len(parts) == 1 else f"{len(parts)} places" if len(parts) < 50 else "50 places or more"
    finding = Finding(code, "warn", f"{text}: {count}, first at {x:.0f}, {y:.0f} mm from the top left", hint, (x, y))
    return [finding], [Mark(kind, part.place_mm, ink) for part in parts[:MOST_PLACES]]


def _as(measured: Mapping[str, float], key: str) -> str:
    return " as measured on your press" if key in measured else ""


def _mesh(mesh: Mesh) -> str:
    return f"mesh {mesh}"
