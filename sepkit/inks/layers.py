"""Layer optics: ink films on cloth, per band, by the two-constant Kubelka-Munk theory.

In: absorption K and scattering S of a film as printed (already times its thickness in coats), and a ground.
Out: reflectance or transmittance, 0..1. Arrays broadcast; the last axis is the band.
Inside the film everything is *internal* reflectance; the air surface is Saunderson's. Bare cloth is measured in air, so
its internal reflectance comes from the inverse: a clear film then changes nothing.
Sources: Kubelka, J. Opt. Soc. Am. 38:448 (1948) and 44:330 (1954); Saunderson, J. Opt. Soc. Am. 32:727 (1942).
Film amounts are in coats through a reference screen. Cloth scattering and coverage are assumptions, named below.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Literal

import numpy as np

from sepkit.errors import UsageError

if TYPE_CHECKING:
    from sepkit.model import F64, Ink

Array = np.ndarray[Any, np.dtype[Any]]

OUTER = 0.04
"""k1, reflection at the air side: ((n - 1) / (n + 1))² for n = 1.5 (Fresnel)."""
INNER = 0.6
"""k2, diffuse reflection at the ink side; 0.596 in theory for n = 1.5, practice uses 0.4 to 0.6."""
Geometry = Literal["45:0", "specular included"]

FIRST_COAT_GAP = 0.01
"""Share of cloth that one coat leaves bare (fibres and pinholes); each further coat leaves a tenth. An estimate at the
small end: no published figure for prints on cotton was found, and one coat of black on white cotton is seen as black.
Held by a draw-down on the cloth itself where one is measured."""

CLOTH_SCATTERING_M2_KG = 20.0
"""S of cotton jersey per kg/m²; an assumption (10 to 40 is plausible): measure bare cloth over black and over white."""
CLOTH_ABSORPTION_M2_KG = 0.10

_SMALL = 1e-6


@dataclass(frozen=True, slots=True, eq=False)
class Layer:
    """A free layer: reflectance from above, reflectance from below, transmittance. Internal, 0..1."""

    top: F64
    bottom: F64
    through: F64


def opaque_reflectance(absorption: Array, scattering: Array) -> F64:
    """Return the internal reflectance of a film so thick that more changes nothing; black where S = 0.

    >>> float(opaque_reflectance(np.array(0.25), np.array(1.0)))
    0.5
    """
    k, s = np.asarray(absorption, np.float64), np.asarray(scattering, np.float64)
    return s / np.maximum(s + k + np.sqrt(k * (k + 2 * s)), 1e-300)


def ratio_of_opaque(reflectance: Array) -> F64:
    """Return K/S = (1 - R)² / 2R of an opaque film's internal reflectance, R clipped to 1e-4..0.995.

    >>> float(ratio_of_opaque(np.array(0.5)))
    0.25
    """
    r = np.clip(np.asarray(reflectance, np.float64), 1e-4, 0.995)
    return (1 - r) ** 2 / (2 * r)


def film(absorption: Array, scattering: Array) -> Layer:
    """Return the free layer of a film with K and S times thickness; finite for K, S = 0 and without bound above.

    With z = sqrt(K (K + 2 S)) only exp(-z) and exp(-2 z) are taken.

    >>> white = film(np.array(0.0), np.array(3.0))
    >>> float(white.top), float(white.through)
    (0.75, 0.25)
    """
    k, s = np.asarray(absorption, np.float64), np.asarray(scattering, np.float64)
    z = np.sqrt(k * (k + 2 * s))
    decay = np.exp(-z)
    shrink = np.where(z < _SMALL, 2 * decay, -np.expm1(-2 * z) / np.maximum(z, _SMALL))
    below = (k + s) * shrink + 1 + decay * decay
    reflected = s * shrink / below
    return Layer(reflected, reflected, 2 * decay / below)


def film_on(absorption: Array, scattering: Array, ground: Array) -> F64:
    """Return the internal reflectance of a film on a ground of internal reflectance ``ground``.

    >>> round(float(film_on(np.array(0.0), np.array(3.0), np.array(0.8))), 6)
    0.875
    """
    layer = film(absorption, scattering)
    return layer.top + layer.through**2 * ground / (1 - layer.top * ground)


def over(upper: Layer, lower: Layer) -> Layer:
    """Return two layers in contact as one (Kubelka 1954).

    >>> half, whole = (film(np.array(0.1 * n), np.array(0.5 * n)) for n in (1, 2))
    >>> round(float(over(half, half).through - whole.through), 9) + 0.0
    0.0
    """
    between = 1 - upper.bottom * lower.top
    return Layer(
        upper.top + upper.through**2 * lower.top / between,
        lower.bottom + lower.through**2 * upper.bottom / between,
        upper.through * lower.through / between,
    )


def on_ground(layer: Layer, ground: Array) -> F64:
    """Return the internal reflectance of a layer on an opaque ground."""
    return layer.top + layer.through**2 * ground / (1 - layer.bottom * ground)


def to_air(internal: Array, *, outer: float = OUTER, inner: float = INNER, geometry: Geometry = "45:0") -> F64:
    """Return what an instrument sees of an internal reflectance; 45:0 leaves the gloss out.

    >>> round(float(to_air(np.array(0.5), geometry="specular included")), 7), round(float(to_air(np.array(0.5))), 7)
    (0.3142857, 0.2742857)
    """
    r = np.asarray(internal, np.float64)
    seen = (1 - outer) * (1 - inner) * r / (1 - inner * r)
    return seen + outer if geometry == "specular included" else seen


def from_air(measured: Array, *, outer: float = OUTER, inner: float = INNER, geometry: Geometry = "45:0") -> F64:
    """Return the internal reflectance of a measured one: the inverse of ``to_air``, clipped to 0..1."""
    m = np.asarray(measured, np.float64)
    d = m - outer if geometry == "specular included" else m
    return np.clip(d / ((1 - outer) * (1 - inner) + inner * d), 0.0, 1.0)


def film_in_air(layer: Layer, ground_in_air: Array) -> F64:
    """Return the reflectance in air (45:0) of a layer printed on something measured bare in air.

    Cloth brighter than a glossy white can look (above 0.96) keeps the rest through the film, so that a clear film
    still changes nothing.
    """
    inside = from_air(ground_in_air)
    rest = np.asarray(ground_in_air, np.float64) - to_air(inside)
    return to_air(on_ground(layer, inside)) + layer.through**2 * rest


def covered_share(coats: float | Array) -> F64:
    """Return the share of cloth that ``coats`` of ink cover: 0.99, 0.999, ... for 1, 2, ... coats (an estimate).

    >>> covered_share(np.array([1.0, 2.0])).round(4).tolist()
    [0.99, 0.999]
    """
    return 1 - FIRST_COAT_GAP * 10.0 ** (1 - np.maximum(np.asarray(coats, np.float64), 0.5))


def printed_reflectance(films: Sequence[tuple[Ink, float]], garment_reflectance: Array) -> F64:
    """Return the reflectance in air of inks printed on a garment, (31,).

    ``films`` lists (ink, coats) bottom to top, each flashed before the next, so they stack and do not mix; no film
    gives the garment. Fibres that stick through are garment: R = c R_print + (1 - c) R_garment, c by the coats in all.
    """
    bare = np.asarray(garment_reflectance, np.float64)
    coats = sum(amount for _, amount in films)
    if coats <= 0:
        return bare.copy()
    stack = Layer(np.zeros_like(bare), np.zeros_like(bare), np.ones_like(bare))
    for ink, amount in films:
        stack = over(film(ink.absorption * amount, ink.scattering * amount), stack)
    share = covered_share(coats)
    return share * film_in_air(stack, bare) + (1 - share) * bare


def masstone(ink: Ink) -> F64:
    """Return the reflectance in air of an opaque film of an ink."""
    return to_air(opaque_reflectance(ink.absorption, ink.scattering))


def cloth_strength(
    over_black: Array, over_white: Array, weight_g_m2: float, *, black: float = 0.02, white: float = 0.85
) -> float:
    """Return how strongly a cloth scatters, as a multiple of CLOTH_SCATTERING_M2_KG, from one bare panel.

    In: its reflectance over a black and over a white backing of given reflectances, (31,), and its weight. Closed form
    of the finite film over two grounds (Kubelka 1948), per band; the median counts. Raises UsageError when the panel
    is no lighter over white, as nothing can then be told.
    """
    rb, rw = np.asarray(over_black, np.float64), np.asarray(over_white, np.float64)
    told = (rw - rb > 0.005) & (rb > 0.02)
    if not told.any():
        raise UsageError(
            "the cloth looks the same over black and over white",
            where="cloth",
            hint="one panel only, backings in contact",
        )
    rb, rw = rb[told], rw[told]
    a = ((rw - rb) * (1 + white * black) - (white - black) * (1 + rw * rb)) / (2 * (rw * black - rb * white))
    a = np.maximum(a, 1 + 1e-9)
    b = np.sqrt(a * a - 1)
    film_amount = (_arcoth((a - rb) / b) - _arcoth((a - black) / b)) / b
    strength = float(np.median(film_amount)) / (CLOTH_SCATTERING_M2_KG * weight_g_m2 / 1000)
    if not 0.1 <= strength <= 10:
        raise UsageError(
            f"the measured cloth scatters {strength:.2g} times as usual",
            where="cloth",
            hint="0.1 to 10; check the backings",
        )
    return strength


def _arcoth(x: Array) -> F64:
    safe = np.maximum(x, 1 + 1e-12)
    out: F64 = 0.5 * np.log((safe + 1) / (safe - 1))
    return out


def cloth_layer(garment_reflectance: Array, weight_g_m2: float) -> Layer:
    """Return cloth as a scattering layer in air terms, by weight.

    S is the assumed constant times weight. K is what makes cloth of this weight, backed by itself (as garments are seen
    and measured: the other panel behind), have ``garment_reflectance``.
    """
    scattering = CLOTH_SCATTERING_M2_KG * weight_g_m2 / 1000
    ratio = ratio_of_opaque(np.clip(np.asarray(garment_reflectance, np.float64), 1e-4, 0.995))
    return film(ratio * scattering, np.full_like(ratio, scattering))
