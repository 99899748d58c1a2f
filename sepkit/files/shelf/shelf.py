"""The shelf as one thing: what a name or a colour stands for, each file read at most once.

In: names as a person writes them. Out: model types. Made once at the door of a command and handed down; what is below
the door asks it, or holds what it gave, and reads no file of its own. A file is read when something of it is asked for.
"""

from __future__ import annotations

from collections.abc import Mapping
from functools import cached_property
from pathlib import Path
from typing import TYPE_CHECKING

from sepkit.errors import NotFoundError, near_names
from sepkit.files.shelf import garments, meshes, presses
from sepkit.files.shelf import shop as shops
from sepkit.files.shelf.folders import ink_files, plain_name, recipe_files
from sepkit.files.shelf.inks import InkEntry, Recipe, read_ink_file
from sepkit.files.toml.read import TomlFile, read_toml
from sepkit.files.words import shown

if TYPE_CHECKING:
    from sepkit.files.shelf.shop import Shop
    from sepkit.model import Garment, Ink, Mesh, Press


class Shelf:
    """Garments, meshes, presses and inks by name.

    Each look-up raises NotFoundError for a name that the shelf does not hold, with near names, and DataFileError for a
    broken file, with all that is wrong with it.
    """

    def __init__(self) -> None:
        self._garments: dict[str, Garment] = {}
        self._inks: dict[str, InkEntry] = {}

    def garment(self, name: str) -> Garment:
        """Return the garment of that name (any case), or a plain tee in that colour for ``#rrggbb``."""
        key = " ".join(name.lower().split())
        if key not in self._garments:
            self._garments[key] = self._garment_shelf.garment(name)
        return self._garments[key]

    def garment_names(self) -> tuple[str, ...]:
        """Return the names of all garments, the person's own first."""
        return tuple(entry.name for entry in self._garment_shelf.entries.values())

    def mesh(self, text: str) -> Mesh:
        """Return the mesh meant by ``43-80``, ``43/cm`` or ``110 tpi``. Raises UsageError for what is no mesh."""
        return meshes.mesh_of(text, self._meshes)

    def mesh_names(self) -> tuple[str, ...]:
        """Return the meshes as count-thread, coarse first."""
        return tuple(entry.name for entry in self._meshes)

    def mesh_uses(self) -> tuple[tuple[Mesh, bool, str], ...]:
        """Return (mesh, whether its thread is meant when only the count is given, its use), coarse first."""
        return tuple((entry.mesh, entry.usual, entry.use) for entry in self._meshes)

    def press(self, name: str) -> Press:
        """Return the press of that name (any case)."""
        return presses.press_of(name, self._presses)

    def press_names(self) -> tuple[str, ...]:
        """Return the names of all presses, the person's own first."""
        return tuple(entry.press.name for entry in self._presses.values())

    def shop(self) -> Shop | None:
        """Return what is owned; None where no shop.toml tells it."""
        return shops.own_shop([entry.mesh for entry in self._meshes], self.press_names(), self.ink_names())

    def shop_of(self, text: str, where: str) -> Shop:
        """Return the shop of a file's text."""
        meshes_known = [entry.mesh for entry in self._meshes]
        return shops.shop_of(text, where, meshes_known, self.press_names(), self.ink_names())

    def measured(self, press: str) -> Mapping[str, float]:
        """Return what a calibration print told of a press: names with their unit to numbers; empty when nothing."""
        entry = self._presses.get(" ".join(press.lower().split()))
        return entry.measured if entry else {}

    def ink(self, name: str) -> Ink:
        """Return the ink of that name (case, "-" and "_" do not matter)."""
        return self._ink_entry(name).ink

    def ink_names(self) -> tuple[str, ...]:
        """Return the names of all inks, sorted. They are the names of their files: none is read."""
        return tuple(sorted(self._ink_files))

    def recipe(self, name: str) -> Recipe | None:
        """Return what an ink is mixed from; None when it is not mixed from others, or not on the shelf."""
        return self._ink_entry(name).recipe if plain_name(name) in self._ink_files else None

    def _ink_entry(self, name: str) -> InkEntry:
        key = plain_name(name)
        if key not in self._ink_files:
            hint = near_names(key, sorted(self._ink_files))
            raise NotFoundError(f'no ink "{shown(name)}"', where="ink shelf", hint=hint)
        if key not in self._inks:
            self._inks[key] = read_ink_file(self._ink_files[key])
        return self._inks[key]

    @cached_property
    def _ink_files(self) -> dict[str, Path]:
        return ink_files()

    @cached_property
    def _garment_shelf(self) -> garments.GarmentShelf:
        return garments.garment_shelf(_files(garments.FILE_NAME, "a garment"))

    @cached_property
    def _meshes(self) -> tuple[meshes.MeshEntry, ...]:
        return meshes.mesh_entries(_files(meshes.FILE_NAME, "a mesh"))

    @cached_property
    def _presses(self) -> dict[str, presses.PressEntry]:
        return presses.press_entries(_files(presses.FILE_NAME, "a press"))


def _files(name: str, what: str) -> list[TomlFile]:
    return [read_toml(path, what=what) for path in recipe_files(name)]
