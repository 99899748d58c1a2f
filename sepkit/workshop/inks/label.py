"""The inner neck label: the tint that is legible inside and not seen outside, and the grams for a run of labels.

In: a garment, white and tint ink, the label's size in mm, how many. Out: the curve over the tint, a recommendation,
doses in g, the curve as PNG.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from pathlib import Path
from typing import TYPE_CHECKING

from sepkit.files.shelf.colours import parse_colour
from sepkit.inks.doses import Dose, LetDown, let_downs, weigh_out, weighing_findings
from sepkit.inks.label import LabelAdvice, LabelPoint, label_advice, label_ink_g
from sepkit.inks.layers import cloth_strength
from sepkit.inks.looks import Look, look_of_lab
from sepkit.workshop.inks import SCALE_STEP_G
from sepkit.workshop.inks.pictures import write_label_curve

if TYPE_CHECKING:
    from sepkit.files.shelf.shelf import Shelf
    from sepkit.model import Finding, Garment, Ink

COARSE_PERCENT = (0.0, 1.0, 5.0, 20.0, 100.0)
"""Tints that are always worth showing."""


@dataclass(frozen=True, slots=True)
class BarePanel:
    """Colours of one bare panel of the cloth on black and on white, to calibrate how it scatters."""

    on_black: str
    on_white: str


@dataclass(frozen=True, slots=True)
class LabelRequest:
    """A garment, its cloth, the inks, the run of labels."""

    garment: str
    weight_g_m2: float | None = None
    """None: the garment's own."""
    white: str = "white"
    tint: str = "black"
    coats: float = 1.0
    size_mm: tuple[float, float] = (60.0, 30.0)
    count: int = 50
    step_g: float = SCALE_STEP_G
    panel: BarePanel | None = None


@dataclass(frozen=True, slots=True)
class LabelRow:
    """One tint, its look inside, whether it is the advised one, and whether it helps to choose."""

    point: LabelPoint
    look: Look
    advised: bool
    telling: bool


@dataclass(frozen=True, slots=True, eq=False)
class LabelPlan:
    """The curve with its advice, the doses to start with, what to know, and the picture that was written."""

    garment: Garment
    cloth_strength: float | None
    """Scattering of the cloth as a multiple of what is assumed; None where it was not measured."""
    white: Ink
    tint: Ink
    advice: LabelAdvice
    rows: tuple[LabelRow, ...]
    doses: tuple[Dose, ...]
    let_downs: tuple[LetDown, ...]
    findings: tuple[Finding, ...]
    curve: Path | None


def plan_label(request: LabelRequest, shelf: Shelf, *, curve: Path | None = None, force: bool = False) -> LabelPlan:
    """Return the tint for a neck label and its doses, and write the curve as PNG.

    Raises UsageError, NotFoundError, or WriteError when the picture exists and ``force`` is False.
    """
    garment = shelf.garment(request.garment)
    if request.weight_g_m2 is not None:
        garment = replace(garment, weight_g_m2=request.weight_g_m2)
    white, tint = shelf.ink(request.white), shelf.ink(request.tint)
    strength = _strength(request.panel, garment.weight_g_m2)
    advice = label_advice(garment, white, tint, coats=request.coats, strength=strength)
    doses = _doses(request, white, tint, advice.best_percent)
    if curve is not None:
        write_label_curve(advice, garment, tint.name, curve, force=force)
    return LabelPlan(
        garment=garment,
        cloth_strength=strength,
        white=white,
        tint=tint,
        advice=advice,
        rows=_rows(advice),
        doses=doses,
        let_downs=let_downs(doses, request.step_g),
        findings=(*advice.findings, *weighing_findings(doses, request.step_g)),
        curve=curve,
    )


def _strength(panel: BarePanel | None, weight_g_m2: float) -> float | None:
    if panel is None:
        return None
    black = parse_colour(panel.on_black, what="--cloth-black").target.reflectance
    white = parse_colour(panel.on_white, what="--cloth-white").target.reflectance
    return cloth_strength(black, white, weight_g_m2)


def _doses(request: LabelRequest, white: Ink, tint: Ink, percent: float) -> tuple[Dose, ...]:
    width_mm, height_mm = request.size_mm
    batch_g = float(round(label_ink_g(width_mm * height_mm * request.coats, request.count), 0))
    shares = [(white, 1 - percent / 100), (tint, percent / 100)]
    return tuple(dose for dose in weigh_out(shares, batch_g, request.step_g) if dose.mass_share > 0)


def _rows(advice: LabelAdvice) -> tuple[LabelRow, ...]:
    """Return all tints; telling are a coarse row of all, and every one around the recommended ones."""
    best = advice.points.index(advice.best)
    ends = advice.range_percent or (advice.best_percent, advice.best_percent)
    return tuple(
        LabelRow(
            point,
            look_of_lab(point.lab),
            advised=point.percent == advice.best_percent,
            telling=point.percent in (*COARSE_PERCENT, *ends) or abs(place - best) <= 1,
        )
        for place, point in enumerate(advice.points)
    )
