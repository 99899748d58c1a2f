"""Repair a batch that measured off: additions only, in doses that the scale can weigh.

In: what is in the pot (parts in g, or a kept recipe), the colour it measured and the one it should have, as opaque
films. Out: additions, few grams first, and the one that is advised.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from sepkit.errors import NotFoundError, UsageError, near_names
from sepkit.files.shelf.colours import of_lab, parse_colour
from sepkit.inks.correct import WeighedAddition, advised_addition, corrections, weighed_additions
from sepkit.inks.doses import STEPS_TO_WEIGH, check_batch
from sepkit.model import Finding
from sepkit.workshop.inks import SCALE_STEP_G
from sepkit.workshop.inks.lookup import chosen_inks, weighed_inks

if TYPE_CHECKING:
    from sepkit.files.shelf.inks import Recipe
    from sepkit.files.shelf.shelf import Shelf
    from sepkit.inks.match import Target
    from sepkit.model import Ink


@dataclass(frozen=True, slots=True)
class Pot:
    """What is in the pot: (ink, g); or a recipe kept under a name, of which ``batch_g`` g were made (None: its own)."""

    parts: tuple[tuple[str, float], ...] = ()
    recipe: str = ""
    batch_g: float | None = None


@dataclass(frozen=True, slots=True)
class RepairRequest:
    """The pot, what it measured, and what it should be; ``target`` None takes what the kept recipe was made for."""

    pot: Pot
    measured: str
    target: str | None = None
    may_add: tuple[str, ...] | None = None
    """Inks that may be added; None: all that are not mixed from others."""
    most_inks: int = 3
    step_g: float = SCALE_STEP_G
    tolerance_de00: float = 1.0
    """ΔE00 that is good enough: the first addition below it is advised."""


@dataclass(frozen=True, slots=True, eq=False)
class Repair:
    """Additions, few grams first (the first adds nothing), the place of the advised one, and what to know."""

    batch_g: float
    target: Target
    measured: Target
    additions: tuple[WeighedAddition, ...]
    advised: int
    findings: tuple[Finding, ...]
    tolerance_de00: float

    @property
    def advised_de00(self) -> float:
        """ΔE00 from the target after the advised addition."""
        return self.additions[self.advised].de00

    @property
    def reached(self) -> bool:
        """Whether the advised addition comes near enough."""
        return self.advised_de00 <= self.tolerance_de00


def repair_batch(request: RepairRequest, shelf: Shelf) -> Repair:
    """Return additions that bring a batch to its target. Raises UsageError or NotFoundError."""
    parts, kept_target = _pot(request.pot, shelf)
    batch_g = sum(mass_g for _, mass_g in parts)
    check_batch(batch_g, request.step_g)
    measured = parse_colour(request.measured, what="--measured")
    target = parse_colour(request.target, what="--target").target if request.target else kept_target
    if target is None:
        raise UsageError("what should it look like?", where="--target", hint='add --target "#e0a060"')
    allowed = chosen_inks(request.may_add, shelf)
    found = corrections(parts, measured.target.lab, target.lab, allowed, most=request.most_inks)
    additions = weighed_additions(found, parts, measured.target.lab, target.lab, step_g=request.step_g)
    advised = advised_addition(additions, request.tolerance_de00)
    return Repair(
        batch_g=batch_g,
        target=target,
        measured=measured.target,
        additions=additions,
        advised=advised,
        findings=(*measured.findings, *_findings(additions[advised], batch_g, request.step_g)),
        tolerance_de00=request.tolerance_de00,
    )


def _pot(pot: Pot, shelf: Shelf) -> tuple[list[tuple[Ink, float]], Target | None]:
    """Return the parts in the pot, and the target of a kept recipe."""
    if not pot.recipe:
        return [(ink, mass_g) for ink, mass_g in weighed_inks(pot.parts, shelf) if mass_g > 0], None
    recipe = shelf.recipe(pot.recipe)
    if recipe is None:
        raise _no_recipe(pot.recipe, shelf)
    own_g = sum(part.grams for part in recipe.parts)
    parts = [(shelf.ink(part.ink), part.grams * (pot.batch_g or own_g) / own_g) for part in recipe.parts]
    return parts, _target_of(recipe, pot.recipe)


def _no_recipe(name: str, shelf: Shelf) -> NotFoundError:
    names = [other for other in shelf.ink_names() if shelf.recipe(other)]
    hint = near_names(name, names) if names else "write its parts, as white:380 yellow:90"
    return NotFoundError(f'no kept recipe "{name}"', where="ink shelf", hint=hint)


def _target_of(recipe: Recipe, name: str) -> Target | None:
    lab = recipe.target_lab or recipe.predicted_lab
    return of_lab(recipe.target or name, np.array(lab), what=name).target if lab else None


def _findings(advised: WeighedAddition, batch_g: float, step_g: float) -> Sequence[Finding]:
    out = []
    exact = advised.exact
    for ink, mass_g in zip(exact.inks, exact.grams, strict=True):
        if mass_g < STEPS_TO_WEIGH * step_g:
            text = f"{mass_g:.2g} g of {ink.name} is hard to weigh in {step_g:g} g steps"
            out.append(Finding("dose-coarse", "warn", text, "add it as a 10 % paste in the main ink"))
    if exact.total_g > 0:
        text = f"add half of it, mix, measure again; the pot grows from {batch_g:g} to {batch_g + exact.total_g:.0f} g"
        out.append(Finding("add-in-steps", "info", text, "then correct again from what it measures"))
    return out
