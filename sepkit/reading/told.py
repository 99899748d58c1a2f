"""What a fit tells in figures and in the press's words: screens, and several photographs together.

In: Fits. Out: ToldScreen rows. A doubtful figure is none: then ``why`` says so. Right and down are as the print is
looked at, its top up; turns are clockwise.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from statistics import median
from typing import TYPE_CHECKING

from sepkit.reading.screens import LEAST_GROWTH_BAND_MM

if TYPE_CHECKING:
    from sepkit.reading.screens import Fit, ReadScreen

MOST_GROWTH_BAND_MM = LEAST_GROWTH_BAND_MM + 0.022
"""A growth is not told where its tiles leave more than these 0.022 mm open, beside what is the same for all."""


@dataclass(frozen=True, slots=True)
class ToldScreen:
    """A screen as told; None where it cannot be, and then ``why``."""

    name: str
    dx_mm: float | None
    dy_mm: float | None
    turn_deg: float | None
    band_mm: float
    turn_band_deg: float
    growth_mm: float | None
    growth_band_mm: float
    reference: bool
    discs: int
    why: str = ""
    at_mm: tuple[float, float] | None = None
    """Where it lies off by that, and what it turns about: mm right and down on the film."""

    @property
    def off_mm(self) -> float:
        """How far its print lies off, 0 where it is not told."""
        return math.hypot(self.dx_mm or 0.0, self.dy_mm or 0.0)

    def move(self) -> str:
        """Return what to do with the screen, as said at the press."""
        if self.reference:
            return "the screen that others are told against"
        if self.why or self.dx_mm is None or self.dy_mm is None:
            return f"cannot be told: {self.why}"
        moves = [
            f"{abs(value):.2f} mm {back if value > 0 else forth}"
            for value, back, forth in ((self.dx_mm, "left", "right"), (self.dy_mm, "up", "down"))
            if abs(value) > self.band_mm
        ]
        words = ["move it " + ", ".join(moves)] if moves else []
        if self.turn_deg is not None and abs(self.turn_deg) > max(self.turn_band_deg, 0.01):
            way = "anticlockwise" if self.turn_deg > 0 else "clockwise"
            about = "" if self.at_mm is None else " about {:.0f} mm right, {:.0f} mm down".format(*self.at_mm)
            words.append(f"turn it {abs(self.turn_deg):.2f}° {way}{about}")
        return f"{', '.join(words) or 'it is on register'} (± {self.band_mm:.2f} mm)"

    def grown(self) -> str:
        """Return what its edges did, empty where that is not told."""
        if self.growth_mm is None:
            return ""
        band = 1000 * self.growth_band_mm
        if abs(1000 * self.growth_mm) <= band:
            return f"its edges held (± {band:.0f} µm)"
        way = "grew" if self.growth_mm > 0 else "shrank"
        return f"its edges {way} {abs(1000 * self.growth_mm):.0f} µm (± {band:.0f})"


def told_screens(fits: Sequence[Fit]) -> tuple[ToldScreen, ...]:
    """Return the screens of one print in several photographs: the medians of those that tell them.

    Photographs that name another reference screen than the first do not count.
    """
    reference = fits[0].state.reference
    same = [fit for fit in fits if fit.state.reference == reference]
    return tuple(
        _together([fit.screens[k] for fit in same], reference=k == reference) for k in range(len(fits[0].screens))
    )


def _together(seen: Sequence[ReadScreen], *, reference: bool) -> ToldScreen:
    good = [one for one in seen if not one.why]
    first = seen[0]
    grown = [one for one in seen if one.growth_band_mm < MOST_GROWTH_BAND_MM]
    growth = median(one.fit.growth_mm for one in grown) if grown else None
    growth_band = max((one.growth_band_mm for one in grown), default=first.growth_band_mm)
    if not good:
        return ToldScreen(
            first.name, None, None, None, first.band_mm, 0.0, growth, growth_band, reference, first.discs, first.why
        )
    dx, dy = median(one.dx_mm for one in good), median(one.dy_mm for one in good)
    apart = max(math.hypot(one.dx_mm - dx, one.dy_mm - dy) for one in good)
    return ToldScreen(
        first.name,
        dx,
        dy,
        math.degrees(median(one.fit.turn for one in good)),
        max(median(one.band_mm for one in good), apart),
        math.degrees(median(one.turn_band for one in good)),
        growth,
        growth_band,
        reference,
        first.discs,
        at_mm=(median(one.at_mm[0] for one in good), median(one.at_mm[1] for one in good)),
    )
