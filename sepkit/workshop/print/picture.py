"""The predicted print of a plan: its colours, how far from the art, and the pictures that show it."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from sepkit.coverage.sums import any_ink
from sepkit.press.filming import tone_curve
from sepkit.preview.compare import Difference, art_on_garment, compare_sheet, difference_stats
from sepkit.preview.garment import WornPrint, draw_garment
from sepkit.preview.marked import marked_picture
from sepkit.preview.stack import printed_rgb, stack_colours
from sepkit.preview.stress import stress, stress_sheet
from sepkit.separation.report import unexplained_places
from sepkit.workshop.print.options import place_of

if TYPE_CHECKING:
    from sepkit.film.making import FilmMaking
    from sepkit.model import U8, Artwork, Bool, Garment, Plate
    from sepkit.preview.stress import StressResult
    from sepkit.workshop.print.plan import PlannedPrint

MOST_RINGS = 60


def predicted_print(
    plates: Sequence[Plate], garment: Garment, art: Artwork, *, making: FilmMaking
) -> tuple[U8, Difference]:
    """Return the predicted print (h, w, 3) uint8 sRGB, and its ΔE00 against the art, over art and ink.

    ``making`` tells what the films and the press make of tints.
    """
    printed = printed_rgb(plates, garment, tone_curve=tone_curve(making))
    seen = art_on_garment(art.rgb, art.alpha, garment.srgb)
    return printed, difference_stats(seen, printed, where=_art_or_ink(plates, art))


def preview_picture(planned: PlannedPrint) -> U8:
    """Return the print on its garment, at its size and place."""
    return draw_garment(planned.separation.garment, worn_print(planned))


def worn_print(planned: PlannedPrint) -> WornPrint:
    """Return the print at its size and place, as the garment's drawing takes it."""
    separation = planned.separation
    size = separation.artwork.size
    ink = any_ink([plate.printed for plate in separation.plates])
    place = place_of(planned.options, separation.garment, size)
    return WornPrint(planned.printed, ink, size.width_mm, size.height_mm, place)


def compare_picture(planned: PlannedPrint) -> U8:
    """Return artwork, predicted print and their difference side by side."""
    separation = planned.separation
    art, garment = separation.artwork, separation.garment
    seen = art_on_garment(art.rgb, art.alpha, garment.srgb)
    return compare_sheet(
        seen, planned.printed, where=_art_or_ink(separation.plates, art), title=f"{art.source} on {garment.name}"
    )


def stress_picture(planned: PlannedPrint, *, error_mm: float) -> tuple[U8, StressResult]:
    """Return the print with one plate off by ``error_mm``, and the areas that show, before and after trap and choke."""
    separation = planned.separation
    result = stress(separation.plates, dpi=separation.artwork.dpi, error_mm=error_mm)
    colour = stack_colours(separation.plates, separation.garment)
    return stress_sheet(separation.plates, colour, result, dpi=separation.artwork.dpi), result


def explained_picture(planned: PlannedPrint) -> U8:
    """Return the art with rings where no mixture of the inks explains its colours, the worst places first."""
    art, unexplained = planned.separation.artwork, planned.flat.unexplained
    height, width = art.alpha.shape
    pixel_mm = (art.width_mm / width, art.height_mm / height)
    places = [] if unexplained is None else unexplained_places(unexplained, pixel_mm)
    return marked_picture(art, planned.separation.garment.srgb, [("unexplained", p) for p in places[:MOST_RINGS]])


def _art_or_ink(plates: Sequence[Plate], art: Artwork) -> Bool:
    mask = any_ink([plate.printed for plate in plates])
    mask |= art.alpha > 0
    return mask
