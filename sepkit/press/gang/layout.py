"""Prints on one frame: where each may lie, which print turned, and how near the frame's centre line they come.

In: items of one family, a screen, the rules. Out: PlacedItems, or None when they do not fit. Frame coordinates as in
press.jobs (mm from the inside top left, end A above). Clearances and the blade's stand-off from the frame are common
practice.

A print used with the frame turned about its own middle by 180 degrees lies, as the press sees it, at (-x, -y) from that
middle. So it may lie far from end A when it lies near end B.
"""

from __future__ import annotations

from collections.abc import Collection, Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import combinations, product
from typing import cast

from sepkit.jobs import Screen
from sepkit.press.gang.bounds import fewest_bins
from sepkit.press.gang.packing import UNITS_PER_MM, Block, Budget, Places, pack, units, widened
from sepkit.press.jobs import GangItem, GangRules, PlacedItem, Rotation

BLADE_TO_FRAME_MM = 25.0
"""From the blade's end to the side of the frame, at least (common practice: the mesh gives way too little nearer)."""
PLATEN_EDGE_MM = 25.0
"""From an image to the platen's edge, at least (common practice)."""
WIDE_LANE_MM = 100.0
"""Lanes are widened up to this where there is room: no bead of ink runs over a neighbour (common practice)."""
MOST_CENTRED_SETS = 8
"""Up to so many prints every choice of centred prints is tried; beyond, one by one from the widest."""
NODES_PER_TRY = 3000


@dataclass(frozen=True, slots=True)
class Pose:
    """A print as it may lie: turned a quarter or not, its size, its blade, and where its near edge may be (units)."""

    quarter: bool
    width: int
    height: int
    blade: int
    """Blade width, 0 when any would do."""
    over: int
    """How far the blade stands over the image."""
    x_low: int
    x_high: int
    upright: tuple[int, int]
    """Range of the near edge where it prints with end A at the clamp; empty when first > last."""
    turned: tuple[int, int]

    def windows(self) -> list[tuple[int, int]]:
        """Return the ranges of the near edge with either end at the clamp, joined where they meet."""
        ranges = sorted(r for r in {self.upright, self.turned} if r[0] <= r[1])
        if len(ranges) == 2 and ranges[1][0] <= ranges[0][1] + 1:
            return [(ranges[0][0], max(ranges[0][1], ranges[1][1]))]
        return ranges

    def block(self, window: tuple[int, int]) -> Block:
        """Return the rectangle for the search."""
        return Block(self.width, self.height, self.x_low, self.x_high, *window)


@dataclass(frozen=True, slots=True)
class Layout:
    """Items on one screen, and what the layout costs the printer: fewer is better, from the left."""

    placed: tuple[PlacedItem, ...]
    off_centre: int
    turned: int

    @property
    def cost(self) -> tuple[int, int, float]:
        """Prints off the centre line, prints with the frame turned, and millimetres off."""
        return self.off_centre, self.turned, round(sum(abs(p.shift_mm) for p in self.placed), 2)


@dataclass(frozen=True, slots=True)
class Fit:
    """Items that fit one screen: as what rectangles, and the first arrangement that was found."""

    poses: tuple[Pose, ...]
    blocks: tuple[Block, ...]
    places: Places


def poses_of(item: GangItem, screen: Screen, rules: GangRules) -> list[Pose]:
    """Return the ways ``item`` fits alone on ``screen``: straight first, then a quarter turned where it may be."""
    sizes = [(False, item.width_mm, item.height_mm)]
    if item.may_turn_90 and item.width_mm != item.height_mm:
        sizes.append((True, item.height_mm, item.width_mm))
    poses = [_pose((w, h), screen, rules, quarter=quarter) for quarter, w, h in sizes]
    return [p for p in poses if p.x_low <= p.x_high and p.windows()]


def blade_for(width_mm: float, screen: Screen | None, rules: GangRules) -> float | None:
    """Return the narrowest owned blade (mm) that covers an image and fits the frame; None when none does.

    Without a list of blades any width is owned.
    """
    need = width_mm + 2 * rules.blade_over_mm
    if not rules.blades:
        return need
    most = float("inf") if screen is None else screen.inside_width_mm - 2 * BLADE_TO_FRAME_MM
    return min((b.width_mm for b in rules.blades if need <= b.width_mm <= most), default=None)


def fit(items: Sequence[GangItem], screen: Screen, rules: GangRules, *, budget: Budget) -> Fit | None:
    """Return how all items fit on one screen, with the fewest quarter turns; None when they do not."""
    choices = [poses_of(item, screen, rules) for item in items]
    if not all(choices):
        return None
    for poses in sorted(product(*choices), key=lambda ps: sum(p.quarter for p in ps)):
        if _too_much(poses, screen, rules):
            continue
        for windows in product(*(p.windows() for p in poses)):
            found = arranged(poses, windows, rules, budget=budget)
            if found is not None or budget.spent_out:
                return found
    return None


def arranged(
    poses: Sequence[Pose], windows: Sequence[tuple[int, int]], rules: GangRules, *, budget: Budget
) -> Fit | None:
    """Return an arrangement of prints as they are posed, each with its near edge in its window; None when none is."""
    blocks = tuple(pose.block(window) for pose, window in zip(poses, windows, strict=True))
    places = pack(blocks, gap_x=GapX(poses, rules), gap_y=units(rules.lane_mm), budget=budget)
    return None if places is None else Fit(tuple(poses), blocks, places)


def must_turn(items: Sequence[GangItem], screen: Screen, rules: GangRules, *, budget: Budget) -> bool:
    """Tell whether the frame is turned between items however they lie; False too where ``budget`` does not reach."""
    return not may_turn(items, frozenset(), screen, rules, budget=budget)


def may_turn(
    items: Sequence[GangItem], turned: Collection[int], screen: Screen, rules: GangRules, *, budget: Budget
) -> bool:
    """Tell whether items fit with end B at the clamp for these and A for the others; True where ``budget`` ends."""
    for poses in product(*(poses_of(item, screen, rules) for item in items)):
        windows = [pose.turned if k in turned else pose.upright for k, pose in enumerate(poses)]
        if any(first > last for first, last in windows):
            continue
        if arranged(poses, windows, rules, budget=budget) is not None or budget.spent_out:
            return True
    return False


def lay_out(items: Sequence[GangItem], screen: Screen, rules: GangRules, *, found: Fit, budget: Budget) -> Layout:
    """Return the layout with the most prints on the centre line, then the fewest turned.

    Where ``budget`` does not reach that far, the arrangement of ``found`` is used.
    """
    tray = _Tray(screen, rules, found.poses, budget)
    centred = tray.most_centred()
    best = tray.fewest_turned(centred) or tray.fewest_turned(frozenset())
    if best is None:
        return tray.finished(items, found.places, None, found.blocks)
    places, turned, blocks = best
    return tray.finished(items, places, turned, blocks)


def _pose(size_mm: tuple[float, float], screen: Screen, rules: GangRules, *, quarter: bool) -> Pose:
    width_mm, height_mm = size_mm
    frame_w, frame_h = units(screen.inside_width_mm), units(screen.inside_height_mm)
    width, height = units(width_mm), units(height_mm)
    blade = blade_for(width_mm, screen, rules)
    over = (units(blade) - width) // 2 if blade else units(rules.blade_over_mm)
    side = max(units(rules.edge_mm), over + units(BLADE_TO_FRAME_MM))
    if rules.platen_width_mm is not None:
        side = max(side, (frame_w - units(rules.platen_width_mm)) // 2 + units(PLATEN_EDGE_MM))
    ends = units(rules.ends_mm)
    low, high = ends, frame_h - ends - height
    upright = turned = (low, high)
    if rules.platen_reach_mm is not None:
        reach = units(rules.platen_reach_mm)
        upright = (low, min(high, reach - height))
        turned = (max(low, frame_h - reach), high)
    return Pose(
        quarter,
        width,
        height,
        units(blade) if blade and rules.blades else 0,
        over,
        side,
        frame_w - side - width,
        upright,
        turned,
    )


def _too_much(poses: Sequence[Pose], screen: Screen, rules: GangRules) -> bool:
    """Tell by area alone that the prints and their lanes cannot fit."""
    lane, height = units(rules.lane_mm), units(screen.inside_height_mm) - 2 * units(rules.ends_mm)
    width = max(p.x_high + p.width for p in poses) - min(p.x_low for p in poses)
    return fewest_bins([(p.width, p.height) for p in poses], (width, height), gap_x=lane, gap_y=lane) > 1


class GapX:
    """Clear width between two prints side by side: the lane, or what the wider blade needs."""

    __slots__ = ("clear", "lane", "over")

    def __init__(self, poses: Sequence[Pose], rules: GangRules) -> None:
        self.over = [p.over for p in poses]
        self.lane, self.clear = units(rules.lane_mm), units(rules.blade_clear_mm)

    def __call__(self, i: int, j: int) -> int:
        """Return units between blocks i and j."""
        return max(self.lane, max(self.over[i], self.over[j]) + self.clear)


class _Tray:
    """One screen with poses that are known to fit: improves where they lie."""

    def __init__(self, screen: Screen, rules: GangRules, poses: tuple[Pose, ...], budget: Budget) -> None:
        self.screen, self.rules, self.poses, self.budget = screen, rules, poses, budget
        self.gap_x = GapX(poses, rules)
        self.gap_y = units(rules.lane_mm)
        self.frame_w, self.frame_h = units(screen.inside_width_mm), units(screen.inside_height_mm)

    def most_centred(self) -> frozenset[int]:
        """Return the largest set of prints, the widest first, that can all lie on the centre line at once."""
        by_width = sorted(range(len(self.poses)), key=lambda k: (-self.poses[k].width, k))
        if len(by_width) > MOST_CENTRED_SETS:
            chosen: frozenset[int] = frozenset()
            for k in by_width:
                if self._fits(chosen | {k}):
                    chosen = chosen | {k}
            return chosen
        for count in range(len(by_width), 0, -1):
            sets = sorted(combinations(by_width, count), key=lambda s: (-sum(self.poses[k].width for k in s), s))
            for one in sets:
                if self._fits(frozenset(one)):
                    return frozenset(one)
        return frozenset()

    def _fits(self, centred: frozenset[int]) -> bool:
        lanes = self.gap_y * (len(centred) - 1)
        if sum(self.poses[k].height for k in centred) + lanes > self.frame_h - 2 * units(self.rules.ends_mm):
            return False
        return any(self._packed(centred, w) for w in product(*(p.windows() for p in self.poses)))

    def fewest_turned(self, centred: frozenset[int]) -> tuple[Places, frozenset[int], list[Block]] | None:
        """Return places with the fewest prints that need the frame turned."""
        for turned in self._turned_sets():
            windows = [p.turned if k in turned else p.upright for k, p in enumerate(self.poses)]
            if any(low > high for low, high in windows):
                continue
            packed = self._packed(centred, windows)
            if packed is not None:
                return packed[0], turned, packed[1]
        return None

    def _turned_sets(self) -> Iterator[frozenset[int]]:
        able = [k for k, p in enumerate(self.poses) if p.turned != p.upright]
        for count in range(len(able) + 1):
            # Among equals, the small prints are turned: they are quicker to load anew.
            by_area = sorted(able, key=lambda k: (self.poses[k].width * self.poses[k].height, k))
            yield from map(frozenset, combinations(by_area, count))

    def _packed(self, centred: frozenset[int], windows: Sequence[tuple[int, int]]) -> tuple[Places, list[Block]] | None:
        blocks = [p.block(w) for p, w in zip(self.poses, windows, strict=True)]
        for k in centred:
            middle = (self.frame_w - blocks[k].width) // 2
            if not blocks[k].x_low <= middle <= blocks[k].x_high:
                return None
            blocks[k] = replace(blocks[k], x_low=middle, x_high=middle)
        own = Budget(min(NODES_PER_TRY, self.budget.left))
        start = own.left
        places = pack(blocks, gap_x=self.gap_x, gap_y=self.gap_y, budget=own)
        self.budget.left -= start - own.left
        return None if places is None else (places, blocks)

    def finished(
        self, items: Sequence[GangItem], places: Places, turned: frozenset[int] | None, blocks: Sequence[Block]
    ) -> Layout:
        """Widen lanes where there is room, pull prints toward the centre line, and return the layout in mm.

        Without ``turned`` a print is turned where it lies beyond what it reaches upright.
        """
        y = self._spread(places, blocks)
        if turned is None:
            reached = [p.upright[0] <= at <= p.upright[1] for p, at in zip(self.poses, y, strict=True)]
            turned = frozenset(k for k, upright in enumerate(reached) if not upright)
        x = self._pulled([(a + b) // 2 for a, b in zip(places.x_first, places.x_last, strict=True)], y, blocks)
        placed = tuple(
            self._placed(item, pose, (x[k], y[k]), turned=k in turned)
            for k, (item, pose) in enumerate(zip(items, self.poses, strict=True))
        )
        off = sum(1 for p in placed if abs(p.shift_mm) > 0.05)
        return Layout(tuple(sorted(placed, key=lambda p: (p.y_mm, p.x_mm, p.item.name))), off, len(turned))

    def _spread(self, places: Places, blocks: Sequence[Block]) -> list[int]:
        least, most = 0, max(0, units(WIDE_LANE_MM) - self.gap_y)
        while least < most:
            middle = (least + most + 1) // 2
            if widened(blocks, places, more=middle) is None:
                most = middle - 1
            else:
                least = middle
        wide = widened(blocks, places, more=least)
        first, last = wide if wide is not None else (list(places.y_first), list(places.y_last))
        return [(a + b) // 2 for a, b in zip(first, last, strict=True)]

    def _pulled(self, x: list[int], y: Sequence[int], blocks: Sequence[Block]) -> list[int]:
        """Move one print after another as near the centre line as its neighbours let it."""
        order = sorted(range(len(x)), key=lambda k: (-blocks[k].width, k))
        for _ in range(3):
            for k in order:
                low, high = blocks[k].x_low, blocks[k].x_high
                for other in range(len(x)):
                    if other == k or self._clear_along(k, other, y, blocks):
                        continue
                    if x[other] < x[k]:
                        low = max(low, x[other] + blocks[other].width + self.gap_x(other, k))
                    else:
                        high = min(high, x[other] - blocks[k].width - self.gap_x(other, k))
                x[k] = min(max((self.frame_w - blocks[k].width) // 2, low), high)
        return x

    def _clear_along(self, k: int, other: int, y: Sequence[int], blocks: Sequence[Block]) -> bool:
        return any(y[a] + blocks[a].height + self.gap_y <= y[b] for a, b in ((k, other), (other, k)))

    def _placed(self, item: GangItem, pose: Pose, at: tuple[int, int], *, turned: bool) -> PlacedItem:
        shift = (at[0] + pose.width / 2 - self.frame_w / 2) / UNITS_PER_MM
        blade = blade_for(pose.width / UNITS_PER_MM, self.screen, self.rules)
        return PlacedItem(
            item,
            x_mm=at[0] / UNITS_PER_MM,
            y_mm=at[1] / UNITS_PER_MM,
            width_mm=pose.width / UNITS_PER_MM,
            height_mm=pose.height / UNITS_PER_MM,
            rotation=cast(Rotation, 90 * pose.quarter + 180 * turned),
            end="B" if turned else "A",
            blade_mm=blade or 0.0,
            # With the frame turned, left becomes right.
            shift_mm=round(-shift if turned else shift, 2) + 0.0,
        )
