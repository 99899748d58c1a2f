"""Several prints on one screen: the plan for all of a job's film images.

In: items (size, mesh, ink family), the frames owned, the rules. Out: GangPlan, a ScreenPlan for each frame to expose,
what could not be placed, and findings. Prints share a screen only with the same mesh and ink family, for one emulsion
coat and one ink's traces serve them all; films of one load (base and colours) are on different screens, each at the
same place (`press.gang.loads`). Rules of
clearance are common practice and are told where they are used (`press.gang.layout`).
"""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from math import isfinite

from sepkit.errors import UsageError
from sepkit.jobs import Screen
from sepkit.model import Finding, Mesh
from sepkit.press.gang.findings import misfit, remarks
from sepkit.press.gang.loads import align_loads
from sepkit.press.gang.search import Family, FamilyChoices, Group, family_screens
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
    return _joined(gang_families(items, screens, rules=rules))


@dataclass(frozen=True, slots=True)
class GangFamilies:
    """The items of a job by mesh and ink family, each with its fewest screens."""

    items: dict[FamilyKey, list[GangItem]]
    plans: dict[FamilyKey, Family]
    left_out: tuple[GangItem, ...]
    findings: tuple[Finding, ...]
    screens: tuple[Screen, ...]
    rules: GangRules

    def choices(self, key: FamilyKey) -> FamilyChoices:
        """Return every way to share screens within one family."""
        return FamilyChoices(self.items[key], _of_mesh(Mesh(*key[:2]), self.screens), self.rules)

    def with_plans(self, plans: dict[FamilyKey, Family]) -> GangPlan:
        """Return the plan with other screens for some families."""
        return _joined(replace(self, plans={**self.plans, **plans}))


def gang_families(
    items: Sequence[GangItem], screens: Sequence[Screen], *, rules: GangRules | None = None
) -> GangFamilies:
    """Return the families of the items with their fewest screens. Raises UsageError as ``gang_screens``."""
    rules = rules or GangRules()
    _check(items, screens, rules)
    findings: list[Finding] = []
    left_out: list[GangItem] = []
    families: dict[FamilyKey, list[GangItem]] = defaultdict(list)
    for item in sorted(items, key=lambda i: i.name):
        problem = misfit(item, screens, rules)
        if problem is not None:
            findings.append(problem)
            left_out.append(item)
            continue
        families[item.mesh.threads_per_cm, item.mesh.thread_um, item.ink_family].append(item)
    plans = {key: _free(key, members, screens, rules) for key, members in sorted(families.items())}
    plans = _within_stock(plans, families, screens, rules)
    return GangFamilies(families, plans, tuple(left_out), tuple(findings), tuple(screens), rules)


def _joined(families: GangFamilies) -> GangPlan:
    plans, rules = families.plans, families.rules
    numbered, apart = align_loads(_numbered(plans), rules)
    findings = [*families.findings, *_too_few(plans.values(), families.screens), *apart, *remarks(numbered, rules)]
    return GangPlan(numbered, families.left_out, tuple(findings), sum(f.nodes for f in plans.values()))


def _free(key: FamilyKey, items: Sequence[GangItem], screens: Sequence[Screen], rules: GangRules) -> Family:
    """Plan one family as if the others needed no frames: within the stock when that can be, else beyond it."""
    frames = _of_mesh(Mesh(key[0], key[1]), screens)
    stock = Counter({frame.name: frame.count for frame in frames})
    family = family_screens(items, frames, rules, stock=stock) or family_screens(items, frames, rules)
    if family is None:
        raise AssertionError("every item fits some frame alone")
    return family


def _of_mesh(mesh: Mesh, screens: Sequence[Screen]) -> list[Screen]:
    return [screen for screen in screens if screen.mesh == mesh]


def _within_stock(
    plans: dict[FamilyKey, Family],
    families: dict[FamilyKey, list[GangItem]],
    screens: Sequence[Screen],
    rules: GangRules,
) -> dict[FamilyKey, Family]:
    """Where families want the same frames, let each in turn take from what is left, the largest family first."""
    owned = Counter({screen.name: screen.count for screen in screens})
    shared = dict(plans)
    for mesh in sorted({key[:2] for key in plans}):
        of_mesh = {key: family for key, family in plans.items() if key[:2] == mesh}
        if _used(of_mesh.values()) - owned:
            shared |= _in_turn(of_mesh, families, _of_mesh(Mesh(*mesh), screens), rules)
    return shared


def _in_turn(
    plans: dict[FamilyKey, Family],
    families: dict[FamilyKey, list[GangItem]],
    frames: Sequence[Screen],
    rules: GangRules,
) -> dict[FamilyKey, Family]:
    """Return new plans of families that share ``frames``; empty when the frames do not hold them all."""
    left = Counter({frame.name: frame.count for frame in frames})
    again: dict[FamilyKey, Family] = {}
    for key in sorted(plans, key=lambda k: (-len(plans[k].groups), k)):
        family = family_screens(families[key], frames, rules, stock=left)
        if family is None:
            return {}
        again[key] = Family(family.groups, plans[key].least, family.nodes)
        left -= _used([family])
    return again


def _too_few(plans: Iterable[Family], screens: Sequence[Screen]) -> list[Finding]:
    """Tell which frames the plan exposes more of than are owned."""
    owned, used = Counter({screen.name: screen.count for screen in screens}), _used(plans)
    return [
        Finding(
            "too-few-frames",
            "warn",
            f"the plan exposes {used[name]} frames of {name}, and {owned[name]} are owned",
            "strip and coat a frame again after its prints are done, or buy one more",
        )
        for name in sorted(used - owned)
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
    """Raise UsageError for what cannot be meant: nothing at all, a name twice, lengths of another scale."""
    if not items:
        raise UsageError("no prints to place", where="gang", hint="name at least one print")
    if not screens:
        raise UsageError("no screens to place prints on", where="gang", hint="name at least one frame that you own")
    _check_names("print", [item.name for item in items])
    _check_names("screen", [screen.name for screen in screens])
    for item in items:
        _check_lengths(f"print {item.name}", (item.width_mm, item.height_mm), least=1.0)
    for screen in screens:
        _check_lengths(f"screen {screen.name}", (screen.inside_width_mm, screen.inside_height_mm), least=50.0)
        if screen.count < 1:
            raise UsageError(f"{screen.count} frames are none", where=f"screen {screen.name}", hint="count from 1")
    clearances = (rules.lane_mm, rules.edge_mm, rules.ends_mm, rules.blade_over_mm, rules.blade_clear_mm)
    _check_lengths("clearances", clearances, least=0.0)


def _check_names(kind: str, names: Sequence[str]) -> None:
    twice = sorted(name for name, count in Counter(names).items() if count > 1)
    if twice:
        raise UsageError(f'the name "{twice[0]}" is given twice', where=kind, hint="give each its own name")


def _check_lengths(where: str, lengths_mm: Sequence[float], *, least: float) -> None:
    for length in lengths_mm:
        if not (isfinite(length) and least <= length <= MOST_MM):
            raise UsageError(
                f"{length:g} mm is outside {least:g} to {MOST_MM:g} mm", where=where, hint="give lengths in mm"
            )
