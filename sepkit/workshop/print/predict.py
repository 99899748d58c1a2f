"""The predicted print: how it and its art are seen on the garment, and how far they differ."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from sepkit.press.filming import tone_curve
from sepkit.preview.seen import SeenPrint, seen_print

if TYPE_CHECKING:
    from sepkit.film.making import FilmMaking
    from sepkit.model import Artwork, Garment, Plate


def predicted_print(plates: Sequence[Plate], garment: Garment, art: Artwork, *, making: FilmMaking) -> SeenPrint:
    """Return the predicted print beside its art, and its ΔE00 against it, over art and ink.

    ``making`` tells what the films and the press make of tints.
    """
    return seen_print(plates, garment, art.rgb, art.alpha, tone_curve=tone_curve(making))
