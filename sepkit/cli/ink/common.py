"""What the ink commands share: reading parts and lists, printing results, one JSON object, findings on stderr."""

from __future__ import annotations

import json
import os
import re
from collections.abc import Callable, Iterable, Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any, TypeVar

import click

from sepkit.errors import UsageError

if TYPE_CHECKING:
    from sepkit.model import Finding, Garment, Ink

Command = TypeVar("Command", bound=Callable[..., Any])

SCALE_G = 0.1


def output_options(command: Command) -> Command:
    """Add --json and --quiet."""
    command = click.option("--quiet", is_flag=True, help="No words for people on stderr.")(command)
    return click.option("--json", "as_json", is_flag=True, help="One JSON object on stdout.")(command)


def emit(payload: dict[str, Any], lines: Iterable[str], *, as_json: bool) -> None:
    """Print one JSON object, or the lines."""
    if as_json:
        click.echo(json.dumps({"ok": True, **payload}, ensure_ascii=False))
        return
    for line in lines:
        click.echo(line)


def say_findings(findings: Sequence[Finding], *, quiet: bool) -> None:
    """Print findings on stderr, one line each."""
    from sepkit.cli.show import show_findings

    show_findings(findings, quiet=quiet)


def findings_json(findings: Sequence[Finding]) -> list[dict[str, Any]]:
    """Return findings as the print folder's JSON has them."""
    from sepkit.files.folders.parts import finding_record

    return [finding_record(finding) for finding in findings]


def say_kept(name: str, path: Path, *, quiet: bool) -> None:
    """Tell where an ink was kept, and how later commands find it."""
    from sepkit.cli.show import say
    from sepkit.files.shelf.inkfile import ink_files, plain_name

    here = path.resolve().parents[1]
    own = path.is_absolute() and here != Path.cwd() / "recipes"
    say(
        f'kept in {path}: {"commands" if own else "commands run in this folder"} find it as "{name.strip().lower()}"',
        quiet=quiet,
    )
    if not own:
        say(f"    from any folder: set SEPKIT_RECIPES to {here}", quiet=quiet)
    first = ink_files().get(plain_name(name))
    if first is not None and first.resolve() != path.resolve():
        say(f"  warning: {first} has the same name and comes first: rename one of them", quiet=quiet)


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


def parse_numbers(text: str, *, what: str, least: float, most: float) -> list[float]:
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
    return out


def parse_parts(texts: Sequence[str]) -> list[tuple[Ink, float]]:
    """Return (ink, parts by weight) from texts such as ``white:95``. Raises UsageError or NotFoundError."""
    from sepkit.files.shelf.inkfile import find_ink

    out: list[tuple[Ink, float]] = []
    for text in texts:
        name, colon, amount = text.rpartition(":")
        number = re.fullmatch(r"\s*(\d+(?:[.,]\d+)?)\s*(?:g|%)?\s*", amount)
        if not colon or not name.strip() or not number:
            raise UsageError(f'"{text}" is not an ink and its weight', where="parts", hint="write white:95 black:5")
        ink, grams = find_ink(name), float(number[1].replace(",", "."))
        if any(ink.name == other.name for other, _ in out):
            raise UsageError(f"{ink.name} is named twice", where="parts", hint="give its whole weight once")
        out.append((ink, grams))
    if not any(grams > 0 for _, grams in out):
        raise UsageError("no part weighs anything", where="parts", hint="write white:95 black:5")
    return out


def chosen_inks(text: str | None) -> list[Ink]:
    """Return the inks that a comma-separated list names, or all of the shelf that are not mixed from others."""
    from sepkit.files.shelf.ink_recipe import find_recipe
    from sepkit.files.shelf.inkfile import find_ink, ink_names

    if text is not None:
        inks = {ink.name: ink for ink in (find_ink(name) for name in split_list(text))}
        if not inks:
            raise UsageError("the list names no ink", where="inks", hint="such as white,black,red")
        return list(inks.values())
    return [find_ink(name) for name in ink_names() if find_recipe(name) is None]


def garments(names: Sequence[str]) -> list[Garment]:
    """Return garments by name or #rrggbb."""
    from sepkit.files.shelf.recipes import find_garment

    return [find_garment(name) for name in names]


def chip(rgb: tuple[int, int, int]) -> str:
    """Return a small block of colour for terminals that show it (click drops it elsewhere)."""
    plain = os.environ.get("NO_COLOR") or os.environ.get("TERM") == "dumb"
    return "    " if plain else click.style("    ", bg=rgb)


def srgb_hex(lab: Any) -> str:
    """Return #rrggbb of Lab D65/2."""
    import numpy as np

    from sepkit.colorimetry.srgb import as_rgb8, lab_to_srgb8
    from sepkit.units import to_hex

    return to_hex(as_rgb8(lab_to_srgb8(np.asarray(lab))))


def lab_list(lab: Any) -> list[float]:
    """Return Lab rounded for JSON."""
    return [round(float(v), 3) for v in lab]


def lab_text(lab: Any) -> str:
    """Return Lab for people."""
    return "L {:.1f} a {:+.1f} b {:+.1f}".format(*(float(v) for v in lab))


def table(rows: Sequence[Sequence[str]]) -> list[str]:
    """Return rows as aligned lines; the first column is left-aligned, the rest right-aligned where they are numbers."""
    widths = [max(len(row[i]) for row in rows) for i in range(len(rows[0]))]
    out = []
    for row in rows:
        cells = [
            cell.rjust(width) if re.fullmatch(r"[-+]?[\d.]+( ?%| g)?", cell) else cell.ljust(width)
            for cell, width in zip(row, widths, strict=True)
        ]
        out.append("  ".join(cells).rstrip())
    return out
