"""Single look-ups of garments, meshes and presses, each on a shelf of its own.

For rooms that do not hold a Shelf yet; one that looks up more than one name should (see shelf.py).
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from sepkit.files.shelf.shelf import Shelf

if TYPE_CHECKING:
    from sepkit.model import Garment, Mesh, Press


def find_garment(name_or_hex: str) -> Garment:
    """Return the garment of that name, or a plain tee in that colour for ``#rrggbb``; see Shelf.garment."""
    return Shelf().garment(name_or_hex)


def find_mesh(text: str) -> Mesh:
    """Return the mesh meant by ``43-80``, ``43/cm`` or ``110 tpi``; see Shelf.mesh."""
    return Shelf().mesh(text)


def find_press(name: str) -> Press:
    """Return the press of that name; see Shelf.press."""
    return Shelf().press(name)
