"""Single look-ups for tests, each on a shelf of its own."""

from __future__ import annotations

from collections.abc import Mapping

from sepkit.files.shelf.inks import Recipe
from sepkit.files.shelf.shelf import Shelf
from sepkit.model import Garment, Ink, Press


def find_ink(name: str) -> Ink:
    return Shelf().ink(name)


def ink_names() -> list[str]:
    return list(Shelf().ink_names())


def find_recipe(name: str) -> Recipe | None:
    return Shelf().recipe(name)


def find_garment(name: str) -> Garment:
    return Shelf().garment(name)


def find_press(name: str) -> Press:
    return Shelf().press(name)


def measured_of(name: str) -> Mapping[str, float]:
    return Shelf().measured(name)
