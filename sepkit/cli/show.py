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


def say(text: str = "", *, quiet: bool = False) -> None:
    """Print one line for people."""
    if not quiet:
        click.echo(text, err=True)


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


def show_findings(findings: Sequence[Finding], *, quiet: bool = False, most: int | None = None) -> None:
    """Print findings, the serious first, each with what to do; beyond ``most`` only how many more the sheet tells.

    Errors are all told.
    """
    from sepkit.colorimetry.names import colours_called

    ranked = sorted(findings, key=lambda f: f.rank)
    errors = sum(finding.level == "error" for finding in ranked)
    shown = ranked if most is None else ranked[: max(most, errors)]
    for finding in shown:
        say(f"  {finding.word}: {colours_called(finding.text)}", quiet=quiet)
        if finding.hint:
            say(f"      -> {finding.hint}", quiet=quiet)
    if len(shown) < len(ranked):
        say(f"  and {len(ranked) - len(shown)} more in the sheet", quiet=quiet)


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
    say(
        f"predicted print against the art: ΔE00 {separation.mean_de00:.1f} on average, "
        f"{separation.p95_de00:.1f} or less on 95 % of it"
    )


def _plate_line(plate: Plate, width: int) -> str:
    coats = "1 coat " if plate.coats == 1 else f"{plate.coats} coats"
    flash = ", flash" if plate.flash_after else ""
    dots = "" if plate.halftone is None else f", {plate.halftone.lpi:g} lpi at {plate.halftone.angle_deg:g} degrees"
    cover = float(plate.printed.mean()) / 2.55
    mesh = f"mesh {plate.mesh}"
    head = f"  {plate.order}  {plate.name:<{width}}  {swatch(plate.print_srgb)}"
    return f"{head}  {cover:5.1f} %  {coats}{flash}, {mesh}{dots}"
