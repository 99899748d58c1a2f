"""The predicted print: its colours, and how far they are from the art."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from sepkit.coverage.sums import any_ink
from sepkit.press.filming import tone_curve
from sepkit.preview.compare import Difference, art_on_garment, difference_stats
from sepkit.preview.stack import printed_rgb

if TYPE_CHECKING:
    from sepkit.film.making import FilmMaking
    from sepkit.model import U8, Artwork, Bool, Garment, Plate


def predicted_print(
    plates: Sequence[Plate], garment: Garment, art: Artwork, *, making: FilmMaking
) -> tuple[U8, Difference]:
    """Return the predicted print (h, w, 3) uint8 sRGB, and its ΔE00 against the art, over art and ink.

    ``making`` tells what the films and the press make of tints.
    """
    printed = printed_rgb(plates, garment, tone_curve=tone_curve(making))
    seen = art_on_garment(art.rgb, art.alpha, garment.srgb)
    return printed, difference_stats(seen, printed, where=art_or_ink(plates, art))


def art_or_ink(plates: Sequence[Plate], art: Artwork) -> Bool:
    """Return (h, w) True where there is art or ink."""
    mask = any_ink([plate.printed for plate in plates])
    mask |= art.alpha > 0
    return mask
