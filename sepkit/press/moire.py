"""Moiré of halftone dots on mesh: predicted from the two gratings, rated, and a cleaner ruling suggested.

In: a mesh, a ruling (lpi), an angle (degrees to the threads), a dot shape. Out: period (mm) and contrast (0..1).

A dot grating of frequency vectors h and a mesh of vectors k beat at b = lpi R(angle) h - mesh k, with the contrast
2 |H(h)| |M(k)| / (open area x tint), H the Fourier series of one dot, M that of one opening (a square of side o in a
pitch p: separable (o/p) sinc(k o/p)). The rating is the strongest beat that the eye can see, period >= 2 mm, over tints
of 10, 30 and 50 %, +-1 degree of set-up and +-1 % of mesh count. Ink levels out some of it: a ranking, not a measure.
Sources: I. Amidror, "The Theory of the Moiré Phenomenon" (2000), for the spectrum of a product of gratings; the
tolerances and the period are common practice.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from functools import lru_cache
from typing import TYPE_CHECKING

import numpy as np

from sepkit.film.screen import spot
from sepkit.model import Finding, Halftone, Mesh, is_periodic
from sepkit.press.mesh import opening_um, pitch_um

if TYPE_CHECKING:
    from sepkit.model import F64, U8, Bool, DotShape, PeriodicDot

SEEN_PERIOD_MM = 2.0
CLEAN_CONTRAST = 0.02
TINTS = (0.1, 0.3, 0.5)
ANGLE_SLACK_DEG = (-1.0, -0.5, 0.0, 0.5, 1.0)
COUNT_SLACK = (0.99, 0.995, 1.0, 1.005, 1.01)
DOT_ORDERS = 7
MESH_ORDERS = 4
FAINT = 0.01
CELL = 64
STEP_LPI = 0.5
REACH_LPI = 12.0


@dataclass(frozen=True, slots=True)
class MoireRating:
    """The strongest beat the eye can see; contrast 0 when there is none."""

    contrast: float
    period_mm: float
    """Infinite when dots and threads lock, which shifts the tint from place to place."""
    direction_deg: float

    @property
    def clean(self) -> bool:
        """Whether it stays below what shows."""
        return self.contrast < CLEAN_CONTRAST


def rate(mesh: Mesh, lpi: float, angle_deg: float, *, shape: DotShape = "round") -> MoireRating:
    """Return the worst beat for a ruling and an angle; scattered dots have none."""
    if not is_periodic(shape):
        return MoireRating(0.0, 0.0, 0.0)
    h, k, contrast = _pairs(shape, round(opening_um(mesh) / pitch_um(mesh), 6))
    mesh_mm = mesh.threads_per_cm / 10
    near = _may_be_seen(h * (lpi / 25.4), k * mesh_mm, angle_deg)
    if not near.any():
        return MoireRating(0.0, 0.0, 0.0)
    h, k, contrast = h[near], k[near], contrast[near]
    worst = MoireRating(0.0, 0.0, 0.0)
    for slack in ANGLE_SLACK_DEG:
        dots = h @ _turn(angle_deg + slack) * (lpi / 25.4)
        for count in COUNT_SLACK:
            beat = dots - k * (mesh_mm * count)
            frequency = np.hypot(beat[:, 0], beat[:, 1])
            seen = np.where(frequency <= 1 / SEEN_PERIOD_MM, contrast, 0.0)
            i = int(np.argmax(seen))
            if seen[i] > worst.contrast:
                period = 1 / frequency[i] if frequency[i] > 1e-9 else math.inf
                worst = MoireRating(
                    float(seen[i]), float(period), math.degrees(math.atan2(beat[i, 1], beat[i, 0])) % 180
                )
    return worst


def _may_be_seen(dots: F64, threads: F64, angle_deg: float) -> Bool:
    """Return which pairs can beat slowly enough at any slack: no slack moves a beat by more than these."""
    beat = dots @ _turn(angle_deg) - threads
    turned = np.hypot(dots[:, 0], dots[:, 1]) * math.radians(max(ANGLE_SLACK_DEG))
    stretched = np.hypot(threads[:, 0], threads[:, 1]) * (max(COUNT_SLACK) - 1)
    reach = 1 / SEEN_PERIOD_MM + turned + stretched
    return np.asarray(np.hypot(beat[:, 0], beat[:, 1]) <= reach * (1 + 1e-9))


def suggest(mesh: Mesh, lpi: float, angle_deg: float, *, shape: DotShape = "round", most_lpi: float = 150.0) -> float:
    """Return the clean ruling nearest to ``lpi``, or the least bad within 12 lines when none is clean."""
    if rate(mesh, lpi, angle_deg, shape=shape).clean:
        return lpi
    best, least = lpi, math.inf
    for step in range(1, round(REACH_LPI / STEP_LPI) + 1):
        found = []
        for sign in (-1, 1):
            near = round((lpi + sign * step * STEP_LPI) / STEP_LPI) * STEP_LPI
            if not 10 <= near <= most_lpi:
                continue
            contrast = rate(mesh, near, angle_deg, shape=shape).contrast
            found.append((contrast, near))
            if contrast < least:
                best, least = near, contrast
        if least < CLEAN_CONTRAST and found:
            return best
    return best


def moire_findings(halftone: Halftone, mesh: Mesh, *, plate: str) -> list[Finding]:
    """Tell when dots and mesh will show a pattern, and which ruling is cleaner."""
    rating = rate(mesh, halftone.lpi, halftone.angle_deg, shape=halftone.shape)
    if rating.clean:
        return []
    better = suggest(mesh, halftone.lpi, halftone.angle_deg, shape=halftone.shape)
    wave = "a slow shift of tint" if rating.period_mm > 50 else f"waves of about {rating.period_mm:.0f} mm"
    after = rate(mesh, better, halftone.angle_deg, shape=halftone.shape)
    hint = f"--lpi {better:g} is the nearest clean ruling" if after.clean else "another angle or mesh is cleaner"
    return [
        Finding(
            "moire",
            "warn",
            f"{plate}: {halftone.lpi:g} lpi on mesh {mesh} may show {wave}",
            hint,
            more=f"at {halftone.angle_deg:g}°; the waves have {rating.contrast * 100:.0f} % of the tint",
        )
    ]


def printed_field(mesh: Mesh, dots: Halftone, *, tint: float = 0.3, size_mm: float, px_mm: float) -> F64:
    """Return openings that print, 0..1, for a square of dots on mesh: (n, n), ``px_mm`` pixels per mm, unfiltered.

    Raises ValueError for dots without a period.
    """
    if not is_periodic(dots.shape):
        raise ValueError(f"{dots.shape} dots have no period")
    n = max(8, round(size_mm * px_mm))
    at = (np.arange(n) + 0.5) / px_mm
    turn = _turn(dots.angle_deg) * (dots.lpi / 25.4)
    x, y = at[None, :], at[:, None]
    u, v = turn[0, 0] * x + turn[0, 1] * y, turn[1, 0] * x + turn[1, 1] * y
    inked = spot(dots.shape, u, v) > _level(dots.shape, tint)
    share = opening_um(mesh) / pitch_um(mesh)
    open_x = (at * mesh.threads_per_cm / 10) % 1 < share
    return np.asarray((inked & open_x[None, :] & open_x[:, None]).astype(np.float64))


def draw(
    mesh: Mesh, lpi: float, angle_deg: float, *, shape: PeriodicDot = "round", size_mm: float = 30.0, px_mm: float = 8.0
) -> U8:
    """Return how an even 10 % tint looks from arm's length: (n, n) uint8 grey, 128 its mean, darker = more ink.

    The pattern keeps its share of the tint, so it is shown as strong as it is rated. The eye is a blur of 0.35 mm
    (two arc minutes at 0.6 m).
    """
    from scipy import ndimage

    edge_mm, fine = 2.0, 8
    dots = Halftone(lpi, angle_deg, shape)
    field = printed_field(mesh, dots, tint=TINTS[0], size_mm=size_mm + 2 * edge_mm, px_mm=px_mm * fine)
    # Fine enough to sample a thread, then averaged: the blur is wider by far.
    half = fine // 2
    n = field.shape[0] // half
    coarse = field[: n * half, : n * half].reshape(n, half, n, half).mean(axis=(1, 3))
    seen = ndimage.gaussian_filter(coarse, 0.35 * px_mm * 2)
    edge, side = round(edge_mm * px_mm * 2), round(size_mm * px_mm)
    inner = seen[edge : edge + 2 * side, edge : edge + 2 * side]
    small = inner.reshape(side, 2, side, 2).mean(axis=(1, 3))
    return np.asarray(np.clip(np.rint(256 - 128 * small / max(float(small.mean()), 1e-9)), 0, 255).astype(np.uint8))


def _turn(angle_deg: float) -> F64:
    t = math.radians(angle_deg)
    return np.array([[math.cos(t), math.sin(t)], [-math.sin(t), math.cos(t)]])


@lru_cache(maxsize=64)
def _pairs(shape: PeriodicDot, share: float) -> tuple[F64, F64, F64]:
    """Return frequency vectors h and k of pairs that are not too faint, and their contrast."""
    order = np.arange(-DOT_ORDERS, DOT_ORDERS + 1)
    h = np.stack(np.meshgrid(order, order, indexing="ij"), axis=-1).reshape(-1, 2)
    amplitude = np.max([np.abs(_dot_series(shape, tint)[h[:, 0], h[:, 1]]) / tint for tint in TINTS], axis=0)
    threads = np.arange(-MESH_ORDERS, MESH_ORDERS + 1)
    k = np.stack(np.meshgrid(threads, threads, indexing="ij"), axis=-1).reshape(-1, 2)
    opening = np.abs(np.sinc(k[:, 0] * share) * np.sinc(k[:, 1] * share))
    contrast = 2 * amplitude[:, None] * opening[None, :]
    # A dot or a mesh alone makes no beat, and (-h, -k) is the same wave as (h, k).
    contrast[(h[:, 0] < 0) | ((h[:, 0] == 0) & (h[:, 1] <= 0))] = 0
    contrast[:, (k == 0).all(axis=1)] = 0
    i, j = np.nonzero(contrast > FAINT)
    return h[i].astype(np.float64), k[j].astype(np.float64), contrast[i, j]


@lru_cache(maxsize=16)
def _dot_series(shape: PeriodicDot, tint: float) -> F64:
    """Return the Fourier series of one dot, indexed by signed orders (u, v)."""
    at = (np.arange(CELL) + 0.5) / CELL
    values = spot(shape, at[:, None], at[None, :])
    return np.asarray(np.abs(np.fft.fft2(values > np.quantile(values, 1 - tint))) / CELL**2)


@lru_cache(maxsize=16)
def _level(shape: PeriodicDot, tint: float) -> float:
    at = (np.arange(256) + 0.5) / 256
    return float(np.quantile(spot(shape, at[:, None], at[None, :]), 1 - tint))
