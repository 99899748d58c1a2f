"""What a gang plan tells the printer: which prints no frame holds, and what to mind about those that were placed.

In: items, screens, the rules; ScreenPlans. Out: Findings. Lengths in mm.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from sepkit.colorimetry.names import colours_called
from sepkit.jobs import Screen
from sepkit.model import Finding
from sepkit.press.gang.layout import BLADE_TO_FRAME_MM, PLATEN_EDGE_MM, blade_for, poses_of
from sepkit.press.jobs import GangItem, GangRules, PlacedItem, ScreenPlan


def misfit(item: GangItem, screens: Sequence[Screen], rules: GangRules) -> Finding | None:
    """Return why no owned frame holds this item by itself, None when one does."""
    frames = [screen for screen in screens if screen.mesh == item.mesh]
    if _fits_some(item, frames, rules):
        return None
    if not frames and _fits_some(item, screens, rules):
        return _no_frame_of_mesh(item, screens)
    return (
        _wider_than_platen(item, rules)
        or _beyond_platen(item, rules)
        or _larger_than_every_screen(item, frames, screens, rules)
    )


def remarks(plans: Sequence[ScreenPlan], rules: GangRules) -> list[Finding]:
    """Tell of prints off the centre line and without a blade, and of numbers of screens that are not proven."""
    found: list[Finding] = []
    for plan in plans:
        for placed in plan.placed:
            if abs(placed.shift_mm) > 0.05:
                found.append(_off_centre(placed, plan))
            if rules.blades and blade_for(placed.width_mm, plan.screen, rules) is None:
                found.append(_no_blade(placed, plan, rules))
    return found + _not_proven(plans, rules)


def _fits_some(item: GangItem, frames: Sequence[Screen], rules: GangRules) -> bool:
    return any(poses_of(item, frame, rules) for frame in frames)


def _size(item: GangItem) -> str:
    return f"{item.width_mm:g} x {item.height_mm:g} mm"


def _no_frame_of_mesh(item: GangItem, screens: Sequence[Screen]) -> Finding:
    owned = ", ".join(sorted({str(screen.mesh) for screen in screens}))
    return Finding(
        "no-frame-of-mesh",
        "error",
        f"{item.name} wants mesh {item.mesh}, and no such frame is owned",
        f"give the print one of {owned}, or buy a frame",
    )


def _wider_than_platen(item: GangItem, rules: GangRules) -> Finding | None:
    if rules.platen_width_mm is None or item.width_mm <= rules.platen_width_mm - 2 * PLATEN_EDGE_MM:
        return None
    return Finding(
        "wider-than-platen",
        "error",
        f"{item.name} is {_size(item)}, and the platen of {rules.platen_width_mm:g} mm holds "
        f"{rules.platen_width_mm - 2 * PLATEN_EDGE_MM:g} mm across",
        "print it smaller, or use a wider platen",
    )


def _beyond_platen(item: GangItem, rules: GangRules) -> Finding | None:
    if rules.platen_reach_mm is None or item.height_mm + rules.ends_mm <= rules.platen_reach_mm:
        return None
    return Finding(
        "beyond-platen",
        "error",
        f"{item.name} is {_size(item)}, and the platen reaches {rules.platen_reach_mm:g} mm from the clamp, "
        f"{rules.platen_reach_mm - rules.ends_mm:g} mm beyond the ink's end",
        "print it smaller, or use a longer platen",
    )


def _larger_than_every_screen(
    item: GangItem, frames: Sequence[Screen], screens: Sequence[Screen], rules: GangRules
) -> Finding:
    """Return what the largest frame holds: of those of the item's mesh, or of all where there are none."""
    of_mesh = f" of mesh {item.mesh}" if frames else ""
    frames = frames or screens
    frame = max(frames, key=lambda s: (s.inside_width_mm * s.inside_height_mm, s.name))
    sideways = not item.may_turn_90 and _fits_some(replace(item, may_turn_90=True), frames, rules)
    side = max(rules.edge_mm, rules.blade_over_mm + BLADE_TO_FRAME_MM)
    room = frame.inside_width_mm - 2 * side, frame.inside_height_mm - 2 * rules.ends_mm
    return Finding(
        "larger-than-every-screen",
        "error",
        f"{item.name} is {_size(item)}; the largest frame{of_mesh}, {frame.name} with "
        f"{frame.inside_width_mm:g} x {frame.inside_height_mm:g} mm inside, holds "
        f"{max(0.0, room[0]):g} x {max(0.0, room[1]):g} mm "
        f"({side:g} mm at the sides, {rules.ends_mm:g} mm at the ends)",
        f"take a frame of at least {item.width_mm + 2 * side:g} x {item.height_mm + 2 * rules.ends_mm:g} mm inside, "
        + ("load the garment sideways" if sideways else "print it smaller")
        + ", or allow less clearance",
    )


def _off_centre(placed: PlacedItem, plan: ScreenPlan) -> Finding:
    side = "right" if placed.shift_mm > 0 else "left"
    return Finding(
        "off-centre",
        "info",
        f"{placed.item.name} prints {abs(placed.shift_mm):.1f} mm {side} of the frame's centre line "
        f"on screen {plan.number}",
        "move the garment, or the frame in its clamp, by as much",
    )


def _no_blade(placed: PlacedItem, plan: ScreenPlan, rules: GangRules) -> Finding:
    return Finding(
        "no-blade",
        "warn",
        f"no blade covers {placed.item.name}, {placed.width_mm:g} mm wide, and fits "
        f"{plan.screen.name} ({plan.screen.inside_width_mm:g} mm inside)",
        f"get one of {placed.width_mm + 2 * rules.blade_over_mm:.0f} mm to "
        f"{plan.screen.inside_width_mm - 2 * BLADE_TO_FRAME_MM:.0f} mm",
    )


def _not_proven(plans: Sequence[ScreenPlan], rules: GangRules) -> list[Finding]:
    unproven = sorted({(str(plan.mesh), plan.ink_family, plan.least_screens) for plan in plans if not plan.exact})
    return [
        Finding(
            "not-proven",
            "info",
            f"whether the prints of mesh {mesh} in {colours_called(family) or 'one ink'} fit fewer screens is open: at "
            f"least {least}",
            "the search is exact up to "
            f"{rules.most_exact} prints of one mesh and ink; beyond, and where it would take too long, it is not",
        )
        for mesh, family, least in unproven
    ]
