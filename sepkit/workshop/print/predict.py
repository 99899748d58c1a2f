"""The predicted print: how it and its art are seen on the garment, and how far they differ."""

from __future__ import annotations

from collections.abc import Hashable, Mapping, Sequence
from typing import TYPE_CHECKING

from sepkit.coverage.keep import kept_as
from sepkit.press.filming import tone_curve
from sepkit.preview.attainable import Attainable
from sepkit.preview.seen import PANEL_PX, SeenPrint, factor_for, seen_print

if TYPE_CHECKING:
    from sepkit.film.making import FilmMaking
    from sepkit.model import RGB8, Artwork, Garment, Plate

SEEN_BYTES = 22
"""Of a pixel of a SeenPrint."""


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
    every ink has its screen: the print is judged against that. What a Keep in use has of the same planes in the same
    inks is not made again.
    """

    def seen() -> SeenPrint:
        attainable = Attainable.of(best or {}, garment.srgb)
        return seen_print(plates, garment, art.rgb, art.alpha, tone_curve=tone_curve(making), attainable=attainable)

    planes = [plane for one in plates for plane in (one.coverage, one.printed, one.tone, one.also_base)]
    cloth = (garment.srgb, garment.reflectance.tobytes())
    key = ("seen", cloth, making, tuple((best or {}).items()), tuple(_shown_as(plate) for plate in plates))
    height, width = art.alpha.shape
    factor = factor_for((height, width), PANEL_PX)
    size = SEEN_BYTES * -(-height // factor) * -(-width // factor)
    arrays = [art.rgb, art.alpha, *(plane for plane in planes if plane is not None)]
    return kept_as(key, arrays, seen, bytes_more=size)


def _shown_as(plate: Plate) -> Hashable:
    """Return what of a plate its picture follows from, beside its planes."""
    ink = (plate.ink.absorption.tobytes(), plate.ink.scattering.tobytes(), plate.coats)
    there = (plate.tone is not None, plate.also_base is not None)
    return (ink, plate.role, there, plate.trap_mm > 0, plate.mesh, plate.halftone)
