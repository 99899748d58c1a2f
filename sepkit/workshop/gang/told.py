"""Frames and prints as a person tells them in words: ``400x500mm:55-64``, ``back=320x380mm:white``, a print folder.

In: texts. Out: ToldFrame and ToldPrint; a mesh that nobody named stays open.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from pathlib import Path

from sepkit.errors import UsageError
from sepkit.jobs import Screen
from sepkit.model import Mesh
from sepkit.press.jobs import GangItem
from sepkit.units import parse_size_mm
from sepkit.workshop.gang.gang import ItemArt

UNTOLD_MESH = Mesh(55, 64)
"""Between bold white and fine type, where nobody names a mesh (common practice)."""
ANY_COUNT = 99
_SIZE = re.compile(r"^\s*[\d.,]+\s*[a-zµ\"]*\s*[x×]\s*[\d.,]+\s*[a-zµ\"]*\s*$", re.IGNORECASE)


@dataclass(frozen=True, slots=True)
class ToldFrame:
    """Frames of one size; without a ``mesh`` they take any that the prints ask for."""

    screen: Screen
    mesh: Mesh | None


@dataclass(frozen=True, slots=True)
class ToldPrint:
    """One print, or one plate of a print folder, which then is its ``load``."""

    name: str
    width_mm: float
    height_mm: float
    ink: str
    mesh: Mesh | None
    load: str = ""
    art: ItemArt | None = None

    @property
    def told_name(self) -> str:
        """The name that the person gave."""
        return self.load or self.name

    def item(self, *, may_turn_90: bool) -> GangItem:
        """Return what needs a place on a screen."""
        return GangItem(
            self.name,
            self.width_mm,
            self.height_mm,
            self.ink,
            self.mesh or UNTOLD_MESH,
            may_turn_90=may_turn_90,
            ink=self.ink,
            load=self.load,
        )


def told_frame(text: str) -> ToldFrame:
    """Read ``[NAME=]WxH[:MESH][:COUNT]``. Raises UsageError or NotFoundError."""
    name, size, rest = _parts(text, "--screen")
    width, height = parse_size_mm(size, what="--screen")
    count, mesh = ANY_COUNT, None
    for part in rest:
        if part.isdigit() and int(part) <= ANY_COUNT and not _mesh_like(part):
            count = int(part)
        else:
            mesh = _mesh(part)
    return ToldFrame(Screen(name or size.strip(), width, height, mesh or UNTOLD_MESH, count), mesh)


def told_prints(text: str) -> list[ToldPrint]:
    """Read ``NAME=WxH[:INK][:MESH]`` or ``NAME=FOLDER``, a print folder whose plates are all placed.

    Raises UsageError or NotFoundError.
    """
    name, size, rest = _parts(text, "--print")
    if not name:
        raise UsageError(f'"{text}" has no name', where="--print", hint="write it as back=320x380mm:white")
    if not _SIZE.match(size):
        return _plates_of(name, text.split("=", 1)[1].strip())
    width, height = parse_size_mm(size, what=f"--print {name}")
    mesh = None
    if rest and _mesh_like(rest[-1]):
        mesh = _mesh(rest.pop())
    if len(rest) > 1:
        raise UsageError(f'"{text}" has too many parts', where="--print", hint="write it as back=320x380mm:white:55-64")
    return [ToldPrint(name, width, height, rest[0].strip() if rest else "", mesh)]


def _plates_of(name: str, text: str) -> list[ToldPrint]:
    from sepkit.files.folders.print_folder import read_print_folder

    folder = Path(text)
    if not folder.is_dir():
        raise UsageError(
            f'"{text}" is neither a size nor a print folder',
            where=f"--print {name}",
            hint="write a size as 320x380mm, or give a folder that `sepkit separate` made",
        )
    read = read_print_folder(folder)
    size = (read.width_mm, read.height_mm)
    making = read.record.film.making
    return [
        ToldPrint(
            f"{name}/{plate.name}", *size, plate.ink.name, plate.mesh, load=name, art=ItemArt(plate, *size, making)
        )
        for plate in read.plates
    ]


def _parts(text: str, where: str) -> tuple[str, str, list[str]]:
    name, equals, value = text.partition("=")
    if not equals:
        name, value = "", text
    size, *rest = value.split(":")
    if not size.strip():
        raise UsageError(f'"{text}" has no size', where=where, hint="write a size as 400x500mm")
    return name.strip(), size, rest


def _mesh(text: str) -> Mesh:
    from sepkit.files.shelf.shelf import Shelf

    return Shelf().mesh(text.strip())


def _mesh_like(text: str) -> bool:
    """Tell whether a word is a mesh: 55-64, 140tpi, 55/cm."""
    return bool(re.match(r"^\s*\d+(?:[.,]\d+)?\s*(?:-\s*\d+|tpi|/cm)", text, re.IGNORECASE))
