"""Ink files that the bench writes: a recipe, or an ink that was measured.

In: a name and what is to be kept. Out: the file on the person's shelf (SEPKIT_RECIPES, else ./recipes), written whole
or not at all, and who will find it there.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import TYPE_CHECKING

from sepkit.errors import UsageError
from sepkit.files.folders.write import replace_file
from sepkit.files.shelf.folders import ink_files, plain_name
from sepkit.files.shelf.ink_recipe import recipe_toml
from sepkit.files.shelf.inkfile import ink_toml, new_ink_path, today
from sepkit.files.shelf.inks import Part, Recipe
from sepkit.inks.looks import opaque_look
from sepkit.inks.mixing import mix

if TYPE_CHECKING:
    from sepkit.inks.doses import Dose
    from sepkit.inks.match import Target
    from sepkit.model import LAB, Ink


@dataclass(frozen=True, slots=True)
class InkFile:
    """An ink file that is to be written."""

    name: str
    path: Path
    text: str


@dataclass(frozen=True, slots=True)
class KeptInk:
    """An ink file that was written, and who finds it."""

    name: str
    """What later commands call it."""
    file: Path
    folder: Path
    """The recipes folder that it lies in."""
    found_anywhere: bool
    """Whether commands find it from every folder; else only those run in this one."""
    hidden_by: Path | None
    """Another ink file of the same name that is found first."""


@dataclass(frozen=True, slots=True, eq=False)
class RecipeNotes:
    """What is kept beside a recipe's parts: its target, what the batch measured, lot numbers by ink name."""

    target: Target | None = None
    measured: Target | None = None
    lots: Mapping[str, str] = field(default_factory=dict)


def check_name(name: str) -> None:
    """Raise UsageError for a name that cannot be an ink's, before work starts."""
    new_ink_path(name)


def recipe_file(name: str, doses: Sequence[Dose], notes: RecipeNotes) -> InkFile:
    """Return the file of a recipe under ``name``; inks of which nothing is weighed are no part of it.

    Raises UsageError for a name that cannot be a file's, or that one of the parts has.
    """
    path = new_ink_path(name)
    if any(dose.ink.name == name for dose in doses):
        raise UsageError(f'"{name}" is one of its own parts', where="--save", hint="choose another name")
    parts = [(dose.ink, dose.mass_g) for dose in doses if dose.mass_g > 0]
    source = "mixed: " + " + ".join(f"{ink.name} {mass_g:g}" for ink, mass_g in parts)
    ink = replace(mix(parts), name=_one_spaced(name), source=source, date=today())
    recipe = Recipe(
        parts=tuple(Part(ink.name, mass_g, notes.lots.get(ink.name, "")) for ink, mass_g in parts),
        target=notes.target.name if notes.target else "",
        target_lab=_lab_of(notes.target),
        predicted_lab=opaque_look(ink).lab,
        measured_lab=_lab_of(notes.measured),
    )
    return InkFile(name, path, recipe_toml(ink, recipe))


def measured_file(name: str, ink: Ink) -> InkFile:
    """Return the file of an ink that was measured today. Raises UsageError for a name that cannot be a file's."""
    return InkFile(name, new_ink_path(name), ink_toml(replace(ink, name=_one_spaced(name), date=today())))


@contextmanager
def writing(file: InkFile, *, force: bool) -> Iterator[None]:
    """Have ``file`` on the shelf when the block ends without an error; else all stays as it was. Raises WriteError."""
    with replace_file(file.path, force=force) as part:
        part.write_text(file.text, encoding="utf-8")
        yield


def keep(file: InkFile, *, force: bool) -> KeptInk:
    """Write ``file`` and return where it is. Raises WriteError when it exists and ``force`` is False."""
    with writing(file, force=force):
        pass
    return kept(file)


def kept(file: InkFile) -> KeptInk:
    """Return who finds a file that was written."""
    folder = file.path.resolve().parents[1]
    first = ink_files().get(plain_name(file.name))
    return KeptInk(
        name=file.name.strip().lower(),
        file=file.path,
        folder=folder,
        found_anywhere=file.path.is_absolute() and folder != Path.cwd() / "recipes",
        hidden_by=None if first is None or first.resolve() == file.path.resolve() else first,
    )


def _one_spaced(name: str) -> str:
    return " ".join(name.split())


def _lab_of(target: Target | None) -> LAB | None:
    if target is None:
        return None
    l, a, b = (float(value) for value in target.lab)
    return l, a, b
