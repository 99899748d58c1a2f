"""Halftone screens as tiles: dots of any shape, angle and ruling, and blue noise.

In: dpi, ruling (lpi), angle (degrees, counter-clockwise from the horizontal on the film), dot shape. Out: a tile that
says in which order its pixels turn to ink. Each place in the order occurs once, so a tint of t covers t of the tile.

A tile repeats on the lattice (A, B), (-B, A) of whole pixels that holds n x n dots; it is kept as g = gcd(A, B) rows of
(A^2 + B^2) / g pixels, and the rows below repeat them shifted. n is raised until ruling and angle are within
``RULING_TOLERANCE`` and ``ANGLE_TOLERANCE_DEG`` of what was asked. Phases are whole numbers modulo A^2 + B^2: nothing
drifts, however large the sheet.

Sources: T. M. Holladay, "An optimum algorithm for halftone generation for displays and hard copies", Proc. SID 21
(1980), one row that repeats shifted; R. Ulichney, "The void-and-cluster method for dither array generation",
Proc. SPIE 1913 (1993). Spot functions: common practice.
"""

from __future__ import annotations

import math
from collections.abc import Callable
from dataclasses import dataclass
from functools import lru_cache
from typing import TYPE_CHECKING, Any

import numpy as np

from sepkit.errors import UsageError
from sepkit.model import PeriodicDot, is_periodic

if TYPE_CHECKING:
    from sepkit.model import F64, Bool, Halftone

    I64 = np.ndarray[Any, np.dtype[np.int64]]

RULING_TOLERANCE = 3e-4
ANGLE_TOLERANCE_DEG = 0.012
LEAST_TILE = 1 << 14
CHUNK = 1 << 15
MOST_TILE = 1 << 21
LEAST_PERIOD_PX = 4.0
ELLIPSE = 0.7
NOISE_CELLS = 64
FEWER_DOTS, MOST_TURNS = 24, 32
"""Dots along a side of a tile at least, where they come one by one: fewer would repeat as a pattern."""


@dataclass(frozen=True, slots=True)
class Spot:
    """How a dot on a lattice grows: ``height`` of cell phases (u, v), in periods; ink fills it from the top down."""

    height: Callable[[F64, F64], F64]
    stripes: bool = False
    """Its ink is a stripe as long as the screen: the smallest that holds counts by its width, not by its area."""


# A line's faint second term orders the pixels along it without changing its edge.
SPOTS: dict[PeriodicDot, Spot] = {
    "ellipse": Spot(lambda u, v: _wave(u) + ELLIPSE * _wave(v)),
    "round": Spot(lambda u, v: _wave(u) + _wave(v)),
    "line": Spot(lambda u, v: _wave(v) + 1e-6 * _wave(u), stripes=True),
}


@dataclass(frozen=True, slots=True, eq=False)
class Screen:
    """A periodic screen: pixel (x, y) comes ``order[y mod g, (x + shift * (y // g)) mod L]``-th, order (g, L)."""

    order: np.ndarray[Any, np.dtype[np.int32]]
    """Ink stands in pixel k where the tint is above (k + 1/2) / levels."""
    levels: int
    shift: int
    lpi: float
    """As realised by the lattice; 0 for blue noise."""
    angle_deg: float

    def at(self, x: int, y: int, width: int, height: int) -> F64:
        """Return the ranks of a window, for tests and small pictures."""
        g, length = self.order.shape
        rows = np.arange(y, y + height)
        columns = (np.arange(x, x + width)[None, :] + (self.shift * (rows // g))[:, None]) % length
        return np.asarray((self.order[(rows % g)[:, None], columns] + 0.5) / self.levels)


def make_screen(
    halftone: Halftone, *, dpi: float, noise_px: int = 1, fewer: tuple[float, float] | None = None
) -> Screen:
    """Return the screen of ``halftone`` at ``dpi``; ``noise_px`` is the side of a blue-noise dot in film pixels.

    ``fewer`` are the lightest and darkest tint that whole lattices of dots and gaps hold: beyond them dots of that size
    come and go one by one, scattered as blue noise (hybrid screens, common in flexography).

    Raises UsageError as check_halftone does.
    """
    check_halftone(halftone, dpi=dpi)
    shape = halftone.shape
    if not is_periodic(shape):
        return _noise_screen(max(1, noise_px))
    return _dot_screen(float(dpi), float(halftone.lpi), float(halftone.angle_deg) % 360.0, shape, fewer)


def check_halftone(halftone: Halftone, *, dpi: float) -> None:
    """Raise UsageError when the ruling is finer than the film can draw or the angle is no number."""
    if not is_periodic(halftone.shape):
        return
    if not (math.isfinite(halftone.lpi) and halftone.lpi > 0 and math.isfinite(halftone.angle_deg)):
        raise UsageError("a ruling is above 0 lpi and an angle is in degrees", where="halftone", hint="try 45 and 22.5")
    if dpi / halftone.lpi < LEAST_PERIOD_PX:
        raise UsageError(
            f"{halftone.lpi:g} lpi is finer than a {dpi:g} dpi film can draw",
            where="halftone",
            hint=f"use at most {dpi / 12:.0f} lpi for even tones, or a higher film dpi",
        )


def grey_levels(dpi: float, lpi: float) -> int:
    """Return how many tints one dot can show, (dpi / lpi)^2 + 1 (common practice).

    >>> grey_levels(720, 45)
    257
    """
    return int((dpi / lpi) ** 2) + 1


def spot(shape: PeriodicDot, u: F64, v: F64) -> F64:
    """Return the spot function at cell phases ``u``, ``v`` (periods): ink grows from its high values."""
    return np.asarray(SPOTS[shape].height(u, v))


def _wave(phase: F64) -> F64:
    return np.asarray(np.cos(2 * np.pi * phase))


def find_lattice(dpi: float, lpi: float, angle_deg: float, *, least_dots: int = 1) -> tuple[int, int, int]:
    """Return whole (A, B) and n so that (A, B) / n is the dot pitch in pixels, B counted downwards.

    The smallest tile within both tolerances with ``least_dots`` along a side; failing that, the closest below
    ``MOST_TILE`` pixels.

    >>> find_lattice(720.0, 45.0, 0.0)
    (128, 0, 8)
    """
    period = dpi / lpi
    # Film rows run down, angles count counter-clockwise.
    cos, sin = math.cos(math.radians(angle_deg)), -math.sin(math.radians(angle_deg))
    best, best_error = (round(period), 0, 1), math.inf
    n = max(least_dots, math.ceil(math.sqrt(LEAST_TILE) / period))
    while n == least_dots or (n * period) ** 2 <= MOST_TILE:
        a, b = round(n * period * cos), round(n * period * sin)
        if a or b:
            ruling = abs(math.hypot(a, b) / (n * period) - 1)
            angle = abs(math.degrees(math.atan2(a * sin - b * cos, a * cos + b * sin)))
            error = max(ruling / RULING_TOLERANCE, angle / ANGLE_TOLERANCE_DEG)
            if error < best_error:
                best, best_error = (a, b, n), error
            if error <= 1:
                break
        n += 1
    return best


@lru_cache(maxsize=8)
def _dot_screen(
    dpi: float, lpi: float, angle_deg: float, shape: PeriodicDot, fewer: tuple[float, float] | None
) -> Screen:
    a, b, n = find_lattice(dpi, lpi, angle_deg, least_dots=1 if fewer is None else FEWER_DOTS)
    area = a * a + b * b
    g = math.gcd(a, b)
    length = area // g
    values = np.empty(area)
    for start in range(0, area, CHUNK):
        at = np.arange(start, min(start + CHUNK, area), dtype=np.int64)
        y, x = np.divmod(at, length)
        # Half a pixel off, so that no pixel lies on a symmetry axis of its dot and ties are rare.
        u = ((n * (a * x + b * y)) % area) / area + 0.5 / length
        v = ((n * (b * x - a * y)) % area) / area + 0.25 / length
        values[at] = spot(shape, u, v)
    i, j = _bezout(b, a)
    shift = -(i * a - j * b) % length
    turns = _from_the_top(values)
    if fewer is not None:
        turns = _one_by_one(turns, (a, b, n), fewer)
    order = np.empty(area, np.int32)
    order[turns] = np.arange(area, dtype=np.int32)
    order.setflags(write=False)
    return Screen(order.reshape(g, length), area, shift, n * dpi / math.hypot(a, b), math.degrees(math.atan2(-b, a)))


def _from_the_top(values: F64) -> I64:
    """Return the pixels from the highest value down; equal values fall in scattered order. Eats ``values``."""
    np.negative(values, out=values)
    np.round(values, 9, out=values)
    for start in range(0, values.size, CHUNK):
        # Multiplicative scatter (golden ratio): dots of one tile take their equal pixels at different tints.
        at = np.arange(start, min(start + CHUNK, values.size))
        values[at] += 1e-10 * ((at * 0.6180339887498949) % 1.0)
    return np.argsort(values)


def _one_by_one(pixels: I64, lattice: tuple[int, int, int], fewer: tuple[float, float]) -> I64:
    """Return the pixels of a tile, in the order they turn to ink, with the smallest dots filled one after the other.

    The last gaps are closed so as well. A dot stands where the phases are whole, a gap between: each pixel belongs to
    one of n x n of them.
    """
    a, b, n = lattice
    area = a * a + b * b
    length = area // math.gcd(a, b)
    turn = _turns(n)
    least, most = (round(tint * area) for tint in fewer)

    def turn_of(at: I64, whole: np.ufunc) -> Any:
        y, x = np.divmod(at, length)
        u, v = whole((n * (a * x + b * y)) / area), whole((n * (b * x - a * y)) / area)
        return turn[u.astype(np.int64) % n * n + v.astype(np.int64) % n]

    out = pixels.copy()
    dots, gaps = pixels[:least], pixels[most:]
    out[:least] = dots[np.argsort(turn_of(dots, np.rint), kind="stable")]
    # The dot pattern backwards: the gap that would be the first dot is closed last.
    out[most:] = gaps[np.argsort(-turn_of(gaps, np.floor), kind="stable")]
    return out


@lru_cache(maxsize=8)
def _turns(side: int) -> Any:
    """Return when each of side x side dots comes, as (side * side,) places; large tiles repeat one of MOST_TURNS."""
    if side <= MOST_TURNS:
        return void_and_cluster(side).ravel()
    times = -(-side // MOST_TURNS)
    many = np.tile(void_and_cluster(MOST_TURNS), (times, times))[:side, :side].ravel()
    out = np.empty(side * side, np.int32)
    out[np.argsort(many, kind="stable")] = np.arange(side * side, dtype=np.int32)
    return out


def _bezout(p: int, q: int) -> tuple[int, int]:
    """Return (i, j) with i p + j q = gcd(p, q) > 0."""
    (r0, i0, j0), (r1, i1, j1) = (p, 1, 0), (q, 0, 1)
    while r1:
        k = r0 // r1
        r0, i0, j0, r1, i1, j1 = r1, i1, j1, r0 - k * r1, i0 - k * i1, j0 - k * j1
    return (i0, j0) if r0 > 0 else (-i0, -j0)


@lru_cache(maxsize=4)
def _noise_screen(dot_px: int) -> Screen:
    order = void_and_cluster(NOISE_CELLS).repeat(dot_px, axis=0).repeat(dot_px, axis=1)
    order.setflags(write=False)
    return Screen(order, NOISE_CELLS**2, 0, 0.0, 0.0)


@lru_cache(maxsize=8)
def void_and_cluster(side: int, *, seed: int = 7, sigma: float = 1.5) -> np.ndarray[Any, np.dtype[np.int32]]:
    """Return the order (side, side) of pixels by Ulichney's method; the seed only fixes the starting pattern."""
    count = side * side
    distance = np.minimum(np.arange(side), side - np.arange(side))
    bell = np.exp(-(distance[:, None] ** 2) / (2 * sigma**2)) * np.exp(-(distance[None, :] ** 2) / (2 * sigma**2))
    field = _Field(bell)
    start = np.random.default_rng(seed).permutation(count)[: count // 10]
    for at in start:
        field.put(int(at))
    while True:
        cluster = field.tightest()
        field.lift(cluster)
        void = field.widest()
        field.put(void)
        if void == cluster:
            break
    ranks = np.empty(count, np.int32)
    first = field.copy()
    for rank in range(len(start) - 1, -1, -1):
        at = first.tightest()
        first.lift(at)
        ranks[at] = rank
    for rank in range(len(start), count):
        at = field.widest()
        field.put(at)
        ranks[at] = rank
    order = ranks.reshape(side, side)
    order.setflags(write=False)
    return order


class _Field:
    """A pattern of dots on a torus and the sum of their bells."""

    def __init__(self, bell: F64) -> None:
        self.side = bell.shape[0]
        self.twice = np.tile(bell, (2, 2))
        self.sum: F64 = np.zeros_like(bell)
        self.dots: Bool = np.zeros(bell.size, bool)

    def copy(self) -> _Field:
        other = _Field(self.twice[: self.side, : self.side])
        other.sum, other.dots = self.sum.copy(), self.dots.copy()
        return other

    def put(self, at: int) -> None:
        self.dots[at] = True
        self.sum += self._bell(at)

    def lift(self, at: int) -> None:
        self.dots[at] = False
        self.sum -= self._bell(at)

    def tightest(self) -> int:
        return int(np.argmax(np.where(self.dots, self.sum.ravel(), -np.inf)))

    def widest(self) -> int:
        return int(np.argmin(np.where(self.dots, np.inf, self.sum.ravel())))

    def _bell(self, at: int) -> np.ndarray[Any, np.dtype[np.float64]]:
        y, x = divmod(at, self.side)
        s = self.side
        return self.twice[s - y : 2 * s - y, s - x : 2 * s - x]
