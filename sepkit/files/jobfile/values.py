"""The values of one TOML table checked against the key list: each getter returns a usable value and notes problems.

In: one table as parsed, its lines. Out: values in the key's unit, the default where something is wrong or missing;
every problem goes to the shared list, so that one reading finds them all.
"""

from __future__ import annotations

import math
import os
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from sepkit.errors import SepkitError, near_names
from sepkit.files.jobfile.keys import Key, allowed, keys_of
from sepkit.files.shelf.toml_lines import LineMap
from sepkit.files.words import shown
from sepkit.units import parse_length_mm


@dataclass(frozen=True, slots=True)
class Problem:
    """One thing wrong with a job file."""

    line: int
    key: str
    text: str
    hint: str = ""


class Values:
    """One table of a job file."""

    def __init__(
        self, table: str, nth: int, given: dict[str, Any], lines: LineMap, problems: list[Problem], *, where: Path
    ) -> None:
        self.table, self.nth, self.given, self.lines, self.problems = table, nth, given, lines, problems
        self.folder = where
        self.keys = keys_of(table)
        self._wrong: set[str] = set()
        for name in given:
            if name not in self.keys:
                self.problem(name, "is not a key of a job", near_names(name, self.keys))
        for key in self.keys.values():
            if key.must and key.name not in given:
                self.problem(key.name, "is missing", f"{key.text}: {allowed(key)}")

    def line(self, key: str) -> int:
        """Return the line of a key, or of the table when the key is not there."""
        return self.lines.line(self.table, self.nth, key)

    def problem(self, key: str, text: str, hint: str = "") -> None:
        """Note a problem of a key."""
        self._wrong.add(key)
        name = f"{self.table}.{key}" if self.table else key
        if self.table and self.given.get("name") and key != "name":
            name = f'{self.table} "{shown(self.given["name"])}" {key}'
        said = shown(name, most=160), shown(text, most=200), shown(hint, most=400)
        self.problems.append(Problem(self.line(key), *said))

    def has_problem(self, *keys: str) -> bool:
        """Return whether one of ``keys`` has been found wrong."""
        return not self._wrong.isdisjoint(keys)

    def text(self, name: str) -> str:
        """Return a text, stripped; empty when it is not given and has no default."""
        key = self.keys[name]
        value = self.given.get(name, key.default)
        if value is None:
            return ""
        if isinstance(value, str):
            plain = " ".join(value.split())
            if plain or not key.must:
                return plain
            self.problem(name, "is empty", allowed(key))
            return ""
        if name == "inks" and isinstance(value, int) and not isinstance(value, bool):
            return str(value)
        self.problem(name, f"is {value!r}", f"give {allowed(key)}")
        return str(key.default or "")

    def number(self, name: str, *, otherwise: float = 0.0) -> float:
        """Return a number or a length in mm; ``otherwise`` when it is not given and has no default."""
        key = self.keys[name]
        default = float(key.default) if key.default is not None else otherwise
        value = self.given.get(name)
        if value is None:
            return default
        if key.kind == "length" and isinstance(value, str):
            try:
                value = parse_length_mm(value, most_mm=1e9)
            except SepkitError as error:
                self.problem(name, error.text, f"{error.hint}; {allowed(key)}")
                return default
        right = isinstance(value, (int, float)) and not isinstance(value, bool) and math.isfinite(value)
        if not right or not key.least <= value <= key.most:
            self.problem(name, f"is {_shown(self.given[name])}", f"give {allowed(key)}")
            return default
        return float(value)

    def whole(self, name: str) -> int:
        """Return a whole number; 0 when it is not given and has no default."""
        key = self.keys[name]
        default = int(key.default or 0)
        value = self.given.get(name)
        if value is None:
            return default
        if isinstance(value, bool) or not isinstance(value, int) or not key.least <= value <= key.most:
            self.problem(name, f"is {_shown(value)}", f"give {allowed(key)}")
            return default
        return value

    def yes(self, name: str) -> bool:
        """Return true or false."""
        value = self.given.get(name, self.keys[name].default)
        if isinstance(value, bool):
            return value
        self.problem(name, f"is {_shown(value)}", "give true or false")
        return False

    def choice(self, name: str) -> str:
        """Return one of the key's choices."""
        key = self.keys[name]
        value = self.given.get(name, key.default)
        if isinstance(value, str) and value.strip().lower() in key.choices:
            return value.strip().lower()
        self.problem(name, f"is {_shown(value)}", "one of " + ", ".join(key.choices))
        return str(key.default)

    def texts(self, name: str) -> tuple[str, ...]:
        """Return a list of texts."""
        value = self.given.get(name, [])
        if isinstance(value, str):
            value = [value]
        if isinstance(value, list) and all(isinstance(v, str) and v.strip() for v in value):
            return tuple(" ".join(v.split()) for v in value)
        self.problem(name, f"is {_shown(value)}", f"give {allowed(self.keys[name])}")
        return ()

    def names(self, name: str, known: Sequence[str]) -> tuple[str, ...]:
        """Return a list of texts that must be among ``known``, in any case."""
        lowered = {k.lower(): k for k in known}
        out: list[str] = []
        for text in self.texts(name):
            if text.lower() not in lowered:
                self.problem(name, f'"{text}" is not a garment of this job', near_names(text, known))
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
        self.problem(name, f"is {_shown(value)}", f"give {allowed(self.keys[name])}")
        return {}

    def sizes(self, name: str) -> dict[str, int]:
        """Return size to pieces."""
        return {k: int(v) for k, v in self._table_of(name, whole=True).items()}

    def shares(self, name: str) -> dict[str, float]:
        """Return name to share."""
        return self._table_of(name, whole=False)

    def path(self, name: str) -> Path | None:
        """Return an absolute path of a file in the job's folder or below, or None."""
        value = self.given.get(name)
        if value is None:
            return None
        if not isinstance(value, str) or not value.strip() or "\0" in value:
            self.problem(name, f"is {_shown(value)}", f"give {allowed(self.keys[name])}")
            return None
        path = (self.folder / value).resolve()
        if not path.is_relative_to(self.folder):
            self.problem(name, f'"{value}" lies outside the job\'s folder', "put the file beside the job file")
            return None
        if not os.path.isfile(path):  # noqa: PTH113 - a name too long for the system is no file; Path raises there
            near = os.listdir(path.parent) if os.path.isdir(path.parent) else []  # noqa: PTH112, PTH208
            hint = near_names(path.name, sorted(near)) if near else "check the path"
            self.problem(name, f'there is no file "{value}"', hint)
            return None
        return path

    def _table_of(self, name: str, *, whole: bool) -> dict[str, float]:
        key: Key = self.keys[name]
        value = self.given.get(name, {})
        if not isinstance(value, dict):
            self.problem(name, f"is {_shown(value)}", f"give {allowed(key)}")
            return {}
        out: dict[str, float] = {}
        for entry, number in value.items():
            right = isinstance(number, int if whole else (int, float)) and not isinstance(number, bool)
            if right and key.least <= number <= key.most:
                out[" ".join(entry.split())] = number
            else:
                kind = "a whole number, " if whole else ""
                span = f"give {kind}{key.least:g} to {key.most:g} {key.unit}"
                self.problem(name, f"{entry} is {_shown(number)}", span)
        return out


def _shown(value: object) -> str:
    return shown(repr(value), most=40)
