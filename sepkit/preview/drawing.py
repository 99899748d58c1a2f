"""The pieces of a garment drawing, in millimetres, and the curves they are made of.

x runs to the right from the centre line, y down from the high point of the shoulder. Lines are (n, 2) float64 arrays.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from sepkit.model import F64

Point = tuple[float, float]

CURVE_STEPS = 24


@dataclass(frozen=True, slots=True, eq=False)
class Part:
    """One piece of cloth: its outline (n, 2) mm, how light it is beside the body, and what it is."""

    name: str
    outline: F64
    light: float = 1.0
    ribs: tuple[F64, F64] | None = None
    """Two edges of a rib, point by point: rib lines run from one to the other."""
    casts: float = 0.0
    """How dark a shadow it throws on what lies under it, 0..1."""


@dataclass(frozen=True, slots=True, eq=False)
class Seam:
    """A line on the cloth: a seam, or a row of stitches."""

    line: F64
    width_mm: float = 0.9
    stitched: bool = False
    strength: float = 0.28


@dataclass(frozen=True, slots=True)
class Fold:
    """A soft crease from one point to another: width in mm, strength as a share of light."""

    start: Point
    stop: Point
    width_mm: float
    strength: float


@dataclass(frozen=True, slots=True, eq=False)
class GarmentDrawing:
    """All parts of one view, from back to front."""

    parts: tuple[Part, ...]
    seams: tuple[Seam, ...]
    folds: tuple[Fold, ...]
    edges: dict[str, F64]
    """What prints are measured from: lines (n, 2) by the names of ``places.Edge``, and the left "side seam"."""
    frame: tuple[float, float, float, float] | None = None
    """x0, y0, x1, y1 of the picture in mm, or None for everything and a margin."""


def curve(a: Point, b: Point, c: Point, d: Point) -> F64:
    """Return a cubic Bézier curve as points."""
    t = np.linspace(0, 1, CURVE_STEPS + 1)[:, None]
    p = [np.asarray(point, np.float64) for point in (a, b, c, d)]
    out: F64 = (1 - t) ** 3 * p[0] + 3 * t * (1 - t) ** 2 * p[1] + 3 * t**2 * (1 - t) * p[2] + t**3 * p[3]
    return out


def ahead(start: Point, angle_deg: float, distance: float) -> Point:
    """Return the point ``distance`` from ``start`` at an angle (0 right, 90 down)."""
    angle = math.radians(angle_deg)
    return (start[0] + distance * math.cos(angle), start[1] + distance * math.sin(angle))


def mirror(points: F64) -> F64:
    """Return points on the other side of the centre line."""
    out: F64 = points * np.array([-1.0, 1.0])
    return out


def closed(right: F64) -> F64:
    """Return the outline whose right half is given, from the centre line round to the centre line."""
    return np.vstack([right, mirror(right)[::-1]])


def full(right: F64) -> F64:
    """Return the whole line whose right half, from the centre line out, is given."""
    return np.vstack([mirror(right)[::-1], right[1:]])


def mirrored(part: Part) -> Part:
    """Return a part on the other side of the centre line."""
    ribs = None if part.ribs is None else (mirror(part.ribs[0]), mirror(part.ribs[1]))
    return Part(part.name, mirror(part.outline), part.light, ribs, part.casts)


def both(seams: Sequence[Seam]) -> list[Seam]:
    """Return seams and their mirror images."""
    return [*seams, *[Seam(mirror(s.line), s.width_mm, s.stitched, s.strength) for s in seams]]


def other_side(drawing: GarmentDrawing) -> GarmentDrawing:
    """Return the whole drawing mirrored."""
    return GarmentDrawing(
        tuple(mirrored(part) for part in drawing.parts),
        tuple(Seam(mirror(s.line), s.width_mm, s.stitched, s.strength) for s in drawing.seams),
        tuple(Fold((-f.start[0], f.start[1]), (-f.stop[0], f.stop[1]), f.width_mm, f.strength) for f in drawing.folds),
        {name: mirror(line) for name, line in drawing.edges.items()},
    )
