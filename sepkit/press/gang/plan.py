"""Several prints on one screen: the plan for all of a job's film images.

In: items (size, mesh, ink family), the frames owned, the rules. Out: GangPlan, a ScreenPlan for each frame to expose,
what could not be placed, and findings. Prints share a screen only with the same mesh and ink family, for one emulsion
coat and one ink's traces serve them all; films of one load (base and colours) are on different screens, each at the
same place (`press.gang_loads`). Rules of
clearance are common practice and are told where they are used (`press.gang_layout`).
"""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from math import isfinite

from sepkit.colorimetry.names import colours_called
from sepkit.errors import UsageError
from sepkit.jobs import Screen
from sepkit.model import Finding, Mesh
from sepkit.press.gang.layout import BLADE_TO_FRAME_MM, PLATEN_EDGE_MM, blade_for, poses_of
from sepkit.press.gang.loads import align_loads
from sepkit.press.gang.search import Family, Group, family_screens
from sepkit.press.jobs import GangItem, GangRules, ScreenPlan

MOST_MM = 3000.0

FamilyKey = tuple[float, float, str]


@dataclass(frozen=True, slots=True)
class GangPlan:
    """All screens of a job, numbered from 1."""

    screens: tuple[ScreenPlan, ...]
    left_out: tuple[GangItem, ...] = ()
    """Items that no owned frame holds; a finding of level "error" tells why for each."""
    findings: tuple[Finding, ...] = ()
    nodes: int = 0
    """Search nodes used."""

    @property
    def proven(self) -> bool:
        """No plan has fewer screens."""
        return all(screen.exact for screen in self.screens)

    @property
    def saved(self) -> int:
        """Screens fewer than with one for each print."""
        return sum(len(screen.placed) for screen in self.screens) - len(self.screens)


def gang_screens(items: Sequence[GangItem], screens: Sequence[Screen], *, rules: GangRules | None = None) -> GangPlan:
    """Return the plan with the fewest screens for each mesh and ink family.

    Among plans with the fewest, it prefers in this order: prints on the frame's centre line, frames that need not be
    turned, small frames. Raises UsageError for items or screens that make no sense.
    """
    rules = rules or GangRules()
    _check(items, screens, rules)
    findings: list[Finding] = []
    left_out: list[GangItem] = []
    families: dict[FamilyKey, list[GangItem]] = defaultdict(list)
    for item in sorted(items, key=lambda i: i.name):
        problem = _misfit(item, screens, rules)
        if problem is not None:
            findings.append(problem)
            left_out.append(item)
            continue
        families[item.mesh.threads_per_cm, item.mesh.thread_um, item.ink_family].append(item)
    plans = {key: _free(key, members, screens, rules) for key, members in sorted(families.items())}
    plans, short = _within_stock(plans, families, screens, rules)
    numbered, apart = align_loads(_numbered(plans), rules)
    findings += [*short, *apart, *_remarks(numbered, rules)]
    return GangPlan(numbered, tuple(left_out), tuple(findings), sum(f.nodes for f in plans.values()))


def owned_of(mesh: Mesh, screens: Sequence[Screen]) -> list[Screen]:
    """Return the frames with this mesh."""
    return [screen for screen in screens if screen.mesh == mesh]


def mesh_text(mesh: Mesh) -> str:
    """Return a mesh as printers write it: count and thread."""
    return f"{mesh.threads_per_cm:g}-{mesh.thread_um:g}"


def _free(key: FamilyKey, items: Sequence[GangItem], screens: Sequence[Screen], rules: GangRules) -> Family:
    """Plan one family as if the others needed no frames: within the stock when that can be, else beyond it."""
    frames = owned_of(Mesh(key[0], key[1]), screens)
    stock = Counter({frame.name: frame.count for frame in frames})
    family = family_screens(items, frames, rules, stock=stock) or family_screens(items, frames, rules)
    if family is None:
        raise AssertionError("every item fits some frame alone")
    return family


def _within_stock(
    plans: dict[FamilyKey, Family],
    families: dict[FamilyKey, list[GangItem]],
    screens: Sequence[Screen],
    rules: GangRules,
) -> tuple[dict[FamilyKey, Family], list[Finding]]:
    """Where families want the same frames, let each in turn take from what is left; tell where frames are short."""
    owned = Counter({screen.name: screen.count for screen in screens})
    plans = dict(plans)
    for mesh in sorted({key[:2] for key in plans}):
        keys = [key for key in plans if key[:2] == mesh]
        if not _used(plans[key] for key in keys) - owned:
            continue
        left = Counter(owned)
        again: dict[FamilyKey, Family] = {}
        for key in sorted(keys, key=lambda k: (-len(plans[k].groups), k)):
            family = family_screens(families[key], owned_of(Mesh(*mesh), screens), rules, stock=left)
            if family is None:
                break
            again[key] = family
            left -= _used([family])
        else:
            plans |= {key: Family(f.groups, plans[key].least, f.nodes) for key, f in again.items()}
    lacking = _used(plans.values()) - owned
    return plans, [
        Finding(
            "too-few-frames",
            "warn",
            f"the plan exposes {_used(plans.values())[name]} frames of {name}, and {owned[name]} are owned",
            "strip and coat a frame again after its prints are done, or buy one more",
        )
        for name in sorted(lacking)
    ]


def _used(families: Iterable[Family]) -> Counter[str]:
    used: Counter[str] = Counter()
    for family in families:
        used.update(group.screen.name for group in family.groups)
    return used


def _numbered(plans: dict[FamilyKey, Family]) -> tuple[ScreenPlan, ...]:
    out: list[ScreenPlan] = []
    for key, family in plans.items():
        for group in sorted(family.groups, key=_from_largest):
            out.append(
                ScreenPlan(
                    len(out) + 1,
                    group.screen,
                    Mesh(key[0], key[1]),
                    key[2],
                    group.layout.placed,
                    family.proven,
                    family.least,
                )
            )
    return tuple(out)


def _from_largest(group: Group) -> tuple[float, str]:
    placed = group.layout.placed
    return -max(p.width_mm * p.height_mm for p in placed), min(p.item.name for p in placed)


def _check(items: Sequence[GangItem], screens: Sequence[Screen], rules: GangRules) -> None:
    if not items:
        raise UsageError("no prints to place", where="gang", hint="name at least one print")
    if not screens:
        raise UsageError("no screens to place prints on", where="gang", hint="name at least one frame that you own")
    for kind, names in (("print", [i.name for i in items]), ("screen", [s.name for s in screens])):
        twice = sorted(name for name, count in Counter(names).items() if count > 1)
        if twice:
            raise UsageError(f'the name "{twice[0]}" is given twice', where=kind, hint="give each its own name")
    for item in items:
        _check_lengths(f"print {item.name}", (item.width_mm, item.height_mm), least=1.0)
    for screen in screens:
        _check_lengths(f"screen {screen.name}", (screen.inside_width_mm, screen.inside_height_mm), least=50.0)
        if screen.count < 1:
            raise UsageError(f"{screen.count} frames are none", where=f"screen {screen.name}", hint="count from 1")
    clearances = (rules.lane_mm, rules.edge_mm, rules.ends_mm, rules.blade_over_mm, rules.blade_clear_mm)
    _check_lengths("clearances", clearances, least=0.0)


def _check_lengths(where: str, lengths_mm: Sequence[float], *, least: float) -> None:
    for length in lengths_mm:
        if not (isfinite(length) and least <= length <= MOST_MM):
            raise UsageError(
                f"{length:g} mm is outside {least:g} to {MOST_MM:g} mm", where=where, hint="give lengths in mm"
            )


def _misfit(item: GangItem, screens: Sequence[Screen], rules: GangRules) -> Finding | None:
    """Return why no owned frame holds this item by itself, None when one does."""
    size = f"{item.width_mm:g} x {item.height_mm:g} mm"
    frames = owned_of(item.mesh, screens)
    of_mesh = f" of mesh {mesh_text(item.mesh)}"
    if not frames and any(poses_of(item, frame, rules) for frame in screens):
        owned = ", ".join(sorted({mesh_text(s.mesh) for s in screens}))
        return Finding(
            "no-frame-of-mesh",
            "error",
            f"{item.name} wants mesh {mesh_text(item.mesh)}, and no such frame is owned",
            f"give the print one of {owned}, or buy a frame",
        )
    if not frames:
        frames, of_mesh = list(screens), ""
    if any(poses_of(item, frame, rules) for frame in frames):
        return None
    frame = max(frames, key=lambda s: (s.inside_width_mm * s.inside_height_mm, s.name))
    if rules.platen_width_mm is not None and item.width_mm > rules.platen_width_mm - 2 * PLATEN_EDGE_MM:
        return Finding(
            "wider-than-platen",
            "error",
            f"{item.name} is {size}, and the platen of {rules.platen_width_mm:g} mm holds "
            f"{rules.platen_width_mm - 2 * PLATEN_EDGE_MM:g} mm across",
            "print it smaller, or use a wider platen",
        )
    if rules.platen_reach_mm is not None and item.height_mm + rules.ends_mm > rules.platen_reach_mm:
        return Finding(
            "beyond-platen",
            "error",
            f"{item.name} is {size}, and the platen reaches {rules.platen_reach_mm:g} mm from the clamp, "
            f"{rules.platen_reach_mm - rules.ends_mm:g} mm beyond the ink's end",
            "print it smaller, or use a longer platen",
        )
    sideways = not item.may_turn_90 and any(poses_of(replace(item, may_turn_90=True), f, rules) for f in frames)
    side = max(rules.edge_mm, rules.blade_over_mm + BLADE_TO_FRAME_MM)
    room = frame.inside_width_mm - 2 * side, frame.inside_height_mm - 2 * rules.ends_mm
    return Finding(
        "larger-than-every-screen",
        "error",
        f"{item.name} is {size}; the largest frame{of_mesh}, {frame.name} with "
        f"{frame.inside_width_mm:g} x {frame.inside_height_mm:g} mm inside, holds "
        f"{max(0.0, room[0]):g} x {max(0.0, room[1]):g} mm "
        f"({side:g} mm at the sides, {rules.ends_mm:g} mm at the ends)",
        f"take a frame of at least {item.width_mm + 2 * side:g} x {item.height_mm + 2 * rules.ends_mm:g} mm inside, "
        + ("load the garment sideways" if sideways else "print it smaller")
        + ", or allow less clearance",
    )


def _remarks(plans: Sequence[ScreenPlan], rules: GangRules) -> list[Finding]:
    found: list[Finding] = []
    for plan in plans:
        for placed in plan.placed:
            if abs(placed.shift_mm) > 0.05:
                side = "right" if placed.shift_mm > 0 else "left"
                found.append(
                    Finding(
                        "off-centre",
                        "info",
                        f"{placed.item.name} prints {abs(placed.shift_mm):.1f} mm {side} of the frame's centre line "
                        f"on screen {plan.number}",
                        "move the garment, or the frame in its clamp, by as much",
                    )
                )
            if rules.blades and blade_for(placed.width_mm, plan.screen, rules) is None:
                found.append(
                    Finding(
                        "no-blade",
                        "warn",
                        f"no blade covers {placed.item.name}, {placed.width_mm:g} mm wide, and fits "
                        f"{plan.screen.name} ({plan.screen.inside_width_mm:g} mm inside)",
                        f"get one of {placed.width_mm + 2 * rules.blade_over_mm:.0f} mm to "
                        f"{plan.screen.inside_width_mm - 2 * BLADE_TO_FRAME_MM:.0f} mm",
                    )
                )
    unproven = sorted({(mesh_text(p.mesh), p.ink_family, p.least_screens) for p in plans if not p.exact})
    found += [
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
    return found
