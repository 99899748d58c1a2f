"""A TOML file as read: its values and tables, each checked against its keys, and everything that is wrong with it.

In: a path, or text. Out: a TomlFile. What hides everything else (no such file, not UTF-8, not TOML) raises
DataFileError at once; all other problems wait for ``check``.
"""

from __future__ import annotations

import re
import tomllib
from collections.abc import Collection, Mapping
from pathlib import Path
from typing import Any

from sepkit.errors import DataFileError, Problem, near_names
from sepkit.files.toml.keys import Key, optional
from sepkit.files.toml.notes import Notes
from sepkit.files.toml.table import Table
from sepkit.files.words import shown

MOST_BYTES = 1_000_000


class TomlFile:
    """One file. ``what`` it should tell of, as "a job"; ``help_hint`` says where its keys are explained."""

    def __init__(self, values: dict[str, Any], notes: Notes, *, what: str, help_hint: str = "") -> None:
        self.values, self.notes, self.what, self.help_hint = values, notes, what, help_hint

    def top(self, keys: Mapping[str, Key], tables: Collection[str]) -> Table:
        """Return the top level; a table that is not among ``tables``, the ones read besides, is a problem."""
        own = {k: v for k, v in self.values.items() if k in keys or not _is_table(v)}
        for name in self.values:
            if name not in own and name not in tables:
                hint = "; ".join(part for part in (near_names(name, tables), self.help_hint) if part)
                line = self.notes.lines.line(name)
                self.notes.note(f"is not a table of {self.what} file", hint, key=f"[{shown(name)}]", line=line)
        return Table(self.notes, (), {k: v for k, v in own.items() if k not in tables}, keys, what=self.what)

    def table(self, name: str, keys: Mapping[str, Key]) -> Table:
        """Return the table ``[name]``, empty when it is not there."""
        given = self.values.get(name, {})
        if not isinstance(given, dict):
            self.notes.note("is not a table", f"write [{name}]", key=name, line=self.notes.lines.line(name))
            given, keys = {}, optional(keys)
        return Table(self.notes, (name,), given, keys, what=self.what)

    def tables(self, name: str, keys: Mapping[str, Key], *, least: int = 0) -> list[Table]:
        """Return the tables ``[[name]]``, as many as there are."""
        given = self.values.get(name, [])
        if not isinstance(given, list) or not all(isinstance(entry, dict) for entry in given):
            line = self.notes.lines.line(name)
            self.notes.note("comes several times", f"write [[{name}]] before each", key=name, line=line)
            return []
        if len(given) < least:
            self.notes.note("is missing", f"add at least one [[{name}]]", key=f"[[{name}]]", line=1)
        return [Table(self.notes, (name, nth), entry, keys, what=self.what) for nth, entry in enumerate(given)]

    def of_schema(self, schema: int | str) -> None:
        """Raise DataFileError for a file of another layout: it would only give problems that are none."""
        given = self.values.get("schema", schema)
        if given != schema:
            written = f'"{schema}"' if isinstance(schema, str) else f"{schema}"
            text = f"is {shown(repr(given))}, this sepkit reads {written}"
            problem = Problem(text, f"write schema = {written}", "schema", self.notes.lines.line("schema"))
            raise DataFileError(problem, where=self.notes.where)

    def check(self) -> None:
        """Raise DataFileError with all that was found wrong."""
        self.notes.check()


def _is_table(value: object) -> bool:
    """Return whether it is a table, or tables that come several times."""
    entries = value if isinstance(value, list) and value else [value]
    return all(isinstance(entry, dict) for entry in entries)


def read_toml(path: Path, *, what: str, help_hint: str = "", start_hint: str = "check the file") -> TomlFile:
    """Return the TOML file at ``path``. ``start_hint`` says what to do when it cannot be read at all.

    Raises DataFileError.
    """
    text = read_text(path, what=what, start_hint=start_hint)
    return parse_toml(text, where=str(path), what=what, help_hint=help_hint)


def read_text(path: Path, *, what: str, start_hint: str = "check the file") -> str:
    """Return the text of a TOML file, without its byte-order mark. Raises DataFileError."""
    where = str(path)
    try:
        if path.is_dir():
            raise DataFileError(Problem("is a folder", f"give {what} file in it"), where=where)
        size = path.stat().st_size
        if size > MOST_BYTES:
            text = f"has {size / 1e6:.0f} MB; {what} file has a few kB"
            raise DataFileError(Problem(text, "give the TOML file, not the art"), where=where)
        return path.read_bytes().decode("utf-8-sig")
    except UnicodeDecodeError as error:
        raise DataFileError(Problem("is not UTF-8 text", "save it as UTF-8"), where=where) from error
    except (OSError, ValueError) as error:  # ValueError: a name that no file can have
        reason = getattr(error, "strerror", None) or "cannot be read"
        raise DataFileError(Problem(reason, start_hint), where=where) from error


def parse_toml(text: str, *, where: str, what: str, help_hint: str = "") -> TomlFile:
    """Return TOML text as a file. Raises DataFileError for text that is none.

    The standard parser also lets other errors out: for numbers of thousands of digits, and for deep nesting.
    """
    text = text.replace("\r\n", "\n")
    try:
        values = tomllib.loads(text)
    except RecursionError as error:
        raise DataFileError(Problem("is not TOML: nested too deeply", "mend it"), where=where) from error
    except ValueError as error:  # TOMLDecodeError is one
        line = re.search(r"at line (\d+)", str(error))
        problem = Problem(f"is not TOML: {shown(error, most=160)}", "mend that line", line=int(line[1]) if line else 0)
        raise DataFileError(problem, where=where) from error
    return TomlFile(values, Notes(where, text), what=what, help_hint=help_hint)
