"""Values as the text of a TOML file: what tomllib reads back is the same.

In: a mapping of texts, numbers, yes/no, lists of these, tables, and lists of tables; None is left out. Out: text.
"""

from __future__ import annotations

import json
import re
from collections.abc import Mapping
from typing import Any

_BARE = re.compile(r"[A-Za-z0-9_-]+")


def toml_text(values: Mapping[str, Any]) -> str:
    """Return the values as TOML 1.0: plain keys first, then tables, then lists of tables. Raises TypeError.

    >>> print(toml_text({"a": 1, "t": {"sizes": {"S": 2}}, "rows": [{"b": True}]}), end="")
    a = 1
    <BLANKLINE>
    [t]
    sizes = { S = 2 }
    <BLANKLINE>
    [[rows]]
    b = true
    """
    given = {key: value for key, value in values.items() if value is not None}
    plain = {key: value for key, value in given.items() if not (isinstance(value, Mapping) or _of_tables(value))}
    lines = _pairs(plain)
    for key, value in given.items():
        if isinstance(value, Mapping):
            lines += ["", f"[{_key(key)}]", *_pairs(value)]
    for key, value in given.items():
        if _of_tables(value):
            for table in value:
                lines += ["", f"[[{_key(key)}]]", *_pairs(table)]
    return "\n".join(lines) + "\n"


def _of_tables(value: Any) -> bool:
    return isinstance(value, (list, tuple)) and bool(value) and all(isinstance(one, Mapping) for one in value)


def _pairs(table: Mapping[str, Any]) -> list[str]:
    return [f"{_key(key)} = {_value(value)}" for key, value in table.items() if value is not None]


def _key(text: str) -> str:
    return text if _BARE.fullmatch(text) else _quoted(text)


def _value(value: Any) -> str:
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, (int, float)):
        return repr(value)
    if isinstance(value, str):
        return _quoted(value)
    if isinstance(value, Mapping):
        inside = ", ".join(_pairs(value))
        return f"{{ {inside} }}" if inside else "{}"
    if isinstance(value, (list, tuple)):
        return f"[{', '.join(_value(one) for one in value)}]"
    raise TypeError(f"{type(value).__name__} is no value of TOML")


def _quoted(text: str) -> str:
    """Return a TOML basic string; JSON writes one, but for DEL."""
    return json.dumps(text, ensure_ascii=False).replace("\x7f", "\\u007f")
