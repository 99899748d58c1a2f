"""Rectangles inside rectangles: an exact yes or no for a few, with the gaps that tape and blades ask.

In: blocks with a size and a range for their left and near edges, gaps between each two, a budget of search nodes. Out:
earliest and latest places that keep every gap, or none. All lengths are whole units of 0.01 mm, so that comparing them
is exact.

The search decides, for two blocks that collide, which of four relations holds: left of, right of, before, behind. Each
is a difference of two coordinates, so places follow by longest paths. Branches exclude one another, and whatever the
ranges force is taken without branching. The area bounds are dual feasible functions: G. S. Lueker (1983), Bin packing
with items uniformly distributed over intervals; S. P. Fekete and J. Schepers (2004), A general framework for bounds for
higher-dimensional orthogonal packing problems, Math. Methods of Operations Research 60.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from itertools import combinations
from math import ceil

UNITS_PER_MM = 100
ROUNDING = 1e-9
"""Slack of the area bounds in floating point, toward the weaker bound."""

Arc = tuple[int, int, int]
"""(i, j, d): coordinate j is at least coordinate i plus d."""
Pair = tuple[int, int]
Relation = tuple[int, Arc]
"""The axis and how two blocks lie along it: left of, right of, before or behind one another."""
Edges = tuple[list[int], list[int]]
"""Left edges and near edges of all blocks."""
X, Y = 0, 1

FIRST_NODES = 40
"""What takes more is first tried by pushing blocks together, which finds most arrangements that have some room."""


@dataclass(frozen=True, slots=True)
class Block:
    """A rectangle and where its left edge (x) and near edge (y) may lie, both ends included."""

    width: int
    height: int
    x_low: int
    x_high: int
    y_low: int
    y_high: int


@dataclass(frozen=True, slots=True)
class Places:
    """The earliest and latest left and near edges that keep one arrangement; any mean of the two keeps it too."""

    x_first: tuple[int, ...]
    x_last: tuple[int, ...]
    y_first: tuple[int, ...]
    y_last: tuple[int, ...]
    arcs_y: tuple[Arc, ...]
    """Who lies before whom, and by how much at least."""


class Budget:
    """Search nodes left; ``spent_out`` tells that an answer "no" may be for want of nodes."""

    __slots__ = ("left", "spent_out")

    def __init__(self, nodes: int) -> None:
        self.left = nodes
        self.spent_out = False

    def take(self) -> bool:
        """Take one node; False when there is none."""
        if self.left <= 0:
            self.spent_out = True
            return False
        self.left -= 1
        return True


Gaps = Callable[[int, int], int]
"""Clear width between blocks i and j (i < j) when they lie side by side, in whichever order."""


def pack(blocks: Sequence[Block], *, gap_x: Gaps, gap_y: int, budget: Budget) -> Places | None:
    """Return places for all blocks without a collision, or None: impossible, unless ``budget.spent_out``."""
    if any(b.x_high < b.x_low or b.y_high < b.y_low for b in blocks):
        return None
    first = Budget(min(FIRST_NODES, budget.left))
    allowed = first.left
    found = _Search(blocks, gap_x, gap_y, first).run()
    budget.left -= allowed - first.left
    if found is not None or not first.spent_out:
        return found
    found = _pushed_together(_Search(blocks, gap_x, gap_y, budget))
    return found or _Search(blocks, gap_x, gap_y, budget).run()


def widened(blocks: Sequence[Block], places: Places, *, more: int) -> tuple[list[int], list[int]] | None:
    """Return first and last near edges with every gap along y ``more`` wider, or None when there is no room."""
    first, last = [b.y_low for b in blocks], [b.y_high for b in blocks]
    wider = [(i, j, step + more) for i, j, step in places.arcs_y]
    return (first, last) if _narrow(first, last, wider) else None


def units(mm: float) -> int:
    """Return a length in whole units of 0.01 mm."""
    return round(mm * UNITS_PER_MM)


def fewest_bins(sizes: Sequence[tuple[int, int]], room: tuple[int, int], *, gap_x: int, gap_y: int) -> int:
    """Return a lower bound on the number of rooms (width, height) that hold rectangles of ``sizes`` with these gaps."""
    across = list(_scaled([w + gap_x for w, _ in sizes], room[0] + gap_x))
    down = list(_scaled([h + gap_y for _, h in sizes], room[1] + gap_y))
    most = max(sum(a * d for a, d in zip(xs, ys, strict=True)) for xs in across for ys in down)
    return ceil(most - ROUNDING)


def _scaled(lengths: Sequence[int], whole: int) -> Iterator[list[float]]:
    """Yield lengths as shares of the whole, through dual feasible functions."""
    shares = [length / whole for length in lengths]
    yield shares
    yield from (_stepped(lengths, shares, whole, k) for k in (1, 2, 3))
    limits = sorted({min(length, whole - length) for length in lengths})
    yield from (_extremes_rounded(lengths, shares, whole, limit) for limit in limits if 0 < 2 * limit <= whole)


def _stepped(lengths: Sequence[int], shares: Sequence[float], whole: int, k: int) -> list[float]:
    """Round shares down to the k-th part of the whole, unless they are a multiple of its (k + 1)-th."""
    parts = [divmod((k + 1) * length, whole) for length in lengths]
    return [n / k if rest else share for (n, rest), share in zip(parts, shares, strict=True)]


def _extremes_rounded(lengths: Sequence[int], shares: Sequence[float], whole: int, limit: int) -> list[float]:
    """Let what leaves less than ``limit`` count as the whole, and what is shorter as nothing."""
    return [
        1.0 if length > whole - limit else 0.0 if length < limit else share
        for length, share in zip(lengths, shares, strict=True)
    ]


class _Axis:
    """The blocks along one direction: their ranges, how far each lies beyond another, the room that they share."""

    def __init__(self, spans: Sequence[tuple[int, int, int]], gap: Gaps, pairs: Sequence[Pair]) -> None:
        """Take the length and the lowest and highest edge of each block."""
        self.low, self.high = [low for _, low, _ in spans], [high for _, _, high in spans]
        lengths = [length for length, _, _ in spans]
        clear = {(i, j): gap(i, j) for i, j in pairs}
        self.step = {(i, j): lengths[i] + between for (i, j), between in clear.items()}
        self.step |= {(j, i): lengths[j] + between for (i, j), between in clear.items()}
        self.middles = {low + high + length for length, low, high in spans}
        # Lengths with the least gap to any neighbour, and the room that they share with it.
        least = min(clear.values(), default=0)
        self.lengths = [length + least for length in lengths]
        self.room = max(high + length for length, _, high in spans) - min(self.low) + least

    def half(self) -> list[int]:
        """Return the highest edges that need a look: a layout and its mirror image are one.

        Where all blocks lie about one middle, the first one stays in the left or near half.
        """
        high = list(self.high)
        if len(self.middles) == 1:
            high[0] = (self.low[0] + high[0] + 1) // 2
        return high

    def kept(self, arcs: Sequence[Arc]) -> tuple[tuple[int, ...], tuple[int, ...]]:
        """Return the first and last edges that keep the arcs."""
        first, last = list(self.low), list(self.high)
        if not _narrow(first, last, arcs):
            raise AssertionError("an arrangement that was found does not hold")
        return tuple(first), tuple(last)


@dataclass(slots=True)
class _Decided:
    """One set of decisions: the lowest and highest edges that it leaves, and who lies beyond whom along x and y."""

    low: Edges
    high: Edges
    arcs: tuple[list[Arc], list[Arc]]

    def with_arcs(self, more: tuple[list[Arc], list[Arc]]) -> _Decided:
        """Return a copy with more arcs."""
        low, high = (list(self.low[X]), list(self.low[Y])), (list(self.high[X]), list(self.high[Y]))
        return _Decided(low, high, ([*self.arcs[X], *more[X]], [*self.arcs[Y], *more[Y]]))

    def narrow(self) -> bool:
        """Narrow the ranges by the arcs; False when there is no way to keep them."""
        return all(_narrow(self.low[axis], self.high[axis], self.arcs[axis]) for axis in (X, Y))


class _Search:
    """One call of ``pack``."""

    def __init__(self, blocks: Sequence[Block], gap_x: Gaps, gap_y: int, budget: Budget) -> None:
        self.blocks, self.budget = blocks, budget
        self.pairs = list(combinations(range(len(blocks)), 2))
        x = _Axis([(b.width, b.x_low, b.x_high) for b in blocks], gap_x, self.pairs)
        y = _Axis([(b.height, b.y_low, b.y_high) for b in blocks], lambda _i, _j: gap_y, self.pairs)
        self.axes = x, y
        self.steps = x.step, y.step

    def run(self) -> Places | None:
        x, y = self.axes
        # Equal blocks are interchangeable: number them from the left.
        arcs_x = [(i, j, 0) for i, j in self.pairs if self.blocks[i] == self.blocks[j] and self._same_gaps(i, j)]
        start = _Decided((list(x.low), list(y.low)), (x.half(), y.half()), (arcs_x, []))
        return self._below(start, self.pairs)

    def _same_gaps(self, i: int, j: int) -> bool:
        others = (k for k in range(len(self.blocks)) if k not in (i, j))
        return all(self.steps[X][i, k] == self.steps[X][j, k] for k in others)

    def _below(self, decided: _Decided, open_pairs: Sequence[Pair]) -> Places | None:
        """Search below one set of decisions, which is narrowed."""
        if not self.budget.take():
            return None
        still = self._taken(decided, open_pairs)
        if still is None or self._crowded(decided):
            return None
        colliding = [pair for pair in still if not self._leaves(pair, decided.low, decided.low)]
        if not colliding:
            return self.places(decided.low, decided.arcs)
        options = {pair: self._leaves(pair, decided.low, decided.high) for pair in colliding}
        chosen = min(colliding, key=lambda pair: (len(options[pair]), pair))
        return self._branch(options[chosen], decided, [pair for pair in still if pair != chosen])

    def _leaves(self, pair: Pair, start: Edges, end: Edges) -> list[Relation]:
        """Return the relations of a pair that lead from an edge in ``start`` to one in ``end``.

        From the lowest to the highest edges these are all that can be, from highest to lowest those that are sure.
        """
        out: list[Relation] = []
        step_x, step_y = self.steps
        (x, y), (x_end, y_end) = start, end
        for one in (pair, pair[::-1]):
            i, j = one
            if y[i] + step_y[one] <= y_end[j]:
                out.append((Y, (i, j, step_y[one])))
            if x[i] + step_x[one] <= x_end[j]:
                out.append((X, (i, j, step_x[one])))
        return out

    def _taken(self, decided: _Decided, open_pairs: Sequence[Pair]) -> Sequence[Pair] | None:
        """Take whatever the ranges force; return the pairs that stay open, or None when something is impossible."""
        while decided.narrow():
            still, forced = [], False
            for pair in open_pairs:
                if self._leaves(pair, decided.high, decided.low):
                    continue
                ways = self._leaves(pair, decided.low, decided.high)
                if not ways:
                    return None
                if len(ways) > 1:
                    still.append(pair)
                    continue
                axis, arc = ways[0]
                decided.arcs[axis].append(arc)
                forced = True
            open_pairs = still
            if not forced:
                return open_pairs
        return None

    def _crowded(self, decided: _Decided) -> bool:
        """Tell whether blocks that must all lie across one line, wherever they end up, are too long for it together."""
        for along, across in ((X, Y), (Y, X)):
            low, high = decided.low[along], decided.high[along]
            length, thick, room = self.axes[along].lengths, self.axes[across].lengths, self.axes[across].room
            sure = [(high[k], low[k] + length[k], thick[k]) for k in range(len(low)) if high[k] < low[k] + length[k]]
            if any(sum(t for a, b, t in sure if a <= at < b) > room for at, _, _ in sure):
                return True
        return False

    def _branch(self, options: Sequence[Relation], decided: _Decided, open_pairs: Sequence[Pair]) -> Places | None:
        excluded: tuple[list[Arc], list[Arc]] = ([], [])
        for axis, (i, j, step) in options:
            more = (list(excluded[X]), list(excluded[Y]))
            more[axis].append((i, j, step))
            found = self._below(decided.with_arcs(more), open_pairs)
            if found is not None or self.budget.spent_out:
                return found
            # Later branches hold only what this one did not: j is less than a step beyond i.
            excluded[axis].append((j, i, 1 - step))
        return None

    def places(self, at: Edges, arcs: tuple[Sequence[Arc], Sequence[Arc]] = ((), ())) -> Places:
        """Fix the relations that hold at these edges and return all that keeps them."""
        holding = [next(iter(self._leaves(pair, at, at)), None) for pair in self.pairs]
        # Only the collisions matter now: what split the search (halves, order of equals, exclusions) is let go.
        kept_x, kept_y = (
            [arc for arc in (*arcs[axis], *(r[1] for r in holding if r and r[0] == axis)) if arc[2] > 0]
            for axis in (X, Y)
        )
        return Places(*self.axes[X].kept(kept_x), *self.axes[Y].kept(kept_y), tuple(kept_y))


def _pushed_together(search: _Search) -> Places | None:
    """Place block after block as near, or as far left, as it goes beside those placed before, in several orders."""
    blocks = search.blocks
    orders = (
        lambda k: (-blocks[k].width * blocks[k].height, k),
        lambda k: (-blocks[k].height, k),
        lambda k: (-blocks[k].width, k),
    )
    for key in orders:
        order = sorted(range(len(blocks)), key=key)
        for by_column in (False, True):
            at = _placed_in_order(search, order, by_column=by_column)
            if at is not None:
                return search.places(([at[k][X] for k in range(len(at))], [at[k][Y] for k in range(len(at))]))
    return None


def _placed_in_order(search: _Search, order: Sequence[int], *, by_column: bool) -> dict[int, tuple[int, int]] | None:
    at: dict[int, tuple[int, int]] = {}
    for k in order:
        xs, ys = (_touching(search, at, k, axis) for axis in (X, Y))
        spots = ((x, y) for x in xs for y in ys) if by_column else ((x, y) for y in ys for x in xs)
        spot = next((spot for spot in spots if _clear(search, at, k, spot)), None)
        if spot is None:
            return None
        at[k] = spot
    return at


def _touching(search: _Search, at: dict[int, tuple[int, int]], k: int, axis: int) -> list[int]:
    """Return the edges of block k at the start of its range or beside a block placed before, the lowest first."""
    low, high, step = search.axes[axis].low[k], search.axes[axis].high[k], search.steps[axis]
    edges = {low, *(at[j][axis] + step[j, k] for j in at)}
    return sorted(edge for edge in edges if low <= edge <= high)


def _clear(search: _Search, at: dict[int, tuple[int, int]], k: int, spot: tuple[int, int]) -> bool:
    return all(
        any(
            there[axis] + search.steps[axis][j, k] <= spot[axis] or spot[axis] + search.steps[axis][k, j] <= there[axis]
            for axis in (X, Y)
        )
        for j, there in at.items()
    )


def _narrow(low: list[int], high: list[int], arcs: Sequence[Arc]) -> bool:
    """Narrow the ranges by the arcs until nothing moves; False when a range is empty or the arcs contradict."""
    for _ in range(len(low) + 2):
        moved = False
        for i, j, step in arcs:
            least, most = low[i] + step, high[j] - step
            if least > low[j]:
                if least > high[j]:
                    return False
                low[j] = least
                moved = True
            if most < high[i]:
                if most < low[i]:
                    return False
                high[i] = most
                moved = True
        if not moved:
            return True
    return False
