"""What lies under each ink: coats and base chosen for all of them, and the base's own screen.

Rows in, rows out.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from itertools import product
from typing import TYPE_CHECKING

import numpy as np

from sepkit.colorimetry.difference import delta_e_2000
from sepkit.colorimetry.spectral import reflectance_to_srgb8
from sepkit.colorimetry.srgb import as_rgb8, srgb8_to_lab
from sepkit.coverage.keep import kept
from sepkit.errors import UsageError
from sepkit.plates.base import BaseArea, build_base, under_traps
from sepkit.plates.base_or_straight import CoatWish, choose_coats
from sepkit.plates.coats import best_help, choke_share_where_fine, hides
from sepkit.plates.drafts import PlateDraft, wish_of
from sepkit.plates.joints import pairs_of
from sepkit.units import mm_to_px

if TYPE_CHECKING:
    from sepkit.coverage.sums import Patch
    from sepkit.decisions import CoatChoice, Help
    from sepkit.model import RGB8, U8, U32, BaseRule
    from sepkit.plates.bench import Bench

SEEN_DE00 = 3.0
"""A difference that is seen side by side."""


def with_coats(rows: Sequence[PlateDraft], bench: Bench) -> list[PlateDraft]:
    """Return the rows with how each ink goes on the garment; areas that a pair stands for have no way of their own.

    Raises UsageError for a base rule about an ink not in the print, or two about one ink.
    """
    wishes = bench.wishes
    shares = wishes.white_screens != "two" and not wishes.highlight and all(row.tone is None for row in rows)
    rules = _rules(rows, bench)
    own = [row for row in rows if row.pair is None]
    asked = [CoatWish(row.ink, rules[row.index], wish_of(row.area, bench).coats) for row in own]
    choices = choose_coats(
        asked,
        bench.ground,
        tolerance_de00=wishes.tolerance_de00,
        heads=bench.press.heads,
        white_shares=shares,
    )
    chosen = {row.index: choice for row, choice in zip(own, choices, strict=True)}
    return [_with_way(row, chosen.get(row.index)) for row in rows]


def _with_way(row: PlateDraft, choice: CoatChoice | None) -> PlateDraft:
    if choice is None or row.area is None:
        return row
    way = choice.chosen
    why = choice.why + _from_art(row.area.srgb, way.srgb)
    return replace(row, choice=choice, coats=way.coats, print_srgb=way.srgb, why=why)


def _from_art(art_srgb: RGB8, print_srgb: RGB8) -> str:
    """Return words for a print that is seen to differ from the art's own colour, else nothing."""
    away = float(delta_e_2000(srgb8_to_lab(np.array(art_srgb)), srgb8_to_lab(np.array(print_srgb))))
    return f"; prints ΔE00 {away:.1f} from the art's colour" if away > SEEN_DE00 else ""


def base_rule(row: PlateDraft, bench: Bench) -> BaseRule:
    """Return the rule about a base that was told for one row, or for all."""
    told = bench.wishes.base
    wished = None if row.area is None else wish_of(row.area, bench).base
    named = sorted(row.called & set(told.single))
    return wished or (told.single[named[0]] if named else told.every)


def _rules(rows: Sequence[PlateDraft], bench: Bench) -> dict[int, BaseRule]:
    """Return each area's rule about a base: its own wish, else the one for its name or its ink's, else for all."""
    told = bench.wishes.base
    known = set().union(*(row.called for row in rows))
    unknown = set(told.single) - known
    if unknown:
        names = ", ".join(row.name for row in rows)
        raise UsageError(f'no ink "{min(unknown)}" in this print', where="--base", hint=f"inks: {names}")
    by_ink: dict[str, BaseRule] = {}
    for row in rows:
        for key in row.called & set(told.single):
            if by_ink.setdefault(row.ink.name, told.single[key]) != told.single[key]:
                raise UsageError(
                    f'"{row.name}" is {row.ink.name}, and they are told two different things',
                    where="--base",
                    hint="give one rule for each ink",
                )
    return {row.index: wish_of(row.area, bench).base or by_ink.get(row.ink.name, told.every) for row in rows}


@dataclass(frozen=True, slots=True, eq=False)
class UnderInks:
    """The base's row, None for a print without; and where strokes were too thin for the full choke."""

    row: PlateDraft | None
    kept_thin: U32 | None


def base_under(rows: Sequence[PlateDraft], bench: Bench, *, dpi: float) -> UnderInks:
    """Return the base under the areas that go on one, choked, for rows in print order with all areas among them."""
    by_area = sorted(rows, key=lambda row: row.index)
    on_base = _on_base(by_area)
    if not on_base:
        return UnderInks(None, None)
    coats = max(row.choice.chosen.base_coats for row in rows if row.choice is not None)
    seen = as_rgb8(reflectance_to_srgb8(bench.ground.seen([], base_coats=coats)))
    own, inks = _own_colour_first([row for row in by_area if row.index in on_base], bench)
    base = build_base(
        [_under_ink(row, seen) for row in inks] or own,
        choke_px=mm_to_px(bench.choke_mm, dpi),
        own_colour=own if inks else [],
        others=[_asked(row) for row in by_area if row.index not in on_base],
        run_on=_run_on(by_area, bench, coats),
    )
    under = PlateDraft(
        "underbase",
        bench.base_ink,
        base.coverage,
        base.printed,
        role="underbase",
        tone=base.tone,
        coats=coats,
        print_srgb=seen,
        choke_mm=bench.choke_mm,
        why="under the inks that this cloth would darken",
    )
    return UnderInks(under, base.kept_thin)


def _on_base(rows: Sequence[PlateDraft]) -> set[int]:
    """Return the areas that have a base: those chosen so, and an overprint where one of its parents is."""
    based = {row.index for row in rows if row.based}
    return based | {pair.saved for pair in pairs_of(rows) if {pair.first, pair.second} & based}


def _own_colour_first(rows: Sequence[PlateDraft], bench: Bench) -> tuple[list[BaseArea], list[PlateDraft]]:
    """Return the areas of the base's own colour, which are not choked, and the rows of all others on the base."""
    own = [row for row in rows if row.pair is None and row.ink.name == bench.base_ink.name]
    return [BaseArea(_asked(row), row.tone) for row in own], [row for row in rows if row not in own]


def _run_on(rows: Sequence[PlateDraft], bench: Bench, base_coats: int) -> tuple[Patch, ...]:
    """Return where the base may run on under traps that an ink over them hides; ``rows`` has an area at each place."""
    return kept(
        under_traps,
        [_asked(row) for row in rows],
        [row.printed for row in rows],
        [row.tone for row in rows],
        _hidden(rows, bench, base_coats),
    )


def _asked(row: PlateDraft) -> U8:
    """Return what the art itself asks of a row, without the areas that it helps to print."""
    return row.coverage if row.area is None else row.area.coverage


def _under_ink(row: PlateDraft, base_srgb: RGB8) -> BaseArea:
    share = 1.0 if row.choice is None else choke_share_where_fine(row.choice, base_srgb=base_srgb)
    return BaseArea(_asked(row), row.tone, share)


def _hidden(rows: Sequence[PlateDraft], bench: Bench, base_coats: int) -> list[tuple[int, int]]:
    """Return (based area, area of a later ink without base) where a base under their trap would not be seen."""
    own = [row for row in rows if row.choice is not None]
    on_base, straight = [row for row in own if row.based], [row for row in own if not row.based]
    return [
        (low.index, top.index)
        for low, top in product(on_base, straight)
        if top.place > low.place
        and hides(
            [(row.ink, float(row.coats)) for row in (low, top)],
            base=(bench.base_ink, float(base_coats)),
            cloth=bench.garment.reflectance,
            tolerance_de00=bench.wishes.tolerance_de00,
        )
    ]


def helps_of(rows: Sequence[PlateDraft], bench: Bench) -> Mapping[str, Help]:
    """Return, by name, what would help each ink that is out of tolerance."""
    tolerance_de00 = bench.wishes.tolerance_de00
    out: dict[str, Help] = {}
    for row in rows:
        if row.choice is None or row.choice.chosen.de00 <= tolerance_de00:
            continue
        found = best_help(row.ink, row.choice, bench.ground, tolerance_de00=tolerance_de00)
        if found is not None:
            out[row.name] = found
    return out
