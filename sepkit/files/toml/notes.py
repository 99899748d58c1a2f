"""What is found wrong with one file while it is read: gathered, so that one reading tells all of it.

In: problems with their lines, or places of the TOML text. Out: one DataFileError with all of them.
"""

from __future__ import annotations

from functools import cached_property

from sepkit.errors import DataFileError, Problem
from sepkit.files.toml.lines import LineMap, Place, line_map
from sepkit.files.words import shown

MOST_PROBLEMS = 100
"""A file with more is not what it is taken for; the first ones tell enough."""


class Notes:
    """The problems of one file. ``where`` names it in errors; ``toml`` is its text, when it is TOML."""

    def __init__(self, where: str, toml: str = "") -> None:
        self.where = where
        self._toml = toml
        self.told: dict[Place, str] = {}
        """Keys whose value does not stand in the file, by their places: how each was told."""
        self._problems: list[Problem] = []

    @cached_property
    def lines(self) -> LineMap:
        """Where the keys of the TOML stand. Made when the first problem asks for it."""
        return line_map(self._toml)

    def note(self, text: str, hint: str = "", *, key: str = "", line: int = 0, told: str = "") -> None:
        """Note a problem, its words safe to show. Raises DataFileError when there are too many."""
        words = shown(text, most=200), shown(hint, most=400), shown(key, most=160)
        self._problems.append(Problem(*words, 0 if told else line, told))
        if len(self._problems) >= MOST_PROBLEMS:
            self.check()

    def check(self) -> None:
        """Raise DataFileError when there are problems."""
        if self._problems:
            raise DataFileError(*self._problems, where=self.where)
