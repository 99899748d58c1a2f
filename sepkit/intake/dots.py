"""Printed dots in a picture: whether it is a scan of print, and at what ruling and angles it was screened.

In: a picture in 8-bit sRGB and its resolution. Out: the Screens found, none for a picture without dots.
A halftone is a square lattice: its spectrum has sharp peaks at one frequency in two directions at right angles, the
same all over the picture, while the picture itself fills the spectrum smoothly. So windows of the picture are
transformed, each place of the spectrum is held against what surrounds it at the same frequency, and the logarithms of
all windows are averaged: what only some windows have goes, what all have stays. Each channel of light is looked at, for
each ink darkens another. Sources: R. Ulichney, Digital Halftoning (MIT Press, 1987), ch. 3 and 5 (spectra of clustered
dots); P. D. Welch, IEEE Trans. Audio Electroacoust. 15:70 (1967) (averaged windowed spectra).
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import TYPE_CHECKING, Any

import numpy as np

if TYPE_CHECKING:
    from sepkit.model import F32, F64, U8

Array = np.ndarray[Any, np.dtype[Any]]


@dataclass(frozen=True, slots=True)
class DotsTuning:
    """Numbers chosen on generated scans and tone art (tests/benchmarks/_art_scans.py)."""

    window_px: int = 256
    windows: int = 12
    """Windows that are looked at, those with most fine contrast of all in a grid."""
    least_lpi: float = 18.0
    """Coarser patterns, over 1.4 mm, are drawn."""
    most_cycles_px: float = 0.36
    """Finer dots have under three pixels each and beat with them: no tone can be told."""
    least_prominence: float = 4.5
    """Mean natural logarithm of a peak over what surrounds it."""
    partner_share: float = 0.8
    """The second peak's height over the strongest of all: dots are as long as they are wide."""
    partner_off: float = 0.07
    """How far the second peak may lie from a right angle and from the same frequency, over the frequency."""
    second_share: float = 0.25
    same_ruling: float = 0.1
    """A further screen's height over the first's, and how its ruling may differ (logarithm): beats lie elsewhere."""
    same_angle_deg: float = 6.0
    """Screens nearer than this are one."""
    least_contrast: float = 1.5
    """Windows whose fine contrast (standard deviation, levels) is less hold nothing."""


TUNED = DotsTuning()
MAD_TO_SIGMA = 1.4826
"""From the median of absolute deviations to a standard deviation, of normal noise."""


@dataclass(frozen=True, slots=True)
class Wave:
    """A peak of the spectrum: (right, down) in cycles a pixel, and how far it stands out."""

    x: float
    y: float
    height: float

    @property
    def cycles_px(self) -> float:
        """Its frequency."""
        return math.hypot(self.x, self.y)


@dataclass(frozen=True, slots=True)
class Screen:
    """One screen of the print that was scanned."""

    lpi: float
    """At the picture's resolution."""
    angle_deg: float
    """0 to 90, counter-clockwise from the horizontal."""
    cycles_px: tuple[float, float]
    """One wave of the lattice, (right, down), cycles a pixel; the other stands at right angles to it."""
    prominence: float
    lines: bool = False
    """Lines, not dots: no second wave; the angle, 0 to 180, is then that of the lines."""


def find_dots(
    rgb: U8, *, dpi: float, tuning: DotsTuning = TUNED, places: Sequence[tuple[int, int]] | None = None
) -> tuple[Screen, ...]:
    """Return the screens of a picture (h, w, 3), the strongest first; none where it holds no printed dots.

    ``places`` are those of ``places_of``, where they are known.
    """
    side = tuning.window_px
    places = places_of(rgb, tuning) if places is None else places
    if len(places) < 2:
        return ()
    found: list[Screen] = []
    for channel in range(3):
        windows = [rgb[y : y + side, x : x + side, channel].astype(np.float32) for y, x in places]
        for screen in _screens(prominence_of(windows), dpi, tuning):
            if all(_apart_deg(screen, other) > tuning.same_angle_deg for other in found):
                found.append(screen)
    return tuple(sorted(found, key=lambda screen: -screen.prominence))


def prominence_of(windows: list[F32]) -> F64:
    """Return how far each place of the spectrum stands above its ring, a mean natural logarithm, (side, side).

    Frequency 0 is in the middle. ``windows`` are squares of one size.
    """
    from scipy.fft import fft2, fftshift

    side = windows[0].shape[0]
    taper = np.hanning(side).astype(np.float32)
    weight = taper[:, None] * taper[None, :]
    ring, order, begins = _rings(side)
    rounding = float((weight**2).sum()) / 12  # the noise of 8 bits: nothing below it is told from nothing
    total = np.zeros((side, side))
    for window in windows:
        power = np.abs(fftshift(fft2((window - window.mean()) * weight))) ** 2
        level = np.log(power + rounding)
        total += level - _ring_medians(level, order, begins)[ring]
    return np.asarray(total / len(windows))


@lru_cache(maxsize=2)
def _rings(side: int) -> tuple[Array, Array, Array]:
    """Return the ring of each place of a spectrum, places ring by ring, and where each ring but one begins."""
    at = np.arange(side) - side // 2
    ring = np.rint(np.hypot(at[:, None], at[None, :]) / 2).astype(np.int64)
    return ring, np.argsort(ring, axis=None, kind="stable"), np.cumsum(np.bincount(ring.ravel()))[:-1]


def _ring_medians(level: Array, order: Array, begins: Array) -> F64:
    return np.array([np.median(part) for part in np.split(level.ravel()[order], begins)])


def places_of(rgb: U8, tuning: DotsTuning) -> list[tuple[int, int]]:
    """Return the corners (y, x) of the windows with most fine contrast; none of a picture smaller than one."""
    side = tuning.window_px
    height, width = rgb.shape[:2]
    if min(height, width) < side:
        return []
    rows = np.unique(np.linspace(0, height - side, max(1, min(8, height // (side // 2)))).astype(int))
    columns = np.unique(np.linspace(0, width - side, max(1, min(8, width // (side // 2)))).astype(int))
    rated, low = [], np.float32(0.99 * tuning.least_contrast / MAD_TO_SIGMA)
    for y in rows.tolist():
        for x in columns.tolist():
            part = rgb[y : y + side, x : x + side, 0].astype(np.float32)
            for channel in (1, 2):
                part += rgb[y : y + side, x : x + side, channel]
            part /= 3
            fine = part[1:-1, 1:-1] - (part[:-2, 1:-1] + part[2:, 1:-1] + part[1:-1, :-2] + part[1:-1, 2:]) / 4
            # Half of the window must hold contrast: a single edge is not dots.
            level = np.abs(fine)
            if 2 * np.count_nonzero(level > low) >= level.size - 2:  # else the median is surely below
                rated.append((float(np.median(level)), y, x))
    rated.sort(reverse=True)
    return [(y, x) for contrast, y, x in rated[: tuning.windows] if contrast * MAD_TO_SIGMA > tuning.least_contrast]


def _screens(prominence: F64, dpi: float, tuning: DotsTuning) -> list[Screen]:
    """Return the lattices of one channel: pairs of peaks at right angles."""
    waves = _waves(prominence, dpi, tuning)
    partners = [(one, _partner(waves, one, prominence.shape[0], tuning)) for one in waves]
    pairs = [Wave(one.x, one.y, min(one.height, other)) for one, other in partners if other]
    pairs.sort(key=lambda pair: -pair.height)
    return _lattices(pairs, waves[0].height if waves else 0.0, dpi, tuning)


def strongest_wave(prominence: F64, dpi: float, tuning: DotsTuning) -> Wave | None:
    """Return the wave that stands out most; of those it is a multiple of, the first."""
    waves = _waves(prominence, dpi, tuning)
    if not waves:
        return None
    top = waves[0]
    bases = [one for one in waves if one.height > 0.5 * top.height and _is_overtone(top, one)]
    return min(bases, key=lambda wave: wave.cycles_px, default=top)


def _waves(prominence: F64, dpi: float, tuning: DotsTuning) -> list[Wave]:
    """Return the peaks of one channel, the highest first."""
    from scipy.ndimage import maximum_filter

    side = prominence.shape[0]
    smooth = _smooth(prominence)
    at = np.arange(side) - side // 2
    radius = np.hypot(at[:, None], at[None, :]) / side
    peak = (smooth == maximum_filter(smooth, 7)) & (smooth > tuning.least_prominence) & (at[:, None] >= 0)
    peak &= (radius * dpi > tuning.least_lpi / 4) & (radius < 0.5) & (radius * side > 4)
    rows, columns = np.nonzero(peak)
    waves = [_refined(smooth, int(y), int(x)) for y, x in zip(rows, columns, strict=True)]
    return sorted(waves, key=lambda wave: -wave.height)


def _smooth(prominence: F64) -> F64:
    """Sum a peak's power over the few bins that the taper spreads it to."""
    from scipy.ndimage import uniform_filter

    return np.asarray(np.log(uniform_filter(np.exp(np.minimum(prominence, 12)), 3, mode="wrap")))


def _refined(level: F64, y: int, x: int) -> Wave:
    """Return a peak's wave, from a parabola through its neighbours."""
    side = level.shape[0]

    def off(before: float, here: float, after: float) -> float:
        bend = before - 2 * here + after
        return 0.0 if bend >= 0 else max(-0.5, min(0.5, 0.5 * (before - after) / bend))

    here = float(level[y, x])
    dx = off(float(level[y, x - 1]), here, float(level[y, (x + 1) % side]))
    dy = off(float(level[y - 1, x]), here, float(level[(y + 1) % side, x]))
    return Wave((x + dx - side // 2) / side, (y + dy - side // 2) / side, here)


def _partner(waves: list[Wave], wave: Wave, side: int, tuning: DotsTuning) -> float:
    """Return the height of the wave at right angles and of the same frequency; 0 where there is none."""
    reach = max(wave.cycles_px * tuning.partner_off, 1.2 / side)
    near = [one.height for one in waves for s in (1, -1) if math.hypot(s * one.x + wave.y, s * one.y - wave.x) < reach]
    return max(near, default=0.0)


def _lattices(pairs: list[Wave], strongest: float, dpi: float, tuning: DotsTuning) -> list[Screen]:
    """Return the strongest pair and those like it, if they are within the rulings of print.

    Where the strongest wave has no partner it is no lattice: stripes, a weave, the frame of a picture.
    """
    if not pairs or pairs[0].height < max(tuning.least_prominence, tuning.partner_share * strongest):
        return []
    first = pairs[0]
    bases = [one for one in pairs if one.height > 0.5 * first.height and _is_overtone(first, one)]
    base = min(bases, key=lambda wave: wave.cycles_px, default=first)
    out: list[Screen] = []
    for wave in (base, *pairs):
        f = wave.cycles_px
        alike = abs(math.log(f / base.cycles_px)) < tuning.same_ruling
        if not (alike and wave.height >= tuning.second_share * base.height):
            continue
        if not (f * dpi >= tuning.least_lpi and f <= tuning.most_cycles_px):
            continue
        screen = Screen(f * dpi, math.degrees(math.atan2(-wave.y, wave.x)) % 90, (wave.x, wave.y), wave.height)
        if all(_apart_deg(screen, other) > tuning.same_angle_deg for other in out):
            out.append(screen)
    return out


def _is_overtone(wave: Wave, base: Wave) -> bool:
    """Tell whether a wave is a sum of whole multiples of ``base`` and the wave at right angles to it, not just one."""
    square = base.x * base.x + base.y * base.y
    along = (wave.x * base.x + wave.y * base.y) / square
    across = (-wave.x * base.y + wave.y * base.x) / square
    whole = abs(along - round(along)) < 0.06 and abs(across - round(across)) < 0.06
    return whole and abs(round(along)) + abs(round(across)) > 1


def _apart_deg(one: Screen, other: Screen) -> float:
    turn = abs(one.angle_deg - other.angle_deg) % 90
    return min(turn, 90 - turn)
