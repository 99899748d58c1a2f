"""Recipes for the inks that a job mixes: grams of shelf inks for what has to be made.

In: a colour and grams. Out: parts in grams on the steps of the scale, and how far the prediction is off.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from sepkit.colorimetry.srgb import srgb8_to_lab
from sepkit.colorimetry.upsampling import srgb8_to_reflectance
from sepkit.inks.transparent import is_process
from sepkit.units import parse_hex

if TYPE_CHECKING:
    from sepkit.inks.match import InkSet
    from sepkit.press.quantities import InkNeed

LEAST_STEPS = 20
"""A dose of fewer scale steps is off by more than 5 %."""


@dataclass(frozen=True, slots=True)
class CupRecipe:
    """What goes into a cup. ``fine`` is False when a dose is too small for the scale."""

    parts: tuple[tuple[str, float], ...]
    de00: float
    fine: bool


def shelf_for_recipes(kind: str) -> InkSet | None:
    """Return the shelf's inks of a kind, ready to match; None when there are none."""
    from sepkit.files.shelf.shelf import Shelf
    from sepkit.inks.match import InkSet

    shelf = Shelf()
    inks = [ink for name in shelf.ink_names() if (ink := shelf.ink(name)).kind == kind]
    inks = [ink for ink in inks if not is_process(ink)]
    return InkSet(inks) if inks else None


def cup_recipes(needs: Sequence[InkNeed], *, kind: str, scale_step_g: float) -> dict[str, CupRecipe]:
    """Return the recipe of each ink that must be mixed, by its name; none where the shelf has no ink of that kind."""
    mixed = [need for need in needs if need.custom and need.to_mix_g > 0]
    shelf = shelf_for_recipes(kind) if mixed else None
    if shelf is None:
        return {}
    return {need.ink: cup_recipe(need.ink, need.to_mix_g, shelf=shelf, scale_step_g=scale_step_g) for need in mixed}


def cup_recipe(name: str, mass_g: float, *, shelf: InkSet, scale_step_g: float) -> CupRecipe:
    """Return the recipe of a mixed ink called by its ``#rrggbb``, for ``mass_g``.

    The first of the best blends is taken that the scale can weigh; the best one when none can.
    """
    from sepkit.inks.match import Target, match

    srgb = parse_hex(name)
    target = Target(name, np.asarray(srgb8_to_lab(np.array(srgb, np.uint8))), srgb8_to_reflectance(srgb))
    blends = match(shelf, target)
    best = blends[0].de00

    def doses(shares: np.ndarray) -> list[float]:
        return [round(float(share) * mass_g / scale_step_g) * scale_step_g for share in shares]

    weighable = [
        blend
        for blend in blends
        if blend.de00 <= best + 1.0 and min(doses(blend.mass_shares)) >= LEAST_STEPS * scale_step_g - 1e-9
    ]
    blend = (weighable or blends)[0]
    parts = [(ink.name, round(dose, 3)) for ink, dose in zip(blend.inks, doses(blend.mass_shares), strict=True)]
    parts.sort(key=lambda part: -part[1])
    return CupRecipe(tuple(parts), blend.de00, bool(weighable))
