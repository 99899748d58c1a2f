"""The pictures that show a planned print: on its garment, beside the art, out of register."""

from __future__ import annotations

from typing import TYPE_CHECKING

from sepkit.preview.compare import compare_sheet
from sepkit.preview.garment import WornPrint, draw_garment
from sepkit.preview.marked import marked_picture
from sepkit.preview.stack import stack_colours
from sepkit.preview.stress import stress_sheet
from sepkit.separation.report import unexplained_places
from sepkit.workshop.print.options import place_of

if TYPE_CHECKING:
    from sepkit.model import U8
    from sepkit.preview.stress import StressResult
    from sepkit.workshop.print.plan import PlannedPrint

MOST_RINGS = 60


def preview_picture(planned: PlannedPrint) -> U8:
    """Return the print on its garment, at its size and place."""
    return draw_garment(planned.separation.garment, worn_print(planned))


def worn_print(planned: PlannedPrint) -> WornPrint:
    """Return the print at its size and place, as the garment's drawing takes it."""
    separation = planned.separation
    size = separation.artwork.size
    place = place_of(planned.options, separation.garment, size)
    return WornPrint(planned.seen.ink, size.width_mm, size.height_mm, place)


def compare_picture(planned: PlannedPrint) -> U8:
    """Return artwork, predicted print and their difference side by side."""
    separation = planned.separation
    return compare_sheet(planned.seen, title=f"{separation.artwork.source} on {separation.garment.name}")


def stress_picture(planned: PlannedPrint, *, error_mm: float) -> tuple[U8, StressResult]:
    """Return the print with one plate off by ``error_mm``, and the areas that show, before and after trap and choke."""
    separation = planned.separation
    colour = stack_colours(separation.plates, separation.garment)
    return stress_sheet(separation.plates, colour, dpi=separation.artwork.dpi, error_mm=error_mm)


def explained_picture(planned: PlannedPrint) -> U8:
    """Return the art with rings where no mixture of the inks explains its colours, the worst places first."""
    art, unexplained = planned.separation.artwork, planned.flat.unexplained
    height, width = art.alpha.shape
    pixel_mm = (art.width_mm / width, art.height_mm / height)
    places = [] if unexplained is None else unexplained_places(unexplained, pixel_mm)
    rings = [("unexplained", (x, y, x, y)) for x, y in places[:MOST_RINGS]]
    return marked_picture(art, planned.separation.garment.srgb, rings)
