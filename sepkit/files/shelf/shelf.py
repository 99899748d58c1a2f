"""The shelf as one thing: what a name or a colour stands for, each file read at most once.

In: names as a person writes them. Out: model types. Made once at the door of a command and handed down; what is below
the door asks it, or holds what it gave, and reads no file of its own.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import TYPE_CHECKING, TypeVar

if TYPE_CHECKING:
    from collections.abc import Callable

    from sepkit.model import Garment, Ink, Mesh, Press

T = TypeVar("T")


class Shelf:
    """Garments, meshes, presses and inks by name.

    Each look-up raises NotFoundError for a name that the shelf does not hold, with near names, and JobFileError for a
    broken file.
    """

    def __init__(self) -> None:
        self._kept: dict[tuple[str, str], object] = {}

    def garment(self, name: str) -> Garment:
        """Return the garment of that name (any case), or a plain tee in that colour for ``#rrggbb``."""
        from sepkit.files.shelf.recipes import find_garment

        return self._once("garment", name, find_garment)

    def mesh(self, text: str) -> Mesh:
        """Return the mesh meant by ``43-80``, ``43/cm`` or ``110 tpi``. Raises UsageError for what is no mesh."""
        from sepkit.files.shelf.recipes import find_mesh

        return self._once("mesh", text, find_mesh)

    def press(self, name: str) -> Press:
        """Return the press of that name (any case)."""
        from sepkit.files.shelf.recipes import find_press

        return self._once("press", name, find_press)

    def measured(self, press: str) -> Mapping[str, float]:
        """Return what a calibration print told of a press: names with their unit to numbers; empty when nothing."""
        from sepkit.files.shelf.pressfile import measured_of

        return self._once("measured", press, measured_of)

    def ink(self, name: str) -> Ink:
        """Return the ink of that name (any case)."""
        from sepkit.files.shelf.inkfile import find_ink

        return self._once("ink", name, find_ink)

    def _once(self, kind: str, name: str, find: Callable[[str], T]) -> T:
        key = (kind, " ".join(name.lower().split()))
        if key not in self._kept:
            self._kept[key] = find(name)
        return self._kept[key]  # type: ignore[return-value]
