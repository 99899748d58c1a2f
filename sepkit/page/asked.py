"""What a request of the page holds, read key by key: plain values of the right kind, or a UsageError.

In: the object of a JSON body. Numbers may come as numbers or as a person types them.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import Any

from sepkit.errors import UsageError

MOST_TEXT = 300
MOST_NUMBER = 1e9
MOST_LIST = 40
Body = Mapping[str, Any]


def text(body: Body, key: str, default: str | None = None) -> str:
    """Return a short text; an empty one is ``default``. Raises UsageError where there is neither."""
    value = body.get(key, "")
    if not isinstance(value, str) or len(value) > MOST_TEXT or not value.isprintable():
        raise UsageError(f"{key} is no short text", where=key, hint="give a few words")
    if value.strip():
        return value.strip()
    if default is None:
        raise UsageError(f"{key} is missing", where=key, hint="give a short text")
    return default


def number(body: Body, key: str, default: float | None = None, *, least: float, most: float) -> float:
    """Return a number between two. Raises UsageError."""
    value = body.get(key)
    if value in (None, "") and default is not None:
        return default
    if isinstance(value, str) and len(value) <= MOST_LIST:
        try:
            value = float(value.replace(",", ".").strip())
        except ValueError:
            value = math.nan
    sound = isinstance(value, (int, float)) and not isinstance(value, bool) and abs(value) < MOST_NUMBER
    if not sound or value is None or not least <= float(value) <= most:
        raise UsageError(f"{key} is no number that serves", where=key, hint=f"give {least:g} to {most:g}")
    return float(value)


def whole(body: Body, key: str, default: int | None = None, *, least: int, most: int) -> int:
    """Return a whole number between two. Raises UsageError."""
    value = number(body, key, default, least=least, most=most)
    if value != int(value):
        raise UsageError(f"{key} is no whole number", where=key, hint=f"give {least} to {most}")
    return int(value)


def yes(body: Body, key: str) -> bool:
    """Return whether something is ticked."""
    return body.get(key) is True


def rows(body: Body, key: str) -> list[Body]:
    """Return a list of objects. Raises UsageError."""
    value = body.get(key, [])
    if not isinstance(value, list) or len(value) > MOST_LIST or not all(isinstance(one, dict) for one in value):
        raise UsageError(f"{key} is no list", where=key, hint=f"give {MOST_LIST} rows at most")
    return value


def plain_name(body: Body, key: str) -> str:
    """Return a name of one file or folder in the working folder, never a path. Raises UsageError."""
    from pathlib import Path

    value = body.get(key)
    sound = isinstance(value, str) and value.isprintable() and 0 < len(value) <= 100 and not value.startswith(".")
    if not sound or not isinstance(value, str) or value != Path(value.replace("\\", "/")).name:
        raise UsageError(f"that is no name of a {key}", where=key, hint="give a plain name; it is made beside the page")
    return value
