"""What a table may hold, as a list of keys: kind, unit, range, default. Readers and error lines rest on it."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, replace
from typing import Generic, Literal, TypeVar

C = TypeVar("C", bound=str)

Kind = Literal[
    "text",
    "date",
    "colour",
    "choice",
    "name",
    "path",
    "inks",
    "yes/no",
    "whole",
    "number",
    "length",
    "numbers",
    "texts",
    "sizes",
    "shares",
    "lengths by size",
    "inks by garment",
    "table",
    "tables",
]
"""``name`` is one of names that the reader is given; ``inks`` a text or a count; ``length`` mm, or with its unit."""


@dataclass(frozen=True, slots=True)
class Key:
    """One key. ``table`` is the TOML table that holds it ("" for the top level)."""

    table: str
    name: str
    kind: Kind
    text: str
    unit: str = ""
    least: float = 0.0
    most: float = 0.0
    default: str | float | None = None
    """None: it must be given (``must``) or stays unset."""
    must: bool = False
    count: int = 0
    """How many numbers a list of them has."""

    @property
    def names(self) -> tuple[str, ...]:
        """The words that it takes; empty when they are not known here."""
        return ()


@dataclass(frozen=True)
class ChoiceKey(Key, Generic[C]):
    """A key that takes one word of a vocabulary."""

    default: C | None = None
    choices: tuple[C, ...] = ()

    @property
    def names(self) -> tuple[str, ...]:
        """The words that it takes."""
        return self.choices


def choice_key(table: str, name: str, text: str, choices: tuple[C, ...], default: C | None = None) -> ChoiceKey[C]:
    """Return the key of a choice; without a default it must be given."""
    return ChoiceKey(table, name, "choice", text, default=default, must=default is None, choices=choices)


def keys_of(keys: Iterable[Key], table: str) -> dict[str, Key]:
    """Return the keys of a table by name."""
    return {key.name: key for key in keys if key.table == table}


def optional(keys: Mapping[str, Key]) -> dict[str, Key]:
    """Return the keys of a table that is wrong as a whole: that each of them is missing need not be told."""
    return {name: replace(key, must=False) for name, key in keys.items()}


def allowed(key: Key) -> str:
    """Return what a key takes, in words: ``5 to 1000 mm``."""
    if key.kind in ("length", "number", "whole"):
        kind = "a whole number, " if key.kind == "whole" else ""
        return f"{kind}{span(key)}"
    if key.kind == "numbers":
        return f"a list of {key.count} numbers, each {span(key)}"
    if key.names:
        return ", ".join(key.names)
    return _TAKES.get(key.kind, "one of the names")


def span(key: Key) -> str:
    """Return the range of a number with its unit: ``5 to 1000 mm``."""
    words = f"{key.least:g}" if key.least == key.most else f"{key.least:g} to {key.most:g}"
    return f"{words} {key.unit}".strip()


_TAKES: dict[Kind, str] = {
    "text": "text in quotes",
    "inks": "text in quotes",
    "date": 'a date as "2026-01-31"',
    "colour": 'a colour as "#1a1a1c"',
    "texts": 'a list of texts: ["a", "b"]',
    "yes/no": "true or false",
    "sizes": "{ S = 4, M = 10 }",
    "shares": '{ "full back" = 0.06 }',
    "lengths by size": "{ S = 460, M = 510 }",
    "path": "a path in quotes",
    "inks by garment": '{ "white tee" = "black" }',
    "table": "a table of keys",
    "tables": '[{ ink = "white", grams = 95 }]',
}
