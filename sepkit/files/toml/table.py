"""One TOML table checked against its keys: each getter returns a usable value and notes what is wrong.

In: a table as parsed, its place, its keys. Out: values in the key's unit, the default where something is wrong or
missing. Unknown and missing keys are noted when the table is made.
"""

from __future__ import annotations

import datetime
import os
from collections.abc import Iterable, Mapping, Sequence
from pathlib import Path
from typing import Any

from sepkit.errors import SepkitError, near_names
from sepkit.files.toml.keys import C, ChoiceKey, Key, allowed, optional, span
from sepkit.files.toml.lines import Place
from sepkit.files.toml.notes import Notes
from sepkit.files.words import shown
from sepkit.model import RGB8
from sepkit.units import parse_hex, parse_length_mm


class Table:
    """One table of a file; ``what`` the file tells of, as "a job"."""

    def __init__(
        self, notes: Notes, place: Place, given: Mapping[str, Any], keys: Mapping[str, Key], *, what: str
    ) -> None:
        self.notes, self.place, self.given, self.keys, self.what = notes, place, given, keys, what
        self._wrong: set[str] = set()
        for name in given:
            if name not in keys:
                hint = near_names(name, keys) if keys else "write it below the table that it belongs to"
                self.problem(name, f"is not a key of {what}", hint)
        for key in keys.values():
            if key.must and key.name not in given:
                self.problem(key.name, "is missing", f"{key.text}: {allowed(key)}")

    def line(self, key: str) -> int:
        """Return the line of a key, or of the table when the key is not there."""
        return self.notes.lines.line(*self.place, key)

    def problem(self, key: str, text: str, hint: str = "") -> None:
        """Note a problem of a key."""
        self._wrong.add(key)
        table = ".".join(part for part in self.place if isinstance(part, str))
        name = self.given.get("name")
        if table and isinstance(name, str) and name and key != "name":
            label = f'{table} "{shown(name)}" {key}'
        else:
            label = f"{table}.{key}" if table else key
        told = self.notes.told.get((*self.place, key), "")
        self.notes.note(text, hint, key=label, line=self.line(key), told=told)

    def has_problem(self, *keys: str) -> bool:
        """Return whether one of ``keys`` has been found wrong."""
        return not self._wrong.isdisjoint(keys)

    def text(self, name: str) -> str:
        """Return a text, its white space single; empty when it is not given and has no default."""
        key = self.keys[name]
        value = self.given.get(name, key.default)
        if value is None:
            return ""
        if isinstance(value, str):
            plain = " ".join(value.split())
            if not plain and key.must:
                self.problem(name, "is empty", allowed(key))
            return plain
        if key.kind == "inks" and isinstance(value, int) and not isinstance(value, bool):
            return str(value)
        if key.kind == "date" and isinstance(value, datetime.date):
            return value.isoformat()
        self._refuse(name)
        return str(key.default or "")

    def number(self, name: str, *, otherwise: float = 0.0) -> float:
        """Return a number or a length in mm; ``otherwise`` when it is not given and has no default."""
        key = self.keys[name]
        default = otherwise if key.default is None else float(key.default)
        value = self.given.get(name)
        if value is None:
            return default
        if key.kind == "length" and isinstance(value, str):
            try:
                value = parse_length_mm(value, most_mm=1e9)
            except SepkitError as error:
                self.problem(name, error.text, f"{error.hint}; {allowed(key)}")
                return default
        if _within(value, key):
            return float(value)
        self._refuse(name)
        return default

    def whole(self, name: str) -> int:
        """Return a whole number; 0 when it is not given and has no default."""
        key = self.keys[name]
        default = int(key.default or 0)
        value = self.given.get(name)
        if value is None:
            return default
        if isinstance(value, int) and _within(value, key):
            return value
        self._refuse(name)
        return default

    def yes(self, name: str) -> bool:
        """Return true or false; false when it is not given and has no default."""
        value = self.given.get(name, self.keys[name].default)
        if value is None or isinstance(value, bool):
            return bool(value)
        self._refuse(name)
        return False

    def choice(self, key: ChoiceKey[C]) -> C:
        """Return one of the key's choices, in any case; the default, or the first, where it is not given."""
        default = key.choices[0] if key.default is None else key.default
        value = self.given.get(key.name)
        if value is None:
            return default
        word = value.strip().lower() if isinstance(value, str) else ""
        found = next((choice for choice in key.choices if choice == word), None)
        if found is None:
            self.problem(key.name, f"is {_written(value)}", "one of " + ", ".join(key.choices))
            return default
        return found

    def texts(self, name: str) -> tuple[str, ...]:
        """Return a list of texts; one text alone counts as a list."""
        value = self.given.get(name, [])
        if isinstance(value, str):
            value = [value]
        if isinstance(value, list) and all(isinstance(v, str) and v.strip() for v in value):
            return tuple(" ".join(v.split()) for v in value)
        self._refuse(name)
        return ()

    def names(self, name: str, known: Sequence[str], what: str) -> tuple[str, ...]:
        """Return a list of texts that must be among ``known``, in any case; ``what`` they are, for people."""
        lowered = {k.lower(): k for k in known}
        out: list[str] = []
        for text in self.texts(name):
            if text.lower() not in lowered:
                self.problem(name, f'"{text}" is not {what}', near_names(text, known))
            elif lowered[text.lower()] in out:
                self.problem(name, f'"{text}" is given twice', "name each once")
            else:
                out.append(lowered[text.lower()])
        return tuple(out)

    def pairs(self, name: str) -> dict[str, str]:
        """Return a table of text to text."""
        value = self.given.get(name, {})
        if isinstance(value, dict) and all(isinstance(v, str) for v in value.values()):
            return {" ".join(k.split()): " ".join(v.split()) for k, v in value.items()}
        self._refuse(name)
        return {}

    def sizes(self, name: str) -> dict[str, int]:
        """Return size to pieces."""
        return {k: int(v) for k, v in self._by_name(name, whole=True).items()}

    def by_name(self, name: str) -> dict[str, float]:
        """Return name to number: shares, or lengths in mm."""
        return {k: float(v) for k, v in self._by_name(name, whole=False).items()}

    def numbers(self, name: str) -> tuple[float, ...]:
        """Return a list of as many numbers as the key has; empty when it is not given or wrong."""
        key = self.keys[name]
        values = self.given.get(name)
        if values is None:
            return ()
        if not isinstance(values, list):
            self._refuse(name)
        elif len(values) != key.count:
            self.problem(name, f"has {len(values)} numbers", f"give {allowed(key)}")
        elif (wrong := next((n for n, value in enumerate(values) if not _within(value, key)), None)) is not None:
            self.problem(name, f"holds {_written(values[wrong])} at place {wrong + 1}", f"give {allowed(key)}")
        else:
            return tuple(float(value) for value in values)
        return ()

    def colour(self, name: str) -> RGB8:
        """Return sRGB of ``#rrggbb``; black where it is wrong."""
        value = self.given.get(name)
        if isinstance(value, str):
            try:
                return parse_hex(value)
            except SepkitError as error:
                self.problem(name, error.text, error.hint)
        elif value is not None:
            self._refuse(name)
        return 0, 0, 0

    def path(self, name: str, folder: Path) -> Path | None:
        """Return an absolute path of a file in ``folder``, which is absolute, or below it; None where there is none."""
        value = self.given.get(name)
        if value is None:
            return None
        if not isinstance(value, str) or not value.strip() or "\0" in value:
            self._refuse(name)
            return None
        path = (folder / value).resolve()
        if not path.is_relative_to(folder):
            self.problem(name, f'"{value}" lies outside the job\'s folder', "put the file beside the job file")
            return None
        if not os.path.isfile(path):  # noqa: PTH113 - a name too long for the system is no file; Path raises there
            near = os.listdir(path.parent) if os.path.isdir(path.parent) else []  # noqa: PTH112, PTH208
            hint = near_names(path.name, sorted(near)) if near else "check the path"
            self.problem(name, f'there is no file "{value}"', hint)
            return None
        return path

    def table(self, name: str, keys: Mapping[str, Key]) -> Table:
        """Return a table in this one, empty when it is not there."""
        value = self.given.get(name, {})
        if not isinstance(value, dict):
            self._refuse(name)
            value, keys = {}, optional(keys)
        return Table(self.notes, (*self.place, name), value, keys, what=self.what)

    def tables(self, name: str, keys: Mapping[str, Key]) -> list[Table]:
        """Return the tables of a list in this one, at least one."""
        value = self.given.get(name)
        if isinstance(value, list) and value and all(isinstance(entry, dict) for entry in value):
            return [
                Table(self.notes, (*self.place, name, nth), entry, keys, what=self.what)
                for nth, entry in enumerate(value)
            ]
        if value is not None:
            self._refuse(name)
        return []

    def _by_name(self, name: str, *, whole: bool) -> dict[str, float]:
        key = self.keys[name]
        value = self.given.get(name, {})
        if not isinstance(value, dict):
            self._refuse(name)
            return {}
        out: dict[str, float] = {}
        for entry, number in value.items():
            if _within(number, key) and (isinstance(number, int) or not whole):
                out[" ".join(entry.split())] = number
            else:
                kind = "a whole number, " if whole else ""
                self.problem(name, f"{entry} is {_written(number)}", f"give {kind}{span(key)}")
        return out

    def _refuse(self, name: str) -> None:
        self.problem(name, f"is {_written(self.given[name])}", f"give {allowed(self.keys[name])}")


def unique(tables: Iterable[Table], what: str) -> None:
    """Note each name that was used before; ``what`` carries it, for people."""
    seen: dict[str, int] = {}
    for table in tables:
        name = " ".join(str(table.given.get("name", "")).split()).lower()
        if name and name in seen:
            table.problem("name", f'"{name}" is used twice, first in line {seen[name]}', f"give each {what} a name")
        elif name:
            seen[name] = table.line("name")


def _within(value: object, key: Key) -> bool:
    """Return whether it is a number in the key's range; not a number and infinities are in none."""
    return isinstance(value, (int, float)) and not isinstance(value, bool) and key.least <= value <= key.most


def _written(value: object) -> str:
    """Return a value as a person would have written it, short."""
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, (datetime.date, datetime.time)):
        return value.isoformat()
    return shown(f'"{value}"' if isinstance(value, str) else repr(value), most=40)
