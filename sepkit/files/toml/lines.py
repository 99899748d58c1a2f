"""Where keys stand in TOML text: the standard parser does not tell.

In: text that parses. Out: a LineMap from place to line, counted from 1. A place is the keys that lead to a value, with
the number of the table, from 0, behind the name of one that comes several times: ("print", 1, "width_mm").
Source: TOML 1.0.0. Only headers and what stands before ``=`` are read: what an array or inline table holds counts as
standing where its key does.
"""

from __future__ import annotations

import re
import tomllib
from collections.abc import Mapping

Place = tuple[str | int, ...]

_STRING = r"\"\"\"(?:\\.|[^\\])*?\"\"\"(?!\")|'''.*?'''(?!')|\"(?:\\.|[^\"\\\n])*\"|'[^'\n]*'"
_PART = r"(?:\"(?:\\.|[^\"\\\n])*\"|'[^'\n]*'|[A-Za-z0-9_-]+)"
_KEY = rf"{_PART}(?:[ \t]*\.[ \t]*{_PART})*"
_HEAD = re.compile(rf"[ \t]*(?:(?P<open>\[\[?)[ \t]*(?P<table>{_KEY})[ \t]*\]\]?|(?P<key>{_KEY})[ \t]*=)")
_TOKEN = re.compile(rf"{_STRING}|#[^\n]*|[\[{{]|[\]}}]|\n", re.DOTALL)


class LineMap:
    """Lines of keys and tables."""

    def __init__(self, lines: Mapping[Place, int]) -> None:
        self._lines = lines

    def line(self, *place: str | int) -> int:
        """Return the line of a place; of the nearest table around it when it is not there; 1 when none is."""
        while place:
            if place in self._lines:
                return self._lines[place]
            place = place[:-1]
        return 1


def line_map(text: str) -> LineMap:
    """Return the lines of all tables and keys of ``text``, which must be valid TOML with line feeds between lines."""
    found: dict[Place, int] = {}
    last: dict[Place, int] = {}
    table: Place = ()
    at, line = 0, 1
    while at < len(text):
        head = _HEAD.match(text, at)
        if head and head["table"]:
            table = _table_place(_parts(head["table"]), last, several=head["open"] == "[[")
            for depth in range(1, len(table) + 1):
                found.setdefault(table[:depth], line)
        elif head:
            place = table
            for part in _parts(head["key"]):
                place = (*place, part)
                found.setdefault(place, line)
        end = _end_of_statement(text, head.end() if head else at)
        line += text.count("\n", at, end)
        at = end
    return LineMap(found)


def _table_place(parts: list[str], last: dict[Place, int], *, several: bool) -> Place:
    """Return the place of a table under its header; ``last`` holds the number of the last of each repeated table."""
    place: Place = ()
    for depth, part in enumerate(parts, 1):
        place = (*place, part)
        if several and depth == len(parts):
            last[place] = last.get(place, -1) + 1
        if place in last:
            place = (*place, last[place])
    return place


def _parts(key: str) -> list[str]:
    if '"' not in key and "'" not in key:
        return [part.strip() for part in key.split(".")]
    parts: list[str] = []
    value: object = tomllib.loads(f"{key} = 0")
    while isinstance(value, dict):
        ((part, value),) = value.items()
        parts.append(part)
    return parts


def _end_of_statement(text: str, at: int) -> int:
    """Return where the line after this statement starts: past open brackets and long strings."""
    depth = 0
    for token in _TOKEN.finditer(text, at):
        word = token[0]
        if word in "[{":
            depth += 1
        elif word in "]}":
            depth -= 1
        elif word == "\n" and depth <= 0:
            return token.end()
    return len(text)
