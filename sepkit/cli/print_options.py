"""How a print is made, as options: one for each key of ``files.jobfile.print_keys``. Imports click only."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path
from typing import Any, TypeVar

import click

from sepkit.cli.common import LengthParam, Number, Whole
from sepkit.files.jobfile.print_keys import PRINT_KEYS, option_of
from sepkit.files.toml.keys import Key

F = TypeVar("F", bound=Callable[..., Any])
METAVARS = {"base": "RULE", "one_ink": "INK", "inks": "INKS", "mesh": "MESH", "edits": "FILE"}


def print_options(command: F) -> F:
    """Add the options of how a print is made to a command, in the order of the table."""
    for key in reversed(PRINT_KEYS):
        command = _option(key)(command)
    return command


def _option(key: Key) -> Callable[[F], F]:
    text = key.text.replace("[", "[default: ")
    text = text[:1].upper() + text[1:]
    words = text if text.endswith("]") else f"{text}."
    name, metavar = option_of(key), METAVARS.get(key.name)
    if key.kind == "yes/no":
        flag = f"{name}/--no-{name[2:]}" if key.default else name
        return click.option(flag, key.name, is_flag=True, default=bool(key.default), help=words)
    if key.kind == "texts":
        return click.option(name, key.name, multiple=True, metavar=metavar, help=words)
    plain = key.kind in ("text", "inks") and key.name != "mesh"
    default = key.default if key.default is not None else "" if plain else None
    shown = bool(default) and not text.endswith("]")
    return click.option(
        name, key.name, type=_type(key), default=default, show_default=shown, metavar=metavar, help=words
    )


def _type(key: Key) -> click.ParamType[Any] | None:
    if key.names:
        return click.Choice(key.names)
    if key.kind == "length":
        return LengthParam(least_mm=key.least, most_mm=key.most)
    if key.kind == "number":
        return Number(key.least, key.most)
    if key.kind == "whole":
        return Whole(int(key.least), int(key.most))
    return click.Path(path_type=Path) if key.kind == "path" else None
