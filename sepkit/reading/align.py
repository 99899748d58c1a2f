"""A homography refined until film and photograph agree: efficient second-order alignment of locally normalised colour.

In: a start. Out: Aligned: a homography, and the correlation of what both show. The step uses the mean of both pictures'
gradients (Benhimane and Malis, IROS 2004), as enhanced correlation does with one (Evangelidis and Psarakis, IEEE TPAMI
30:1858, 2008); normalising within a few centimetres takes uneven light and the camera's own colours out.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from sepkit.reading.mixing import mixed
from sepkit.reading.subject import sampled
from sepkit.reading.warp import applied

if TYPE_CHECKING:
    from sepkit.model import F32, F64, Bool
    from sepkit.reading.picture import Photo
    from sepkit.reading.subject import Subject

NORMAL_MM = 9.0
"""Colours are normalised within about this much cloth."""
NEAR_MM, DIFFERS, LEAST_APART_MM2 = 1.2, 0.6, 4.0
"""Where a film looks the same turned: it says something else where nothing within so many mm comes nearer than so many
spreads, and that much of it must be there."""
LEAST_SEEN = 0.5
"""A place of which less lies in the photograph is none."""


@dataclass(frozen=True, slots=True, eq=False)
class Aligned:
    """A place and how well it fits."""

    homography: F64
    score: float


def aligned(
    subject: Subject, photo: Photo, start: F64, px_per_mm: float, *, rounds: int, free: int = 8, blur: float = 1.0
) -> Aligned:
    """Refine ``start`` on a film grid of ``px_per_mm``; ``free`` 6 lets it be affine only."""
    from scipy.ndimage import convolve1d

    grid = subject.whole(px_per_mm)
    told = ~subject.anything(grid)
    film = _look(mixed(subject.coarse(px_per_mm), subject.colours), told, px_per_mm, blur)
    half = np.array([subject.width_mm, subject.height_mm]) / 2
    points = np.stack(np.meshgrid(grid.xs, grid.ys), -1)
    x, y = (points[..., k].astype(np.float32)[..., None] / np.float32(half[k]) - 1 for k in (0, 1))
    slope = [convolve1d(film, [0.5, 0, -0.5], axis=axis) for axis in (1, 0)]
    unit = np.array([[1 / half[0], 0, -1], [0, 1 / half[1], -1], [0, 0, 1.0]])
    place, score = start, -1.0
    for _ in range(rounds):
        scale = float(np.sqrt(abs(np.linalg.det(place[:2, :2]))))
        seen = photo.sample(applied(place, points), scale / px_per_mm)
        valid = np.isfinite(seen[..., 0]) & told
        if valid.mean() < LEAST_SEEN * told.mean():
            return Aligned(place, -1.0)
        light = _look(np.where(valid[..., None], seen, 0), valid, px_per_mm, blur)
        score = float((light * film).sum() / np.sqrt((light * light).sum() * (film * film).sum() + 1e-9))
        gx, gy = (
            (convolve1d(light, [0.5, 0, -0.5], axis=axis) + slope[k]) / 2 * np.float32(px_per_mm * half[k])
            for k, axis in enumerate((1, 0))
        )
        ways = [gx, gx * x, gx * y, gy, gy * x, gy * y]
        if free == 8:
            ways += [(gx * x + gy * y) * x, (gx * x + gy * y) * y]
        step = _step(ways, (film - light) * valid[..., None])
        g = np.array([[1 + step[1], step[2], step[0]], [step[4], 1 + step[5], step[3]], [-step[6], -step[7], 1.0]])
        moved = place @ np.linalg.inv(unit) @ g @ unit
        if not np.isfinite(moved).all() or abs(moved[2, 2]) < 1e-9:
            return Aligned(place, -1.0)
        place = moved / moved[2, 2]
        if np.abs(step).max() * half.max() * px_per_mm < 0.02:
            break
    return Aligned(place, score)


def told_apart(subject: Subject, photo: Photo, one: F64, other: F64, px_per_mm: float) -> tuple[float, float] | None:
    """Return how well each of two places fits where the film says something else at one than at the other.

    Two correlations of locally normalised colour; None where the film looks the same both ways.
    """
    grid = subject.whole(px_per_mm)
    film = _look(mixed(subject.coarse(px_per_mm), subject.colours), ~subject.anything(grid), px_per_mm)
    points = np.stack(np.meshgrid(grid.xs, grid.ys), -1)
    at = applied(one, points)
    seen = photo.sample(at, float(np.sqrt(abs(np.linalg.det(one[:2, :2])))) / px_per_mm)
    valid = np.isfinite(seen[..., 0])
    light = _look(np.where(valid[..., None], seen, 0), valid, px_per_mm)
    column, row = np.moveaxis(
        (applied(np.asarray(np.linalg.inv(other), np.float64), at) - [grid.x_mm, grid.y_mm]) * px_per_mm - 0.5, -1, 0
    )
    inside = (column > 0) & (column < grid.width - 1) & (row > 0) & (row < grid.height - 1)
    turned = np.stack([sampled(np.ascontiguousarray(film[..., c]), column, row) for c in range(3)], -1)
    apart = valid & inside & (_beyond(film, turned, px_per_mm) | _beyond(turned, film, px_per_mm))
    if apart.sum() < LEAST_APART_MM2 * px_per_mm**2:
        return None
    return _likeness(light[apart], film[apart]), _likeness(light[apart], turned[apart])


def _beyond(one: F32, other: F32, px_per_mm: float) -> Bool:
    """Return where one picture shows what the other shows nowhere near."""
    from scipy.ndimage import maximum_filter, minimum_filter

    side = 2 * max(1, round(NEAR_MM * px_per_mm)) + 1
    over, under = one - maximum_filter(other, (side, side, 1)), minimum_filter(other, (side, side, 1)) - one
    return np.asarray((np.maximum(over, under) > DIFFERS).any(-1))


def _likeness(one: F32, other: F32) -> float:
    return float((one * other).sum() / np.sqrt((one * one).sum() * (other * other).sum() + 1e-9))


def _step(ways: list[F32], error: F32) -> F64:
    """Return the robust least-squares step along ``ways``, eight numbers."""
    J = np.stack([way.ravel() for way in ways])
    weight = (1 / (1 + error * error)).ravel()
    A = ((J * weight) @ J.T).astype(np.float64)
    b = ((J * weight) @ error.ravel()).astype(np.float64)
    A += np.eye(len(A)) * 1e-3 * np.trace(A) / len(A) + np.eye(len(A)) * 1e-12
    return np.concatenate([np.linalg.solve(A, b), np.zeros(8 - len(b))])


def _look(linear: F32, valid: Bool, px_per_mm: float, blur_px: float = 1.0) -> F32:
    """Return linear colours (h, w, 3) blurred and locally normalised, as they are compared; 0 where not valid."""
    from scipy.ndimage import gaussian_filter

    soft = gaussian_filter(np.sqrt(np.clip(linear, 0, 1)), (blur_px, blur_px, 0))
    return _normal(soft, max(3.0, NORMAL_MM * px_per_mm), valid)


def _normal(light: F32, reach_px: float, valid: Bool) -> F32:
    """Return each channel with zero mean and unit spread within about ``reach_px``; 0 where not valid."""
    from scipy.ndimage import uniform_filter

    side = int(2 * reach_px) | 1

    def near(plane: F32) -> F32:
        return np.asarray(uniform_filter(uniform_filter(plane, side), side), np.float32)

    weight = near(valid.astype(np.float32)) + np.float32(1e-6)
    out = np.empty_like(light)
    for c in range(3):
        plane = np.where(valid, light[..., c], np.float32(0))
        mean = near(plane) / weight
        spread = near(plane * plane) / weight - mean * mean
        out[..., c] = np.where(valid, (plane - mean) / np.sqrt(np.maximum(spread, 0) + np.float32(4e-4)), 0)
    return out
