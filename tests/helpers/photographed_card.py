"""The ink card with draw-downs, photographed: for the simulator of photographs."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np

from sepkit.colorimetry.spectral import reflectance_to_lab
from sepkit.film.ink_card import CARD_MM, TINTS_PERCENT, drawn_over_mm, ink_card
from sepkit.film.raster import page_rows
from sepkit.inks.mixing import mix
from tests.helpers.photographs import Shot, random_shot, spectra_of, take_photo
from tests.helpers.printed_cloth import FILM_DPI, FILM_PX_MM, Printed, _distance

PAPER = np.clip(0.86 + 0.03 * np.exp(-(((np.arange(31) - 4) / 3.0) ** 2)), 0, 1)
"""Office paper, a little blue."""
CHART_BESIDE = (CARD_MM[0] + 16.0, 40.0, 12.0, 0.0)


def drawn_card(ink, white, toner, *, coats: float = 1.0) -> Printed:
    """The card with one coat over black and white, two tints in white and an opaque film of ink."""
    page = ink_card()
    w, h = (round(side * FILM_PX_MM) for side in CARD_MM)
    page = replace(page, dpi=FILM_DPI, width_px=w, height_px=h)
    bits = np.unpackbits(np.concatenate([np.asarray(b) for b in page_rows(page)]), axis=1)[:, :w].astype(bool)
    strip, *boxes = drawn_over_mm()
    films, inks, thick = [bits], [toner], [6.0]
    tints = [mix([(ink, percent), (white, 100 - percent)]) for percent in TINTS_PERCENT]
    for box, one, coat in zip([strip, *boxes], [ink, *tints, ink], [coats, *[coats] * len(tints), 30.0], strict=True):
        films.append(_box(bits.shape, box))
        inks.append(one)
        thick.append(coat)
    return Printed("card", *CARD_MM, 0.0, [_distance(f) for f in films], inks, thick, PAPER)


def _box(shape, box):
    x, y, w, h = (round(v * FILM_PX_MM) for v in box)
    out = np.zeros(shape, bool)
    out[y : y + h, x : x + w] = True
    return out


def true_labs(printed: Printed, shot: Shot):
    """Lab of the film over black, over white, each tint, and the opaque film, as they lie on this card."""
    labs = reflectance_to_lab(spectra_of(printed, shot))
    tints = [labs[0b100], labs[0b1000]]
    return {"over black": labs[0b11], "over white": labs[0b10], "tint": tints, "masstone": labs[0b10000]}


def card_shot(printed: Printed, seed: int, *, chart: bool = True, lamp: str = "D65", px_per_mm: float = 6.0) -> Shot:
    """A photograph of the card on a table, a chart beside it or none."""
    shot = random_shot(printed, seed, px_per_mm=px_per_mm, sizes=())
    for screen in shot.screens:
        screen.dx_mm = screen.dy_mm = screen.turn_deg = screen.tint = screen.growth_mm = 0.0
        screen.coats = 1.0
    return replace(
        shot,
        stretch_mm=0.05,
        lamp=lamp,
        chart=CHART_BESIDE if chart else None,
        around=1.8 if chart else 1.3,
        aside=(-0.17, 0.0) if chart else (0.0, 0.0),
    )


def card_photo(path: Path, printed: Printed, shot: Shot) -> Path:
    """Write a photograph of the card."""
    path.write_bytes(take_photo(printed, shot).jpeg)
    return path
