"""Keys of a job file told beside it, as on the command line: ``spoilage.spares=safe``, ``print.back.screens=3``.

In: a TomlFile and texts KEY=VALUE. Out: the TomlFile with these values, which are checked with all else. A value is
TOML, or a text without its quotes. An entry of a table that comes several times goes by its name or its number.
"""

from __future__ import annotations

import tomllib
from collections.abc import Sequence
from typing import Any

from sepkit.errors import UsageError, near_names
from sepkit.files.jobfile.keys import KEYS, LISTS, TABLES
from sepkit.files.toml.keys import keys_of
from sepkit.files.toml.lines import Place
from sepkit.files.toml.read import TomlFile

Told = tuple[str, str]
"""A key's place, and its value as written."""


def told_keys(texts: Sequence[str]) -> tuple[Told, ...]:
    """Return the keys of texts. Raises UsageError for a text that is none, or a key that there is not."""
    return tuple(_told(text) for text in texts)


def with_told(file: TomlFile, told: Sequence[Told]) -> TomlFile:
    """Return the file with what was told. Raises UsageError for an entry that the file does not have."""
    values = dict(file.values)
    for place, value in told:
        table, entry, name = _parts(place)
        where: Place = (table, name) if table else (name,)
        if not table:
            values[name] = _value(value)
        elif table in LISTS:
            given = values.get(table)
            if isinstance(given, list) and all(isinstance(one, dict) for one in given):
                at = _entry_at(given, table, entry)
                values[table] = [one | {name: _value(value)} if k == at else one for k, one in enumerate(given)]
                where = (table, at, name)
        else:
            given = values.get(table, {})
            values[table] = {**given, name: _value(value)} if isinstance(given, dict) else given
        file.notes.told[where] = f"--set {place}={value}"
    return TomlFile(values, file.notes, what=file.what, help_hint=file.help_hint)


def _told(text: str) -> Told:
    place, equals, value = text.partition("=")
    place, value = place.strip(), value.strip()
    if not equals or not place or not value:
        raise UsageError(f'"{text}"', where="--set", hint="write KEY=VALUE, as spoilage.spares=safe")
    table, _, name = _parts(place)
    known = [key for one in TABLES for key in (f"{one}.{name}" if one else name for name in keys_of(KEYS, one))]
    if (f"{table}.{name}" if table else name) not in known:
        hint = near_names(place, known)
        raise UsageError(f'no key "{place}"', where="--set", hint=f"{hint}; sepkit job --explain lists all")
    return place, value


def _parts(place: str) -> tuple[str, str, str]:
    """Return table, entry and key of ``spoilage.loss`` or ``print.back.screens``."""
    table, _, rest = place.partition(".")
    if not rest:
        return "", "", table
    entry, _, name = rest.rpartition(".")
    if (table in LISTS) != bool(entry):
        hint = f"write {table}.NAME.{name}, its name or its number" if table in LISTS else f"write {table}.{name}"
        raise UsageError(f'"{place}"', where="--set", hint=hint)
    return table, entry.strip("\"'"), name


def _entry_at(given: Sequence[dict[str, Any]], table: str, entry: str) -> int:
    names = [str(one.get("name", nth)) for nth, one in enumerate(given, 1)]
    at = next((k for k, name in enumerate(names) if name.lower() == entry.lower()), None)
    if at is None and entry.isdigit() and 0 < int(entry) <= len(given):
        at = int(entry) - 1
    if at is None:
        raise UsageError(f'no {table} "{entry}" in this job', where="--set", hint=near_names(entry, names))
    return at


def _value(text: str) -> Any:
    """Return a value as TOML; what is none is a text as it stands."""
    try:
        found = tomllib.loads(f"value = {text}")
    except (ValueError, RecursionError):
        return text
    return found["value"] if list(found) == ["value"] else text
