"""TOML read with every failure told as one, and the line numbers of its keys: the standard parser gives neither.

In: TOML text. Out: its values; of text that parses, a LineMap from (table, nth, key) to line, counted from 1.
Source: TOML 1.0.0.
Only headers and the first part of ``key =`` are read; multi-line strings, arrays and inline tables count as the line
on which their key stands.
"""

from __future__ import annotations

import re
import tomllib
from dataclasses import dataclass, field
from typing import Any

from sepkit.files.words import shown

_HEADER = re.compile(r"^\s*(\[\[?)\s*([^\]]+?)\s*\]\]?\s*(?:#.*)?$")
_KEY = re.compile(r"""^\s*("(?:[^"\\]|\\.)*"|'[^']*'|[A-Za-z0-9_-]+)\s*(?:\.|=)""")
_TOKEN = re.compile(r'"""|\'\'\'|"(?:[^"\\]|\\.)*"|\'[^\']*\'|#.*$|[\[\]{}]')


@dataclass(slots=True)
class LineMap:
    """Where tables and keys stand. ``nth`` counts the tables of one name from 0."""

    keys: dict[tuple[str, int, str], int] = field(default_factory=dict)
    tables: dict[tuple[str, int], int] = field(default_factory=dict)

    def line(self, table: str, nth: int, key: str = "") -> int:
        """Return the line of a key; of its table when the key is not there; 1 when neither is."""
        return self.keys.get((table, nth, key)) or self.tables.get((table, nth), 1)


class NotTomlError(ValueError):
    """Text that is no TOML; the message says where."""


def parse_toml(text: str) -> dict[str, Any]:
    """Return the values of TOML text. Raises NotTomlError.

    The standard parser also lets other errors out: for numbers of thousands of digits, and for deep nesting.
    """
    try:
        return tomllib.loads(text)
    except RecursionError as error:
        raise NotTomlError("nested too deeply") from error
    except ValueError as error:  # TOMLDecodeError is one
        raise NotTomlError(shown(error, most=160)) from error


def line_map(text: str) -> LineMap:
    """Return the lines of all tables and keys of ``text``."""
    found = LineMap()
    count: dict[str, int] = {}
    table, nth, sub = "", 0, ""
    depth, quote = 0, ""
    for number, line in enumerate(text.splitlines(), 1):
        if not depth and not quote:
            if header := _HEADER.match(line):
                name, _, sub = _plain(header[2]).partition(".")
                if not sub:
                    count[name] = count.get(name, -1) + 1
                table, nth = name, max(count.get(name, 0), 0)
                found.tables.setdefault((table, nth), number)
                if sub:
                    found.keys.setdefault((table, nth, _plain(sub)), number)
                continue
            if (key := _KEY.match(line)) and not sub:
                found.keys.setdefault((table, nth, _plain(key[1])), number)
        depth, quote = _open_after(line, depth, quote)
    return found


def _open_after(line: str, depth: int, quote: str) -> tuple[int, str]:
    """Return how many brackets, and which long string, are open at the end of a line."""
    at = 0
    while at < len(line):
        if quote:
            end = line.find(quote, at)
            if end < 0:
                return depth, quote
            at, quote = end + 3, ""
            continue
        token = _TOKEN.search(line, at)
        if token is None:
            break
        word, at = token[0], token.end()
        if word in ('"""', "'''"):
            quote = word
        elif word in "[{":
            depth += 1
        elif word in "]}":
            depth = max(0, depth - 1)
    return depth, quote


def _plain(word: str) -> str:
    return word.strip().strip("\"'")
