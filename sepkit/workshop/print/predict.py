"""The predicted print: how it and its art are seen on the garment, and how far they differ."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from functools import cache
from typing import TYPE_CHECKING

from sepkit.coverage.keep import kept, lasting
from sepkit.press.filming import tone_curve
from sepkit.preview.attainable import Attainable
from sepkit.preview.counted import counted_difference
from sepkit.preview.seen import PANEL_PX, SeenPrint, art_seen, factor_for, seen_print

if TYPE_CHECKING:
    from sepkit.film.making import FilmMaking
    from sepkit.model import RGB8, U8, Artwork, Garment, Plate


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
    every ink has its screen: the print is judged against that. While a lasting Keep is in use, whoever holds the print
    looks at it in a way of its own: how far it is from the art is counted, and pictures wait until they are asked for.
    """
    attainable, curve = Attainable.of(best or {}, garment.srgb), tone_curve(making)

    def seen() -> SeenPrint:
        return seen_print(plates, garment, art.rgb, art.alpha, tone_curve=curve, attainable=attainable)

    if not lasting():
        return seen()
    far = counted_difference(plates, garment, art.rgb, art.alpha, tone_curve=curve, attainable=attainable)
    return SeenPrint(cache(lambda: seen().panels()), far, attainable, lambda: _art_panel(art, garment))


def _art_panel(art: Artwork, garment: Garment) -> U8:
    factor = factor_for((art.alpha.shape[0], art.alpha.shape[1]), PANEL_PX)
    return kept(art_seen, art.rgb, art.alpha, garment.srgb, factor=factor)
