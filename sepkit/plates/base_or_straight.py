"""Which way each ink of a print goes: straight, twice, or on a base that all who gain from it share.

In: inks with what is wished for them, and the ground. Out: a CoatChoice for each.
An ink is known within a band (`inks/bands.py`); a way holds when it is within tolerance at the weak end of the band.
A base is there because an ink does not hold without it, so what decides falls as an ink's opacity rises and grows as
its band widens: more opacity never adds a base, a wider band never takes one away. Once it is there, every ink that
gains from it goes on it; a black never does.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from sepkit.colorimetry.srgb import srgb8_to_lab
from sepkit.decisions import TOLERANCE_DE00, CoatChoice
from sepkit.model import Finding
from sepkit.plates.coats import ON_BASE_COST, coat_options

if TYPE_CHECKING:
    from sepkit.decisions import CoatOption
    from sepkit.inks.bands import InkBand
    from sepkit.model import BaseRule, Ink
    from sepkit.plates.coats import Ground

BASE_SCREEN_COST = 1.0
SECOND_BASE_COAT_COST = 1.0
COST_PER_DE00 = 0.15
"""In screens: a base is one more, once for all inks on it; a ΔE00 within tolerance is worth 0.15 of one where a base is
there anyway. Our own weights: with them the usual choices of the trade come out."""
BEYOND_TOLERANCE_COST = 1.0
"""Each ΔE00 beyond tolerance at the weak end of the band weighs as much as a screen."""
ROUND_COST = 3.0
"""Not fitting the heads in one round: screens change with each garment on its platen, or garments are loaded again and
fall elsewhere. Worth two second coats, and more than a base."""
GAINS_DE00 = 0.5
"""An ink that gains less than this on a base needs none."""
BLACK_L, BLACK_CHROMA = 24.0, 10.0
"""An ink as dark and as grey as this is a black."""


@dataclass(frozen=True, slots=True, eq=False)
class CoatWish:
    """An ink that needs coats, and what is asked of it."""

    ink: Ink
    rule: BaseRule = "auto"
    coats: int | None = None
    """So many and no other; None leaves it to be decided."""
    band: InkBand | None = None
    """How well it is known; None: as its kind is."""


@dataclass(frozen=True, slots=True, eq=False)
class _InkWays:
    """The ways of one ink of a print."""

    options: tuple[CoatOption, ...]
    asked: BaseRule
    is_base: bool
    """Whether it is the base ink itself."""
    rule: BaseRule
    """As asked; never for a black that nothing was asked for."""

    def straight(self) -> list[CoatOption]:
        """Return the ways without a base."""
        return [option for option in self.options if not option.base_coats]

    def on_base(self, coats: int) -> list[CoatOption]:
        """Return the ways on a base of so many coats."""
        return [option for option in self.options if option.base_coats == coats]


_Taken = tuple[_InkWays, "CoatOption"]
"""An ink and the way it goes in one plan."""


def choose_coats(
    inks: Sequence[CoatWish],
    ground: Ground,
    *,
    tolerance_de00: float = TOLERANCE_DE00,
    heads: int | None = None,
    white_shares: bool = True,
) -> tuple[CoatChoice, ...]:
    """Choose coats and base for all inks of one print together: a base that one ink needs is cheap for the others.

    ``heads`` of the press make a base dear that no longer fits one round; None counts no heads. ``white_shares`` tells
    whether seen white may be on the base's screen.
    """
    rows = [_ways_of(one, ground) for one in inks]
    bare = [(row, _choose(row, 0, tolerance_de00)) for row in rows]
    coats = _base_coats(rows, tolerance_de00)
    based = _without_idle_base([(row, _choose(row, coats, tolerance_de00)) for row in rows], tolerance_de00)
    fits = [heads is None or _screens(one, white_shares) <= heads for one in (bare, based)]
    parts = fits[0] and not fits[1]
    needed = _worth(based, tolerance_de00, 0.0, known=False) and (
        not parts or _worth(based, tolerance_de00, ROUND_COST, known=True)
    )
    taken = based if needed or any(row.rule == "always" for row in rows) else bare
    saves = f"; with a base the screens would not fit {heads} heads" if parts and taken is bare else ""
    return tuple(
        CoatChoice(
            row.options,
            option,
            option.de00 <= tolerance_de00,
            _why(option, row, tolerance_de00) + (saves if option.coats > 1 else ""),
        )
        for row, option in taken
    )


def is_black(ink: Ink) -> bool:
    """Tell whether an ink is a black, which hides any cloth and only greys on a base (common practice)."""
    light, a, b = (float(v) for v in srgb8_to_lab(np.array(ink.srgb)))
    return light < BLACK_L and float(np.hypot(a, b)) < BLACK_CHROMA


def is_open(choice: CoatChoice, tolerance_de00: float) -> bool:
    """Tell whether the ink's band decides between one straight coat and more: one test print would settle it."""
    straight = next((one for one in choice.options if not one.base_coats and one.coats == 1), None)
    if straight is None or not straight.de00 <= tolerance_de00 < straight.worst_de00:
        return False
    return choice.chosen is not straight or min(one.worst_de00 for one in choice.options) < straight.worst_de00


def asked_test_print(choices: Mapping[str, CoatChoice], tolerance_de00: float) -> Finding | None:
    """Return the one test print that decides base or coats, where a band does; ``choices`` are of all inks but white.

    None where every ink holds straight, or where a base stays whatever one of them shows.
    """
    unsure = [name for name, choice in choices.items() if is_open(choice, tolerance_de00)]
    based = [name for name, choice in choices.items() if choice.chosen.base_coats]
    if not unsure or not set(based) <= set(unsure):
        return None
    names = " and ".join(unsure[:2]) if len(unsure) < 3 else f"{len(unsure)} inks"
    if based:
        return Finding(
            "test-print",
            "info",
            f"the base is there in case {names} cover less than estimated",
            "test first: one stroke straight, one on base; alike: --base never",
        )
    return Finding(
        "test-print",
        "info",
        f"{names} may cover less than estimated, and want a base",
        "test first: one stroke straight, one on base; cloth shows: --base always",
    )


def _ways_of(one: CoatWish, ground: Ground) -> _InkWays:
    rule = "never" if one.rule == "auto" and is_black(one.ink) else one.rule
    options = coat_options(one.ink, ground, coats=one.coats, band=one.band)
    return _InkWays(options, one.rule, one.ink.name == ground.base.name, rule)


def _beyond(option: CoatOption, tolerance_de00: float) -> float:
    """Return what a way costs that may fall out of tolerance."""
    return BEYOND_TOLERANCE_COST * max(0.0, option.worst_de00 - tolerance_de00)


def _gains(row: _InkWays, coats: int) -> bool:
    """Tell whether a base brings an ink nearer to its colour than it is without."""
    on_base = min((one.worst_de00 for one in row.on_base(coats)), default=np.inf)
    return on_base < min(one.worst_de00 for one in row.straight() if one.coats == row.options[0].coats) - GAINS_DE00


def _choose(row: _InkWays, base_coats: int, tolerance_de00: float) -> CoatOption:
    """Return the best way for one ink when the print's base has ``base_coats`` coats (0: no base)."""
    if row.rule == "always":
        allowed = row.on_base(max(base_coats, 1))
    else:
        allowed = row.straight()
        if base_coats and row.rule == "auto" and (row.is_base or _gains(row, base_coats)):
            allowed = [*allowed, *row.on_base(base_coats)]
    return min(allowed, key=lambda one: one.cost + COST_PER_DE00 * one.de00 + _beyond(one, tolerance_de00))


def _base_coats(rows: Sequence[_InkWays], tolerance_de00: float) -> int:
    """Return how many coats a base would have: two where the second is worth its flash to those who need it."""
    gain = sum(
        min(_beyond(one, tolerance_de00) for one in row.on_base(1))
        - min(_beyond(one, tolerance_de00) for one in row.on_base(2))
        for row in rows
        if row.rule != "never" and not row.is_base and _gains(row, 1)
    )
    return 2 if gain > SECOND_BASE_COAT_COST else 1


def _without_idle_base(taken: list[_Taken], tolerance_de00: float) -> list[_Taken]:
    """Return the ways without a base that only the base's own ink would lie on: the same screen is hit twice."""
    if any(option.base_coats for row, option in taken if not row.is_base or row.rule == "always"):
        return taken
    return [(row, _choose(row, 0, tolerance_de00)) for row, _ in taken]


def _worth(based: Sequence[_Taken], tolerance_de00: float, extra: float, *, known: bool) -> bool:
    """Tell whether a base, with what it costs ``extra``, is cheaper than the same inks without.

    An ink on a base is taken to hold there, for nothing on this cloth does better. The base's own ink is two coats
    thick either way. ``known`` weighs inks as they are known, not at the weak end of their bands.
    """
    on_it = [row for row, option in based if option.base_coats and not row.is_base]
    spared = sum(_without_base(row, tolerance_de00, known=known) - ON_BASE_COST for row in on_it)
    return bool(on_it) and spared > BASE_SCREEN_COST + extra


def _without_base(row: _InkWays, tolerance_de00: float, *, known: bool) -> float:
    """Return what an ink costs at least without a base: it never falls as the ink's band widens."""
    return min(
        one.cost + BEYOND_TOLERANCE_COST * max(0.0, (one.de00 if known else one.worst_de00) - tolerance_de00)
        for one in row.straight()
    )


def _screens(taken: Sequence[_Taken], white_shares: bool) -> int:
    """Return how many screens these ways take; seen white may share the base's screen."""
    based = {row.is_base for row, option in taken if option.base_coats}
    return len(taken) + bool(based) - (1 if len(based) == 2 and white_shares else 0)


def _why(chosen: CoatOption, row: _InkWays, tolerance_de00: float) -> str:
    straight = row.options[0]
    if row.asked != "auto":
        return f"as asked ({row.asked}); ΔE00 {chosen.de00:.1f}"
    if chosen is straight and chosen.coats == 1 and chosen.de00 <= tolerance_de00:
        return f"covers in one coat (ΔE00 {chosen.de00:.1f}, {chosen.worst_de00:.1f} if it covers less)"
    gain = f"{chosen.label}: ΔE00 {chosen.de00:.1f}, straight {straight.de00:.1f}"
    if chosen is not straight and straight.de00 <= tolerance_de00 < straight.worst_de00:
        return f"{gain} as known, {straight.worst_de00:.1f} if it covers less: a test print decides"
    return gain if chosen.de00 <= tolerance_de00 else f"{gain}; nothing comes within {tolerance_de00:g}"
