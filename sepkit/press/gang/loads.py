"""Films of one load at one place: base and colours print while the garment stays down, so they must meet on the platen.

In: ScreenPlans. Out: the same screens with the films of each load at the same distance from the clamp and from the
centre line, whichever way each frame stands; findings where that cannot be. The heads of a press move a frame by some
millimetres only (common practice); the rest is done here.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from itertools import islice, permutations, product

from sepkit.model import Finding
from sepkit.press.gang.layout import Fit, Pose, arranged, lay_out, poses_of
from sepkit.press.gang.packing import Budget, units
from sepkit.press.jobs import GangRules, PlacedItem, ScreenPlan

MOST_ORDERS = 30
FEW_SCREENS = 4
MOST_AT_CLAMP = 6
NODES = 1500
REACH_MM = 5.0
"""How far a frame can be moved in its clamp to register it (common practice, from memory)."""
_NOWHERE = (1, 0)

Spot = tuple[int, int]
"""Units of 0.01 mm as the press sees it: from the centre line to the print's middle, doubled; clamp to near edge."""


def align_loads(plans: Sequence[ScreenPlan], rules: GangRules) -> tuple[tuple[ScreenPlan, ...], list[Finding]]:
    """Return the plans with the films of each load at one place, and a warning for each load where they are not."""
    loads = {p.item.load for plan in plans for p in plan.placed if p.item.load}
    bound = [k for k, plan in enumerate(plans) if any(p.item.load in loads for p in plan.placed)]
    best: list[ScreenPlan] = list(plans)
    apart = loads_apart(best)
    orders = _orders(sorted(bound, key=lambda k: -len(plans[k].placed)))
    # Where screens do not come together from where their films lie by themselves, films that lie apart are put at the
    # clamp on the centre line, which two of a screen can have, each from its own end.
    for at_clamp in (False, True):
        for order in orders[: MOST_AT_CLAMP if at_clamp else None]:
            if not apart:
                break
            fixed = dict.fromkeys(apart, (0, units(rules.ends_mm))) if at_clamp else {}
            tried = _in_order(plans, order, rules, fixed)
            now = loads_apart(tried)
            if len(now) < len(apart):
                best, apart = tried, now
    findings = [
        Finding(
            "load-apart",
            "warn",
            f"the films of {load} lie {gap:.0f} mm apart on their screens, and print in one load",
            "give it screens of its own, larger frames, or load the garment anew for each film",
        )
        for load, gap in sorted(apart.items())
    ]
    return tuple(best), findings


def _orders(screens: Sequence[int]) -> list[tuple[int, ...]]:
    """Return orders to lay screens out in: all of few, else each pair of first ones, for what lies first fixes most."""
    if len(screens) <= FEW_SCREENS:
        return list(permutations(screens))
    pairs = islice(permutations(screens, 2), MOST_ORDERS)
    return [(*pair, *(k for k in screens if k not in pair)) for pair in pairs]


def _in_order(
    plans: Sequence[ScreenPlan], order: Sequence[int], rules: GangRules, told: Mapping[str, Spot]
) -> list[ScreenPlan]:
    """Lay out screen after screen, each with what was ``told`` and earlier ones have fixed."""
    out, fixed = list(plans), dict(told)
    for k in order:
        plan = plans[k]
        pins = {p.item.name: fixed[p.item.load] for p in plan.placed if p.item.load in fixed}
        if pins:
            out[k] = _pinned(plan, pins, rules) or plan
        for p in out[k].placed:
            if p.item.load:
                fixed.setdefault(p.item.load, spot_at_press(p, plan))
    return out


def spot_at_press(placed: PlacedItem, plan: ScreenPlan) -> Spot:
    """Return where a print lies as the press sees it, with its end at the clamp."""
    middle = 2 * units(placed.x_mm) + units(placed.width_mm) - units(plan.screen.inside_width_mm)
    if placed.end == "A":
        return middle, units(placed.y_mm)
    return -middle, units(plan.screen.inside_height_mm) - units(placed.y_mm) - units(placed.height_mm)


def loads_apart(plans: Sequence[ScreenPlan]) -> dict[str, float]:
    """Return loads whose films lie farther apart than a frame can be moved, and how far (mm)."""
    spots: dict[str, list[Spot]] = {}
    for plan in plans:
        for p in plan.placed:
            if p.item.load:
                spots.setdefault(p.item.load, []).append(spot_at_press(p, plan))
    out: dict[str, float] = {}
    for load, places in spots.items():
        across = (max(x for x, _ in places) - min(x for x, _ in places)) / 200
        along = (max(y for _, y in places) - min(y for _, y in places)) / 100
        if max(across, along) > REACH_MM:
            out[load] = max(across, along)
    return out


def _pinned(plan: ScreenPlan, pins: dict[str, Spot], rules: GangRules) -> ScreenPlan | None:
    """Lay a screen out anew with some prints fixed, their frame turned as seldom as can be; None when it cannot be."""
    placed = sorted(plan.placed, key=lambda p: p.item.name)
    free = {p.item.name: _pose(p, plan, rules) for p in placed}
    budget = Budget(NODES)
    for turned in _turns(sorted(pins)):
        pinned = {name: _fixed(free[name], spot, plan, turned=name in turned) for name, spot in pins.items()}
        found = _arranged_somehow([pinned.get(name, pose) for name, pose in free.items()], rules, budget)
        if found is not None:
            layout = lay_out([p.item for p in placed], plan.screen, rules, found=found, budget=Budget(NODES))
            return replace(plan, placed=layout.placed)
    return None


def _turns(names: Sequence[str]) -> list[set[str]]:
    """Return which of the prints are turned, in every way, the fewest first."""
    ways = sorted(product((False, True), repeat=len(names)), key=sum)
    return [{name for name, turned in zip(names, way, strict=True) if turned} for way in ways]


def _arranged_somehow(poses: Sequence[Pose], rules: GangRules, budget: Budget) -> Fit | None:
    if any(pose.x_low > pose.x_high for pose in poses):
        return None
    tries = (arranged(poses, windows, rules, budget=budget) for windows in product(*(p.windows() for p in poses)))
    return next((found for found in tries if found is not None), None)


def _pose(placed: PlacedItem, plan: ScreenPlan, rules: GangRules) -> Pose:
    quarter = placed.rotation % 180 == 90
    return next(pose for pose in poses_of(placed.item, plan.screen, rules) if pose.quarter == quarter)


def _fixed(pose: Pose, spot: Spot, plan: ScreenPlan, *, turned: bool) -> Pose:
    """Return a pose that leaves one place only, or none where that place is not within its ranges."""
    frame_w, frame_h = units(plan.screen.inside_width_mm), units(plan.screen.inside_height_mm)
    across = -spot[0] if turned else spot[0]
    x = (frame_w + across - pose.width) // 2
    y = frame_h - spot[1] - pose.height if turned else spot[1]
    low, high = pose.turned if turned else pose.upright
    window = (y, y) if low <= y <= high and pose.x_low <= x <= pose.x_high else _NOWHERE
    return replace(
        pose, x_low=x, x_high=x, upright=_NOWHERE if turned else window, turned=window if turned else _NOWHERE
    )
