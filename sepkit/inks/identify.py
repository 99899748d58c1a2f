"""From what a printer can measure to K and S.

Out: Ink with absorption and scattering per coat. In, by trust:
draw-downs over black and white card plus a white tint (drawdown.py), one swatch and a word for its opacity (here).
A swatch fixes the ratio K/S only; the word stands for a contrast ratio, and nothing fixes how strongly the ink tints:
such an ink is "estimated", nine of ten prints lie within 6 ΔE00 and mixes within 9 (`bands`).
"""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING, Any, Literal, get_args

import numpy as np

from sepkit.colorimetry.spectral import light_weights
from sepkit.colorimetry.upsampling import srgb8_to_reflectance
from sepkit.errors import UsageError
from sepkit.inks.layers import film_on, from_air, masstone, ratio_of_opaque, to_air
from sepkit.inks.mixing import masstone_srgb
from sepkit.model import Ink

if TYPE_CHECKING:
    from sepkit.model import F64, RGB8

Array = np.ndarray[Any, np.dtype[Any]]

Opacity = Literal["opaque", "good", "medium", "semi", "transparent"]
OPACITIES: tuple[Opacity, ...] = get_args(Opacity)
CONTRAST_RATIO: dict[str, float] = {"opaque": 0.98, "good": 0.90, "medium": 0.70, "semi": 0.40, "transparent": 0.05}
"""Y over black card / Y over white card of one coat (ISO 6504-3 defines the ratio; the words' figures are ours)."""
BLACK_CARD, WHITE_CARD = np.array(0.01), np.array(0.80)
"""Internal reflectances."""
DARK_ABSORPTION = 15.0
"""K per coat of a black: three times the scattering of a usual white. Assumption; one 5 % tint would settle it."""
LEAST_STRENGTH, MOST_STRENGTH = 1e-3, 200.0


def ink_from_swatch(
    name: str,
    srgb: RGB8,
    *,
    opacity: Opacity = "good",
    kind: str = "plastisol",
    density_g_ml: float = 1.2,
    source: str = "one swatch and an opacity word",
) -> Ink:
    """Return an estimated ink whose opaque film looks like ``srgb`` and whose one coat hides as ``opacity`` says.

    S is taken as the same in all bands; its size is found by bisection on the contrast ratio. Raises UsageError for an
    opacity that is not one of the five words.
    """
    reflectance = srgb8_to_reflectance(srgb)
    return ink_from_reflectance(name, reflectance, opacity=opacity, kind=kind, density_g_ml=density_g_ml, source=source)


def ink_from_reflectance(
    name: str, reflectance: F64, *, opacity: str, kind: str, density_g_ml: float, source: str
) -> Ink:
    """Return an estimated ink from the reflectance in air of its opaque film and an opacity word."""
    if opacity not in CONTRAST_RATIO:
        raise UsageError(f'"{opacity}" is not an opacity', where=name, hint="one of " + ", ".join(CONTRAST_RATIO))
    ratio = ratio_of_opaque(from_air(reflectance))
    low, high = LEAST_STRENGTH, MOST_STRENGTH
    for _ in range(50):
        middle = float(np.sqrt(low * high))
        if contrast_ratio(ratio * middle, np.full_like(ratio, middle)) < CONTRAST_RATIO[opacity]:
            low = middle
        else:
            high = middle
    strength = max(float(np.sqrt(low * high)), _dark_strength(ratio, reflectance))
    absorption, scattering = ratio * strength, np.full_like(ratio, strength)
    return Ink(
        name=name,
        absorption=absorption,
        scattering=scattering,
        density_g_ml=density_g_ml,
        kind=kind,
        status="estimated",
        srgb=masstone_srgb(absorption, scattering),
        source=source,
    )


def with_opacity(ink: Ink, opacity: Opacity) -> Ink:
    """Return an estimated ink as a pot that covers so; an ink that was measured stays as it is."""
    if ink.status == "measured":
        return ink
    found = ink_from_reflectance(
        ink.name, masstone(ink), opacity=opacity, kind=ink.kind, density_g_ml=ink.density_g_ml, source=ink.source
    )
    return replace(ink, absorption=found.absorption, scattering=found.scattering)


def contrast_ratio(absorption: Array, scattering: Array) -> float:
    """Return Y over black card / Y over white card of a film (0..1)."""
    y = light_weights()[:, 1]
    black = float(to_air(film_on(absorption, scattering, BLACK_CARD)) @ y)
    white = float(to_air(film_on(absorption, scattering, WHITE_CARD)) @ y)
    return black / white


def _dark_strength(ratio: F64, reflectance: F64) -> float:
    """Return the least S that lets a dark swatch absorb like a black; 0 for light and middle colours.

    A dark film hides whatever its strength is, so its contrast ratio says nothing about how it tints.
    """
    y = light_weights()[:, 1]
    luminance = float(reflectance @ y)
    darkness = max(0.0, 1 - luminance / 0.06)
    return darkness * DARK_ABSORPTION / float(ratio @ y)
