"""Ink colours in a photograph against the plan, with the band that a camera costs.

In: a fit. Out: ΔE00 of each screen's plainest stack, after the photograph is scaled by what of it is known: light
cloth, or on dark cloth the palest stack. Without a chart a phone's colours are off by about 3.6 ΔE00 (median) and 11.6
(95 of 100) where a white garment is the reference (six simulated cameras under eight lamps); so no figure below that
is a verdict, and a screen that is the reference itself is not told.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from sepkit.colorimetry.difference import delta_e_2000
from sepkit.colorimetry.srgb import linear_to_lab

if TYPE_CHECKING:
    from sepkit.reading.screens import Fit
    from sepkit.reading.subject import Subject

BAND_DE00 = 11.6
"""Without a chart, white garment as the reference: 95 of 100 lie within."""
LEAST_SEEN = 60
LIGHT = 0.3
"""Linear light from which on a stack can stand for white."""


@dataclass(frozen=True, slots=True)
class ToldColour:
    """How far a screen's colour is from the plan, ΔE00, and how far that figure may be off."""

    screen: str
    de00: float
    band: float


def told_colours(subject: Subject, fit: Fit) -> tuple[ToldColour, ...]:
    """Return the colours that can be told; none where nothing light stands for white."""
    look = fit.state.look
    seen = np.flatnonzero(look.seen >= LEAST_SEEN)
    planned = subject.colours
    light = [s for s in seen if planned[s].min() > LIGHT]
    if not light:
        return ()
    white = 0 if 0 in light else max(light, key=lambda s: float(planned[s].min()))
    shown = look.colours * (planned[white] / np.maximum(look.colours[white], 1e-4))
    out = []
    for k, name in enumerate(subject.names):
        mine = [s for s in seen if s >> k & 1 and not s >> (k + 1) and s != white]
        if not mine:
            continue
        stack = max(mine, key=lambda s: float(look.seen[s]))
        lab = linear_to_lab(np.stack([shown[stack], planned[stack]]))
        out.append(ToldColour(name, float(delta_e_2000(lab[0], lab[1])), BAND_DE00))
    return tuple(out)
