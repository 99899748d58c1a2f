"""What commands print: findings and the plate table for people, on stderr; colours, tables and records for results."""

from __future__ import annotations

import os
import re
import sys
from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

import click

from sepkit.units import to_hex

if TYPE_CHECKING:
    from sepkit.model import RGB8, Finding, Plate, Separation

WIDE = 120
"""Characters of a line on a screen."""
KIND_CODE = "kind-of-art"
"""The finding that tells what kind of art it is."""


def say(text: str = "", *, quiet: bool = False) -> None:
    """Print one line for people."""
    if not quiet:
        click.echo(text, err=True)


def say_shop(*, quiet: bool = False) -> None:
    """Tell that only what the shop owns is proposed, where a shop file tells what that is. Raises DataFileError."""
    from sepkit.files.shelf.shelf import Shelf

    if not quiet and Shelf().shop() is not None:
        say("only what your shop.toml owns is proposed: sepkit shop shows it")


def in_colour() -> bool:
    """Return whether stderr takes colour: a terminal, and NO_COLOR is not set."""
    if os.environ.get("NO_COLOR") or os.environ.get("TERM") == "dumb":
        return False
    return bool(os.environ.get("FORCE_COLOR")) or sys.stderr.isatty()


def swatch(rgb: RGB8) -> str:
    """Return a colour chip for a terminal, or ``#rrggbb``."""
    code = to_hex(rgb)
    if not in_colour():
        return code
    return f"\x1b[48;2;{rgb[0]};{rgb[1]};{rgb[2]}m    \x1b[0m {code}"


def colour_code(rgb: RGB8) -> str:
    """Return ``#rrggbb``."""
    return to_hex(rgb)


def chip(rgb: RGB8) -> str:
    """Return a small block of colour for terminals that show it (click drops it elsewhere)."""
    plain = os.environ.get("NO_COLOR") or os.environ.get("TERM") == "dumb"
    return "    " if plain else click.style("    ", bg=rgb)


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


def findings_json(findings: Sequence[Finding]) -> list[dict[str, Any]]:
    """Return findings as the print folder's JSON has them."""
    from sepkit.files.folders.parts import finding_record

    return [finding_record(finding) for finding in findings]


def show_findings(
    findings: Sequence[Finding], *, quiet: bool = False, most: int | None = None, most_lines: int | None = None
) -> None:
    """Print what kind of art it is, then findings, the serious first, each with what to do.

    Beyond ``most`` only how many the sheet tells; errors are all told. With ``most_lines`` notes that would run over it
    are counted only; errors and warnings are always told.
    """
    from sepkit.colorimetry.names import colours_called

    ranked = sorted(findings, key=lambda f: (f.code != KIND_CODE, f.rank))
    errors = sum(finding.level == "error" for finding in ranked)
    kinds = sum(finding.code == KIND_CODE for finding in ranked)
    shown = ranked if most is None else ranked[: kinds + max(most, errors)]
    left, untold = most_lines, 0
    for finding in shown:
        lines = [f"  {finding.word}: {colours_called(finding.text)}"]
        lines += [f"      -> {finding.hint}"] if finding.hint else []
        if left is not None and finding.level == "info" and finding.code != KIND_CODE and len(lines) >= left:
            untold += 1
            continue
        for line in lines:
            say(line, quiet=quiet)
        left = None if left is None else left - sum(1 + len(line) // WIDE for line in lines)
    if len(shown) < len(ranked):
        say(f"  and {len(ranked) - len(shown)} more in the sheet", quiet=quiet)
    if untold:
        notes = "1 note more" if untold == 1 else f"{untold} notes more"
        say(f"  {notes}: --all tells them", quiet=quiet)


def show_plates(separation: Separation, *, quiet: bool = False) -> None:
    """Print the screens in print order."""
    if quiet:
        return
    say(
        f"{separation.artwork.source} on {separation.garment.name}, "
        f"{separation.artwork.width_mm:.1f} x {separation.artwork.height_mm:.1f} mm"
    )
    width = max(len(plate.name) for plate in separation.plates)
    for plate in separation.plates:
        say(_plate_line(plate, width))
        say(f"     {plate.why}")
    say(f"predicted print against what these inks can be of the art here: ΔE00 {separation.mean_de00:.1f} on average")


def _plate_line(plate: Plate, width: int) -> str:
    coats = "1 coat " if plate.coats == 1 else f"{plate.coats} coats"
    flash = ", flash" if plate.flash_after else ""
    dots = "" if plate.halftone is None else f", {plate.halftone.lpi:g} lpi at {plate.halftone.angle_deg:g} degrees"
    cover = float(plate.printed.mean()) / 2.55
    mesh = f"mesh {plate.mesh}"
    head = f"  {plate.order}  {plate.name:<{width}}  {swatch(plate.print_srgb)}"
    return f"{head}  {cover:5.1f} %  {coats}{flash}, {mesh}{dots}"
