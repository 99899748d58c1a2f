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

import numpy as np

from sepkit.colorimetry.spectral import reflectance_to_srgb8
from sepkit.colorimetry.srgb import as_rgb8, srgb8_to_lab
from sepkit.inks.layers import printed_reflectance
from sepkit.inks.transparent import is_transparent, transparent_ink
from sepkit.model import Finding
from sepkit.separation.coats import meant_colours, nearest_de00
from sepkit.separation.overprint_colours import (
    LIMIT_FACTOR,
    OverprintPair,
    Overprints,
    apart_from_tones,
    choose_pairs,
    pair_candidates,
)
from sepkit.units import to_hex
from sepkit.workshop.decide import BASE_INK, WHITE_CLOTH, Decided, decide, ink_of, names_of
from sepkit.workshop.smaller import smaller_areas, smaller_art

if TYPE_CHECKING:
    from collections.abc import Sequence

    from sepkit.model import RGB8, Artwork, Garment, Ink, InkArea, Plate, Press
    from sepkit.workshop.options import PrintOptions

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


@dataclass(frozen=True, slots=True)
class _Look:
    """What is looked at: an ink of each area as transparent as it can be, and which areas may take part."""

    inks: tuple[Ink, ...]
    meant: tuple[Ink, ...]
    free: tuple[int, ...]
    parents: tuple[int, ...]


def decide_print(
    areas: tuple[InkArea, ...], art: Artwork, garment: Garment, press: Press, options: PrintOptions
) -> Decided:
    """Decide a print, with overprint colours where they are asked for and save a screen."""
    if not options.overprint_colours:
        return decide(areas, art, garment, press, options)
    look = _look(areas)
    limit = LIMIT_FACTOR * options.tolerance_de00
    factor = max(1, -(-max(art.rgb.shape[:2]) // TRIAL_PX))
    small, small_art = smaller_areas(areas, factor), smaller_art(art, factor)
    trial_options = replace(options, mesh="62-60", trap_mm=0.0, choke_mm=0.0)
    without = decide(small, small_art, garment, press, trial_options)
    plain = Effort.of(without)
    best: tuple[tuple[float, ...], Overprints] | None = None
    short: list[tuple[float, OverprintPair, str]] = []
    usual = max(choice.chosen.base_coats for choice in without.choices.values())
    for base_coats in BASES:
        found = _candidates(look, garment, base_coats)
        pairs = choose_pairs(found, limit_de00=limit)
        if not pairs:
            short += [(found[0].de00, found[0], "far")] if found and base_coats == usual else []
            continue
        overprints = _overprints(look, pairs)
        decided = decide(small, small_art, garment, press, trial_options, overprints=overprints)
        told = saved_inks(areas, overprints, decided, garment)
        effort = Effort.of(decided)
        worst = max(range(len(told)), key=lambda k: told[k].de00)
        if effort.screens >= plain.screens or told[worst].de00 > limit:
            why = "far" if told[worst].de00 > limit else "no gain"
            short.append((told[worst].de00, replace(pairs[worst], srgb=told[worst].print_srgb), why))
            continue
        cost = (effort.screens, effort.rounds, effort.flashes, sum(saved.de00 for saved in told))
        if best is None or cost < best[0]:
            best = (cost, overprints)
    if best is None:
        decided = decide(areas, art, garment, press, options)
        return replace(decided, findings=(*decided.findings, _none_near(areas, look, short, limit, garment)))
    decided = decide(areas, art, garment, press, options, overprints=best[1])
    told = saved_inks(areas, best[1], decided, garment)
    return replace(
        decided, plates=_told_on_plates(decided.plates, told), overprints=told,
        without_overprints=(plain.screens, plain.flashes),
        findings=(*decided.findings, *(_found(one) for one in told), _effort(plain, decided)),
    )  # fmt: skip


def saved_inks(
    areas: Sequence[InkArea], overprints: Overprints, decided: Decided, garment: Garment
) -> tuple[SavedInk, ...]:
    """Return each overprint as it will print: on the base, with the coats and in the order that were decided."""
    from sepkit.files.inkfile import find_ink
    from sepkit.files.recipes import find_garment

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
            SavedInk(names[pair.saved], areas[pair.saved].srgb, order[0], order[1],
                     as_rgb8(reflectance_to_srgb8(seen)), nearest_de00(meant, seen))
        )  # fmt: skip
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
            "screens_without": without[0], "flashes_without": without[1],
            "colours": [
                {"name": one.name, "art_srgb": to_hex(one.art_srgb), "print_srgb": to_hex(one.print_srgb),
                 "first": one.first, "second": one.second, "de00": round(one.de00, 2)}
                for one in decided_overprints
            ],
            "transparent": sorted({name for one in decided_overprints for name in (one.first, one.second)}),
        }
    }  # fmt: skip


def _look(areas: Sequence[InkArea]) -> _Look:
    from sepkit.files.inkfile import find_ink
    from sepkit.files.recipes import find_garment

    base_ink, white = find_ink(BASE_INK), find_garment(WHITE_CLOTH).reflectance
    meant = tuple(ink_of(area, base_ink) for area in areas)
    inks = tuple(
        transparent_ink(ink.name, area.srgb, white=white) if ink.name.startswith("#") else ink
        for ink, area in zip(meant, areas, strict=True)
    )
    free = tuple(apart_from_tones([area.coverage for area in areas], [area.tone for area in areas]))
    lightness = [float(srgb8_to_lab(np.array(area.srgb))[0]) for area in areas]
    parents = tuple(
        sorted(
            (i for i in free if meant[i].name != base_ink.name and is_transparent(inks[i])), key=lambda i: -lightness[i]
        )
    )
    return _Look(inks, meant, tuple(i for i in free if meant[i].name != base_ink.name), parents)


def _candidates(look: _Look, garment: Garment, base_coats: int) -> list[OverprintPair]:
    from sepkit.files.inkfile import find_ink
    from sepkit.files.recipes import find_garment

    return pair_candidates(
        look.inks, look.meant, parents=look.parents, saveable=look.free, base=find_ink(BASE_INK),
        base_coats=base_coats, cloth=garment.reflectance, white_cloth=find_garment(WHITE_CLOTH).reflectance,
    )  # fmt: skip


def _overprints(look: _Look, pairs: tuple[OverprintPair, ...]) -> Overprints:
    """Return the pairs with their inks: only parents are transparent, the others hide as usual."""
    parents = {i for pair in pairs for i in (pair.first, pair.second)}
    return Overprints(tuple(look.inks[i] if i in parents else ink for i, ink in enumerate(look.meant)), pairs)


def _found(one: SavedInk) -> Finding:
    return Finding(
        "overprint-colour", "info",
        f"{one.name} needs no ink: {one.second} over {one.first}, both transparent, print {to_hex(one.print_srgb)} "
        f"there, ΔE00 {one.de00:.1f} from its own colour",
        f"mix {one.first} and {one.second} with transparent base until one coat on white looks as it should; their "
        f"edges around {one.name} must now fall together, so register {one.second} to {one.first} with care, and test "
        "the overprint on a scrap before the run",
    )  # fmt: skip


def _effort(plain: Effort, decided: Decided) -> Finding:
    now = Effort.of(decided)
    return Finding(
        "overprint-saves", "info",
        f"with overprint colours {now.screens} screens and {now.flashes} flashes, without {plain.screens} and "
        f"{plain.flashes}",
        "where two transparent inks touch, their trap prints as a line of both: --trap 0 leaves it out, if the press "
        "holds register",
    )  # fmt: skip


def _none_near(
    areas: Sequence[InkArea], look: _Look, short: Sequence[tuple[float, OverprintPair, str]], limit: float,
    garment: Garment,
) -> Finding:  # fmt: skip
    """Tell the nearest pair where none is near enough, or why there is none."""
    code = "no-overprint-colour"
    if not short:
        why = "there are tones" if len(look.free) < len(areas) else "it takes three inks, two of them transparent"
        return Finding(code, "info", f"no overprint stands for a third ink here: {why}", "every ink keeps its screen")
    de00, pair, why = min(short, key=lambda found: found[0])
    names = names_of(areas)
    text = f"{names[pair.second]} over {names[pair.first]} comes nearest to a third ink ({names[pair.saved]}), "
    if why == "no gain":
        return Finding(
            code, "info", f"{text}ΔE00 {de00:.1f}, but transparent inks would take no fewer screens on {garment.name}",
            "every ink keeps its screen",
        )  # fmt: skip
    return Finding(
        code, "info", f"no overprint stands for a third ink: {text}ΔE00 {de00:.1f}, and {limit:g} passes",
        f"it would print {to_hex(pair.srgb)}: draw {names[pair.saved]} in that colour to save its screen, or raise "
        "--tolerance",
    )  # fmt: skip
