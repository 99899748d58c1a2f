"""Inks by name: those that a person lists, and those of a recipe with their weights."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING

from sepkit.errors import UsageError
from sepkit.files.shelf.folders import plain_name
from sepkit.inks.identify import with_opacity
from sepkit.inks.transparent import is_process
from sepkit.workshop.inks import SCALE_STEP_G

if TYPE_CHECKING:
    from sepkit.files.shelf.shelf import Shelf
    from sepkit.files.shelf.shop import Shop
    from sepkit.model import Ink


def chosen_inks(names: Sequence[str] | None, shelf: Shelf) -> list[Ink]:
    """Return the inks of those names, each once; for None all that are owned and not mixed from others.

    Transparent process inks are for overprints: they go into a mix only when they are named.

    Raises NotFoundError, and UsageError when the list names none.
    """
    if names is None:
        shop = shelf.shop()
        names_owned = [name for name in shelf.ink_names() if shop is None or shop.owns(name)]
        inks_owned = [owned_ink(shelf, shop, name) for name in names_owned if shelf.recipe(name) is None]
        return [ink for ink in inks_owned if not is_process(ink)]
    shop = shelf.shop()
    inks = {ink.name: ink for ink in (owned_ink(shelf, shop, name) for name in names)}
    if not inks:
        raise UsageError("the list names no ink", where="inks", hint="such as white,black,red")
    return list(inks.values())


def usual_step_g() -> float:
    """Return the step of the shop's scale, else the usual one. Raises DataFileError for a broken shop file."""
    from sepkit.files.shelf.shelf import Shelf

    shop = Shelf().shop()
    return SCALE_STEP_G if shop is None else shop.scale_step_g


def owned_ink(shelf: Shelf, shop: Shop | None, name: str) -> Ink:
    """Return an ink of the shelf, as the pot that the shop owns covers where it says so. Raises NotFoundError."""
    ink = shelf.ink(name)
    opacity = dict(() if shop is None else shop.opacities).get(plain_name(name))
    return ink if opacity is None else with_opacity(ink, opacity)


def weighed_inks(parts: Sequence[tuple[str, float]], shelf: Shelf) -> list[tuple[Ink, float]]:
    """Return (ink, parts by weight) of (name, parts by weight).

    Raises NotFoundError, and UsageError when an ink is named twice or nothing weighs anything.
    """
    out: list[tuple[Ink, float]] = []
    for name, amount in parts:
        ink = shelf.ink(name)
        if any(ink.name == other.name for other, _ in out):
            raise UsageError(f"{ink.name} is named twice", where="parts", hint="give its whole weight once")
        out.append((ink, amount))
    if not any(amount > 0 for _, amount in out):
        raise UsageError("no part weighs anything", where="parts", hint="write white:95 black:5")
    return out
