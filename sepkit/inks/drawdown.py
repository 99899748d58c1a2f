"""From a draw-down to an ink: films over black and white card, and tints in white.

In: reflectances in air, (31,), of what the person has; the white ink of the tints. Out: an Ink, how it explains the
films (ΔE00), and how far to trust it. In order of trust: spectra over both cards with a white tint; Lab of the same;
cards without a tint (tinting strength is then a guess where the film hides); one swatch and an opacity word.
Tints are by weight, drawn over the white card. The bands of trust come from trials with noise on synthetic films.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

import numpy as np

from sepkit.colorimetry.difference import delta_e_2000
from sepkit.colorimetry.spectral import reflectance_to_lab
from sepkit.errors import UsageError
from sepkit.inks.fit import FitSettings, fit_coefficients, predict
from sepkit.inks.identify import CONTRAST_RATIO, ink_from_reflectance
from sepkit.inks.layers import OUTER, Geometry
from sepkit.inks.mixing import masstone_srgb, volume_fractions
from sepkit.model import Finding, Ink

if TYPE_CHECKING:
    from sepkit.model import F64

Array = np.ndarray[Any, np.dtype[Any]]

OPAQUE_COATS = 30.0
"""Coats that stand for a film nobody sees through."""
BLACK_CARD_R, WHITE_CARD_R = 0.01, 0.80
"""Reflectance in air of the cards when they were not measured (typical of contrast cards, from memory)."""
POOR_FIT_DE00 = 2.0


@dataclass(frozen=True, slots=True, eq=False)
class DrawDown:
    """What was measured, in air; None where it was not. ``tints`` are (percent of this ink by weight, reflectance)."""

    over_black: F64 | None = None
    over_white: F64 | None = None
    black_card: F64 | None = None
    white_card: F64 | None = None
    masstone: F64 | None = None
    tints: tuple[tuple[float, F64], ...] = ()
    coats: float = 1.0
    spectra: bool = False
    """True when every measurement is a spectrum, False when some were upsampled from Lab."""
    geometry: Geometry = "45:0"


@dataclass(frozen=True, slots=True, eq=False)
class Identified:
    """The ink; mean and worst ΔE00 of its films against the measurement; bands to expect on a print and in a tint."""

    ink: Ink
    mean_de00: float
    worst_de00: float
    print_band_de00: float
    tint_band_de00: float
    findings: tuple[Finding, ...]


def identify(
    name: str,
    data: DrawDown,
    *,
    white: Ink | None = None,
    opacity: str | None = None,
    kind: str = "plastisol",
    density_g_ml: float = 1.2,
) -> Identified:
    """Return the ink that explains a draw-down; its date is left empty.

    Raises UsageError when nothing usable was measured.
    """
    data, findings = _without_gloss(data)
    if data.tints and white is None:
        raise UsageError("a tint needs its white ink", where=name, hint="name it with --white")
    films = _films(data, white, density_g_ml)
    if not films:
        raise UsageError("nothing was measured", where=name, hint="give a swatch, or films over black and white card")
    start = _start(name, data, opacity, kind, density_g_ml)
    (print_band, tint_band), words = _trust(data)
    if len(films) == 1 and opacity is not None:
        ink, off = replace(start, source=f"{words}; an estimate"), np.zeros(1)
    else:
        absorption, scattering, off = _explained(films, start, white or start)
        ink = replace(
            start,
            absorption=absorption,
            scattering=scattering,
            status="measured" if data.tints and _cards(data) else "estimated",
            srgb=masstone_srgb(absorption, scattering),
            source=f"draw-down: {words}",
        )
    findings += _advice(data, float(off.max()))
    return Identified(ink, float(off.mean()), float(off.max()), print_band, tint_band, tuple(findings))


@dataclass(frozen=True, slots=True, eq=False)
class _Film:
    """One film: coats of this ink and of white in it, what was measured, what it lies on; in air."""

    coats: float
    white_coats: float
    measured: F64
    ground: F64


def _films(data: DrawDown, white: Ink | None, density_g_ml: float) -> list[_Film]:
    black_card = data.black_card if data.black_card is not None else np.full(31, BLACK_CARD_R)
    white_card = data.white_card if data.white_card is not None else np.full(31, WHITE_CARD_R)
    plain = (
        (data.coats, data.over_black, black_card),
        (data.coats, data.over_white, white_card),
        (OPAQUE_COATS, data.masstone, white_card),
    )
    films = [_Film(coats, 0.0, film, card) for coats, film, card in plain if film is not None]
    for percent, film in data.tints:
        if not 0 < percent < 100:
            raise UsageError(f"a tint of {percent:g} %", hint="above 0 and below 100 % by weight")
        white_density = white.density_g_ml if white else 1.5
        share = volume_fractions(np.array([percent, 100 - percent]), np.array([density_g_ml, white_density]))
        films.append(_Film(data.coats * float(share[0]), data.coats * float(share[1]), film, white_card))
    return films


def _explained(films: Sequence[_Film], start: Ink, white: Ink) -> tuple[F64, F64, F64]:
    """Return the K and S that explain the films best, white being known, and the ΔE00 that each film is off by."""
    amounts = np.array([(film.coats, film.white_coats) for film in films])
    measured, grounds = np.stack([film.measured for film in films]), np.stack([film.ground for film in films])
    known_start = np.stack([start.absorption, white.absorption]), np.stack([start.scattering, white.scattering])
    settings = FitSettings(bare_share=0.0, rounds=60)
    absorption, scattering = fit_coefficients(
        amounts, measured, grounds, start=known_start, known=(1,), settings=settings
    )
    look = predict(amounts, absorption, scattering, grounds, bare_share=0.0)
    off = delta_e_2000(reflectance_to_lab(look), reflectance_to_lab(measured))
    return absorption[0], scattering[0], off


def _start(name: str, data: DrawDown, opacity: str | None, kind: str, density_g_ml: float) -> Ink:
    """Return a first guess from the thickest-looking film; the opacity is the word given, or that of the cards."""
    choices = (data.masstone, data.over_white, data.over_black, *(film for _, film in data.tints))
    look = next(film for film in choices if film is not None)
    word = opacity or "good"
    if opacity is None and data.over_black is not None and data.over_white is not None:
        ratio = float(np.mean(data.over_black)) / max(float(np.mean(data.over_white)), 1e-6)
        word = min(CONTRAST_RATIO, key=lambda w: abs(CONTRAST_RATIO[w] - ratio))
    return ink_from_reflectance(name, look, opacity=word, kind=kind, density_g_ml=density_g_ml, source="")


def _cards(data: DrawDown) -> bool:
    return data.over_black is not None and data.over_white is not None


def _trust(data: DrawDown) -> tuple[tuple[float, float], str]:
    """Return the ΔE00 bands (print, tint) to expect, and what the ink rests on."""
    kind = "spectra" if data.spectra else "Lab"
    if _cards(data) and data.tints:
        return (
            (1.0, 0.5) if data.spectra else (1.0, 2.0)
        ), f"{kind} over black and white with {len(data.tints)} tint(s)"
    if _cards(data):
        return (1.5, 8.0), f"{kind} over black and white, no tint"
    if data.tints:
        return (4.0, 2.0), f"{kind} of {len(data.tints)} tint(s), hiding power guessed"
    return (4.0, 6.0), "one swatch and an opacity word"


def _advice(data: DrawDown, worst_de00: float) -> list[Finding]:
    out = []
    if not data.tints:
        text = "without a white tint the tinting strength is a guess"
        out.append(Finding("no-tint", "warn", text, "draw down 10 % of it in white and measure that too"))
    if not _cards(data):
        text = "without films over black and over white the hiding power is a guess"
        out.append(Finding("no-cards", "warn", text, "draw one film over a contrast card"))
    elif data.black_card is None or data.white_card is None:
        out.append(Finding("cards-assumed", "info", "the bare cards were assumed", "measure them beside the film"))
    if worst_de00 > POOR_FIT_DE00:
        text = f"one film is off by ΔE00 {worst_de00:.1f}: the measurements do not fit one ink at one thickness"
        out.append(Finding("poor-fit", "warn", text, "check which film is which, the tint's weights, and the coats"))
    return out


def _without_gloss(data: DrawDown) -> tuple[DrawDown, list[Finding]]:
    """Return the data as 45:0, clipped to what layer optics can carry, and what had to be clipped."""
    shift = OUTER if data.geometry == "specular included" else 0.0
    low = False

    def clean(film: F64 | None) -> F64 | None:
        nonlocal low
        if film is None:
            return None
        low = low or bool(np.any(film - shift < 0))
        return np.clip(film - shift, 1e-4, 0.995)

    tints: Sequence[tuple[float, F64]] = [(p, f) for p, t in data.tints if (f := clean(t)) is not None]
    cleaned = replace(
        data,
        over_black=clean(data.over_black),
        over_white=clean(data.over_white),
        black_card=clean(data.black_card),
        white_card=clean(data.white_card),
        masstone=clean(data.masstone),
        tints=tuple(tints),
        geometry="45:0",
    )
    text = "some bands are darker than the gloss that was to be taken off"
    hint = "the instrument seems to leave the gloss out: drop --specular-included"
    return cleaned, [Finding("gloss", "warn", text, hint)] if low else []
