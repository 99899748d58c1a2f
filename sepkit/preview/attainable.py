"""What of the art ink can be on this cloth: the yardstick that a print is judged against.

In: colours of the art, and what the inks of the shelf print for them on this cloth when every one has its screen. Out:
for any colour of the art the nearest that is to be had. No print is as black as #000000: that is told once, and what a
plan loses on top is told of the plan. Between the colours known, what they shift by is weighed by distance (Shepard,
Proc. 23rd ACM National Conference, 517, 1968).
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from sepkit.colorimetry.srgb import srgb8_to_lab

if TYPE_CHECKING:
    from sepkit.model import F64, RGB8

Array = np.ndarray[Any, np.dtype[Any]]

POWER = 3.0
LEAST_LAB = 0.05
"""Nearer than this a colour is the one known."""


@dataclass(frozen=True, slots=True, eq=False)
class Attainable:
    """Colours of the art, and what they come out as at best; Lab D65/2, (n, 3) each."""

    asked: F64
    best: F64

    @staticmethod
    def of(best: Mapping[RGB8, RGB8], garment: RGB8) -> Attainable | None:
        """Return the yardstick of colours by what they print as at best; bare cloth is itself. None for none."""
        if not best:
            return None
        pairs = [*best.items(), (garment, garment)]
        asked, printed = (srgb8_to_lab(np.array([pair[k] for pair in pairs], np.uint8)) for k in (0, 1))
        return Attainable(asked.astype(np.float64), printed.astype(np.float64))

    def nearest(self, lab: Array) -> F64:
        """Return (m, 3) Lab: each colour of the art as it can be had."""
        away = np.linalg.norm(np.asarray(lab, np.float64)[:, None] - self.asked[None], axis=2)
        weight = np.maximum(away, LEAST_LAB) ** -POWER
        shift = (weight / weight.sum(axis=1, keepdims=True)) @ (self.best - self.asked)
        out: F64 = lab + shift
        return out
