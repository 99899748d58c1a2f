"""What the sheets call things: times, coats, blades, meshes, inks and places in a printer's words."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from sepkit.places import hang_of
from sepkit.units import threads_per_cm_to_tpi

if TYPE_CHECKING:
    from sepkit.model import Garment, Mesh, Plate
    from sepkit.places import Place
    from sepkit.press.tape import TapeStep


def clock(minutes: float) -> str:
    """Return ``2 h 05 min``, or ``45 min``.

    >>> clock(125), clock(44.6)
    ('2 h 05 min', '45 min')
    """
    whole = round(minutes)
    return f"{whole // 60} h {whole % 60:02d} min" if whole >= 60 else f"{whole} min"


def counted(count: int, what: str) -> str:
    """Return ``1 screen``, ``2 screens``."""
    return f"{count} {what}" if count == 1 else f"{count} {what}s"


def coats_words(coats: int, *, flash_after: bool) -> str:
    """Return how a screen is pulled on one garment."""
    if coats == 1:
        return "one coat, then flash" if flash_after else "one coat"
    rest = ", flash after the last" if flash_after else ""
    return f"{coats} coats with a flash between, garment not moved{rest}"


def blade_words(width_mm: float) -> str:
    """Return a blade's width."""
    return f"{width_mm:.0f} mm"


def amounts(parts: Sequence[tuple[str, float]]) -> str:
    """Return ``white 120 g, blue 8.4 g``."""
    return ", ".join(f"{name} {mass_g:g} g" for name, mass_g in parts)


def where_words(place: Place, garments: Sequence[Garment]) -> str:
    """Return a place and its distances from the edges of each garment, as whoever loads it measures them."""
    measured: dict[str, list[str]] = {}
    for garment in garments:
        measured.setdefault(_measured(place, garment), []).append(garment.name)
    if len(measured) == 1:
        return f"{place.name}, {next(iter(measured))}"
    return f"{place.name}, " + "; ".join(f"on {', '.join(names)} {words}" for words, names in measured.items())


def _measured(place: Place, garment: Garment) -> str:
    hang = hang_of(place, garment)
    how = {"top": "", "bottom": "ends ", "front": "starts "}[hang.side]
    beside = {"top": "below", "bottom": "above", "front": "behind"}[hang.side]
    words = f"{how}{hang.mm:g} mm {beside} the {hang.edge}"
    if place.off_centre_mm:
        words += f", its middle {place.off_centre_mm:g} mm to the wearer's {place.wearers}"
    if place.off_side_mm:
        words += f", {place.off_side_mm:g} mm from the {place.wearers} side seam"
    return words


def tape_words(step: TapeStep) -> str:
    """Return what is taped while one print is open, and how far the garment moves aside for it."""
    front = [name for name in step.taped if name not in step.both_faces]
    words = f"; taped: {', '.join(front)}" if front else ""
    words += f"; taped on both faces: {', '.join(step.both_faces)}" if step.both_faces else ""
    if abs(step.open.shift_mm) > 0.05:
        side = "right" if step.open.shift_mm > 0 else "left"
        words += f"; garment {abs(step.open.shift_mm):.0f} mm to the {side}"
    return words + ("; garment loaded sideways" if step.open.rotation % 180 else "")


def mesh_words(mesh: Mesh) -> str:
    """Return ``43-80 (109 tpi)``."""
    return f"{mesh} ({threads_per_cm_to_tpi(mesh.threads_per_cm):.0f} tpi)"


def ink_name(plate: Plate) -> str:
    """Return the name of a plate's ink: of the shelf, or ``#rrggbb``."""
    return plate.ink.name


def is_mixed(ink: str) -> bool:
    """Return whether an ink is known by its colour only, and to be mixed to it."""
    return ink.startswith("#")


def ink_words(ink: str) -> str:
    """Return what goes into the screen.

    >>> ink_words("white"), ink_words("#f0ae2d")
    ('white', 'mixed to #f0ae2d')
    """
    return f"mixed to {ink}" if is_mixed(ink) else ink
