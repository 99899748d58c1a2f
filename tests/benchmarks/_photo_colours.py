"""Colours from photographs as patches only: four cameras under lamps and white balances, printed inks, no geometry.

What a chart of 24 patches, the card's own white and black, or an approved print in the same photograph leave open.
"""

from __future__ import annotations

from collections.abc import Iterator

import numpy as np

from sepkit.colorimetry.difference import delta_e_2000
from sepkit.colorimetry.spectral import reflectance_to_lab
from sepkit.colorimetry.srgb import linear_to_lab
from sepkit.files.shelf.shelf import Shelf
from sepkit.inks.layers import printed_reflectance
from sepkit.reading.camera import correction
from sepkit.workshop.photo.colours import APPROVED_BAND_DE00, APPROVED_SHARE
from sepkit.workshop.photo.draw_down import PAPER_R, RELATIVE_BAND_DE00, TONER_R
from tests.helpers.photographed_card import PAPER
from tests.helpers.photographs import LAMPS, Shot, _encoded, _tone, chart_spectra, phone

INKS = ("black", "blue", "brown", "green", "magenta", "orange", "red", "turquoise", "violet", "white", "yellow")
TONER = np.full(31, 0.035)
FLARE = 0.008


def lines(seed: int) -> Iterator[str]:
    """Yield what errors and bands come to, over prints, cameras, lamps and three white balances each."""
    shelf, rng = Shelf(), np.random.default_rng(seed)
    white, cloths = shelf.ink("white"), [shelf.garment(name).reflectance for name in ("white tee", "black tee")]
    inks = [shelf.ink(name) for name in INKS]
    prints = np.array(
        [_print(ink, white, cloths, way, coats) for ink in inks for way in range(3) for coats in (0.8, 1, 1.25)]
    )
    true, chart_lab = reflectance_to_lab(prints), reflectance_to_lab(chart_spectra())
    rows: dict[str, list] = {"chart": [], "card": [], "approved": []}
    bands = []
    for camera in range(4):
        for lamp in LAMPS:
            for _ in range(3):
                shot = Shot(1, camera=camera, lamp=lamp, balance=tuple(np.exp(rng.normal(0, 0.06, 3) * [1, 0.2, 1])))
                light = float(rng.uniform(0.6, 0.95))
                seen, chart, paper, toner = (
                    _shown(shot, r, light) for r in (prints, chart_spectra(), PAPER[None], TONER[None])
                )
                fit = correction(chart, chart_lab)
                off = delta_e_2000(fit.lab(seen), true)
                rows["chart"] += list(off)
                bands += [fit.band_de00] * len(off)
                gain = (PAPER_R - TONER_R) / np.maximum(paper - toner, 1e-4)
                card = np.asarray(linear_to_lab(np.clip((seen - toner) * gain + TONER_R, 0, 1)), float)
                rows["card"] += list(delta_e_2000(card, true))
                rows["approved"] += list(_to_approved(seen, paper, true))
    chart_off, card_off = np.array(rows["chart"]), np.array(rows["card"])
    yield (
        f"{len(chart_off)} colours: absolute with a chart: {_words(chart_off)}; within the band "
        f"{np.mean(chart_off <= bands):.1%} (band median {np.median(bands):.1f}, most {max(bands):.1f})"
    )
    inside = np.mean(card_off <= RELATIVE_BAND_DE00)
    yield f"against the card's white and black: {_words(card_off)}; within {RELATIVE_BAND_DE00:g} {inside:.1%}"
    off, size = np.array(rows["approved"]).T
    band = np.hypot(APPROVED_BAND_DE00, APPROVED_SHARE * size)
    yield (
        f"difference to an approved print of other coats: off by {_words(off)}; of those below 3 "
        f"{_words(off[size < 3])}; within the band {np.mean(off <= band):.1%}"
    )


def _words(off) -> str:
    return f"median {np.median(off):.2f}, p95 {np.quantile(off, 0.95):.2f} ΔE00"


def _print(ink, white, cloths, way, coats):
    light, dark = cloths
    layers = [(white, 1.0), (ink, coats)] if way == 1 else [(ink, coats)]
    return printed_reflectance(layers, light if way == 0 else dark)


def _shown(shot, reflectance, light):
    """Linear light as read from the picture: averages over many pixels are finer than 8 bits."""
    linear = phone(shot, reflectance) * light + FLARE
    encoded = np.rint(_encoded(_tone(linear)) * 255 * 16) / (255 * 16)
    return np.where(encoded <= 0.04045, encoded / 12.92, ((encoded + 0.055) / 1.055) ** 2.4)


def _to_approved(seen, paper, true):
    """(error, true difference) of the difference between prints of one ink on one ground, of other coats."""
    from sepkit.workshop.photo.colours import difference_seen

    for start in range(0, len(seen), 3):
        for i, j in ((0, 1), (1, 2), (0, 2)):
            told = difference_seen(seen[start + i], seen[start + j], paper[0])
            real = float(delta_e_2000(true[start + i], true[start + j]))
            yield abs(told - real), real
