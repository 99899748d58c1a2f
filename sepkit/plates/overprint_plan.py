"""A whole print decided, and with it whether pairs of transparent inks may stand for a third.

In: ink areas, size, bench. Out: the Plan; with overprint colours the one with fewer screens, what it saves, and what to
tell. Inks mixed to order are taken as transparent where they are a pair's; an ink of the shelf is what its measurement
says. Pairs are looked for on the bare cloth and on a base of one and of two coats; each choice is planned whole at a
small size, and one counts only if its screens are fewer and its overprints, with the coats, base and order that were
decided, stay within the limit.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from sepkit.colorimetry.names import colours_called
from sepkit.colorimetry.spectral import reflectance_to_srgb8
from sepkit.colorimetry.srgb import as_rgb8
from sepkit.decisions import OverprintColours, SavedInk
from sepkit.inks.layers import printed_reflectance
from sepkit.model import Finding, Mesh
from sepkit.plates.coats import meant_colours, nearest_de00
from sepkit.plates.decide import Plan, decide
from sepkit.plates.drafts import ink_of, names_of
from sepkit.plates.overprint_look import Look, candidates, look_at
from sepkit.plates.overprint_pairs import LIMIT_FACTOR, OverprintPair, Overprints, choose_pairs
from sepkit.plates.smaller import smaller_areas
from sepkit.units import to_hex

if TYPE_CHECKING:
    from sepkit.model import InkArea, Plate, Size
    from sepkit.plates.bench import Bench

FAR_DE00 = 15.0
"""An overprint further than this from any ink is another colour: nothing to redraw the art for."""
TRIAL_PX = 240
"""Plans are compared at this size: screens, rounds and flashes hardly depend on it."""
BASES = (0, 1, 2)


@dataclass(frozen=True, slots=True)
class Effort:
    """What a plan costs at the press."""

    screens: int
    flashes: int
    rounds: int

    @staticmethod
    def of(plan: Plan) -> Effort:
        """Return the effort of a plan: a flash after a screen and between its coats."""
        flashes = sum(plate.flash_after + plate.coats - 1 for plate in plan.plates)
        return Effort(len(plan.plates), flashes, len(plan.rounds.rounds))


@dataclass(frozen=True, slots=True, eq=False)
class _Trial:
    """The print at a small size, without traps: planned quickly with different overprints."""

    areas: tuple[InkArea, ...]
    size: Size
    bench: Bench
    look: Look

    @staticmethod
    def of(areas: Sequence[InkArea], size: Size, bench: Bench) -> _Trial:
        factor = max(1, -(-max(areas[0].coverage.shape) // TRIAL_PX))
        wishes = replace(bench.wishes, mesh=Mesh(62, 60), trap_mm=0.0, choke_mm=0.0)
        look = look_at(areas, bench.wishes.inks, bench)
        return _Trial(smaller_areas(areas, factor), size, replace(bench, wishes=wishes, frames=()), look)

    @property
    def limit_de00(self) -> float:
        return LIMIT_FACTOR * self.bench.wishes.tolerance_de00

    def plan(self, overprints: Overprints | None) -> Plan:
        return decide(self.areas, self.size, self.bench, overprints)


@dataclass(frozen=True, slots=True)
class _Tried:
    """What was found on one base: pairs and their effort, or None; and the nearest pair, as it would print."""

    overprints: Overprints | None
    effort: tuple[float, ...]
    """Screens, rounds, flashes, sum of ΔE00: less is better, in this order."""
    nearest: OverprintPair | None


def decide_plates(areas: Sequence[InkArea], size: Size, bench: Bench) -> Plan:
    """Decide a print from its areas: the one door of this room, for a first plan and for every changed wish after it.

    ``areas`` are those with ink, at least one; all planes (h, w) uint8 of one shape; ``size`` is the print's in mm.
    Nothing is separated again and nothing is read: to decide again, call it with the same areas and another Bench
    (``dataclasses.replace(bench, wishes=...)``). Overprint colours are used where they are wished and save a screen.
    What ``bench.keep`` has room for is not made again.
    Raises UsageError for a wish about an ink that is not in the print, or wishes that contradict each other.
    """
    with bench.keep.used():
        return _decided(areas, size, bench)


def _decided(areas: Sequence[InkArea], size: Size, bench: Bench) -> Plan:
    if not bench.wishes.overprint_colours:
        return decide(areas, size, bench)
    trial = _Trial.of(areas, size, bench)
    usual = trial.plan(None)
    plain = Effort.of(usual)
    usual_base = max(choice.chosen.base_coats for choice in usual.choices.values())
    tried = [_tried(trial, base_coats, raw=base_coats == usual_base) for base_coats in BASES]
    best = min((found for found in tried if found.overprints is not None), key=lambda f: f.effort, default=None)
    if best is None or best.overprints is None or best.effort[0] >= plain.screens:
        plan = decide(areas, size, bench)
        return replace(plan, findings=(*plan.findings, _none_near(areas, tried, trial)))
    plan = decide(areas, size, bench, best.overprints)
    saved = saved_inks(areas, best.overprints, plan, bench)
    return replace(
        plan,
        plates=_told_on_plates(plan.plates, saved),
        overprints=OverprintColours(saved, plain.screens, plain.flashes),
        findings=(*plan.findings, *(_found(one) for one in saved), _effort(plain, plan)),
    )


def _tried(trial: _Trial, base_coats: int, *, raw: bool) -> _Tried:
    """Plan the pairs found on ``base_coats`` of base; those that turn out too far are left out and it is tried again.

    ``raw`` tells whether the nearest pair counts as found, even if none was planned.
    """
    implied = trial.look.implied
    found = candidates(trial.look, trial.bench, base_coats)
    far: list[OverprintPair] = []
    while pairs := choose_pairs(found, limit_de00=trial.limit_de00, always=implied):
        overprints = _overprints(trial.look, pairs)
        plan = trial.plan(overprints)
        printed = saved_inks(trial.areas, overprints, plan, trial.bench)
        seen = [replace(pair, de00=one.de00, srgb=one.print_srgb) for pair, one in zip(pairs, printed, strict=True)]
        worst = max((pair for pair in seen if pair.saved not in implied), key=lambda p: p.de00, default=seen[0])
        if worst.de00 <= trial.limit_de00 or worst.saved in implied:
            effort = Effort.of(plan)
            total = sum(one.de00 for one in printed)
            return _Tried(overprints, (effort.screens, effort.rounds, effort.flashes, total), worst)
        far.append(worst)
        found = [pair for pair in found if _key(pair) != _key(worst)]
    return _Tried(None, (), _nearest(far, found if raw else []))


def _nearest(far: Sequence[OverprintPair], found: Sequence[OverprintPair]) -> OverprintPair | None:
    """Return the nearest of the pairs that turned out too far, else the first found."""
    return min(far, key=lambda pair: pair.de00) if far else next(iter(found), None)


def _key(pair: OverprintPair) -> tuple[int, int, int]:
    return pair.saved, pair.first, pair.second


def saved_inks(areas: Sequence[InkArea], overprints: Overprints, plan: Plan, bench: Bench) -> tuple[SavedInk, ...]:
    """Return each overprint as it will print: on the base, with the coats and in the order that were decided."""
    names = names_of(areas)
    out = []
    for pair in overprints.pairs:
        own = {names[pair.first], names[pair.second]}
        on_base = any(plan.choices[name].chosen.base_coats for name in own)
        stack = [plate for plate in plan.plates if plate.name in own or (plate.is_base and on_base)]
        first, second = (plate.name for plate in stack if plate.name in own)
        seen = printed_reflectance([(plate.ink, float(plate.coats)) for plate in stack], bench.garment.reflectance)
        area = areas[pair.saved]
        meant = meant_colours(ink_of(area, bench), bench.white_cloth)
        print_srgb = as_rgb8(reflectance_to_srgb8(seen))
        out.append(SavedInk(names[pair.saved], area.srgb, first, second, print_srgb, nearest_de00(meant, seen)))
    return tuple(out)


def _told_on_plates(plates: Sequence[Plate], saved: Sequence[SavedInk]) -> tuple[Plate, ...]:
    """Return the plates, each parent saying that its ink is transparent and which colours it helps to print."""
    out = []
    for plate in plates:
        colours = [one.name for one in saved if plate.name in (one.first, one.second)]
        why = f"transparent, prints {' and '.join(colours)} too; {plate.why}" if colours else plate.why
        out.append(replace(plate, why=why))
    return tuple(out)


def _overprints(look: Look, pairs: tuple[OverprintPair, ...]) -> Overprints:
    """Return the pairs with their inks: only parents are transparent, the others hide as usual."""
    parents = {i for pair in pairs for i in (pair.first, pair.second)}
    return Overprints(tuple(row.ink if row.index in parents else row.meant for row in look.rows), pairs)


def _found(one: SavedInk) -> Finding:
    return Finding(
        "overprint-colour",
        "info",
        f"{one.name} needs no ink: {one.second} over {one.first}, both transparent",
        f"mix both with transparent base; register {one.second} to {one.first} with care",
        more=f"it prints {to_hex(one.print_srgb)} there, ΔE00 {one.de00:.1f} from its own colour; one coat of each on "
        f"white should look as it should; their edges around {one.name} must now fall together: test the overprint on "
        "a scrap before the run",
    )


def _effort(plain: Effort, plan: Plan) -> Finding:
    now = Effort.of(plan)
    flashes = "1 flash" if now.flashes == 1 else f"{now.flashes} flashes"
    return Finding(
        "overprint-saves",
        "info",
        f"with overprint colours {now.screens} screens and {flashes}, without {plain.screens} and {plain.flashes}",
        "their traps print as lines of both; --trap 0 prevents it",
        more="where two transparent inks touch; without a trap the press must hold register",
    )


def _none_near(areas: Sequence[InkArea], tried: Sequence[_Tried], trial: _Trial) -> Finding:
    """Tell the nearest pair where none is near enough, or why there is none."""
    code = "no-overprint-colour"
    planned = [found.nearest for found in tried if found.overprints is not None and found.nearest is not None]
    near = planned or [found.nearest for found in tried if found.nearest is not None]
    if not near:
        why = "there are tones" if trial.look.has_tones else "it takes three inks, two of them transparent"
        return Finding(code, "info", "no overprint stands for a third ink here", "every ink keeps its screen", more=why)
    pair = min(near, key=lambda found: found.de00)
    if not planned and pair.de00 > FAR_DE00:
        return Finding(
            code,
            "info",
            "no overprint stands for a third ink: no two come near one",
            "every ink keeps its screen",
        )
    names = names_of(areas)
    text = f"{names[pair.second]} over {names[pair.first]} comes nearest to a third ink ({names[pair.saved]}), "
    if planned:
        return Finding(
            code,
            "info",
            f"overprint colours save no screen on {trial.bench.garment.name}",
            "every ink keeps its screen",
            more=f"{text}ΔE00 {pair.de00:.1f}",
        )
    return Finding(
        code,
        "info",
        "no overprint stands for a third ink: the nearest is too far",
        f"draw {names[pair.saved]} as {colours_called(to_hex(pair.srgb))} to save its screen, or raise --tolerance",
        more=f"{text}ΔE00 {pair.de00:.1f}, and {trial.limit_de00:g} passes",
    )
