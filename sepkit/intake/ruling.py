"""Ruled and squared paper: the lines that a sheet was printed with, found and painted over with paper.

In: sRGB of a sheet laid flat, its light evened. Out: the same without its rulings, and how many there were. Rulings are
pale thin lines that run across the whole sheet, at even distances; what a pen drew over them is darker and stays. Each
line is found as one slope and place by votes of strips of the sheet (Duda and Hart, Comm. ACM 15, 1972), then followed
from strip to strip, for paper bends.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from sepkit.colorimetry.srgb import linear_table
from sepkit.coverage.channels import least
from sepkit.intake import tuned

if TYPE_CHECKING:
    from sepkit.model import F32, F64, U8, Bool

Array = np.ndarray[Any, np.dtype[Any]]


@dataclass(frozen=True, slots=True, eq=False)
class _Lines:
    """Lines across a picture: where each runs in the middle of each strip, in its pixels."""

    middles: F64
    """(strips,) x."""
    runs: F64
    """(lines, strips) y."""


def without_ruling(flat: U8) -> tuple[U8, int]:
    """Return an evened sheet (h, w, 3) without its rulings, and their number; the sheet itself where it has none."""
    limits = tuned.RULING
    step = max(1, round(max(flat.shape[:2]) / limits.looked_px))
    small = _darkness(flat, step)
    even = [_even(_lines_across(plane, limits.across_share)) for plane in (small, small.T)]
    if not any(len(lines.runs) for lines in even):
        return flat, 0
    out, count = flat.copy(), 0
    for turned, (plane, lines) in enumerate(zip((small, small.T), even, strict=True)):
        if not len(lines.runs):  # a margin beside ruled lines stands alone, and runs all the way
            lines = _lines_across(plane, limits.margin_share)
        sheet = out.transpose(1, 0, 2) if turned else out
        count += sum(_painted_over(sheet, lines.middles, run, step) for run in lines.runs)
    return (out, count) if count else (flat, 0)


def _darkness(flat: U8, step: int) -> F32:
    """Return (h, w) 0..1 the light that is gone, averaged down."""
    from PIL import Image

    lost = 1 - linear_table()[least(flat)]
    return np.asarray(Image.fromarray(lost).reduce(step), np.float32)


def _lines_across(dark: F32, share: float) -> _Lines:
    """Return the lines that so large a share of the strips votes for, from the top down."""
    from scipy.ndimage import grey_opening, maximum_filter1d

    limits = tuned.RULING
    width = dark.shape[1]
    thin = dark - grey_opening(dark, (2 * limits.half_thin_px + 1, 1))
    wide = maximum_filter1d(thin, 3, axis=0)  # a line that climbs within a strip
    strips = np.array_split(np.arange(width), limits.strips)
    profile = np.stack([np.median(wide[:, strip], axis=1) for strip in strips])
    least = max(limits.least_dark, limits.peak_share * float(np.percentile(profile, limits.peak_percentile)))
    peak = profile >= np.maximum(maximum_filter1d(profile, 5, axis=1), least)
    middles = np.array([float(strip.mean()) for strip in strips])
    found: list[tuple[float, F64]] = []
    votes, slopes = _votes(maximum_filter1d(peak.view(np.uint8), 3, axis=1), middles - width / 2)
    while True:
        at, y = np.unravel_index(int(votes.argmax()), votes.shape)
        if votes[at, y] < share * len(strips):
            break
        found.append((float(y), _followed(peak, y + slopes[at] * (middles - width / 2))))
        votes[:, max(0, y - limits.apart_px) : y + limits.apart_px + 1] = 0
    runs = [run for _, run in sorted(found, key=lambda one: one[0])]
    return _Lines(middles, np.array(runs).reshape(-1, len(strips)))


def _votes(peak: Array, away: F64) -> tuple[Array, F64]:
    """Return how many strips have a line at each slope and place in the middle, (slopes, height), and the slopes."""
    limits = tuned.RULING
    slopes = np.arange(-limits.most_slope, limits.most_slope + 1e-9, 1 / max(abs(away).max(), 1))
    height = peak.shape[1]
    votes = np.zeros((len(slopes), height), np.int32)
    for n, slope in enumerate(slopes):
        for row, by in zip(peak, np.rint(slope * away).astype(int), strict=True):
            low, high = max(0, -by), min(height, height - by)
            votes[n, low:high] += row[low + by : high + by]
    return votes, slopes


def _followed(peak: Bool, run: F64) -> F64:
    """Return a line through the peaks that lie near it; where a strip has none it runs between its neighbours."""
    near = tuned.RULING.follow_px
    known: list[tuple[int, float]] = []
    for strip, y in enumerate(run):
        low = max(0, round(y) - near)
        there = np.flatnonzero(peak[strip, low : round(y) + near + 1])
        if len(there):
            known.append((strip, float(low + there[np.abs(low + there - y).argmin()])))
    at, offset = [strip for strip, _ in known], [y - run[strip] for strip, y in known]
    return np.asarray(run + np.interp(np.arange(len(run)), at, offset)) if known else run


def _even(lines: _Lines) -> _Lines:
    """Return the lines that stand at even distances; none where these are few."""
    limits = tuned.RULING
    if len(lines.runs) < limits.least_lines:
        return _Lines(lines.middles, lines.runs[:0])
    gaps = np.diff(lines.runs.mean(axis=1))
    times = np.maximum(np.rint(gaps / np.median(gaps)), 1)
    pitch = float(np.median(gaps / times))
    even = np.abs(gaps / times - pitch) < limits.uneven * pitch
    beside = np.append(even, False) | np.append(False, even)
    enough = even.sum() >= limits.least_lines - 1 and even.mean() >= limits.even_share
    return _Lines(lines.middles, lines.runs[beside] if enough else lines.runs[:0])


def _painted_over(sheet: U8, middles: F64, run: F64, step: int) -> bool:
    """Paint one line over with paper, in place, where no pen is darker; False for what is no pale line."""
    limits = tuned.RULING
    height, width = sheet.shape[:2]
    x = np.arange(width)
    y = np.rint(np.interp((x + 0.5) / step - 0.5, middles, run) * step + (step - 1) / 2).astype(int)
    reach = limits.reach_px * step + 1
    rows = np.clip(y[:, None] + np.arange(-reach, reach + 1), 0, height - 1)
    dark = 1 - linear_table()[least(sheet[rows, x[:, None]])]
    line = float(np.median(dark.max(axis=1)))
    if not limits.least_dark <= line <= limits.most_dark:
        return False
    pale = dark <= limits.pen_times * line + limits.least_dark
    if pale.all(axis=1).mean() < limits.bare_share:
        return False
    sheet[rows[pale], np.broadcast_to(x[:, None], rows.shape)[pale]] = 255
    return True
