"""What should be in the photograph: the screens' films at any resolution, and the predicted colours of their stacks.

In: coverage planes with a margin around the art. Out: coverage at coarse resolution, and distances to the films' edges,
from which coverage follows for any shift and any growth of an edge.
Coordinates are mm from the art's top left, right and down. A stack is a number whose bits are the screens that print.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

import numpy as np

from sepkit.coverage.reach import edge_distance, edge_tiles

if TYPE_CHECKING:
    from sepkit.film.check_discs import CheckDisc
    from sepkit.model import F32, F64, U8, Bool

Array = np.ndarray[Any, np.dtype[Any]]

PX_PER_MM = 12.0
"""Resolution of planes and distances."""
REACH_MM = 1.0
"""Distances to an edge are known this far."""
DISTANCE_STEPS = 20_000
"""Steps of a kept distance in a mm: int16 is quick to look up, half precision is not."""


@dataclass(frozen=True, slots=True)
class Patch:
    """A grid of sample points: its top left corner (mm), its samples across and down, and samples per mm."""

    x_mm: float
    y_mm: float
    width: int
    height: int
    px_per_mm: float

    @property
    def xs(self) -> F64:
        """Samples' places across, mm."""
        return np.asarray(self.x_mm + (np.arange(self.width) + 0.5) / self.px_per_mm, np.float64)

    @property
    def ys(self) -> F64:
        """Samples' places down, mm."""
        return np.asarray(self.y_mm + (np.arange(self.height) + 0.5) / self.px_per_mm, np.float64)

    @property
    def middle(self) -> F64:
        """Its middle, mm."""
        half = np.array([self.width, self.height]) / 2 / self.px_per_mm
        return np.array([self.x_mm, self.y_mm]) + half


@dataclass(frozen=True, slots=True, eq=False)
class Subject:
    """A print as its films say it."""

    width_mm: float
    height_mm: float
    margin_mm: float
    """What the planes show around the art."""
    planes: tuple[U8, ...]
    """(h, w) uint8 coverage of each screen in print order, at PX_PER_MM."""
    colours: F64
    """(2^n, 3) linear sRGB of each stack as planned; the first is the cloth."""
    names: tuple[str, ...]
    bases: tuple[int, ...] = ()
    """Screens that others print on."""
    tone: Bool | None = None
    """(h, w) where some screen has halftone dots."""
    discs: tuple[CheckDisc, ...] = ()
    open: Bool | None = None
    """(h, w) where the photograph may show anything: draw-downs on a card."""
    _distances: list[Array] = field(default_factory=list)
    _levels: dict[float, list[F32]] = field(default_factory=dict)

    @property
    def count(self) -> int:
        """How many screens there are."""
        return len(self.planes)

    @property
    def middle(self) -> F64:
        """The art's middle, about which screens turn, mm."""
        return np.array([self.width_mm / 2, self.height_mm / 2])

    @property
    def corners(self) -> F64:
        """The art's corners, (4, 2) mm."""
        w, h = self.width_mm, self.height_mm
        return np.array([[0, 0], [w, 0], [w, h], [0, h]], float)

    def whole(self, px_per_mm: float, margin_mm: float | None = None) -> Patch:
        """Return the grid over the art and a margin of at most its own."""
        margin = self.margin_mm if margin_mm is None else min(margin_mm, self.margin_mm)
        size = [max(1, round((side + 2 * margin) * px_per_mm)) for side in (self.width_mm, self.height_mm)]
        return Patch(-margin, -margin, size[0], size[1], px_per_mm)

    def coarse(self, px_per_mm: float) -> list[F32]:
        """Return coverage 0..1 of each screen, averaged, on ``whole(px_per_mm)``."""
        if px_per_mm not in self._levels:
            from PIL import Image

            grid = self.whole(px_per_mm)
            size = (grid.width, grid.height)
            small = [Image.fromarray(plane).resize(size, Image.Resampling.BOX) for plane in self.planes]
            self._levels[px_per_mm] = [np.asarray(image, np.float32) / np.float32(255) for image in small]
        return self._levels[px_per_mm]

    def tones(self, patch: Patch) -> Bool:
        """Return where on a grid some screen has dots."""
        return self._mask(self.tone, patch)

    def anything(self, patch: Patch) -> Bool:
        """Return where on a grid the photograph may show anything."""
        return self._mask(self.open, patch)

    def _mask(self, mask: Bool | None, patch: Patch) -> Bool:
        if mask is None:
            return np.zeros((patch.height, patch.width), bool)
        rows, columns = self._nearest(patch.ys, 0), self._nearest(patch.xs, 1)
        return np.asarray(mask[rows[:, None], columns[None]])

    def _nearest(self, mm: F64, axis: int) -> Array:
        at = np.floor((mm + self.margin_mm) * PX_PER_MM).astype(np.int64)
        return np.clip(at, 0, self.planes[0].shape[axis] - 1)

    @property
    def distances(self) -> Sequence[Array]:
        """Distances to each film's edge, negative in ink, as int16 of DISTANCE_STEPS a mm at PX_PER_MM; made once."""
        if not self._distances:
            self._distances.extend(_distance(plane) for plane in self.planes)
        return self._distances

    def distance(self, screen: int, x_mm: F64, y_mm: F64) -> F32:
        """Return a film's distances (mm) at points of it; beyond the planes there is no ink."""
        x, y = ((mm + self.margin_mm) * PX_PER_MM - 0.5 for mm in (x_mm, y_mm))
        return sampled(self.distances[screen], x, y) * np.float32(1 / DISTANCE_STEPS)


def sampled(plane: Array, x: Array, y: Array) -> F32:
    """Return bilinear samples (float32) of a (h, w) plane at pixels x, y; its border goes on outside."""
    h, w = plane.shape
    x, y = (np.clip(v, 0, most - 1.001).astype(np.float32) for v, most in ((x, w), (y, h)))
    i, j = y.astype(np.int32), x.astype(np.int32)
    fy, fx = y - i.astype(np.float32), x - j.astype(np.float32)
    at, flat = i * w + j, plane.reshape(-1)
    top, low = (_between(flat[at].astype(np.float32), flat[at + 1].astype(np.float32), fx) for at in (at, at + w))
    return _between(top, low, fy)


def _between(first: F32, second: F32, share: F32) -> F32:
    return np.asarray(first + share * (second - first), np.float32)


def _distance(plane: U8) -> Array:
    far = np.int16(REACH_MM * DISTANCE_STEPS)
    out = np.where(plane > 127, -far, far)
    reach = REACH_MM * PX_PER_MM
    for inner, outer in edge_tiles(plane, reach):
        cover = (plane[outer] / np.float32(255)).astype(np.float32)
        outside, inside = edge_distance(cover, reach_px=reach), edge_distance(1 - cover, reach_px=reach)
        both = np.where(outside > 0, outside, -inside) / np.float32(PX_PER_MM)
        out[outer][inner] = np.rint(np.clip(both[inner], -REACH_MM, REACH_MM) * DISTANCE_STEPS).astype(np.int16)
    return out
