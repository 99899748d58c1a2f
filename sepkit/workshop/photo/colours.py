"""Ink colours in a photograph: against the plan or an approved print in the same photograph, always with a band.

In: a fit, and a chart's correction or the fit of an approved print. Out: ΔE00 of each screen's plainest stack. Without
a chart the photograph is scaled by what of it is known: light cloth, or on dark cloth the palest stack. A phone's
colours are then off by about 3.6 ΔE00 (median) and 11.6 (95 of 100); so no figure below that is a verdict, and a screen
that is the reference itself is not told. Two prints side by side share camera and lamp: their difference is told
closely.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

import numpy as np

from sepkit.colorimetry.difference import delta_e_2000
from sepkit.colorimetry.srgb import linear_to_lab

if TYPE_CHECKING:
    from sepkit.model import F64
    from sepkit.reading.camera import Correction
    from sepkit.reading.light import Look
    from sepkit.reading.screens import Fit
    from sepkit.reading.subject import Subject

BAND_DE00 = 11.6
"""Without a chart, white garment as the reference: 95 of 100 lie within."""
APPROVED_BAND_DE00, APPROVED_SHARE = 0.7, 0.15
"""Against an approved print in the same photograph: at least so much, and this share of the difference."""
LEAST_SEEN = 60
LIGHT = 0.3
"""Linear light from which on a stack can stand for white."""
WHITE = 0.84
"""Where white is put for differences, linear light."""

Against = Literal["plan", "approved print"]


@dataclass(frozen=True, slots=True)
class ToldColour:
    """How far a screen's colour is from the plan or the approved print, ΔE00, and how far that figure may be off."""

    screen: str
    de00: float
    band: float
    against: Against = "plan"


def told_colours(subject: Subject, fit: Fit, chart: Correction | None = None) -> tuple[ToldColour, ...]:
    """Return the colours that can be told against the plan; none where nothing tells what white is."""
    look, planned = fit.state.look, subject.colours
    seen = np.flatnonzero(look.seen >= LEAST_SEEN)
    white: int | None = None
    if chart is not None:
        labs, band = chart.lab(look.colours), chart.band_de00
    else:
        light = [int(s) for s in seen if planned[s].min() > LIGHT]
        if not light:
            return ()
        white = 0 if 0 in light else max(light, key=lambda s: float(planned[s].min()))
        shown = look.colours * (planned[white] / np.maximum(look.colours[white], 1e-4))
        labs, band = np.asarray(linear_to_lab(shown), np.float64), BAND_DE00
    aim = np.asarray(linear_to_lab(planned), np.float64)
    return tuple(
        ToldColour(name, float(delta_e_2000(labs[stack], aim[stack])), band)
        for name, stack in _plainest(subject, look.seen)
        if stack != white
    )


def _plainest(subject: Subject, seen: F64) -> list[tuple[str, int]]:
    """Return for each screen the stack that shows it on top most, where it is seen."""
    out = []
    for k, name in enumerate(subject.names):
        mine = [s for s in range(len(seen)) if seen[s] >= LEAST_SEEN and s >> k & 1 and not s >> (k + 1)]
        if mine:
            out.append((name, max(mine, key=lambda s: float(seen[s]))))
    return out


def to_approved(subject: Subject, test: Fit, approved: Fit) -> tuple[ToldColour, ...]:
    """Return each screen's colour against an approved print in the same photograph; bare cloth tells both lights."""
    one, other = test.state.look, approved.state.look
    both = np.minimum(one.seen, other.seen)
    if both[0] < LEAST_SEEN:
        return ()
    gain = one.colours[0] / np.maximum(other.colours[0], 1e-4)
    out = []
    for name, stack in _plainest(subject, both):
        told = difference_seen(one.colours[stack], other.colours[stack] * gain, _white(subject, one))
        out.append(ToldColour(name, told, float(np.hypot(APPROVED_BAND_DE00, APPROVED_SHARE * told)), "approved print"))
    return tuple(out)


def _white(subject: Subject, look: Look) -> F64:
    """Return what white would show as: by the palest stack that is seen, scaled to WHITE."""
    seen = np.flatnonzero(look.seen >= LEAST_SEEN)
    palest = max(seen, key=lambda s: float(subject.colours[s].min()))
    return np.asarray(look.colours[palest] * WHITE / np.maximum(subject.colours[palest], 0.02), np.float64)


def difference_seen(one: F64, other: F64, white: F64) -> float:
    """Return ΔE00 between two colours (linear, (3,)) of one photograph in which white shows as ``white``."""
    labs = np.asarray(
        linear_to_lab(np.clip(np.stack([one, other]) * WHITE / np.maximum(white, 1e-4), 0, 1)), np.float64
    )
    return float(delta_e_2000(labs[0], labs[1]))
