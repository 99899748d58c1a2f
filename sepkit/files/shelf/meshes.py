"""meshes.toml: the meshes of the shelf, and a mesh as people write it.

    [[mesh]]
    threads_per_cm = 43
    thread_um = 80
    usual = true                # the thread that is meant when only the count is given
    use = "bold white and base on dark"

In: the files, the person's own first; texts such as ``43-80``, ``43/cm`` or ``110 tpi``. Out: model.Mesh.
"""

from __future__ import annotations

import math
import re
from collections.abc import Sequence
from dataclasses import dataclass

from sepkit.errors import NotFoundError, UsageError
from sepkit.files.toml.keys import Key, keys_of
from sepkit.files.toml.read import TomlFile
from sepkit.files.toml.table import Table
from sepkit.files.words import shown
from sepkit.model import Mesh
from sepkit.units import threads_per_cm_to_tpi

FILE_NAME = "meshes.toml"
COUNT = Key("mesh", "threads_per_cm", "number", "threads in a centimetre", "threads/cm", 5, 200, must=True)
THREAD = Key("mesh", "thread_um", "number", "thickness of the thread", "µm", 15, 500, must=True)
KEYS: tuple[Key, ...] = (
    COUNT,
    THREAD,
    Key("mesh", "usual", "yes/no", "this thread is meant when only the count is given"),
    Key("mesh", "use", "text", "what it is used for"),
)
TPI_TOLERANCE = 0.04
"""Inch counts are rounded from metric weaves: 120/cm is sold as 305 and as 300 (common practice)."""

_NUMBER = r"(\d+(?:[.,]\d+)?)"
_TWO_NUMBERS = re.compile(rf"{_NUMBER}\s*(?:/\s*cm)?\s*[-–.x]\s*{_NUMBER}\s*(?:um|µm|μm)?", re.IGNORECASE)
_PER_CM = re.compile(rf"{_NUMBER}\s*(?:/\s*cm|t|per cm|threads/cm)", re.IGNORECASE)
_PER_INCH = re.compile(rf"{_NUMBER}\s*(?:tpi|/\s*in|per inch|threads/in)", re.IGNORECASE)
_COUNT_ONLY = re.compile(rf"{_NUMBER}(?:\s*mesh)?", re.IGNORECASE)


@dataclass(frozen=True, slots=True)
class MeshEntry:
    """A mesh of the shelf; ``usual`` when its thread is meant by the count alone."""

    mesh: Mesh
    usual: bool
    use: str

    @property
    def name(self) -> str:
        """Count and thread: ``43-80``."""
        return str(self.mesh)


def mesh_entries(files: Sequence[TomlFile]) -> tuple[MeshEntry, ...]:
    """Return the meshes of all files, coarse first; an entry of an earlier file wins. Raises DataFileError."""
    meshes: dict[tuple[float, float], MeshEntry] = {}
    for file in files:
        file.top({}, ("mesh",))
        for table in file.tables("mesh", keys_of(KEYS, "mesh")):
            entry = _entry(table)
            meshes.setdefault((entry.mesh.threads_per_cm, entry.mesh.thread_um), entry)
        file.check()
    return tuple(meshes[key] for key in sorted(meshes))


def mesh_of(text: str, entries: Sequence[MeshEntry]) -> Mesh:
    """Return the mesh meant by ``43-80``, ``43/cm`` or ``110 tpi``.

    A count alone takes the usual thread of the shelf; count and thread together may be any that can be woven.
    A bare number raises UsageError: 110 may be threads per cm or per inch. A count that the shelf does not hold
    raises NotFoundError.
    """
    plain = " ".join(text.split())
    if match := _TWO_NUMBERS.fullmatch(plain):
        return _woven(_number(match[1]), _number(match[2]), plain)
    if match := _PER_CM.fullmatch(plain):
        return _of_count(_number(match[1]), plain, entries)
    if match := _PER_INCH.fullmatch(plain):
        wanted = _number(match[1])
        counts = {entry.mesh.threads_per_cm for entry in entries}
        best = min(counts, key=lambda n: abs(threads_per_cm_to_tpi(n) - wanted), default=0.0)
        near = abs(threads_per_cm_to_tpi(best) - wanted) <= TPI_TOLERANCE * wanted
        return _of_count(best if near else -1.0, plain, entries)
    if match := _COUNT_ONLY.fullmatch(plain):
        hint = f"write {match[1]}/cm, {match[1]} tpi or 43-80"
        raise UsageError(f'"{shown(plain)}" may be threads per cm or per inch', where="mesh", hint=hint)
    raise UsageError(f'"{shown(plain)}" is not a mesh', where="mesh", hint="write it as 43-80, 43/cm or 110 tpi")


def _entry(table: Table) -> MeshEntry:
    count, thread = table.number("threads_per_cm"), table.number("thread_um")
    wrong = table.has_problem("threads_per_cm", "thread_um")
    if not wrong and not _has_opening(count, thread):
        table.problem(
            "thread_um", f"leaves no opening in {count:g}-{thread:g}", f"give less than {10000 / count:.0f} µm"
        )
    return MeshEntry(Mesh(count, thread), table.yes("usual"), table.text("use"))


def _of_count(count: float, text: str, entries: Sequence[MeshEntry]) -> Mesh:
    found = [entry for entry in entries if math.isclose(entry.mesh.threads_per_cm, count)]
    if not found:
        hint = "known: " + ", ".join(entry.name for entry in entries) + "; or give count and thread"
        raise NotFoundError(f'no mesh on the shelf is "{shown(text)}"', where="mesh", hint=hint)
    return next((entry.mesh for entry in found if entry.usual), found[0].mesh)


def _woven(count: float, thread: float, text: str) -> Mesh:
    ranges = COUNT.least <= count <= COUNT.most and THREAD.least <= thread <= THREAD.most
    if not ranges or not _has_opening(count, thread):
        raise UsageError(
            f'"{shown(text)}" cannot be woven', where="mesh", hint="give threads per cm, then the thread in µm: 43-80"
        )
    return Mesh(count, thread)


def _has_opening(count: float, thread_um: float) -> bool:
    return 10000.0 / count > thread_um


def _number(text: str) -> float:
    return float(text.replace(",", "."))
