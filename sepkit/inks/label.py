"""The printed inner neck label: legible inside, not seen outside.

In: a garment (reflectance, g/m², fibre), white and tint ink. Out: a curve over the tint's share by weight: ΔE00 inside,
and ΔE00 outside on three backings: the garment's own other panel (lying flat), light and dark skin (worn).
Cloth is a scattering layer whose strength per kg/m² is an assumption (layers.py), so each outside figure has a band for
half and twice that strength, or for a fifth more and less where the bare cloth was measured. Ink sinks in: PENETRATION
of the cloth's weight belongs to the print. Printed text is blurred by the cloth, so thin strokes show less than these
solid areas: outside figures are upper bounds.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

import numpy as np

from sepkit.colorimetry.difference import delta_e_2000
from sepkit.colorimetry.spectral import reflectance_to_lab
from sepkit.inks.layers import Layer, cloth_layer, film, film_in_air, on_ground, over
from sepkit.inks.mixing import mix
from sepkit.model import Finding

if TYPE_CHECKING:
    from sepkit.model import F64, Garment, Ink

Outside = Literal["hidden", "limit", "plain"]
PERCENTS = (0.0, 0.5, 1.0, 1.5, 2.0, 2.5, 3.0, 4.0, 5.0, 7.0, 10.0, 15.0, 20.0, 30.0, 50.0, 75.0, 100.0)
LEGIBLE_DE00 = 10.0
"""Inside: legible from here on. Our threshold, to be confirmed by eye."""
HIDDEN_DE00 = 1.0
"""Outside: not seen below this; seen if you look up to PLAIN_DE00, plain above. Ours, to be confirmed by eye."""
PLAIN_DE00 = 2 * HIDDEN_DE00
"""Outside: plain to see above this. Ours as well."""
ASSUMED_SPREAD, MEASURED_SPREAD = 2.0, 1.2
PENETRATION = 0.15
LAY_DOWN_G_M2 = 60.0
"""Ink on one coat of a label through a fine mesh, plus what stays in it (assumption)."""
STAGING_G = 30.0
"""Ink that a screen needs before it prints, whatever the count (common practice)."""
LIGHT_SKIN = (0.25, 0.30, 0.60)
DARK_SKIN = (0.05, 0.06, 0.16)
"""Reflectance at 400, 550 and 700 nm, straight lines between: plausible values, from memory."""


@dataclass(frozen=True, slots=True)
class LabelPoint:
    """One tint share and how it is seen. ``worn`` is the worse of the skins."""

    percent: float
    lab: tuple[float, float, float]
    """Inside, printed."""
    inside_de00: float
    lightness_step: float
    """L* of the label minus L* of the cloth."""
    flat_de00: float
    worn_de00: float
    outside_low_de00: float
    """Worst of flat and worn if the cloth scatters as strongly as it may."""
    outside_high_de00: float
    """Worst of flat and worn if the cloth scatters as weakly as it may."""

    @property
    def outside_de00(self) -> float:
        """The worse of flat and worn."""
        return max(self.flat_de00, self.worn_de00)

    @property
    def reads(self) -> bool:
        """Whether it is legible inside."""
        return self.inside_de00 >= LEGIBLE_DE00

    @property
    def outside(self) -> Outside:
        """How it shows outside: hidden, at the limit (seen if you look), or plain."""
        if self.outside_de00 <= HIDDEN_DE00:
            return "hidden"
        return "limit" if self.outside_de00 <= PLAIN_DE00 else "plain"


@dataclass(frozen=True, slots=True)
class LabelAdvice:
    """The curve, the range of tint that serves, the share to start with, and what to know."""

    points: tuple[LabelPoint, ...]
    range_percent: tuple[float, float] | None
    best_percent: float
    findings: tuple[Finding, ...]

    @property
    def best(self) -> LabelPoint:
        """The point of the share to start with."""
        return next(point for point in self.points if point.percent == self.best_percent)


def label_curve(
    garment: Garment,
    white: Ink,
    tint: Ink,
    *,
    percents: Sequence[float] = PERCENTS,
    coats: float = 1.0,
    strength: float | None = None,
) -> tuple[LabelPoint, ...]:
    """Return the label's look for each share (0..100 % by weight) of ``tint`` in ``white``.

    ``strength`` is the measured scattering of the cloth as a multiple of the assumed one (layers.cloth_strength).
    """
    middle, spread = (1.0, ASSUMED_SPREAD) if strength is None else (strength, MEASURED_SPREAD)
    bare = reflectance_to_lab(garment.reflectance)
    points = []
    for percent in percents:
        ink = mix([(white, 100 - percent), (tint, percent)])
        ink_film = film(ink.absorption * coats, ink.scattering * coats)
        lab = reflectance_to_lab(film_in_air(ink_film, garment.reflectance))
        usual, firm, loose = (_outside(garment, ink_film, middle * s) for s in (1.0, spread, 1 / spread))
        points.append(
            LabelPoint(
                percent,
                (float(lab[0]), float(lab[1]), float(lab[2])),
                float(delta_e_2000(lab, bare)),
                float(lab[0] - bare[0]),
                usual[0],
                max(usual[1:]),
                max(firm),
                max(loose),
            )
        )
    return tuple(points)


def label_advice(
    garment: Garment, white: Ink, tint: Ink, *, coats: float = 1.0, strength: float | None = None
) -> LabelAdvice:
    """Return the curve and a recommendation: legible inside, and outside hidden or, failing that, least seen."""
    points = label_curve(garment, white, tint, coats=coats, strength=strength)
    legible = [p for p in points if p.reads]
    if not legible:
        best = max(points, key=lambda p: p.inside_de00)
        text = f"no share of {tint.name} is legible on {garment.name}: at most ΔE00 {best.inside_de00:.1f}"
        finding = Finding("label-unreadable", "error", text, "take an ink that differs more from the cloth")
        return LabelAdvice(points, None, best.percent, (finding,))
    best = min(legible, key=lambda p: (max(p.outside_de00, HIDDEN_DE00), p.percent))
    serving = [p for p in legible if p.outside_de00 <= max(HIDDEN_DE00, best.outside_de00 * 1.1)]
    run = _run_around(points, serving, best)
    return LabelAdvice(points, run, best.percent, tuple(_findings(garment, best, points[-1], strength)))


def label_ink_g(area_mm2: float, count: int, *, waste_share: float = 0.2) -> float:
    """Return grams of ink for ``count`` labels of ``area_mm2``, with what a screen needs to start."""
    return STAGING_G + area_mm2 * 1e-6 * LAY_DOWN_G_M2 * count * (1 + waste_share)


def _outside(garment: Garment, ink_film: Layer, strength: float) -> tuple[float, float, float]:
    """Return ΔE00 outside, printed against bare: lying flat, worn on light skin, worn on dark skin."""
    weight = garment.weight_g_m2 * strength
    whole = cloth_layer(garment.reflectance, weight)
    outer = over(cloth_layer(garment.reflectance, weight * (1 - PENETRATION)), ink_film)
    backings = (on_ground(whole, np.zeros_like(garment.reflectance)), _skin(LIGHT_SKIN), _skin(DARK_SKIN))
    out = []
    for backing in backings:
        printed, bare = on_ground(outer, backing), on_ground(whole, backing)
        out.append(float(delta_e_2000(reflectance_to_lab(printed), reflectance_to_lab(bare))))
    return out[0], out[1], out[2]


def _skin(three: tuple[float, float, float]) -> F64:
    curve: F64 = np.interp(np.arange(400, 701, 10), (400, 550, 700), three)
    return curve


def _run_around(points: tuple[LabelPoint, ...], serving: list[LabelPoint], best: LabelPoint) -> tuple[float, float]:
    """Return the lowest and highest share of the unbroken run of serving points that holds ``best``."""
    index = points.index(best)
    low = high = index
    while low > 0 and points[low - 1] in serving:
        low -= 1
    while high + 1 < len(points) and points[high + 1] in serving:
        high += 1
    return points[low].percent, points[high].percent


def _findings(garment: Garment, best: LabelPoint, pure: LabelPoint, strength: float | None) -> list[Finding]:
    out = []
    if best.outside != "hidden":
        limit = "at the limit of what is seen" if best.outside == "limit" else "plain to see"
        text = (
            f"on {garment.weight_g_m2:g} g/m² the best legible tint is {limit} outside: ΔE00 {best.outside_de00:.1f} "
            f"(the pure tint ink {pure.outside_de00:.1f})"
        )
        hint = "use thin strokes, heavier cloth, or a lighter label; print one and look at it worn and flat"
        out.append(Finding("label-shows", "warn", text, hint))
    if strength is None:
        text = (
            f"cloth scattering is assumed: ΔE00 outside {best.outside_low_de00:.1f} to {best.outside_high_de00:.1f} "
            "for cloth of twice or half the strength"
        )
        hint = "measure one bare panel over black and over white: --cloth-black, --cloth-white"
        out.append(Finding("label-cloth-assumed", "info", text, hint))
    if garment.polyester_share > 0.5:
        text = f"{garment.name} is mostly polyester: its dye may creep into a light label with heat and time"
        out.append(Finding("label-dye", "warn", text, "use a low-cure ink that blocks dye, and look again after a day"))
    return out
