"""The printed wedge read from a photograph: tints, widths of lines, what held, what stayed open, register.

In: a fit of a photograph to the films of the wedge, and where its tests lie. Out: WedgeFigures. Shares of ink are taken
in linear light between bare cloth nearby and the solid (Murray and Davies, Journal of the Franklin Institute 221:721,
1936), so that they add up over any blur. Cloth in which light spreads prints darker tints than this says.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from sepkit.reading.subject import Patch
from sepkit.reading.tiles import lit

if TYPE_CHECKING:
    from sepkit.film.wedge import Test
    from sepkit.model import F32, F64
    from sepkit.reading.picture import Photo
    from sepkit.reading.screens import Fit
    from sepkit.reading.subject import Subject

SAMPLES_PX_PER_MM = 10.0
STEP_EDGE_MM = 1.5
"""A tone step is read this far inside its edges."""
NEAR_MM = 5.0
"""Bare cloth within this much of a test is its white."""
BARE_MM = 0.45
ACROSS_MM = 0.9
"""A line is summed this far to both sides."""
ALONG_MM = 0.5
"""A break shorter than this is none."""
HOLDS = 0.45
"""A line is there where it has more of its width's ink than this."""
MEAN_HOLDS, EACH_HOLDS = 0.93, 0.85
"""Shares of its length that a line must have to count as unbroken: on average of four bars, and in each."""
OPEN_MM = 0.035
"""A gap that shows this much cloth is open."""
WIDTHS_READ_MM = (1.0, 0.5)


@dataclass(frozen=True, slots=True)
class ReadTone:
    """A tone step: ruling, tint asked and tint printed, 0..1."""

    lpi: float
    asked: float
    printed: float


@dataclass(frozen=True, slots=True)
class WedgeFigures:
    """What one photograph of the wedge says."""

    tones: tuple[ReadTone, ...]
    widths: tuple[tuple[float, float], ...]
    """(width on the film, width printed), mm."""
    held: tuple[tuple[float, float], ...]
    """(width of a line, share of its length that is there)."""
    open_mm: tuple[tuple[float, float], ...]
    """(width of a gap, width that is open)."""
    thinnest_line_mm: float | None
    thinnest_gap_mm: float | None
    register_mm: tuple[float, float] | None
    register_band_mm: float


def read_wedge(subject: Subject, photo: Photo, fit: Fit, tests: Sequence[Test]) -> WedgeFigures:
    """Return the figures of one photograph; None where a test cannot be told."""
    reader = _Reader(subject, photo, fit)
    tones, widths, held, gaps = [], [], [], []
    for test in tests:
        if test.test == "tone":
            tones.append(ReadTone(test.lpi, test.asked / 100, float(np.clip(reader.tint(test), 0, 1))))
        elif test.test == "gap":
            gaps.append((test.asked, reader.gap(test)))
    for width in sorted({test.asked for test in tests if test.test == "line"}):
        bars = [reader.line(test) for test in tests if test.test == "line" and test.asked == width]
        if width in WIDTHS_READ_MM:
            widths.append((width, float(np.median([printed for printed, _ in bars]))))
        shares = [share for _, share in bars]
        held.append((width, float(np.mean(shares)) if min(shares) >= EACH_HOLDS else min(shares)))
    second = fit.screens[1]
    told = not second.why
    return WedgeFigures(
        tuple(tones),
        tuple(widths),
        tuple(held),
        tuple(gaps),
        _thinnest([(width, share >= MEAN_HOLDS) for width, share in held]),
        _thinnest([(width, left >= OPEN_MM) for width, left in gaps]),
        (second.dx_mm, second.dy_mm) if told else None,
        second.band_mm,
    )


def _thinnest(good: Sequence[tuple[float, bool]]) -> float | None:
    """Return the least width from which on all are good."""
    found = None
    for width, ok in sorted(good, reverse=True):
        if not ok:
            break
        found = width
    return found


class _Reader:
    """Shares of ink on the first screen's film, in a photograph that was fitted."""

    def __init__(self, subject: Subject, photo: Photo, fit: Fit) -> None:
        self.subject, self.photo, self.state = subject, photo, fit.state
        colours = fit.state.look.colours
        self.cloth = colours[0]
        self.step = colours[1] - colours[0]

    def ink(self, x: float, y: float, width: float, height: float) -> tuple[F32, Patch]:
        """Return the share of ink (h, w) over a rectangle of the film, against bare cloth nearby."""
        r = SAMPLES_PX_PER_MM
        around = Patch(
            x - NEAR_MM,
            y - NEAR_MM,
            round((width + 2 * NEAR_MM) * r),
            round((height + 2 * NEAR_MM) * r),
            r,
        )
        seen = lit(self.photo, self.state.warp, self.state.look, self.subject, around)
        xx, yy = np.meshgrid(around.xs, around.ys)
        bare = np.isfinite(seen[..., 0])
        for k in range(self.subject.count):
            bare &= self.subject.distance(k, xx, yy) > BARE_MM
        if bare.sum() > 50:
            seen = seen * (self.cloth / np.maximum(np.median(seen[bare], axis=0), 1e-4))
        share = (seen - self.cloth) @ self.step / float(self.step @ self.step)
        edge = round(NEAR_MM * r)
        inner = share[edge : edge + round(height * r), edge : edge + round(width * r)]
        return np.clip(np.nan_to_num(inner), -0.3, 1.3).astype(np.float32), around

    def tint(self, test: Test) -> float:
        """Return the share of a tone step that is inked."""
        pad = STEP_EDGE_MM
        share, _ = self.ink(test.x_mm + pad, test.y_mm + pad, test.width_mm - 2 * pad, test.height_mm - 2 * pad)
        return float(share.mean())

    def line(self, test: Test) -> tuple[float, float]:
        """Return the printed width of a bar in mm, and the share of its length that is there."""
        upright = test.height_mm > test.width_mm
        wide, high = (2 * ACROSS_MM, 0.0) if upright else (0.0, 2 * ACROSS_MM)
        share, _ = self.ink(test.x_mm - wide / 2, test.y_mm - high / 2, test.width_mm + wide, test.height_mm + high)
        profile = share.sum(axis=1 if upright else 0) / SAMPLES_PX_PER_MM
        smooth = _running_mean(profile.astype(np.float64), round(ALONG_MM * SAMPLES_PX_PER_MM))
        return float(np.median(smooth)), float((smooth > HOLDS * test.asked).mean())

    def gap(self, test: Test) -> float:
        """Return the width of a gap that shows cloth, mm."""
        share, _ = self.ink(test.x_mm - 1.2, test.y_mm + 1, test.width_mm + 2.4, test.height_mm - 2)
        profile = share.mean(axis=0)
        beside = round(0.6 * SAMPLES_PX_PER_MM)
        solid = float(np.median(np.concatenate([profile[:beside], profile[-beside:]])))
        return max(0.0, float((1 - profile / max(solid, 0.5)).sum() / SAMPLES_PX_PER_MM))


def _running_mean(profile: F64, length: int) -> F64:
    return np.convolve(profile, np.full(length, 1 / length), mode="valid")
