"""How each ink goes on this garment: straight, twice, or on a white base; decided by predicted colour.

Each option's colour comes from inks/layers on the garment's own cloth. What the person means by an ink's colour lies
between its opaque film (the pot, the swatch) and one coat on white cloth (fibres show a little), so ΔE00 is taken to
the nearest of the colours between the two. The cheapest option within tolerance wins. Cost counts what the press
pays: a flash and a stroke for a second coat, a screen for a base that no other ink has asked for yet. Rules of thumb
(white twice on black, yellow on a base) are not coded: they come out.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Literal

import numpy as np

from sepkit.colorimetry.difference import delta_e_2000
from sepkit.colorimetry.spectral import reflectance_to_lab, reflectance_to_srgb8
from sepkit.colorimetry.srgb import as_rgb8
from sepkit.inks.layers import printed_reflectance

if TYPE_CHECKING:
    from sepkit.model import F64, RGB8, Ink

BaseRule = Literal["auto", "always", "never"]

TOLERANCE_DE00 = 3.0
"""Largest ΔE00 that passes for the same colour on a garment at arm's length (common practice: 2 to 4)."""

FLASH_COST = 1.0
BASE_SCREEN_COST = 1.6
SHARED_BASE_COST = 0.4
"""Relative press effort: a second coat is a stroke and a flash; a base is a screen, a stroke and a flash, and nearly
free for the second ink that uses it."""

OPAQUE_COATS = 30.0
MEANT_STEPS = 7

GAIN_WORTH_DE00 = 1.0
"""When nothing is within tolerance, a costlier option must be better by this much per unit of cost."""


@dataclass(frozen=True, slots=True)
class CoatOption:
    """One way to print an ink on the garment, and what it looks like."""

    label: str
    base_coats: int
    coats: int
    srgb: RGB8
    de00: float
    cost: float


@dataclass(frozen=True, slots=True)
class CoatChoice:
    """All options of an ink, and the chosen one with the reason."""

    options: tuple[CoatOption, ...]
    chosen: CoatOption
    within_tolerance: bool
    why: str


_WAYS = (
    ("straight", 0, 1, 0.0, 0.0),
    ("straight, two coats", 0, 2, FLASH_COST, FLASH_COST),
    ("on a base", 1, 1, BASE_SCREEN_COST, SHARED_BASE_COST),
    ("on a base of two coats", 2, 1, BASE_SCREEN_COST + FLASH_COST, SHARED_BASE_COST + FLASH_COST),
)


def coat_options(ink: Ink, *, base: Ink, cloth: F64, white_cloth: F64) -> tuple[CoatOption, ...]:
    """Return the four ways to print ``ink``, with predicted colour and ΔE00 to the colour it is meant to have.

    ``cloth`` and ``white_cloth`` are reflectances in air, (31,) 0..1. Costs are those of a base nobody shares.
    """
    on_white = reflectance_to_lab(printed_reflectance([(ink, 1.0)], white_cloth))
    opaque = reflectance_to_lab(printed_reflectance([(ink, OPAQUE_COATS)], white_cloth))
    meant = opaque + np.linspace(0, 1, MEANT_STEPS)[:, None] * (on_white - opaque)
    found = []
    for label, base_coats, coats, cost, _ in _WAYS:
        films: list[tuple[Ink, float]] = [(base, float(base_coats))] if base_coats else []
        seen = printed_reflectance([*films, (ink, float(coats))], cloth)
        de00 = float(delta_e_2000(meant, reflectance_to_lab(seen)).min())
        found.append(CoatOption(label, base_coats, coats, as_rgb8(reflectance_to_srgb8(seen)), de00, cost))
    return tuple(found)


def choose_coats(
    inks: Sequence[Ink],
    *,
    base: Ink,
    cloth: F64,
    white_cloth: F64,
    tolerance_de00: float = TOLERANCE_DE00,
    rule: BaseRule = "auto",
    rules: Mapping[str, BaseRule] | None = None,
) -> tuple[CoatChoice, ...]:
    """Choose coats and base for all inks of one print together: a base that one ink needs is cheap for the others.

    ``rule`` overrules for all inks, ``rules`` for single inks by name.
    """
    rules = rules or {}
    tables = [coat_options(ink, base=base, cloth=cloth, white_cloth=white_cloth) for ink in inks]
    asked = [rules.get(ink.name, rule) for ink in inks]
    first = [
        _choose(table, rule=r, tolerance_de00=tolerance_de00, most_base_coats=0 if ink.name == base.name else 2)
        for table, r, ink in zip(tables, asked, inks, strict=True)
    ]
    if not any(choice.chosen.base_coats for choice in first):
        return tuple(first)
    shared = [tuple(replace(o, cost=way[4]) for o, way in zip(table, _WAYS, strict=True)) for table in tables]
    most = 2
    final: dict[int, CoatChoice] = {}
    for i in sorted(range(len(inks)), key=lambda i: inks[i].name == base.name):
        if inks[i].name == base.name:  # white on a white base has its second coat: it asks for no third
            most = max([c.chosen.base_coats for c in final.values()] or [1])
        final[i] = _choose(shared[i], rule=asked[i], tolerance_de00=tolerance_de00, most_base_coats=most)
    return tuple(final[i] for i in range(len(inks)))


def _choose(
    options: tuple[CoatOption, ...], *, rule: BaseRule, tolerance_de00: float, most_base_coats: int
) -> CoatChoice:
    allowed = [o for o in options if _allowed(o, rule, most_base_coats)]
    within = [o for o in allowed if o.de00 <= tolerance_de00]
    if within:
        chosen = min(within, key=lambda o: (o.cost, o.de00))
    else:
        chosen = min(allowed, key=lambda o: o.de00 + GAIN_WORTH_DE00 * o.cost)
    return CoatChoice(options, chosen, bool(within), _why(chosen, options, rule, tolerance_de00))


def _allowed(option: CoatOption, rule: BaseRule, most_base_coats: int) -> bool:
    if rule == "always":
        return option.base_coats > 0
    return option.base_coats <= (0 if rule == "never" else most_base_coats)


def _why(chosen: CoatOption, options: tuple[CoatOption, ...], rule: BaseRule, tolerance_de00: float) -> str:
    straight = options[0]
    if rule != "auto":
        return f"as asked ({rule}); ΔE00 {chosen.de00:.1f}"
    if chosen is straight and chosen.de00 <= tolerance_de00:
        return f"covers in one coat (ΔE00 {chosen.de00:.1f})"
    gain = f"{chosen.label}: ΔE00 {chosen.de00:.1f}, straight {straight.de00:.1f}"
    return gain if chosen.de00 <= tolerance_de00 else f"{gain}; nothing comes within {tolerance_de00:g}"
