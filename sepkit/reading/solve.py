"""All tiles together: one smooth field of stretch for the cloth, and right, down, turn and growth for each screen.

In: equations of tiles. Out: the state after the step, and each screen's band. A tile's own slip, and the strain of a
row of check discs, are unknowns with a small spread that are integrated out: stretched cloth moves all inks together,
and only differences inside a tile tell register. Tiles that disagree count less. The band is a delete-a-block jackknife
(Künsch, Annals of Statistics 17:1217, 1989) over parts of the print: what is wrong in one tile is wrong beside it.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from sepkit.reading.tiles import ScreenFit

if TYPE_CHECKING:
    from sepkit.model import F64
    from sepkit.reading.subject import Subject
    from sepkit.reading.tiles import Equation, State

STRAIN = 0.004
"""Spread of what a row of discs is stretched beyond the smooth field, as a share."""
STIFF_MM = 0.12
"""Spread of second differences of the cloth's slip."""
LENS = 0.02
"""Spread of how far lenses move a photograph's corners, as a share of their way (phones, common practice: 0 to 3 %)."""
SHIFT_MM, TURN_MM, GROWTH_MM, SLIP_MM = 0.8, 0.6, 0.08, 3.0
"""Spreads expected beforehand: of shifts, of what turns move at the art's edge, of growths, of the cloth's slip."""
STILL_MM = 0.005
"""How far screens move that nothing shows."""
USUAL_GROWTH_MM = 0.05
MOST_STEP_MM = 1.5
AGREE = 9.0
HELD = 1e10
UNKNOWN = 9.9
"""The band, mm or radians, of what nothing tells: wider than any that is told."""


@dataclass(frozen=True, slots=True)
class Band:
    """How far a screen's figures may be off, one standard deviation: mm, radians, mm.

    Shift and turn: the larger of what parts of the print disagree by, and what the equations leave open; growth: the
    first of these.
    """

    shift_mm: float
    turn: float
    growth_mm: float


@dataclass(frozen=True, slots=True, eq=False)
class _Group:
    """Tiles that share a slip: columns of the unknowns they touch, and their equations with the slip apart."""

    columns: np.ndarray[tuple[int], np.dtype[np.int64]]
    parts: tuple[tuple[F64, F64, F64, F64], ...]
    """(M, E, N, b) of each tile: unknowns to its numbers, slip and strain to its numbers, its equations."""
    block: tuple[int, int]
    which: tuple[int, ...]
    """Where its tiles stand among the system's."""


class System:
    """The equations of all tiles about a state."""

    def __init__(
        self,
        subject: Subject,
        state: State,
        equations: Sequence[Equation],
        *,
        slack_mm: float,
        stiff: float = 1.0,
        held: bool = False,
    ) -> None:
        """``held`` keeps all screens where they are: what tiles say moves the cloth and growths."""
        self.subject, self.state = subject, state
        self.n, reference = subject.count, 3 * state.reference
        self.fixed = slice(0, 3 * self.n) if held else slice(reference, reference + 3)
        self.half = max(subject.width_mm, subject.height_mm) / 2
        self.knots = state.warp.slip.shape[0] * state.warp.slip.shape[1]
        self.size = 4 * self.n + 2 * self.knots
        self.slack = np.diag([1 / slack_mm**2] * 2 + [1 / STRAIN**2] * 4)
        self.now = self._now()
        self.bending, self.lens = state.warp.bending(), state.warp.lens(LENS).reshape(-1, 2).T.ravel()
        self.lens_bent = np.concatenate([self.bending @ half for half in np.split(self.lens, 2)])
        self.prior, self.bend = self._prior(), self._bend(stiff)
        grouped: dict[int, list[int]] = {}
        for i, one in enumerate(equations):
            grouped.setdefault(one.tile.group, []).append(i)
        self.groups = [self._group(equations, which) for which in grouped.values()]
        self.weights = [np.ones(len(group.parts)) for group in self.groups]

    def _now(self) -> F64:
        out = np.zeros(self.size)
        for k, s in enumerate(self.state.screens):
            out[3 * k : 3 * k + 3] = s.dx_mm, s.dy_mm, s.turn * self.half
            out[3 * self.n + k] = s.growth_mm
        out[4 * self.n :] = self.state.warp.slip.reshape(-1, 2).T.ravel()
        return out

    def _prior(self) -> F64:
        n = self.n
        prior = np.full(self.size, 1 / SLIP_MM**2)
        prior[: 3 * n] = np.tile([1 / SHIFT_MM**2, 1 / SHIFT_MM**2, 1 / TURN_MM**2], n)
        prior[3 * n : 4 * n] = 1 / GROWTH_MM**2
        for k in self.state.still:
            prior[3 * k : 3 * k + 3] = prior[3 * n + k] = 1 / STILL_MM**2
        prior[self.fixed] = HELD
        return prior

    def _bend(self, stiff: float) -> F64:
        """Return what slip costs: second differences, but for those of a lens, whose strength is integrated out."""
        knots, bent = self.knots, stiff / STIFF_MM**2 * self.lens_bent
        bend = np.zeros((2 * knots, 2 * knots))
        bend[:knots, :knots] = bend[knots:, knots:] = self.bending * (stiff / STIFF_MM**2)
        out = np.zeros((self.size, self.size))
        out[4 * self.n :, 4 * self.n :] = bend - np.outer(bent, bent) / (1 + self.lens @ bent)
        return out

    def _group(self, equations: Sequence[Equation], which: Sequence[int]) -> _Group:
        n, start, members = self.n, 4 * self.n, [equations[i] for i in which]
        places = [np.broadcast_to(one.tile.middle, (n, 2, 2)) if one.at is None else one.at for one in members]
        spans = [self.state.warp.basis(at.reshape(-1, 2)) for at in places]
        knots = np.unique(np.concatenate([at.ravel() for at, _ in spans]))
        columns = np.concatenate([np.arange(start), start + knots, start + self.knots + knots])
        parts = []
        for one, place, (at, weight) in zip(members, places, spans, strict=True):
            M, E = np.zeros((3 * n, len(columns))), np.zeros((3 * n, 6))
            slip = start + np.searchsorted(knots, at).reshape(n, 2, -1)
            weight = weight.reshape(n, 2, -1)
            lever = (place - self.subject.middle) / self.half
            tx, ty = one.tile.offset
            for k in range(n):
                M[3 * k, 3 * k], M[3 * k, 3 * k + 2] = 1, -lever[k, 0, 1]
                M[3 * k + 1, 3 * k + 1], M[3 * k + 1, 3 * k + 2] = 1, lever[k, 1, 0]
                M[3 * k + 2, 3 * n + k] = 1
                M[3 * k, slip[k, 0]] += weight[k, 0]
                M[3 * k + 1, slip[k, 1] + len(knots)] += weight[k, 1]
                E[3 * k] = 1, 0, tx, ty, 0, 0
                E[3 * k + 1] = 0, 1, 0, 0, tx, ty
            parts.append((M, E, one.normal, one.right))
        middle = np.mean([one.tile.middle for one in members], axis=0)
        span = np.array([self.subject.width_mm, self.subject.height_mm]) / 3
        disc_row = members[0].tile.group
        block = (100 + disc_row, 0) if disc_row >= 0 else (int(middle[0] // span[0]), int(middle[1] // span[1]))
        return _Group(columns, tuple(parts), block, tuple(which))

    def _reduced(self, group: _Group, weight: F64) -> tuple[F64, F64, F64, F64, F64]:
        """Return a group's equations with slip and strain integrated out, and what gives these back."""
        size = len(group.columns)
        A, b = np.zeros((size, size)), np.zeros(size)
        X, D, d = np.zeros((size, 6)), self.slack.copy(), np.zeros(6)
        for (M, E, N, r), w in zip(group.parts, weight, strict=True):
            NM, NE = w * N @ M, w * N @ E
            A += M.T @ NM
            X += M.T @ NE
            D += E.T @ NE
            b += w * M.T @ r
            d += w * E.T @ r
        Y = np.linalg.solve(D, np.column_stack([X.T, d]))
        return A - X @ Y[:, :-1], b - X @ Y[:, -1], X, D, d

    def _sums(self) -> list[tuple[F64, F64, F64, F64, F64]]:
        return [self._reduced(group, weight) for group, weight in zip(self.groups, self.weights, strict=True)]

    def _all(self, sums: Sequence[tuple[F64, F64, F64, F64, F64]], without: tuple[int, int] | None) -> tuple[F64, F64]:
        return self._joined(sums, np.diag(self.prior) + self.bend, self.bend @ self.now, without)

    def _joined(
        self,
        sums: Sequence[tuple[F64, F64, F64, F64, F64]],
        A: F64,
        pull: F64 | float = 0.0,
        without: tuple[int, int] | None = None,
    ) -> tuple[F64, F64]:
        """Return the equations of all tiles, added to ``A`` itself; ``pull`` is what the cloth's stiffness pulls at."""
        aim = np.zeros(self.size)
        aim[3 * self.n : 4 * self.n] = USUAL_GROWTH_MM
        b = -self.prior * (self.now - aim) - pull
        b[self.fixed] = 0
        for group, (a, r, *_) in zip(self.groups, sums, strict=True):
            if group.block != without:
                A[np.ix_(group.columns, group.columns)] += a
                b[group.columns] += r
        return A, b

    def _solved(self, sums: Sequence[tuple[F64, F64, F64, F64, F64]], *, without: tuple[int, int] | None = None) -> F64:
        A, b = self._all(sums, without)
        return np.asarray(np.linalg.solve(A, b), np.float64)

    def step(self, rounds: int = 4) -> F64:
        """Return the step of all unknowns, tiles that disagree weighing less; bounded."""
        step = np.zeros(self.size)
        for _ in range(rounds):
            sums = self._sums()
            step = self._solved(sums)
            for group, weight, (_, _, X, D, d) in zip(self.groups, self.weights, sums, strict=True):
                slip = np.linalg.solve(D, d - X.T @ step[group.columns])
                for i, (M, E, N, r) in enumerate(group.parts):
                    z = M @ step[group.columns] + E @ slip
                    best = np.linalg.solve(N + 1e-6 * np.eye(len(N)) * (np.trace(N) + 1e-12), r)
                    weight[i] = 1 / (1 + float((z - best) @ N @ (z - best)) / (AGREE * 3 * self.n))
        return np.clip(step, -MOST_STEP_MM, MOST_STEP_MM)

    def after(self, step: F64) -> State:
        """Return the state after a step."""
        new, n = self.now + step, self.n
        screens = tuple(
            ScreenFit(
                float(new[3 * k]),
                float(new[3 * k + 1]),
                float(new[3 * k + 2] / self.half),
                float(np.clip(new[3 * n + k], -0.3, 0.5)),
            )
            for k in range(n)
        )
        slip = new[4 * n :].reshape(2, -1).T.reshape(self.state.warp.slip.shape)
        return replace(self.state, screens=screens, warp=replace(self.state.warp, slip=slip))

    def tile_weights(self) -> F64:
        """Return what each tile weighs after a step, in the order of the system's equations."""
        out = np.ones(sum(len(group.which) for group in self.groups))
        for group, weight in zip(self.groups, self.weights, strict=True):
            out[list(group.which)] = weight
        return out

    def likely(self, stiffs: Sequence[float], beforehand: Sequence[float]) -> list[float]:
        """Return, for cloth of each stiffness, the logarithm of how likely the equations are, up to one constant.

        That is what all unknowns together leave, linear as the equations are (MacKay, Neural Computation 4:415, 1992).
        ``beforehand`` is that of these stiffnesses.
        """
        from scipy.linalg import lu_factor, lu_solve

        sums = self._sums()
        tiles = sum(float(d @ np.linalg.solve(D, d) - np.linalg.slogdet(D)[1]) for _, _, _, D, d in sums)
        loose, pull = self._joined(sums, np.diag(self.prior))
        out = []
        for stiff, held in zip(stiffs, beforehand, strict=True):
            bend = self._bend(stiff)
            b = pull - bend @ self.now
            factors = lu_factor(loose + bend, overwrite_a=True, check_finite=False)  # once for both
            fit, size = float(b @ lu_solve(factors, b)), float(np.log(np.abs(np.diagonal(factors[0]))).sum())
            out.append((tiles + fit - size + held) / 2)
        return out

    def beforehand(self, stiffs: Sequence[float]) -> list[float]:
        """Return, for cloth of each stiffness, the part of ``likely`` that is there before any tile."""
        off = self.now.copy()
        off[3 * self.n : 4 * self.n] -= USUAL_GROWTH_MM
        off[self.fixed] = 0
        every = (np.diag(self.prior) + self._bend(stiff) for stiff in stiffs)
        return [float(np.linalg.slogdet(held)[1] - off @ held @ off) for held in every]

    def bands(self, places: F64) -> tuple[Band, ...]:
        """Return each screen's band at its place (n, 2) on the film, mm.

        By leaving out one part of the print after the other, and by what the equations leave open.
        """
        sums = self._sums()
        blocks = sorted({group.block for group in self.groups})
        n = self.n
        if len(blocks) < 3:
            return (Band(UNKNOWN, UNKNOWN, UNKNOWN),) * n
        at = self._at(places)
        steps = np.array([self._solved(sums, without=block)[: 4 * n] for block in blocks]) @ at.T
        spread = np.sqrt((len(blocks) - 1) * np.mean((steps - steps.mean(0)) ** 2, axis=0))
        left = np.linalg.inv(self._all(sums, None)[0])[: 4 * n, : 4 * n]
        worse = np.maximum(spread, np.sqrt(np.diagonal(at @ left @ at.T)))
        return tuple(
            Band(
                float(max(worse[3 * k], worse[3 * k + 1])),
                float(worse[3 * k + 2] / self.half),
                float(spread[3 * n + k]),
            )
            for k in range(n)
        )

    def _at(self, places: F64) -> F64:
        """Return what makes shifts at the art's middle shifts at places (n, 2): a (4n, 4n) matrix."""
        out = np.eye(4 * self.n)
        for k, (x, y) in enumerate((places - self.subject.middle) / self.half):
            out[3 * k, 3 * k + 2], out[3 * k + 1, 3 * k + 2] = -y, x
        return out


def learnt_colours(state: State, equations: Sequence[Equation], least_seen: float) -> Mapping[int, F64]:
    """Return colours of stacks that never show alone (traps, rims of a base), as the tiles fitted them: the median."""
    out: dict[int, F64] = {}
    for stack in {s for one in equations for s in one.colours}:
        if state.look.seen[stack] >= least_seen:
            continue
        mine = [one.colours[stack] for one in equations if stack in one.colours and one.colours[stack][0] > 6]
        if len(mine) < 3:
            continue
        amounts, offs = np.array([a for a, _ in mine]), np.array([off for _, off in mine])
        moved = np.empty(3)
        for c in range(3):
            order = np.argsort(offs[:, c])
            half = np.searchsorted(np.cumsum(amounts[order]), amounts.sum() / 2)
            moved[c] = offs[order[half], c]
        out[stack] = np.clip(state.look.colours[stack] + moved, 0.0005, 1.2)
    return out
