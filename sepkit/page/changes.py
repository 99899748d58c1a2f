"""One change that the page asks for, laid into the edits of a print. Pure: values of an edits file in and out.

Shapes are checked here; what the values may be is checked where edits are read.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any

from sepkit.errors import UsageError

Values = dict[str, Any]
MOST_NUMBER = 1e9
SETTINGS = ("ink", "name", "coats", "base", "mesh")


def changed(edits: Mapping[str, Any], change: Mapping[str, Any]) -> Values:
    """Return the edits with a change: ``do`` says which. Raises UsageError for one that makes no sense."""
    do = change.get("do")
    if not isinstance(do, str) or do not in _DO:
        raise UsageError("no such change", where="edit", hint=f"one of {', '.join(_DO)}")
    out: Values = {
        key: [dict(one) for one in value] if key in ("ink", "part") else value for key, value in edits.items()
    }
    _DO[do](out, change)
    return {key: value for key, value in out.items() if value not in (None, [], {})}


def _ink(out: Values, change: Mapping[str, Any]) -> None:
    entry = _entry(out, change)
    given = change.get("set")
    if not isinstance(given, Mapping) or not given or not set(given) <= set(SETTINGS):
        raise UsageError("nothing to set", where="edit", hint=f"set one of {', '.join(SETTINGS)}")
    for key in ("with", "open"):
        entry.pop(key, None)
    for key, value in given.items():
        if value is not None and not isinstance(value, (str, int)):
            raise UsageError(f"{key} cannot be that", where="edit", hint="give a text or a whole number")
        if value in (None, ""):
            entry.pop(key, None)
        else:
            entry[key] = value
    _tidy(out)


def _with(out: Values, change: Mapping[str, Any]) -> None:
    entry = _entry(out, change)
    of = entry["of"]
    entry.clear()
    entry.update({"of": of, "with": _colour(change, "to")})


def _open(out: Values, change: Mapping[str, Any]) -> None:
    entry = _entry(out, change)
    of = entry["of"]
    entry.clear()
    entry.update({"of": of, "open": True})


def _own(out: Values, change: Mapping[str, Any]) -> None:
    entry = _entry(out, change)
    for key in ("with", "open"):
        entry.pop(key, None)
    _tidy(out)


def _order(out: Values, change: Mapping[str, Any]) -> None:
    order = change.get("order", "")
    if order is not None and not (isinstance(order, list) and all(isinstance(one, str) for one in order)):
        raise UsageError("that is no order", where="edit", hint="list areas by their colours, or null")
    out["order"] = order


def _part(out: Values, change: Mapping[str, Any]) -> None:
    at_mm = change.get("at_mm")
    if not (isinstance(at_mm, list) and len(at_mm) == 2 and all(_is_number(one) for one in at_mm)):
        raise UsageError("where is the part?", where="edit", hint="give two numbers, right and down in mm")
    entry: Values = {"at_mm": at_mm, "of": _colour(change, "of")}
    entry |= {"open": True} if change.get("to") is None else {"to": _colour(change, "to")}
    out.setdefault("part", []).append(entry)


def _trap(out: Values, change: Mapping[str, Any]) -> None:
    out["trap_mm"] = _mm(change)


def _choke(out: Values, change: Mapping[str, Any]) -> None:
    out["choke_mm"] = _mm(change)


def _screens(out: Values, change: Mapping[str, Any]) -> None:
    most = change.get("most")
    if most not in (None, "all") and (not isinstance(most, int) or isinstance(most, bool)):
        raise UsageError("how many screens?", where="edit", hint='a number, "all", or null for what is worth it')
    out["screens"] = None if most == "all" else most
    out["all_inks"] = True if most == "all" else None


def _entry(out: Values, change: Mapping[str, Any]) -> Values:
    """Return the entry of the area, which is added when it has none."""
    of = _colour(change, "of")
    inks: list[Values] = out.setdefault("ink", [])
    for entry in inks:
        if str(entry.get("of", "")).lower() == of.lower():
            return entry
    inks.append({"of": of})
    return inks[-1]


def _colour(change: Mapping[str, Any], key: str) -> str:
    value = change.get(key)
    if not isinstance(value, str):
        raise UsageError("which area?", where="edit", hint="name it by its colour, as #rrggbb")
    return value


def _mm(change: Mapping[str, Any]) -> float | None:
    value = change.get("mm", "")
    if value is not None and not _is_number(value):
        raise UsageError("that is no length", where="edit", hint="give mm, or null for what is planned")
    return None if value is None else float(value)


def _is_number(value: object) -> bool:
    return isinstance(value, (int, float)) and not isinstance(value, bool) and abs(value) < MOST_NUMBER


def _tidy(out: Values) -> None:
    """Drop entries that change nothing."""
    out["ink"] = [entry for entry in out["ink"] if len(entry) > 1]


_DO: Mapping[str, Callable[[Values, Mapping[str, Any]], None]] = {
    "ink": _ink,
    "with": _with,
    "open": _open,
    "own": _own,
    "order": _order,
    "part": _part,
    "trap": _trap,
    "choke": _choke,
    "screens": _screens,
}
