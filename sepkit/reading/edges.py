"""Edges: lines that did not hold, the thinnest that did, and base that peeks out.

In: a fit. Out: lost pieces of thin lines with their places on the film; mm2 of bare base beyond what the plan leaves.
Growth itself is a number of the fit. Limits were chosen on simulated photographs.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from sepkit.reading.mixing import encoded, mixed
from sepkit.reading.subject import Patch
from sepkit.reading.tiles import ScreenFit, coverages, lit, to_film

if TYPE_CHECKING:
    from sepkit.model import F32, F64, Bool
    from sepkit.reading.picture import Photo
    from sepkit.reading.screens import Fit
    from sepkit.reading.subject import Subject

PX_PER_MM = 8.0
THIN_MM = 0.42
"""Lines up to this width are watched."""
THERE = 0.45
"""A line is there with more of its ink than this."""
LEAST_MM2 = 0.15
ALONG_MM = 0.25
VISIBLE = 0.05
WIDTH_STEP_MM = 0.1
HELD = 0.97
LEAST_LENGTH_MM = 8.0
WINDOW_MM = 50.0


@dataclass(frozen=True, slots=True)
class LostLine:
    """A piece of a thin line without ink, on its film."""

    screen: int
    x_mm: float
    y_mm: float
    area_mm2: float


@dataclass(frozen=True, slots=True)
class Lines:
    """What became of a print's thin lines."""

    lost: tuple[LostLine, ...]
    thinnest_mm: tuple[float | None, ...]
    """For each screen the width from which on lines held; None where it has none."""


def thin_lines(subject: Subject, photo: Photo, fit: Fit) -> Lines:
    """Return what became of lines up to THIN_MM wide."""
    lost: list[LostLine] = []
    steps = round(THIN_MM / WIDTH_STEP_MM) + 1
    length = np.zeros((subject.count, steps, 2))
    for x in np.arange(0.0, subject.width_mm, WINDOW_MM):
        for y in np.arange(0.0, subject.height_mm, WINDOW_MM):
            wide, high = min(WINDOW_MM, subject.width_mm - x), min(WINDOW_MM, subject.height_mm - y)
            window = Patch(
                float(x), float(y), max(8, round(wide * PX_PER_MM)), max(8, round(high * PX_PER_MM)), PX_PER_MM
            )
            lost += _in_window(subject, photo, fit, window, length)
    return Lines(tuple(lost), tuple(_thinnest(length[k]) for k in range(subject.count)))


def _thinnest(length: F64) -> float | None:
    """Return the least width from which on all widths held; rows are (there, all) in samples."""
    found = None
    for step in range(len(length) - 1, -1, -1):
        there, every = length[step]
        if every < LEAST_LENGTH_MM * PX_PER_MM:
            continue
        if there < HELD * every:
            break
        found = round((step + 0.5) * WIDTH_STEP_MM, 2)
    return found


def _in_window(subject: Subject, photo: Photo, fit: Fit, window: Patch, length: F64) -> list[LostLine]:
    from scipy.ndimage import gaussian_filter, maximum_filter

    state = fit.state
    x, y = np.meshgrid(window.xs, window.ys)
    planes = coverages(subject, state.screens, window)
    tones = subject.tones(window)
    seen: F32 | None = None
    out: list[LostLine] = []
    for k, screen in enumerate(state.screens):
        far = subject.distance(k, *to_film(subject, screen, x, y))
        inside = far < 0
        if not inside.any():
            continue
        deep = maximum_filter(np.where(inside, -far, 0).astype(np.float32), round(0.5 * window.px_per_mm) | 1)
        thin = inside & (deep < THIN_MM / 2) & ~tones
        if thin.sum() < 3:
            continue
        if seen is None:
            seen = lit(photo, state.warp, state.look, subject, window)
        good = np.isfinite(seen[..., 0])
        light = np.where(good[..., None], seen, 0)
        sigma = max(0.075, 0.75 / fit.px_per_mm) * window.px_per_mm
        bare = [plane if i != k else np.zeros_like(plane) for i, plane in enumerate(planes)]
        inked, clear = (gaussian_filter(mixed(p, state.look.colours), (sigma, sigma, 0)) for p in (planes, bare))
        step = inked - clear
        size = np.where(thin, (step * step).sum(-1), 0)
        over = np.where(thin, ((light - clear) * step).sum(-1), 0)
        along = ALONG_MM * window.px_per_mm
        there = gaussian_filter(over, along) / np.maximum(gaussian_filter(size, along), 1e-9)
        shows = thin & good & (np.linalg.norm(encoded(inked) - encoded(clear), axis=-1) > VISIBLE)
        gone = shows & (there < THERE)
        _count(length[k], deep, shows, gone)
        out += _pieces(subject, screen, k, gone, window)
    return out


def _count(length: F64, deep: F32, shows: Bool, gone: Bool) -> None:
    """Add samples of lines by width: those that are there, and all."""
    step = np.minimum((2 * deep / WIDTH_STEP_MM).astype(np.int64), len(length) - 1)
    length[:, 1] += np.bincount(step[shows], minlength=len(length))
    length[:, 0] += np.bincount(step[shows & ~gone], minlength=len(length))


def _pieces(subject: Subject, screen: ScreenFit, k: int, gone: Bool, window: Patch) -> list[LostLine]:
    from scipy.ndimage import center_of_mass, label, sum_labels

    labels, count = label(gone, structure=np.ones((3, 3)))
    if not count:
        return []
    ids = np.arange(1, count + 1)
    areas = sum_labels(gone, labels, ids) / window.px_per_mm**2
    out = []
    for area, (row, column) in zip(areas, center_of_mass(gone, labels, ids), strict=True):
        if area >= LEAST_MM2:
            x = window.x_mm + (column + 0.5) / window.px_per_mm
            y = window.y_mm + (row + 0.5) / window.px_per_mm
            film = to_film(subject, screen, np.array(x), np.array(y))
            out.append(LostLine(k, float(film[0]), float(film[1]), float(area)))
    return out


def bare_base_mm2(subject: Subject, screens: Sequence[ScreenFit]) -> float | None:
    """Return mm2 of base that no ink covers, beyond what the films themselves leave; None without a base."""
    if not subject.bases:
        return None
    still = [ScreenFit(growth_mm=0.0)] * subject.count
    return _bare(subject, screens) - _bare(subject, still)


def _bare(subject: Subject, screens: Sequence[ScreenFit]) -> float:
    r, total = 6.0, 0.0
    grid = subject.whole(r, 0.0)
    rows = 240
    for start in range(0, grid.height, rows):
        part = Patch(grid.x_mm, grid.y_mm + start / r, grid.width, min(rows, grid.height - start), r)
        share = np.ones((part.height, part.width), np.float32)
        for k, plane in enumerate(coverages(subject, screens, part)):
            share *= plane if k in subject.bases else 1 - plane
        total += float(share.sum()) / r**2
    return total
