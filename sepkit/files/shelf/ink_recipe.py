"""Ink recipes as they are written: an ink file with the parts it is mixed from. What such a file holds: inks.py."""

from __future__ import annotations

from typing import TYPE_CHECKING

from sepkit.files.shelf.inkfile import ink_toml, quoted

if TYPE_CHECKING:
    from sepkit.files.shelf.inks import Recipe
    from sepkit.model import Ink


def recipe_toml(ink: Ink, recipe: Recipe) -> str:
    """Return the text of a recipe's ink file."""
    lines = ["", "[recipe]", f"target = {quoted(recipe.target)}"]
    for key in ("target_lab", "predicted_lab", "measured_lab"):
        lab = getattr(recipe, key)
        if lab is not None:
            lines.append(f"{key} = [{', '.join(f'{v:.3f}' for v in lab)}]")
    parts = [
        f"  {{ ink = {quoted(part.ink)}, grams = {part.grams:g}, lot = {quoted(part.lot)} }}," for part in recipe.parts
    ]
    return ink_toml(ink, extra="\n".join([*lines, "parts = [", *parts, "]", ""]))
