"""From ink areas to plates: base, coats, traps, order, tones, mesh and halftone, decided for one garment and press.

In: what the separation found, the art, garment, press and options. Out: plates in print order with their inks.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from sepkit.colorimetry.difference import delta_e_2000
from sepkit.colorimetry.names import distinct_words
from sepkit.colorimetry.spectral import reflectance_to_srgb8
from sepkit.colorimetry.srgb import as_rgb8, srgb8_to_lab
from sepkit.errors import UsageError
from sepkit.inks.identify import ink_from_swatch
from sepkit.inks.layers import printed_reflectance
from sepkit.model import Artwork, BaseRule, Garment, Halftone, Ink, InkArea, Mesh, Plate, Press
from sepkit.plates.base import Base, build_base, under_traps
from sepkit.plates.coats import CoatChoice, best_help, choke_share_where_fine, choose_coats, hides
from sepkit.plates.order import InkInOrder, print_order, why_order
from sepkit.plates.overprint_pairs import not_under, with_overprints
from sepkit.plates.rounds import Rounds, flash_reasons, overlap_shares, plan_rounds
from sepkit.plates.traps import trapped
from sepkit.units import mm_to_px, to_hex
from sepkit.workshop.print.options import PrintOptions, base_rules_of
from sepkit.workshop.print.tints import WHITE_CLOTH, tones_as_printed, with_light_base
from sepkit.workshop.print.whites import Draft, settle_whites

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from sepkit.model import U8, Finding
    from sepkit.plates.overprint_pairs import OverprintPair, Overprints
    from sepkit.workshop.print.overprints import SavedInk


BASE_INK = "white"
FLEECE_REGISTER_FACTOR = 1.7
"""Fleece creeps on the platen: 0.85 mm where a tee has 0.5 (common practice, from memory)."""
SEEN_DE00 = 3.0
"""A difference that is seen side by side."""
DARK_L = 60.0
"""A garment below this L* counts as dark for mesh advice."""
WHITE_L = 80.0
"""A print lighter than this is a white or pastel, which wants an open mesh on dark cloth."""
SAME_AS_BASE_DE00 = 6.0
"""An ink this close to the base ink is the base's own colour."""


@dataclass(frozen=True, slots=True, eq=False)
class Decided:
    """Plates in print order, an ink for each, how each ink was decided, and what there is to tell about them."""

    plates: tuple[Plate, ...]
    inks: tuple[Ink, ...]
    choices: dict[str, CoatChoice]
    base_thin: U8 | None
    rounds: Rounds
    order_why: str
    helps: dict[str, tuple[str, float]]
    """For inks out of tolerance: what would help most, and the ΔE00 it would give."""
    findings: tuple[Finding, ...] = ()
    overprints: tuple[SavedInk, ...] = ()
    without_overprints: tuple[int, int] | None = None


def register_mm(press: Press, garment: Garment) -> float:
    """Return how far two prints may fall apart on this press and cloth."""
    return press.register_error_mm * (FLEECE_REGISTER_FACTOR if garment.fleece else 1.0)


def choices_for(
    areas: Sequence[InkArea], garment: Garment, options: PrintOptions, *, overprints: Overprints | None = None
) -> tuple[CoatChoice, ...]:
    """Return how each ink area goes on the garment; areas that ``overprints`` stand for have no ink and are left out.

    Raises UsageError for a base rule about an ink not in the print.
    """
    from sepkit.files.shelf.inkfile import find_ink
    from sepkit.files.shelf.recipes import find_garment, find_press

    base_ink = find_ink(BASE_INK)
    shares = options.white_screens != "two" and not options.highlight and all(a.tone is None for a in areas)
    base_rule, base_rules = base_rules_of(options.base)
    names = names_of(areas)
    inks = [ink_of(area, base_ink) for area in areas] if overprints is None else list(overprints.inks)
    known = {ink.name.lower() for ink in inks} | {name.lower() for name in names}
    unknown = set(base_rules) - known
    if unknown:
        raise UsageError(f'no ink "{min(unknown)}" in this print', where="--base", hint=f"inks: {', '.join(names)}")
    rules: dict[str, BaseRule] = {}
    for ink, name in zip(inks, names, strict=True):
        for key in {ink.name.lower(), name.lower()} & set(base_rules):
            if rules.setdefault(ink.name, base_rules[key]) != base_rules[key]:
                raise UsageError(
                    f'"{name}" is {ink.name}, and they are told two different things',
                    where="--base",
                    hint="give one rule for each ink",
                )
    saved = overprints.saved if overprints is not None else {}
    return choose_coats(
        [ink for i, ink in enumerate(inks) if i not in saved],
        base=base_ink,
        cloth=garment.reflectance,
        white_cloth=find_garment(WHITE_CLOTH).reflectance,
        tolerance_de00=options.tolerance_de00,
        rule=base_rule,
        rules=rules,
        heads=find_press(options.press).heads,
        white_shares=shares,
    )


def decide(
    areas: tuple[InkArea, ...],
    art: Artwork,
    garment: Garment,
    press: Press,
    options: PrintOptions,
    *,
    overprints: Overprints | None = None,
) -> Decided:
    """Decide all plates of a print; areas that ``overprints`` stand for print with both their parents' plates.

    Raises UsageError for a base rule about an ink that is not in the print.
    """
    from sepkit.files.shelf.inkfile import find_ink

    base_ink = find_ink(BASE_INK)
    pairs = overprints.pairs if overprints is not None else ()
    error_mm = register_mm(press, garment)
    trap_mm = error_mm if options.trap_mm is None else options.trap_mm
    choke_mm = error_mm if options.choke_mm is None else options.choke_mm
    whole = areas
    traps = _traps(areas, art, options, trap_mm, pairs)
    choices = choices_for(areas, garment, options, overprints=overprints)
    kept = [i for i in range(len(areas)) if i not in {pair.saved for pair in pairs}]
    names = [names_of(areas)[i] for i in kept]
    inks = [ink_of(areas[i], base_ink) if overprints is None else overprints.inks[i] for i in kept]
    planes = with_overprints([area.coverage for area in areas], pairs)
    areas = tuple(areas[i] if planes[i] is areas[i].coverage else replace(areas[i], coverage=planes[i]) for i in kept)
    printed = [traps[i] for i in kept]
    overlaps = overlap_shares(printed, dpi=art.dpi)
    lightness = [float(srgb8_to_lab(np.array(area.srgb))[0]) for area in areas]
    in_order = [
        InkInOrder(light, float(area.coverage.mean()) / 255, ink)
        for light, area, ink in zip(lightness, areas, inks, strict=True)
    ]
    order = print_order(in_order, overlaps=np.maximum(overlaps, overlaps.T).tolist())
    based = _based(dict(zip(kept, choices, strict=True)), pairs)
    own = {i for i, ink in zip(kept, inks, strict=True) if ink.name == base_ink.name}
    coats = max(choice.chosen.base_coats for choice in choices)
    ways = [
        _Way(i, ink, choice, place)
        for i, ink, choice, place in zip(kept, inks, choices, np.argsort(order).tolist(), strict=True)
    ]
    hidden = _hidden(ways, (base_ink, float(coats)), garment, options.tolerance_de00)
    run_on = under_traps([area.coverage for area in whole], traps, [area.tone for area in whole], hidden)
    seen = as_rgb8(reflectance_to_srgb8(printed_reflectance([(base_ink, float(coats))], garment.reflectance)))
    fine = {way.area: choke_share_where_fine(way.choice, base_srgb=seen) for way in ways}
    base = _base_of(whole, based, own, mm_to_px(choke_mm, art.dpi), run_on, fine)
    plates: list[Plate] = []
    plate_inks: list[Ink] = []
    if base is not None:
        plates.append(_base_plate(base, base_ink, garment, coats, choke_mm))
        plate_inks.append(base_ink)
    for i in order:
        plates.append(_ink_plate(areas[i], printed[i], names[i], inks[i], choices[i], trap_mm, len(plates) + 1))
        plate_inks.append(inks[i])
    draft = Draft(tuple(plates), tuple(plate_inks), dict(zip(names, choices, strict=True)))
    draft = settle_whites(draft, press, options)
    draft, rounds = _in_rounds(draft, press, art)
    plates = tones_as_printed(list(draft.plates), draft.inks, garment, art.dpi)
    if options.light_base:
        plates = with_light_base(plates, draft, garment, options)
    dark = garment.lab[0] < DARK_L
    final = tuple(_with_mesh(plate, art, dark, options, plates) for plate in plates)
    return Decided(
        final,
        draft.inks,
        dict(draft.choices),
        None if base is None else base.kept_thin,
        rounds,
        why_order(in_order, order, names=names),
        _helps(draft, base_ink, garment, options),
        draft.findings,
    )


def _traps(
    areas: Sequence[InkArea], art: Artwork, options: PrintOptions, trap_mm: float, pairs: Sequence[OverprintPair]
) -> list[U8]:
    """Return each area with its trap; parents of an overprint carry its area and its trap too."""
    grown = trapped(
        [area.coverage for area in areas],
        lightness=[float(srgb8_to_lab(np.array(area.srgb))[0]) for area in areas],
        trap_px=mm_to_px(trap_mm, art.dpi),
        overprint_px=mm_to_px(options.overprint_mm, art.dpi),
        tones=[area.tone for area in areas],
        not_under=not_under(pairs),
    )
    carried = with_overprints([area.coverage for area in areas], pairs)
    for pair in pairs:
        for parent in (pair.first, pair.second):
            grown[parent] = np.maximum.reduce([grown[parent], grown[pair.saved], carried[parent]])
    return grown


def _based(choices: Mapping[int, CoatChoice], pairs: Sequence[OverprintPair]) -> list[int]:
    """Return the areas that have a base: those chosen so, and an overprint where one of its parents is."""
    based = {i for i, choice in choices.items() if choice.chosen.base_coats}
    return sorted(based | {pair.saved for pair in pairs if {pair.first, pair.second} & based})


@dataclass(frozen=True, slots=True)
class _Way:
    """How one area's ink goes on: its place in the art, its ink, the way chosen, its place in the order."""

    area: int
    ink: Ink
    choice: CoatChoice
    place: int


def _hidden(
    ways: Sequence[_Way], base: tuple[Ink, float], garment: Garment, tolerance_de00: float
) -> list[tuple[int, int]]:
    """Return (based area, area of a later ink without base) where a base under their trap would not be seen."""
    on_base = [way for way in ways if way.choice.chosen.base_coats]
    straight = [way for way in ways if not way.choice.chosen.base_coats]
    return [
        (low.area, top.area)
        for low in on_base
        for top in straight
        if top.place > low.place
        and hides(
            [(way.ink, float(way.choice.chosen.coats)) for way in (low, top)],
            base=base,
            cloth=garment.reflectance,
            tolerance_de00=tolerance_de00,
        )
    ]


def _base_of(
    areas: Sequence[InkArea],
    based: Sequence[int],
    own: set[int],
    choke_px: float,
    run_on: U8 | None,
    fine: Mapping[int, float],
) -> Base | None:
    """Return the base under the areas ``based``, of which ``own`` are the base's own colour; None without any."""
    if not based:
        return None
    white = [i for i in based if i in own]
    inks = [i for i in based if i not in own]
    return build_base(
        [areas[i].coverage for i in inks or white],
        choke_px=choke_px,
        own_colour=[areas[i].coverage for i in white] if len(white) < len(based) else [],
        others=[area.coverage for i, area in enumerate(areas) if i not in based],
        tones=[areas[i].tone for i in (*inks, *white)],
        run_on=run_on,
        fine_choke=[fine.get(i, 1.0) for i in inks],
    )


def _in_rounds(draft: Draft, press: Press, art: Artwork) -> tuple[Draft, Rounds]:
    """Put the plates in the order of their rounds, and place the flashes."""
    rounds = plan_rounds([plate.printed for plate in draft.plates], heads=press.heads, dpi=art.dpi)
    order = rounds.order
    numbers = [rounds.round_of(i) for i in order]
    plates = [draft.plates[i] for i in order]
    roles = ["underbase" if p.also_base is not None else p.role for p in plates]
    reasons = flash_reasons(
        overlap_shares([p.printed for p in plates], dpi=art.dpi),
        roles=roles,
        names=[p.name for p in plates],
        rounds=numbers,
    )
    placed = tuple(
        replace(plate, order=at, round=number, flash_after=bool(reason), flash_why=reason)
        for at, (plate, number, reason) in enumerate(zip(plates, numbers, reasons, strict=True), 1)
    )
    now = {old: new for new, old in enumerate(order)}
    moved = Rounds(
        tuple(tuple(now[i] for i in screens) for screens in rounds.rounds),
        tuple((now[a], now[b], mm) for a, b, mm in rounds.parted),
    )
    return replace(draft, plates=placed, inks=tuple(draft.inks[i] for i in order)), moved


def _helps(draft: Draft, base_ink: Ink, garment: Garment, options: PrintOptions) -> dict[str, tuple[str, float]]:
    """Return what would help each ink that is out of tolerance."""
    from sepkit.files.shelf.recipes import find_garment

    white_cloth = find_garment(WHITE_CLOTH).reflectance
    out: dict[str, tuple[str, float]] = {}
    for plate, ink in zip(draft.plates, draft.inks, strict=True):
        choice = draft.choices.get(plate.name)
        if choice is None or choice.chosen.de00 <= options.tolerance_de00:
            continue
        found = best_help(
            ink,
            choice,
            base=base_ink,
            cloth=garment.reflectance,
            white_cloth=white_cloth,
            tolerance_de00=options.tolerance_de00,
        )
        if found is not None:
            out[plate.name] = found
    return out


def names_of(areas: Sequence[InkArea]) -> list[str]:
    """Return a name for each area: its ink's, or a word for its colour."""
    words = distinct_words([area.srgb for area in areas])
    return [
        area.name if area.name and not area.name.startswith("#") else word
        for area, word in zip(areas, words, strict=True)
    ]


def ink_of(area: InkArea, base_ink: Ink) -> Ink:
    """Return the shelf ink an area was asked for, the base white for white art, or an ink mixed to its colour."""
    from sepkit.files.shelf.inkfile import find_ink

    if area.name and not area.name.startswith("#"):
        return find_ink(area.name)
    near = float(delta_e_2000(srgb8_to_lab(np.array(area.srgb)), srgb8_to_lab(np.array(base_ink.srgb))))
    if near < SAME_AS_BASE_DE00:
        return base_ink
    return ink_from_swatch(to_hex(area.srgb), area.srgb)


def _base_plate(base: Base, ink: Ink, garment: Garment, coats: int, choke_mm: float) -> Plate:
    seen = printed_reflectance([(ink, float(coats))], garment.reflectance)
    return Plate(
        order=1,
        name="underbase",
        role="underbase",
        ink=ink.name,
        art_srgb=None,
        print_srgb=as_rgb8(reflectance_to_srgb8(seen)),
        coverage=base.coverage,
        printed=base.printed,
        tone=base.tone,
        coats=coats,
        flash_after=True,
        halftone=None,
        mesh=Mesh(43, 80),
        choke_mm=choke_mm,
        why="under the inks that this cloth would darken",
    )


def _from_art(art_srgb: tuple[int, int, int], print_srgb: tuple[int, int, int]) -> str:
    """Return words for a print that is seen to differ from the art's own colour, else nothing."""
    away = float(delta_e_2000(srgb8_to_lab(np.array(art_srgb)), srgb8_to_lab(np.array(print_srgb))))
    return f"; prints ΔE00 {away:.1f} from the art's colour" if away > SEEN_DE00 else ""


def _ink_plate(
    area: InkArea, printed: U8, name: str, ink: Ink, choice: CoatChoice, trap_mm: float, order: int
) -> Plate:
    chosen = choice.chosen
    grown = printed is not area.coverage and bool((printed != area.coverage).any())
    return Plate(
        order=order,
        name=name,
        role="colour",
        ink=ink.name,
        art_srgb=area.srgb,
        print_srgb=chosen.srgb,
        coverage=area.coverage,
        printed=printed,
        tone=area.tone,
        coats=chosen.coats,
        flash_after=False,
        halftone=None,
        mesh=Mesh(62, 60),
        trap_mm=trap_mm if grown else 0.0,
        why=choice.why + _from_art(area.srgb, chosen.srgb),
        confidence=area.confidence,
    )


def _with_mesh(plate: Plate, art: Artwork, dark: bool, options: PrintOptions, plates: list[Plate]) -> Plate:
    from sepkit.coverage.strokes import thin_share
    from sepkit.files.shelf.recipes import find_mesh
    from sepkit.press.advice import advise_halftone, advise_mesh

    has_tone = plate.tone is not None
    if options.mesh is not None:
        mesh = find_mesh(options.mesh)
    else:
        light = float(srgb8_to_lab(np.array(plate.print_srgb))[0])
        mesh = advise_mesh(
            role=plate.role,
            white=light > WHITE_L,
            dark_garment=dark,
            has_tone=has_tone,
            thin_share=lambda width_mm: thin_share(plate.coverage, least_mm=width_mm, dpi=art.dpi),
        )
    halftone = None
    if has_tone:
        nth = [p.order for p in plates if p.tone is not None].index(plate.order)
        halftone = advise_halftone(mesh, nth=nth, shape=options.shape)
        halftone = Halftone(
            options.lpi or halftone.lpi,
            halftone.angle_deg if options.angle_deg is None else options.angle_deg + 30.0 * nth,
            options.shape,
        )
    return replace(plate, mesh=mesh, halftone=halftone)
