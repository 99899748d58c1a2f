"""What the parts of the job file's reader share: the file, its folder, and who knows which names.

In: tables of the file. Out: checked tables, and what the shelf holds under a name; a name that it does not hold is a
problem of the key.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, TypeVar

from sepkit.errors import NotFoundError, UsageError
from sepkit.files.jobfile.keys import KEYS
from sepkit.files.toml.keys import keys_of

if TYPE_CHECKING:
    from sepkit.files.shelf.shelf import Shelf
    from sepkit.files.toml.read import TomlFile
    from sepkit.files.toml.table import Table

T = TypeVar("T")


@dataclass(frozen=True, slots=True)
class JobNames:
    """Names that the reader cannot know by itself: placements, and size curves with their shares."""

    placements: tuple[str, ...]
    curves: Mapping[str, Mapping[str, float]]


@dataclass(frozen=True, slots=True, eq=False)
class JobSource:
    """One job file; ``folder`` is absolute, and art and orders lie in it or below."""

    file: TomlFile
    folder: Path
    names: JobNames
    shelf: Shelf

    def table(self, name: str) -> Table:
        """Return ``[name]``."""
        return self.file.table(name, keys_of(KEYS, name))

    def tables(self, name: str, *, least: int = 0) -> list[Table]:
        """Return the tables ``[[name]]``."""
        return self.file.tables(name, keys_of(KEYS, name), least=least)


def looked_up(table: Table, key: str, find: Callable[[str], T], name: str) -> T | None:
    """Return what ``find`` finds; a name that is unknown or makes no sense is a problem of ``key``.

    Raises DataFileError for a broken file of the shelf: that is no fault of the job.
    """
    try:
        return find(name)
    except (NotFoundError, UsageError) as error:
        table.problem(key, error.text, error.hint)
        return None
