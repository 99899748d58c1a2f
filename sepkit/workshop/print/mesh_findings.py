"""What the meshes of a plan do not hold: a base that the choke left too thin, and lines thinner than any mesh prints.

Pure: art and plates in, findings out. Lengths mm.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING

from sepkit.coverage.keep import kept
from sepkit.coverage.strokes import ThinPart, reduced_plane, thin_share, thin_strokes
from sepkit.model import Finding
from sepkit.press.advice import THIN_SHARE, usable_as_measured

if TYPE_CHECKING:
    from sepkit.model import U8, Artwork, Mesh, Plate


def mesh_findings(art: Artwork, plates: Sequence[Plate], measured: Mapping[str, float]) -> list[Finding]:
    """Return findings about the base and about flat inks. ``measured`` holds the press file's calibration print."""
    return [*_base(art, plates, measured), *_lines(art, plates, measured)]


def _base(art: Artwork, plates: Sequence[Plate], measured: Mapping[str, float]) -> list[Finding]:
    """Tell where what the choke leaves of the base is thinner than its mesh prints."""
    base = next((plate for plate in plates if plate.is_base), None)
    if base is None or base.choke_mm <= 0:
        return []
    least_mm = usable_as_measured(base.mesh, measured)[0]
    parts = kept(_thin_parts, base.printed, least_mm=least_mm, dpi=art.dpi)
    if not parts:
        return []
    x, y = parts[0].place_mm
    length_mm = sum(part.length_mm for part in parts)
    return [
        Finding(
            "base-below-mesh",
            "warn",
            f"base too thin to print, worst at {x:.0f}, {y:.0f} mm",
            f"thicken strokes to {least_mm + 2 * base.choke_mm:.1f} mm, finer --mesh, or smaller --choke",
            (x, y),
            f"choked, {length_mm:.0f} mm of it are thinner than the {least_mm:.2f} mm that {_name(base.mesh)} holds",
        )
    ]


def _lines(art: Artwork, plates: Sequence[Plate], measured: Mapping[str, float]) -> list[Finding]:
    """Tell of flat inks of which more than a trace is thinner than their mesh holds."""
    found = []
    for plate in plates:
        if plate.role != "colour" or plate.tone is not None:
            continue
        least_mm = usable_as_measured(plate.mesh, measured)[0]
        share = kept(thin_share, plate.coverage, least_mm=least_mm, dpi=art.dpi)
        if share <= THIN_SHARE:
            continue
        parts = kept(_thin_parts, plate.coverage, least_mm=least_mm, dpi=art.dpi)
        place = parts[0].place_mm if parts else None
        at = "" if place is None else f", at {place[0]:.0f}, {place[1]:.0f} mm"
        found.append(
            Finding(
                "lines-below-mesh",
                "warn",
                f"thin lines of {plate.name} may be lost{at}",
                f"thicken those lines to {least_mm:.2f} mm, or expect them broken",
                place,
                f"{100 * share:.0f} % of it is thinner than the {least_mm:.2f} mm that {_name(plate.mesh)} holds",
            )
        )
    return found


def _thin_parts(coverage: U8, *, least_mm: float, dpi: float) -> tuple[ThinPart, ...]:
    """Return the places of a plane that are too thin, longest first."""
    plane, dpi = reduced_plane(coverage, dpi)
    return tuple(thin_strokes(plane, least_mm=least_mm, dpi=dpi)[1])


def _name(mesh: Mesh) -> str:
    return f"mesh {mesh}"
