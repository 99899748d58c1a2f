"""The predicted print: how it and its art are seen on the garment, and how far they differ."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING

from sepkit.press.filming import tone_curve
from sepkit.preview.attainable import Attainable
from sepkit.preview.seen import SeenPrint, seen_print

if TYPE_CHECKING:
    from sepkit.film.making import FilmMaking
    from sepkit.model import RGB8, Artwork, Garment, Plate


def predicted_print(
    plates: Sequence[Plate],
    garment: Garment,
    art: Artwork,
    *,
    making: FilmMaking,
    best: Mapping[RGB8, RGB8] | None = None,
) -> SeenPrint:
    """Return the predicted print beside its art, and its ΔE00 from it, over art and ink.

    ``making`` tells what the films and the press make of tints; ``best`` what colours of the art come out as when
    every ink has its screen: the print is judged against that.
    """
    attainable = Attainable.of(best or {}, garment.srgb)
    return seen_print(plates, garment, art.rgb, art.alpha, tone_curve=tone_curve(making), attainable=attainable)
