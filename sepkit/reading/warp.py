"""The map from cloth to photograph: a smooth field of stretch on the cloth, then a homography.

Cloth mm are those of the film that the reference screen printed. The field is a cubic B-spline (mm of slip at knots a
pitch apart), kept smooth by a penalty on its second differences (Eilers and Marx, Statistical Science 11:89, 1996). How
a lens bends a picture, by the cube of the distance from its middle (Brown, Photogrammetric Engineering 37:855, 1971),
is a part of the field that costs next to nothing.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

import numpy as np

from sepkit.reading.subject import Patch, Subject, sampled

if TYPE_CHECKING:
    from sepkit.model import F64

    I64 = np.ndarray[Any, np.dtype[np.int64]]

GRID_STEP = 8
"""Samples between points that are mapped exactly; between them the map is bilinear."""


def applied(homography: F64, points: F64) -> F64:
    """Return points (…, 2) through a homography (3, 3)."""
    v = points @ homography[:, :2].T + homography[:, 2]
    return np.asarray(v[..., :2] / v[..., 2:])


@dataclass(frozen=True, slots=True, eq=False)
class Warp:
    """Cloth mm to photo pixels. ``slip`` is (ny, nx, 2): knots' slip in mm."""

    homography: F64
    start_mm: float
    """The field begins this far left of and above the art (negative)."""
    pitch_mm: float
    slip: F64
    photo_px: tuple[int, int]
    """The photograph's size: a lens bends it about its middle."""

    @classmethod
    def straight(cls, homography: F64, subject: Subject, pitch_mm: float, photo_px: tuple[int, int]) -> Warp:
        """Return the map of cloth that is not stretched."""
        sides = (subject.height_mm, subject.width_mm)
        counts = [int(np.ceil((side + 2 * subject.margin_mm) / pitch_mm)) + 4 for side in sides]
        return cls(homography, -subject.margin_mm, pitch_mm, np.zeros((*counts, 2)), photo_px)

    @property
    def knots(self) -> tuple[int, int]:
        """Knots down and across."""
        return self.slip.shape[0], self.slip.shape[1]

    def basis(self, points: F64) -> tuple[I64, F64]:
        """Return the (m, 16) knots that a point's slip comes from, and their weights."""
        ny, nx = self.knots
        u = (points - self.start_mm) / self.pitch_mm + 1
        i = np.clip(np.floor(u).astype(np.int64), 1, [nx - 3, ny - 3])
        bx, by = _cubic(u[:, 0] - i[:, 0]), _cubic(u[:, 1] - i[:, 1])
        across, down = i[:, :1] + np.arange(-1, 3), i[:, 1:] + np.arange(-1, 3)
        at = (down[:, :, None] * nx + across[:, None, :]).reshape(len(points), 16)
        return at, (by[:, :, None] * bx[:, None, :]).reshape(len(points), 16)

    def field(self, points: F64) -> F64:
        """Return the slip (…, 2) in mm at points (…, 2) of the cloth."""
        at, weights = self.basis(points.reshape(-1, 2))
        return np.asarray((self.slip.reshape(-1, 2)[at] * weights[..., None]).sum(1).reshape(points.shape))

    def __call__(self, points: F64) -> F64:
        """Return photo pixels of points of the cloth."""
        return applied(self.homography, points + self.field(points))

    def over(self, patch: Patch) -> F64:
        """Return photo pixels (h, w, 2) of a grid's samples."""
        across = np.unique(np.append(np.arange(0, patch.width, GRID_STEP), patch.width - 1))
        down = np.unique(np.append(np.arange(0, patch.height, GRID_STEP), patch.height - 1))
        exact = self(np.stack(np.meshgrid(patch.xs[across], patch.ys[down]), -1))
        if min(len(across), len(down)) < 2:
            return self(np.stack(np.meshgrid(patch.xs, patch.ys), -1))
        x = np.interp(np.arange(patch.width), across, np.arange(len(across)))
        y = np.interp(np.arange(patch.height), down, np.arange(len(down)))
        xx, yy = np.meshgrid(x, y)
        planes = [sampled(np.ascontiguousarray(exact[..., k], dtype=np.float64), xx, yy) for k in (0, 1)]
        return np.stack(planes, -1).astype(np.float64)

    def px_per_mm(self, point: F64) -> float:
        """Return photo pixels per mm of cloth at a point."""
        right, low, left, high = self(point + np.concatenate([np.eye(2), -np.eye(2)]) / 2)
        across, down = right - left, low - high
        return float(np.sqrt(abs(across[0] * down[1] - across[1] * down[0])))

    def finer(self, subject: Subject, pitch_mm: float) -> Warp:
        """Return about the same field on knots ``pitch_mm`` apart."""
        new = Warp.straight(self.homography, subject, pitch_mm, self.photo_px)
        grid = subject.whole(2 / pitch_mm)
        points = np.stack(np.meshgrid(grid.xs, grid.ys), -1).reshape(-1, 2)
        at, weights = new.basis(points)
        A = np.zeros((len(points), new.slip.shape[0] * new.slip.shape[1]))
        np.put_along_axis(A, at, weights, 1)
        fitted = np.asarray(np.linalg.solve(A.T @ A + 1e-4 * np.eye(A.shape[1]), A.T @ self.field(points)), np.float64)
        return replace(new, slip=fitted.reshape(new.slip.shape))

    def lens(self, share: float) -> F64:
        """Return the slip (ny, nx, 2) of a lens that moves a corner of the photograph outwards by ``share`` of its way.

        Coefficients are the slip at the knots: that is off by what is linear, which no penalty minds.
        """
        ny, nx = self.knots
        grid = np.stack(np.meshgrid(np.arange(nx), np.arange(ny)), -1)
        knots = np.asarray(self.start_mm + self.pitch_mm * (grid - 1.0), np.float64)
        middle = np.array(self.photo_px) / 2 - 0.5
        off = applied(self.homography, knots) - middle
        further = 1 + share * (off**2).sum(-1, keepdims=True) / (middle**2).sum()
        back = np.asarray(np.linalg.inv(self.homography), np.float64)
        return np.asarray(applied(back, np.asarray(middle + off * further, np.float64)) - knots, np.float64)

    def bending(self) -> F64:
        """Return the (knots, knots) penalty on second differences."""
        ny, nx = self.knots
        across, down = _differences(nx, 2), _differences(ny, 2)
        mixed = np.kron(_differences(ny, 1), _differences(nx, 1)) * np.sqrt(2)
        rows = [np.kron(np.eye(ny), across), np.kron(down, np.eye(nx)), mixed]
        return np.asarray(sum(row.T @ row for row in rows))


def _cubic(t: F64) -> F64:
    return np.stack([(1 - t) ** 3, 3 * t**3 - 6 * t**2 + 4, -3 * t**3 + 3 * t**2 + 3 * t + 1, t**3], -1) / 6


def _differences(count: int, order: int) -> F64:
    return np.asarray(np.diff(np.eye(count), order, axis=0))
