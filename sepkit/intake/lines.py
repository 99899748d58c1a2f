"""Line screens in a picture: parallel lines that swell and thin with the tone they stand for.

In: a picture in 8-bit sRGB and its resolution. Out: its Screens, of dots or of lines, none for a picture without them.
A line screen has one sharp peak in the spectrum, the same all over the picture, and no partner at right angles. So have
drawn stripes; but those are equally wide wherever they run, while lines that stand for tones cover a twentieth of their
pitch here and most of it there. Coarse lines are drawn to be seen, as engraved shading is: told, they stay lines.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np

from sepkit.intake import tuned
from sepkit.intake.dots import TUNED, Screen, find_dots, places_of, prominence_of, strongest_wave

if TYPE_CHECKING:
    from sepkit.intake.dots import Wave
    from sepkit.model import U8

MOST_SQUARES = 40  # each way, of those that lines are looked at in


def find_screens(rgb: U8, *, dpi: float) -> tuple[Screen, ...]:
    """Return the screens of dots of a picture (h, w, 3), else its line screen; none where it holds neither."""
    places = places_of(rgb, TUNED)
    dots = find_dots(rgb, dpi=dpi, places=places)
    if dots:
        return dots
    found = find_lines(rgb, dpi=dpi, places=places)
    return () if found is None else (found,)


def find_lines(rgb: U8, *, dpi: float, places: Sequence[tuple[int, int]] | None = None) -> Screen | None:
    """Return the line screen of a picture; its angle is that of the lines. ``places``: as ``find_dots`` takes them."""
    side = TUNED.window_px
    places = places_of(rgb, TUNED) if places is None else places
    if len(places) < 2:
        return None
    windows = [rgb[y : y + side, x : x + side].mean(axis=2, dtype=np.float32) for y, x in places]
    wave = strongest_wave(prominence_of(windows), dpi, TUNED)
    limits = tuned.LINES
    if wave is None or wave.height < limits.least_prominence:
        return None
    f = wave.cycles_px
    if f * dpi < limits.least_coarse_lpi or f > TUNED.most_cycles_px or not _swell(rgb, wave):
        return None
    angle = (math.degrees(math.atan2(-wave.y, wave.x)) + 90) % 180
    return Screen(f * dpi, angle, (wave.x, wave.y), wave.height, lines=True)


def drawn_to_be_seen(screen: Screen) -> bool:
    """Tell whether these are lines that the eye sees one by one."""
    return screen.lines and screen.lpi < tuned.LINES.least_lpi


def _swell(rgb: U8, wave: Wave) -> bool:
    """Tell whether lines are wide in some places of the picture and narrow in others, and are there in many."""
    limits = tuned.LINES
    block = max(8, round(limits.block_pitches / wave.cycles_px))
    y, x = np.mgrid[0:block, 0:block]
    turn = np.exp(-2j * np.pi * (wave.x * x + wave.y * y))
    height, width = rgb.shape[:2]
    rows = np.linspace(0, height - block, min(MOST_SQUARES, height // block)).astype(int)
    columns = np.linspace(0, width - block, min(MOST_SQUARES, width // block)).astype(int)
    share = []
    for top in rows.tolist():
        for left in columns.tolist():
            part = rgb[top : top + block, left : left + block].mean(axis=2, dtype=np.float32)
            light, dark = (float(v) for v in np.percentile(part, (97, 3)))
            swing = 2 * abs(complex((part * turn).mean()))
            if light - dark >= limits.least_contrast and swing >= limits.least_swing * (light - dark):
                share.append((light - float(part.mean())) / (light - dark))
    if len(share) < limits.lined_share * len(rows) * len(columns):
        return False
    low, high = np.percentile(share, (10, 90))
    return bool(high - low > limits.swell)
