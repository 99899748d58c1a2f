"""Ink recipes: an ink file with the parts it is mixed from, so that it can be named like any ink and mixed again.

Adds to the ink file (see inkfile.py):

    [recipe]
    target = "sea green"
    target_lab = [L, a, b]         # D65/2, when there was one
    predicted_lab = [L, a, b]
    measured_lab = [L, a, b]       # when it was measured
    parts = [{ ink = "white", grams = 95.0, lot = "" }, ...]
"""

from __future__ import annotations

from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Any

from sepkit.errors import UsageError
from sepkit.files.shelf.inkfile import ink_files, ink_table, ink_toml, plain_name, quoted
from sepkit.model import LAB

if TYPE_CHECKING:
    from sepkit.model import Ink


@dataclass(frozen=True, slots=True)
class Part:
    """One ink of a recipe."""

    ink: str
    grams: float
    lot: str = ""


@dataclass(frozen=True, slots=True)
class Recipe:
    """What a kept recipe holds beside its ink."""

    parts: tuple[Part, ...]
    target: str = ""
    target_lab: LAB | None = None
    predicted_lab: LAB | None = None
    measured_lab: LAB | None = None


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


def find_recipe(name: str) -> Recipe | None:
    """Return the recipe of a shelf ink, or None when the shelf holds no such ink or it is not mixed here."""
    path = ink_files().get(plain_name(name))
    return read_recipe(path) if path else None


def read_recipe(path: Path) -> Recipe | None:
    """Return the recipe that an ink file holds, or None. Raises UsageError naming file and key."""
    data = ink_table(path).get("recipe")
    if data is None:
        return None
    if not isinstance(data, dict) or not isinstance(data.get("parts"), list) or not data["parts"]:
        raise UsageError(
            "recipe.parts is missing", where=path.name, hint='write parts = [{ ink = "white", grams = 95 }]'
        )
    return Recipe(
        parts=tuple(_part(part, path) for part in data["parts"]),
        target=str(data.get("target", "")),
        target_lab=_lab(data, "target_lab", path),
        predicted_lab=_lab(data, "predicted_lab", path),
        measured_lab=_lab(data, "measured_lab", path),
    )


def _part(data: Any, path: Path) -> Part:
    grams = data.get("grams") if isinstance(data, dict) else None
    good = isinstance(grams, int | float) and not isinstance(grams, bool) and 0 < grams < 1e6
    if not good or not isinstance(data.get("ink"), str):
        raise UsageError("recipe.parts holds no ink and grams", where=path.name, hint='{ ink = "white", grams = 95 }')
    return Part(data["ink"], float(data["grams"]), str(data.get("lot", "")))


def _lab(data: dict[str, Any], key: str, path: Path) -> LAB | None:
    values = data.get(key)
    if values is None:
        return None
    if not isinstance(values, list) or len(values) != 3 or not all(isinstance(v, int | float) for v in values):
        raise UsageError(f"recipe.{key} is not Lab", where=path.name, hint="three numbers")
    return float(values[0]), float(values[1]), float(values[2])
