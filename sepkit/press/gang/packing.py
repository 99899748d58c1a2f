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
Ranges = tuple[list[int], list[int], list[int], list[int]]
"""Lowest and highest left edges, lowest and highest near edges."""

FIRST_NODES = 40
"""What takes more is first tried by pushing blocks together, which finds most arrangements that have some room."""

_OPEN, _SETTLED, _IMPOSSIBLE = range(3)


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


GapsX = Callable[[int, int], int]
"""Clear width between blocks i and j when they lie side by side."""


def pack(blocks: Sequence[Block], *, gap_x: GapsX, gap_y: int, budget: Budget) -> Places | None:
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
    plain = [length / whole for length in lengths]
    yield plain
    for k in (1, 2, 3):
        parts = [divmod((k + 1) * length, whole) for length in lengths]
        yield [n / k if rest else share for (n, rest), share in zip(parts, plain, strict=True)]
    for limit in sorted({min(length, whole - length) for length in lengths}):
        if 0 < 2 * limit <= whole:
            yield [
                1.0 if length > whole - limit else 0.0 if length < limit else share
                for length, share in zip(lengths, plain, strict=True)
            ]


class _Search:
    """One call of ``pack``."""

    def __init__(self, blocks: Sequence[Block], gap_x: GapsX, gap_y: int, budget: Budget) -> None:
        self.blocks = blocks
        self.budget = budget
        self.pairs = list(combinations(range(len(blocks)), 2))
        self.step_x = {(i, j): blocks[i].width + gap_x(i, j) for p in self.pairs for i, j in (p, p[::-1])}
        self.step_y = {(i, j): blocks[i].height + gap_y for p in self.pairs for i, j in (p, p[::-1])}
        # Sizes with the least gap to any neighbour, and the room that they share with it.
        least_x = min((gap_x(i, j) for i, j in self.pairs), default=0)
        self.wide, self.tall = [b.width + least_x for b in blocks], [b.height + gap_y for b in blocks]
        self.room_x = max(b.x_high + b.width for b in blocks) - min(b.x_low for b in blocks) + least_x
        self.room_y = max(b.y_high + b.height for b in blocks) - min(b.y_low for b in blocks) + gap_y

    def run(self) -> Places | None:
        x_low, x_high = [b.x_low for b in self.blocks], [b.x_high for b in self.blocks]
        y_low, y_high = [b.y_low for b in self.blocks], [b.y_high for b in self.blocks]
        # A layout and its mirror image are one: look at the half with the first block left and near.
        if len({b.x_low + b.x_high + b.width for b in self.blocks}) == 1:
            x_high[0] = (x_low[0] + x_high[0] + 1) // 2
        if len({b.y_low + b.y_high + b.height for b in self.blocks}) == 1:
            y_high[0] = (y_low[0] + y_high[0] + 1) // 2
        # Equal blocks are interchangeable: number them from the left.
        arcs_x = [(i, j, 0) for i, j in self.pairs if self.blocks[i] == self.blocks[j] and self._same_gaps(i, j)]
        return self._node((x_low, x_high, y_low, y_high), arcs_x, [], self.pairs)

    def _same_gaps(self, i: int, j: int) -> bool:
        others = (k for k in range(len(self.blocks)) if k not in (i, j))
        return all(self.step_x[i, k] == self.step_x[j, k] for k in others)

    def _node(self, ranges: Ranges, arcs_x: list[Arc], arcs_y: list[Arc], open_pairs: Sequence[Pair]) -> Places | None:
        """Search below one set of decisions; ``ranges`` are copied before they are narrowed."""
        if not self.budget.take():
            return None
        x_low, x_high, y_low, y_high = (list(r) for r in ranges)
        arcs_x, arcs_y = list(arcs_x), list(arcs_y)
        while True:
            if not (_narrow(x_low, x_high, arcs_x) and _narrow(y_low, y_high, arcs_y)):
                return None
            before = len(arcs_x) + len(arcs_y)
            still: list[Pair] = []
            for pair in open_pairs:
                state = self._forced(pair, (x_low, x_high, y_low, y_high), arcs_x, arcs_y)
                if state == _IMPOSSIBLE:
                    return None
                if state == _OPEN:
                    still.append(pair)
            open_pairs = still
            if len(arcs_x) + len(arcs_y) == before:
                break
        narrowed = (x_low, x_high, y_low, y_high)
        if self._crowded(narrowed):
            return None
        colliding = [p for p in open_pairs if self._collide(p, x_low, y_low)]
        if not colliding:
            return self.places(x_low, y_low, arcs_x, arcs_y)
        options = {pair: self._options(pair, narrowed) for pair in colliding}
        chosen = min(colliding, key=lambda p: (len(options[p]), p))
        return self._branch(options[chosen], narrowed, arcs_x, arcs_y, [p for p in open_pairs if p != chosen])

    def _crowded(self, ranges: Ranges) -> bool:
        """Tell whether blocks that must all lie across one line, wherever they end up, are too long for it together."""
        x_low, x_high, y_low, y_high = ranges
        for low, high, along, room, across in (
            (x_low, x_high, self.wide, self.room_y, self.tall),
            (y_low, y_high, self.tall, self.room_x, self.wide),
        ):
            sure = [(high[k], low[k] + along[k], across[k]) for k in range(len(low)) if high[k] < low[k] + along[k]]
            if any(sum(c for a, b, c in sure if a <= at < b) > room for at, _, _ in sure):
                return True
        return False

    def _forced(self, pair: Pair, ranges: Ranges, arcs_x: list[Arc], arcs_y: list[Arc]) -> int:
        """Take the only relation that the ranges leave to a pair; tell whether it is open, settled or impossible."""
        x_low, x_high, y_low, y_high = ranges
        i, j = pair
        right, left = self.step_x[i, j], self.step_x[j, i]
        behind, before = self.step_y[i, j], self.step_y[j, i]
        if (
            x_high[i] + right <= x_low[j]
            or x_high[j] + left <= x_low[i]
            or y_high[i] + behind <= y_low[j]
            or y_high[j] + before <= y_low[i]
        ):
            return _SETTLED
        can_right, can_left = x_low[i] + right <= x_high[j], x_low[j] + left <= x_high[i]
        can_behind, can_before = y_low[i] + behind <= y_high[j], y_low[j] + before <= y_high[i]
        ways = can_right + can_left + can_behind + can_before
        if ways != 1:
            return _OPEN if ways else _IMPOSSIBLE
        if can_right or can_left:
            arcs_x.append((i, j, right) if can_right else (j, i, left))
        else:
            arcs_y.append((i, j, behind) if can_behind else (j, i, before))
        return _SETTLED

    def _branch(
        self,
        options: Sequence[tuple[str, Arc]],
        ranges: Ranges,
        arcs_x: list[Arc],
        arcs_y: list[Arc],
        open_pairs: Sequence[Pair],
    ) -> Places | None:
        not_x: list[Arc] = []
        not_y: list[Arc] = []
        for axis, (i, j, step) in options:
            more_x, more_y = [*arcs_x, *not_x], [*arcs_y, *not_y]
            (more_x if axis == "x" else more_y).append((i, j, step))
            found = self._node(ranges, more_x, more_y, open_pairs)
            if found is not None or self.budget.spent_out:
                return found
            # Later branches hold only what this one did not: j is less than a step beyond i.
            (not_x if axis == "x" else not_y).append((j, i, 1 - step))
        return None

    def _options(self, pair: Pair, ranges: Ranges) -> list[tuple[str, Arc]]:
        """Return the relations that the ranges leave open for a pair."""
        x_low, x_high, y_low, y_high = ranges
        out: list[tuple[str, Arc]] = []
        for i, j in (pair, pair[::-1]):
            if y_low[i] + self.step_y[i, j] <= y_high[j]:
                out.append(("y", (i, j, self.step_y[i, j])))
            if x_low[i] + self.step_x[i, j] <= x_high[j]:
                out.append(("x", (i, j, self.step_x[i, j])))
        return out

    def _collide(self, pair: Pair, x: Sequence[int], y: Sequence[int]) -> bool:
        i, j = pair
        return (
            x[i] + self.step_x[i, j] > x[j]
            and x[j] + self.step_x[j, i] > x[i]
            and y[i] + self.step_y[i, j] > y[j]
            and y[j] + self.step_y[j, i] > y[i]
        )

    def places(self, x: Sequence[int], y: Sequence[int], arcs_x: Sequence[Arc], arcs_y: Sequence[Arc]) -> Places:
        """Fix the relations that hold at (x, y) and return all that keeps them."""
        arcs_x, arcs_y = list(arcs_x), list(arcs_y)
        for pair in self.pairs:
            for i, j in (pair, pair[::-1]):
                if y[i] + self.step_y[i, j] <= y[j]:
                    arcs_y.append((i, j, self.step_y[i, j]))
                    break
                if x[i] + self.step_x[i, j] <= x[j]:
                    arcs_x.append((i, j, self.step_x[i, j]))
                    break
        x_first, x_last = [b.x_low for b in self.blocks], [b.x_high for b in self.blocks]
        y_first, y_last = [b.y_low for b in self.blocks], [b.y_high for b in self.blocks]
        # Only the collisions matter now: what split the search (halves, order of equals, exclusions) is let go.
        kept_x = [a for a in arcs_x if a[2] > 0]
        kept_y = [a for a in arcs_y if a[2] > 0]
        if not (_narrow(x_first, x_last, kept_x) and _narrow(y_first, y_last, kept_y)):
            raise AssertionError("an arrangement that was found does not hold")
        return Places(tuple(x_first), tuple(x_last), tuple(y_first), tuple(y_last), tuple(kept_y))


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
                return search.places([at[k][0] for k in range(len(at))], [at[k][1] for k in range(len(at))], [], [])
    return None


def _placed_in_order(search: _Search, order: Sequence[int], *, by_column: bool) -> dict[int, tuple[int, int]] | None:
    at: dict[int, tuple[int, int]] = {}
    for k in order:
        block = search.blocks[k]
        xs = sorted({block.x_low, *(at[j][0] + search.step_x[j, k] for j in at)})
        ys = sorted({block.y_low, *(at[j][1] + search.step_y[j, k] for j in at)})
        spots = [(x, y) for x in xs for y in ys] if by_column else [(x, y) for y in ys for x in xs]
        for x, y in spots:
            if block.x_low <= x <= block.x_high and block.y_low <= y <= block.y_high and _clear(search, at, k, x, y):
                at[k] = (x, y)
                break
        else:
            return None
    return at


def _clear(search: _Search, at: dict[int, tuple[int, int]], k: int, x: int, y: int) -> bool:
    return all(
        a + search.step_x[j, k] <= x
        or x + search.step_x[k, j] <= a
        or b + search.step_y[j, k] <= y
        or y + search.step_y[k, j] <= b
        for j, (a, b) in at.items()
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
