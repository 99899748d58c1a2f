"""Overprint colours: a print decided with, and without, pairs of transparent inks that stand for a third.

In: ink areas, art, garment, press, options. Out: the plan with fewer screens, what it saves, and what to tell.
Inks mixed to order are taken as transparent where they are a pair's; an ink of the shelf is what its measurement says.
Pairs are looked for on the bare cloth and on a base of one and of two coats; each choice is planned whole at a small
size, and one counts only if its screens are fewer and its overprints, with the coats, base and order that were decided,
stay within the limit.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

from sepkit.colorimetry.names import colours_called
from sepkit.colorimetry.spectral import reflectance_to_srgb8
from sepkit.colorimetry.srgb import as_rgb8
from sepkit.inks.layers import printed_reflectance
from sepkit.model import Finding, InkArea
from sepkit.plates.coats import meant_colours, nearest_de00
from sepkit.plates.overprint_pairs import (
    LIMIT_FACTOR,
    OverprintPair,
    Overprints,
    choose_pairs,
)
from sepkit.units import to_hex
from sepkit.workshop.print.decide import BASE_INK, Decided, decide, ink_of, names_of
from sepkit.workshop.print.options import ink_request
from sepkit.workshop.print.overprint_look import Look, candidates, look_at
from sepkit.workshop.print.smaller import smaller_areas, smaller_art
from sepkit.workshop.print.tints import WHITE_CLOTH

if TYPE_CHECKING:
    from collections.abc import Sequence

    from sepkit.model import RGB8, Artwork, Garment, Plate, Press
    from sepkit.workshop.print.options import PrintOptions

FAR_DE00 = 15.0
"""An overprint further than this from any ink is another colour: nothing to redraw the art for."""
TRIAL_PX = 240
"""Plans are compared at this size: screens, rounds and flashes hardly depend on it."""
BASES = (0, 1, 2)


@dataclass(frozen=True, slots=True)
class SavedInk:
    """A colour of the art without a screen of its own, and the inks that print it, in print order."""

    name: str
    art_srgb: RGB8
    first: str
    second: str
    print_srgb: RGB8
    de00: float


@dataclass(frozen=True, slots=True)
class Effort:
    """What a plan costs at the press."""

    screens: int
    flashes: int
    rounds: int

    @staticmethod
    def of(decided: Decided) -> Effort:
        """Return the effort of a plan: a flash after a screen and between its coats."""
        flashes = sum(plate.flash_after + plate.coats - 1 for plate in decided.plates)
        return Effort(len(decided.plates), flashes, len(decided.rounds.rounds))


@dataclass(frozen=True, slots=True, eq=False)
class _Trial:
    """The print at a small size, without traps: planned quickly with different overprints."""

    areas: tuple[InkArea, ...]
    art: Artwork
    garment: Garment
    press: Press
    options: PrintOptions

    @staticmethod
    def of(areas: tuple[InkArea, ...], art: Artwork, garment: Garment, press: Press, options: PrintOptions) -> _Trial:
        factor = max(1, -(-max(art.rgb.shape[:2]) // TRIAL_PX))
        quick = replace(options, mesh="62-60", trap_mm=0.0, choke_mm=0.0)
        return _Trial(smaller_areas(areas, factor), smaller_art(art, factor), garment, press, quick)

    @property
    def limit_de00(self) -> float:
        return LIMIT_FACTOR * self.options.tolerance_de00

    def decided(self, overprints: Overprints | None) -> Decided:
        return decide(self.areas, self.art, self.garment, self.press, self.options, overprints=overprints)


@dataclass(frozen=True, slots=True)
class _Tried:
    """What was found on one base: pairs and their effort, or None; and the nearest pair, as it would print."""

    overprints: Overprints | None
    effort: tuple[float, ...]
    """Screens, rounds, flashes, sum of ΔE00: less is better, in this order."""
    nearest: OverprintPair | None


def decide_print(
    areas: tuple[InkArea, ...], art: Artwork, garment: Garment, press: Press, options: PrintOptions
) -> Decided:
    """Decide a print, with overprint colours where they are asked for and save a screen."""
    if not options.overprint_colours:
        return decide(areas, art, garment, press, options)
    look = look_at(areas, ink_request(options.inks))
    trial = _Trial.of(areas, art, garment, press, options)
    usual = trial.decided(None)
    plain = Effort.of(usual)
    usual_base = max(choice.chosen.base_coats for choice in usual.choices.values())
    tried = [_tried(trial, look, base_coats, raw=base_coats == usual_base) for base_coats in BASES]
    best = min((found for found in tried if found.overprints is not None), key=lambda f: f.effort, default=None)
    if best is None or best.overprints is None or best.effort[0] >= plain.screens:
        decided = decide(areas, art, garment, press, options)
        told = _none_near(areas, look, tried, trial)
        return replace(decided, findings=(*decided.findings, told))
    decided = decide(areas, art, garment, press, options, overprints=best.overprints)
    saved = saved_inks(areas, best.overprints, decided, garment)
    return replace(
        decided,
        plates=_told_on_plates(decided.plates, saved),
        overprints=saved,
        without_overprints=(plain.screens, plain.flashes),
        findings=(*decided.findings, *(_found(one) for one in saved), _effort(plain, decided)),
    )


def _tried(trial: _Trial, look: Look, base_coats: int, *, raw: bool) -> _Tried:
    """Plan the pairs found on ``base_coats`` of base; those that turn out too far are left out and it is tried again.

    ``raw`` tells whether the nearest pair counts as found, even if none was planned.
    """
    found = candidates(look, trial.garment, base_coats)
    far: list[OverprintPair] = []
    while pairs := choose_pairs(found, limit_de00=trial.limit_de00, always=look.implied):
        overprints = _overprints(look, pairs)
        decided = trial.decided(overprints)
        printed = saved_inks(trial.areas, overprints, decided, trial.garment)
        seen = [replace(pair, de00=one.de00, srgb=one.print_srgb) for pair, one in zip(pairs, printed, strict=True)]
        worst = max((pair for pair in seen if pair.saved not in look.implied), key=lambda p: p.de00, default=seen[0])
        if worst.de00 <= trial.limit_de00 or worst.saved in look.implied:
            effort = Effort.of(decided)
            total = sum(one.de00 for one in printed)
            return _Tried(overprints, (effort.screens, effort.rounds, effort.flashes, total), worst)
        far.append(worst)
        found = [pair for pair in found if _key(pair) != _key(worst)]
    nearest = min(far, key=lambda pair: pair.de00) if far else found[0] if found and raw else None
    return _Tried(None, (), nearest)


def _key(pair: OverprintPair) -> tuple[int, int, int]:
    return pair.saved, pair.first, pair.second


def saved_inks(
    areas: Sequence[InkArea], overprints: Overprints, decided: Decided, garment: Garment
) -> tuple[SavedInk, ...]:
    """Return each overprint as it will print: on the base, with the coats and in the order that were decided."""
    from sepkit.files.shelf.inkfile import find_ink
    from sepkit.files.shelf.recipes import find_garment

    white = find_garment(WHITE_CLOTH).reflectance
    names, base_ink = names_of(areas), find_ink(BASE_INK)
    out = []
    for pair in overprints.pairs:
        own = {names[pair.first], names[pair.second]}
        on_base = any(decided.choices[name].chosen.base_coats for name in own)
        films, order = [], []
        for plate, ink in zip(decided.plates, decided.inks, strict=True):
            is_base = plate.role == "underbase" or plate.also_base is not None
            if plate.name in own or (is_base and on_base):
                films.append((ink, float(plate.coats)))
            if plate.name in own:
                order.append(plate.name)
        seen = printed_reflectance(films, garment.reflectance)
        meant = meant_colours(ink_of(areas[pair.saved], base_ink), white)
        out.append(
            SavedInk(
                names[pair.saved],
                areas[pair.saved].srgb,
                order[0],
                order[1],
                as_rgb8(reflectance_to_srgb8(seen)),
                nearest_de00(meant, seen),
            )
        )
    return tuple(out)


def _told_on_plates(plates: Sequence[Plate], saved: Sequence[SavedInk]) -> tuple[Plate, ...]:
    """Return the plates, each parent saying that its ink is transparent and which colours it helps to print."""
    out = []
    for plate in plates:
        colours = [one.name for one in saved if plate.name in (one.first, one.second)]
        why = f"transparent, prints {' and '.join(colours)} too; {plate.why}" if colours else plate.why
        out.append(replace(plate, why=why))
    return tuple(out)


def overprint_record(decided_overprints: Sequence[SavedInk], without: tuple[int, int] | None) -> dict[str, Any]:
    """Return what separation.json says of overprint colours; nothing for a print without."""
    if not decided_overprints or without is None:
        return {}
    return {
        "overprint_colours": {
            "screens_without": without[0],
            "flashes_without": without[1],
            "colours": [
                {
                    "name": one.name,
                    "art_srgb": to_hex(one.art_srgb),
                    "print_srgb": to_hex(one.print_srgb),
                    "first": one.first,
                    "second": one.second,
                    "de00": round(one.de00, 2),
                }
                for one in decided_overprints
            ],
            "transparent": sorted({name for one in decided_overprints for name in (one.first, one.second)}),
        }
    }


def _overprints(look: Look, pairs: tuple[OverprintPair, ...]) -> Overprints:
    """Return the pairs with their inks: only parents are transparent, the others hide as usual."""
    parents = {i for pair in pairs for i in (pair.first, pair.second)}
    return Overprints(tuple(look.inks[i] if i in parents else ink for i, ink in enumerate(look.meant)), pairs)


def _found(one: SavedInk) -> Finding:
    return Finding(
        "overprint-colour",
        "info",
        f"{one.name} needs no ink: {one.second} over {one.first}, both transparent, print {to_hex(one.print_srgb)} "
        f"there, ΔE00 {one.de00:.1f} from its own colour",
        f"mix {one.first} and {one.second} with transparent base until one coat on white looks as it should; their "
        f"edges around {one.name} must now fall together, so register {one.second} to {one.first} with care, and test "
        "the overprint on a scrap before the run",
    )


def _effort(plain: Effort, decided: Decided) -> Finding:
    now = Effort.of(decided)
    return Finding(
        "overprint-saves",
        "info",
        f"with overprint colours {now.screens} screens and {now.flashes} flashes, without {plain.screens} and "
        f"{plain.flashes}",
        "where two transparent inks touch, their trap prints as a line of both: --trap 0 leaves it out, if the press "
        "holds register",
    )


def _none_near(areas: Sequence[InkArea], look: Look, tried: Sequence[_Tried], trial: _Trial) -> Finding:
    """Tell the nearest pair where none is near enough, or why there is none."""
    code = "no-overprint-colour"
    planned = [found.nearest for found in tried if found.overprints is not None and found.nearest is not None]
    near = planned or [found.nearest for found in tried if found.nearest is not None]
    if not near:
        why = "there are tones" if look.has_tones else "it takes three inks, two of them transparent"
        return Finding(code, "info", f"no overprint stands for a third ink here: {why}", "every ink keeps its screen")
    pair = min(near, key=lambda found: found.de00)
    if not planned and pair.de00 > FAR_DE00:
        return Finding(
            code,
            "info",
            "no overprint stands for a third ink here: no two inks over each other come near one",
            "every ink keeps its screen",
        )
    names = names_of(areas)
    text = f"{names[pair.second]} over {names[pair.first]} comes nearest to a third ink ({names[pair.saved]}), "
    if planned:
        return Finding(
            code,
            "info",
            f"{text}ΔE00 {pair.de00:.1f}, but transparent inks would take no fewer screens on {trial.garment.name}",
            "every ink keeps its screen",
        )
    return Finding(
        code,
        "info",
        f"no overprint stands for a third ink: {text}ΔE00 {pair.de00:.1f}, and {trial.limit_de00:g} passes",
        f"it would print {colours_called(to_hex(pair.srgb))}: draw {names[pair.saved]} in that colour to save its "
        "screen, or raise --tolerance",
    )
