"""Gang search: eight prints on as few screens as can be, against shelves filled in order and one screen for each.

    python -m tests.benchmarks gang [CASES]

Prints, for several kinds of drop, screens used and time a search; and the time against trying every arrangement, where
that ends at all (four and five prints). Sizes are drawn at random from a fixed seed.
"""

from __future__ import annotations

import itertools
import random
import statistics
import time

from sepkit.jobs import Screen
from sepkit.model import Mesh
from sepkit.press.gang.plan import gang_screens
from sepkit.press.jobs import GangItem, GangRules

MESH = Mesh(55, 64)
RULES = GangRules()
Sizes = list[tuple[float, float]]
KINDS: dict[str, tuple[Screen, tuple[float, float], tuple[float, float], int]] = {
    "labels and chests on 400 x 500": (Screen("small", 400, 500, MESH, 99), (40, 140), (40, 140), 8),
    "mixed on 400 x 500": (Screen("small", 400, 500, MESH, 99), (40, 200), (40, 240), 8),
    "mixed on 533 x 737": (Screen("large", 533, 737, MESH, 99), (50, 200), (50, 200), 8),
    "large and small on 580 x 860": (Screen("oversize", 580, 860, MESH, 99), (40, 250), (40, 250), 8),
    "turned frames on 533 x 737": (Screen("large", 533, 737, MESH, 99), (50, 250), (50, 250), 8),
    "twelve prints on 533 x 737": (Screen("large", 533, 737, MESH, 99), (40, 140), (40, 140), 12),
}


def main(args: list[str]) -> None:
    """Print the figures."""
    cases = int(args[0]) if args else 40
    print(f"{cases} random drops of each kind; screens: ours / shelves / one each; seconds a search")
    for kind, (screen, widths, heights, count) in KINDS.items():
        rules = GangRules(platen_reach_mm=505, platen_width_mm=450) if kind.startswith("turned") else RULES
        rng = random.Random(len(kind))
        ours = shelves = proven = 0
        times = []
        for _ in range(cases):
            sizes = [(rng.uniform(*widths), rng.uniform(*heights)) for _ in range(count)]
            items = [GangItem(f"print {k}", w, h, "white", MESH) for k, (w, h) in enumerate(sizes)]
            start = time.perf_counter()
            plan = gang_screens(items, [screen], rules=rules)
            times.append(time.perf_counter() - start)
            ours += len(plan.screens)
            shelves += _shelves(sizes, screen)
            proven += plan.proven
        times.sort()
        print(
            f"{kind:32} {ours:4} / {shelves:4} / {cases * count:4}  median {statistics.median(times):.3f}, "
            f"p95 {times[int(0.95 * len(times))]:.3f}, longest {times[-1]:.3f}; proven {proven} of {cases}"
        )
    for count in (4, 5):
        print(_against_all(count))


def _shelves(sizes: Sizes, screen: Screen) -> int:
    """Fill shelves across the screen, tallest print first; a new screen when no shelf has room."""
    room = (screen.inside_width_mm - 2 * RULES.edge_mm, screen.inside_height_mm - 2 * RULES.ends_mm)
    lane = RULES.lane_mm
    screens: list[list[list[float]]] = []
    for w, h in sorted(sizes, key=lambda s: -s[1]):
        if not any(_on_shelf(shelves, w, h, room, lane) for shelves in screens):
            screens.append([[w, h]])
    return len(screens)


def _on_shelf(shelves: list[list[float]], w: float, h: float, room: tuple[float, float], lane: float) -> bool:
    for shelf in shelves:
        if shelf[0] + lane + w <= room[0] and h <= shelf[1]:
            shelf[0] += lane + w
            return True
    if sum(s[1] + lane for s in shelves) + h <= room[1]:
        shelves.append([w, h])
        return True
    return False


def _against_all(count: int) -> str:
    """Time ours and every arrangement of pushed-together prints, on one screen at its limit."""
    rng = random.Random(count)
    room = (413.0, 577.0)
    frame = Screen("large", room[0] + 120, room[1] + 160, MESH, 99)
    ours = every = 0.0
    agree = 0
    cases = 10
    for _ in range(cases):
        sizes = [(rng.uniform(100, 260), rng.uniform(100, 300)) for _ in range(count)]
        items = [GangItem(f"print {k}", w, h, "white", MESH) for k, (w, h) in enumerate(sizes)]
        start = time.perf_counter()
        one = len(gang_screens(items, [frame]).screens) == 1
        ours += time.perf_counter() - start
        start = time.perf_counter()
        agree += one == _fits(sizes, room)
        every += time.perf_counter() - start
    return (
        f"{count} prints, one screen or more: {ours / cases * 1000:.1f} ms with the whole plan, every arrangement "
        f"{every / cases * 1000:.1f} ms to say whether one is enough; agree {agree} of {cases}"
    )


def _fits(sizes: Sizes, room: tuple[float, float]) -> bool:
    lane = RULES.lane_mm

    def sums(axis: int, but: int) -> list[float]:
        others = [s[axis] + lane for k, s in enumerate(sizes) if k != but]
        return sorted({sum(c) for r in range(len(sizes)) for c in itertools.combinations(others, r)})

    def rest(done: list[tuple[float, float, float, float]]) -> bool:
        k = len(done)
        if k == len(sizes):
            return True
        w, h = sizes[k]
        return any(
            rest([*done, (x, y, w, h)])
            for x in sums(0, k)
            if x + w <= room[0]
            for y in sums(1, k)
            if y + h <= room[1]
            if all(
                x + w + lane <= a or a + c + lane <= x or y + h + lane <= b or b + d + lane <= y for a, b, c, d in done
            )
        )

    return rest([])
