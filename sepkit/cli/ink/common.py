"""What the ink commands share: lists in words, Lab and kept inks for people and JSON, one JSON object or lines."""

from __future__ import annotations

import json
import re
from collections.abc import Callable, Iterable, Mapping, Sequence
from typing import TYPE_CHECKING, Any, TypeVar

import click

from sepkit.cli.common import Number
from sepkit.cli.show import say
from sepkit.errors import UsageError
from sepkit.workshop.inks import SCALE_STEP_G

if TYPE_CHECKING:
    from sepkit.workshop.inks.keep import KeptInk

Command = TypeVar("Command", bound=Callable[..., Any])


def output_options(command: Command) -> Command:
    """Add --json and --quiet."""
    command = click.option("--quiet", is_flag=True, help="No words for people on stderr.")(command)
    return click.option("--json", "as_json", is_flag=True, help="One JSON object on stdout.")(command)


def scale_option(command: Command) -> Command:
    """Add --scale."""
    return click.option(
        "--scale",
        "step_g",
        type=Number(),
        default=_usual_step_g,
        show_default=f"the shop's, else {SCALE_STEP_G:g}",
        help="Step of the scale in g.",
    )(command)


def _usual_step_g() -> float:
    """Return the step of the shop's scale, else the usual one."""
    from sepkit.workshop.inks.lookup import usual_step_g

    return usual_step_g()


def emit(payload: Mapping[str, object], lines: Iterable[str], *, as_json: bool) -> None:
    """Print one JSON object, or the lines."""
    if as_json:
        click.echo(json.dumps({"ok": True, **payload}, ensure_ascii=False))
        return
    for line in lines:
        click.echo(line)


def say_kept(kept: KeptInk | None, *, quiet: bool) -> None:
    """Tell where an ink was kept, and how later commands find it."""
    if kept is None:
        return
    who = "commands" if kept.found_anywhere else "commands run in this folder"
    say(f'kept in {kept.file}: {who} find it as "{kept.name}"', quiet=quiet)
    if not kept.found_anywhere:
        say(f"    from any folder: set SEPKIT_RECIPES to {kept.folder}", quiet=quiet)
    if kept.hidden_by is not None:
        say(f"  warning: {kept.hidden_by} has the same name and comes first: rename one of them", quiet=quiet)


def split_list(text: str) -> list[str]:
    """Return the entries of a comma-separated list; commas inside brackets and pixel places stay.

    >>> split_list("lab(50 0 0, D50/2),tomato,art.png@3,4")
    ['lab(50 0 0, D50/2)', 'tomato', 'art.png@3,4']
    """
    parts = re.split(r",(?![^(]*\))", text)
    out: list[str] = []
    for part in parts:
        if out and re.search(r"@\d+$", out[-1]) and part.strip().isdigit():
            out[-1] += "," + part.strip()
        elif part.strip():
            out.append(part.strip())
    return out


def parse_names(text: str | None) -> tuple[str, ...] | None:
    """Return the names of a comma-separated list; None when there is no list."""
    return None if text is None else tuple(split_list(text))


def parse_numbers(text: str, *, what: str, least: float, most: float) -> tuple[float, ...]:
    """Return the numbers of a comma-separated list. Raises UsageError."""
    out = []
    for part in split_list(text):
        try:
            value = float(part.rstrip("%"))
        except ValueError:
            raise UsageError(f'"{part}" is not a number', where=what, hint="such as 0.5,1,2") from None
        if not least <= value <= most:
            raise UsageError(f"{part} is outside {least:g} to {most:g}", where=what, hint="give a value within it")
        out.append(value)
    if not out:
        raise UsageError("the list is empty", where=what, hint="such as 0.5,1,2")
    return tuple(out)


def parse_parts(texts: Sequence[str]) -> tuple[tuple[str, float], ...]:
    """Return (ink's name, parts by weight) from texts such as ``white:95`` or ``white:95g``. Raises UsageError.

    >>> parse_parts(["white:95", "black: 5,5 %"])
    (('white', 95.0), ('black', 5.5))
    """
    out = []
    for text in texts:
        name, colon, amount = text.rpartition(":")
        number = re.fullmatch(r"\s*(\d+(?:[.,]\d+)?)\s*(?:g|%)?\s*", amount)
        if not colon or not name.strip() or not number:
            raise UsageError(f'"{text}" is not an ink and its weight', where="parts", hint="write white:95 black:5")
        out.append((name, float(number[1].replace(",", "."))))
    return tuple(out)


def lab_list(lab: Iterable[float]) -> list[float]:
    """Return Lab rounded for JSON."""
    return [round(float(value), 3) for value in lab]


def lab_text(lab: Iterable[float]) -> str:
    """Return Lab for people."""
    return "L {:.1f} a {:+.1f} b {:+.1f}".format(*(float(value) for value in lab))


def coats_text(coats: float) -> str:
    """Return coats in words.

    >>> coats_text(1.0), coats_text(2.5)
    ('1 coat', '2.5 coats')
    """
    return f"{coats:g} coat{'s' if coats > 1 else ''}"
