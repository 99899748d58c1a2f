"""What a tile of the photograph says of the screens: how far each lies off and how far its edges grew, all at once.

In: a fit so far and a tile of the cloth. Out: normal equations in 3 n numbers (right, down, growth of each screen, mm).
The colour of every stack in the tile and the blur of the picture are free and projected out, so that only where edges
lie counts, not how dark they are. Residuals are weighted robustly (Cauchy).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING

import numpy as np

from sepkit.reading.mixing import mixed_and_slopes, stack_shares
from sepkit.reading.subject import Patch

if TYPE_CHECKING:
    from sepkit.model import F32, F64
    from sepkit.reading.light import Look
    from sepkit.reading.picture import Photo
    from sepkit.reading.subject import Subject
    from sepkit.reading.warp import Warp

HALO_PX = 3
LEAST_SHARE = 0.004
"""Stacks that cover less of a tile are not in it."""
KNOWN_COLOUR, GUESSED_COLOUR = 0.25, 1.5
"""How far, as a share of itself, a stack's colour may be off in a tile: seen alone elsewhere, or only predicted."""
SEEN_ALONE = 30
CORRELATED = 12.0
"""Texture and noise of neighbouring samples hang together: that many count as one."""


@dataclass(frozen=True, slots=True)
class ScreenFit:
    """Where a screen printed, against the reference screen: mm right and down, radians clockwise, mm of growth."""

    dx_mm: float = 0.0
    dy_mm: float = 0.0
    turn: float = 0.0
    growth_mm: float = 0.05


@dataclass(frozen=True, slots=True, eq=False)
class State:
    """A fit: where cloth and screens lie, and what the photograph shows."""

    warp: Warp
    screens: tuple[ScreenFit, ...]
    look: Look
    reference: int = 0
    still: frozenset[int] = frozenset()
    """Screens that nothing shows: they are held where the reference lies."""


@dataclass(frozen=True, slots=True, eq=False)
class Tile:
    """A tile of the cloth: its middle (mm), its side, and the row that it belongs to.

    Tiles of one group share their slip, and their strain about the group's middle.
    """

    middle: F64
    side_mm: float
    group: int
    offset: F64
    """From the group's middle, mm."""
    disc: int | None = None
    """Which check disc it is cut around."""


@dataclass(frozen=True, slots=True, eq=False)
class Equation:
    """What one tile says: ``normal`` (3n, 3n) and ``right`` (3n,) for a step from the fit so far."""

    tile: Tile
    normal: F64
    right: F64
    blur_px2: float
    """Blur beyond what was assumed, half its variance in samples."""
    misfit: float
    """Residual over contrast, robust."""
    colours: dict[int, tuple[float, F64]] = field(default_factory=dict)
    """For each stack in the tile: how much of it, and how far its colour is off."""
    at: F64 | None = None
    """(n, 2, 2) places (mm) of what tells each screen's right and its down: cloth is stretched between them, too. None:
    the tile's middle."""


def coverages(subject: Subject, screens: Sequence[ScreenFit], patch: Patch) -> list[F32]:
    """Return the coverage 0..1 of each screen on a grid of the cloth, as printed."""
    x, y = np.meshgrid(patch.xs, patch.ys)
    return [covered(subject, k, fit, x, y, patch.px_per_mm) for k, fit in enumerate(screens)]


def covered(subject: Subject, screen: int, fit: ScreenFit, x_mm: F64, y_mm: F64, px_per_mm: float) -> F32:
    """Return the coverage 0..1 of one screen at points of the cloth."""
    film = to_film(subject, fit, x_mm, y_mm)
    inside = 0.5 - (subject.distance(screen, *film) - fit.growth_mm) * px_per_mm
    return np.asarray(np.clip(inside, 0, 1), np.float32)


def to_film(subject: Subject, fit: ScreenFit, x_mm: F64, y_mm: F64) -> tuple[F64, F64]:
    """Return the film points (mm) that a screen printed at points of the cloth."""
    mx, my = subject.middle
    c, s = np.cos(fit.turn), np.sin(fit.turn)
    x, y = x_mm - fit.dx_mm - mx, y_mm - fit.dy_mm - my
    return c * x + s * y + mx, -s * x + c * y + my


def printed_at(subject: Subject, fit: ScreenFit, film_mm: F64) -> F64:
    """Return the points of the cloth (..., 2) that a screen printed film points (..., 2) at, mm."""
    c, s = np.cos(fit.turn), np.sin(fit.turn)
    off = film_mm - subject.middle
    turned = np.stack([c * off[..., 0] - s * off[..., 1], s * off[..., 0] + c * off[..., 1]], -1)
    return np.asarray(turned + subject.middle + np.array([fit.dx_mm, fit.dy_mm]), np.float64)


def patch_of(tile: Tile, px_per_mm: float) -> Patch:
    """Return the samples of a tile, its halo around."""
    side = round(tile.side_mm * px_per_mm) + 2 * HALO_PX
    corner = tile.middle - side / 2 / px_per_mm
    return Patch(float(corner[0]), float(corner[1]), side, side, px_per_mm)


def lit(photo: Photo, warp: Warp, look: Look, subject: Subject, patch: Patch) -> F32:
    """Return the photograph on a grid of the cloth, its light divided out; NaN outside."""
    seen = photo.sample(warp.over(patch), warp.px_per_mm(patch.middle) / patch.px_per_mm)
    return seen / look.light_over(subject, patch)


def equation(
    subject: Subject, photo: Photo, state: State, tile: Tile, px_per_mm: float, blur_mm: float
) -> Equation | None:
    """Return what a tile says, or None where the photograph does not show it or it is halftone."""
    patch = patch_of(tile, px_per_mm)
    seen = lit(photo, state.warp, state.look, subject, patch)
    if not np.isfinite(seen).all():
        return None
    inner = (slice(None), *(slice(HALO_PX, -HALO_PX),) * 2)
    usable = ~subject.tones(patch)[inner[1:]]
    if usable.mean() < 0.4:
        return None
    planes = coverages(subject, state.screens, patch)
    colours = state.look.colours
    model, slopes = mixed_and_slopes(planes, colours)
    weight = (1 / (np.sqrt(np.maximum(model, 0)) * 2 + 0.08))[inner] * usable  # about as the eye and the noise weigh
    shares = stack_shares(planes)
    present = [s for s, share in enumerate(shares) if share.mean() > LEAST_SHARE]
    ways = [way for k, plane in enumerate(planes) for way in _ways(plane, slopes[k], px_per_mm)]
    soft = _blurred(np.concatenate([*ways, model, np.stack([shares[s] for s in present])]), blur_mm * px_per_mm)
    m = len(ways)
    J, model, S = soft[: 3 * m], soft[3 * m : 3 * m + 3], soft[3 * m + 3 :]
    spread = _laplacian(model)
    free = np.where(state.look.seen[present] >= SEEN_ALONE, KNOWN_COLOUR, GUESSED_COLOUR)
    loose = 1 / (free[:, None] * (colours[present] + 0.02)) ** 2
    error = np.moveaxis(seen, -1, 0)[inner] - model[inner]
    columns = _Columns(J[inner].reshape(m, 3, -1), S[inner].reshape(len(present), -1), spread[inner].reshape(3, -1))
    weights = np.asarray(weight.reshape(3, -1), np.float32)
    told = _projected(tile, error.reshape(3, -1), columns, weights, loose, present)
    return replace(told, at=_edge_places(columns.screens * weights, patch, tile.middle))


def _edge_places(ways: F32, patch: Patch, middle: F64) -> F64:
    """Return (n, 2, 2) mean places (mm) of what tells screens' right and down; the middle of what nothing tells."""
    inner = slice(HALO_PX, -HALO_PX)
    xs, ys = patch.xs[inner], patch.ys[inner]
    power = np.square(ways).sum(1).reshape(-1, 3, len(ys), len(xs))[:, :2]
    whole = power.sum((2, 3))
    sums = np.stack([power.sum(2) @ xs, power.sum(3) @ ys], -1)
    told = whole > 1e-6 * whole.max() + 1e-12
    return np.where(told[..., None], sums / np.where(told, whole, 1)[..., None], middle)


def _ways(plane: F32, slope: F32, px_per_mm: float) -> list[F32]:
    """Return how the colour (3, h, w) changes as a screen moves right, down, and grows, per mm."""
    gx, gy = np.zeros_like(plane), np.zeros_like(plane)
    gx[:, 1:-1] = (plane[:, 2:] - plane[:, :-2]) * np.float32(px_per_mm / 2)
    gy[1:-1] = (plane[2:] - plane[:-2]) * np.float32(px_per_mm / 2)
    return [-slope * gx, -slope * gy, slope * np.hypot(gx, gy)]


def _blurred(pictures: F32, sigma: float) -> F32:
    """Return pictures (k, h, w) blurred by a Gaussian, as two products of matrices: quick for small tiles."""
    out = pictures
    for axis in (2, 1):
        at = np.arange(pictures.shape[axis])
        kernel = np.exp(-0.5 * ((at[:, None] - at[None]) / max(sigma, 1e-3)) ** 2)
        kernel = (kernel / kernel.sum(axis=0)).astype(np.float32)
        out = out @ kernel if axis == 2 else kernel.T @ out
    return np.asarray(out, np.float32)


def _laplacian(pictures: F32) -> F32:
    out = np.zeros_like(pictures)
    middle = pictures[:, 1:-1, 1:-1]
    out[:, 1:-1, 1:-1] = (
        pictures[:, 2:, 1:-1] + pictures[:, :-2, 1:-1] + pictures[:, 1:-1, 2:] + pictures[:, 1:-1, :-2] - 4 * middle
    )
    return out


@dataclass(frozen=True, slots=True, eq=False)
class _Columns:
    """What the picture of a tile is explained by: screens (3n, 3, N), shares of stacks (S, N), blur (3, N)."""

    screens: F32
    shares: F32
    blur: F32


def _projected(tile: Tile, error: F32, columns: _Columns, weight: F32, loose: F64, present: list[int]) -> Equation:
    """Return the equations of the screens with colours and blur projected out (Schur complement)."""
    m, count = len(columns.screens), len(present)
    wide = [
        np.concatenate([columns.screens[:, c], columns.shares, columns.blur[c : c + 1]]) * weight[c] for c in range(3)
    ]
    left = [error[c] * weight[c] for c in range(3)]
    size = m + 3 * count + 1
    at = [np.r_[np.arange(m), m + c * count + np.arange(count), size - 1] for c in range(3)]
    trust = [np.ones_like(b) for b in left]
    variance, scale = 1e-4, 1.0
    for _ in range(3):
        N, b = np.zeros((size, size)), np.zeros(size)
        for c in range(3):
            weighted = wide[c] * trust[c]
            N[np.ix_(at[c], at[c])] += weighted @ wide[c].T
            b[at[c]] += weighted @ left[c]
            own = at[c][m:-1]
            N[own, own] += loose[:, c] * variance
        steady = N + np.diag(np.full(size, 1e-9 * np.trace(N) / size + 1e-12))
        steady[np.arange(m), np.arange(m)] += 1e-7 * np.trace(N[:m, :m]) / m + 1e-12
        solved = np.linalg.solve(steady, b)
        rest = [left[c] - solved[at[c]].astype(np.float32) @ wide[c] for c in range(3)]
        scale = float(np.median(np.abs(np.concatenate(rest)))) * 1.48 + 1e-6
        trust = [1 / (1 + (r / (3 * scale)) ** 2) for r in rest]
        variance = float(sum(t @ (r * r) for t, r in zip(trust, rest, strict=True)))
        variance /= max(10.0, float(sum(t.sum() for t in trust)))
    inner = N[m:, m:] + np.eye(size - m) * 1e-9 * np.trace(N[m:, m:]) / (size - m)
    Y = np.linalg.solve(inner, N[m:, :m])
    off = solved[m:-1].reshape(3, count).T
    amount = columns.shares.sum(axis=1)
    contrast = float(np.sqrt(np.mean([np.mean((columns.screens[:, c] * weight[c]) ** 2) for c in range(3)])))
    return Equation(
        tile,
        (N[:m, :m] - N[:m, m:] @ Y) / variance / CORRELATED,
        (b[:m] - Y.T @ b[m:]) / variance / CORRELATED,
        float(solved[-1]),
        scale / max(contrast, 1e-6),
        {stack: (float(amount[i]), off[i]) for i, stack in enumerate(present)},
    )


def choose_tiles(subject: Subject, *, side_mm: float, most: int) -> list[Tile]:
    """Return art tiles where screens have most edges, spread over the art, about as many for each screen."""
    r = 3.0
    planes = subject.coarse(r)
    step = max(2, round(side_mm * r))
    h, w = planes[0].shape[0] // step, planes[0].shape[1] // step
    grid = subject.whole(r)
    tones = subject.tones(grid)[: h * step, : w * step]
    margin = subject.margin_mm * r
    chosen: set[tuple[int, int]] = set()
    for plane in planes:
        gy, gx = np.gradient(plane)
        edge = np.where(tones, 0, np.hypot(gx, gy)[: h * step, : w * step])
        mass = edge.reshape(h, step, w, step).sum(axis=(1, 3))
        chosen |= _spread(mass, max(8, most // subject.count), step * 0.25)
    tiles: list[Tile] = []
    for i, j in sorted(chosen):
        middle = (np.array([j + 0.5, i + 0.5]) * step - margin) / r
        tiles.append(Tile(middle, side_mm, -1 - len(tiles), np.zeros(2)))
    return tiles


def _spread(mass: F32, most: int, least: float) -> set[tuple[int, int]]:
    """Return cells of most mass, taking the best of each of 6 x 6 parts in turn."""
    h, w = mass.shape
    rank: dict[tuple[int, int], int] = {}
    order: list[tuple[int, int, tuple[int, int]]] = []
    for at in np.argsort(-mass.ravel()):
        i, j = divmod(int(at), w)
        if mass[i, j] <= least:
            break
        part = (i * 6 // h, j * 6 // w)
        rank[part] = rank.get(part, 0) + 1
        order.append((rank[part], len(order), (i, j)))
    return {cell for _, _, cell in sorted(order)[:most]}


def disc_tiles(subject: Subject) -> list[Tile]:
    """Return a tile around each check disc, those of a row in one group."""
    count = subject.count
    tiles = []
    for row in range(len(subject.discs) // max(count, 1)):
        discs = subject.discs[row * count : (row + 1) * count]
        places = np.array([(disc.x_mm, disc.y_mm) for disc in discs])
        for k, place in enumerate(places):
            tiles.append(Tile(place, 8.4, row, place - places.mean(0), disc=row * count + k))
    return tiles
