"""What commands print for people: findings and the plate table, with colour swatches on a terminal. To stderr."""

from __future__ import annotations

import os
import sys
from collections.abc import Sequence
from typing import TYPE_CHECKING

import click

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
    code = "#{:02x}{:02x}{:02x}".format(*rgb)
    if not in_colour():
        return code
    return f"\x1b[48;2;{rgb[0]};{rgb[1]};{rgb[2]}m    \x1b[0m {code}"


def show_findings(findings: Sequence[Finding], *, quiet: bool = False) -> None:
    """Print findings, the serious first, each with what to do."""
    from sepkit.colorimetry.names import colours_called

    for finding in sorted(findings, key=lambda f: f.rank):
        say(f"  {finding.word}: {colours_called(finding.text)}", quiet=quiet)
        if finding.hint:
            say(f"      -> {finding.hint}", quiet=quiet)


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
    mesh = f"mesh {plate.mesh.label}"
    head = f"  {plate.order}  {plate.name:<{width}}  {swatch(plate.print_srgb)}"
    return f"{head}  {cover:5.1f} %  {coats}{flash}, {mesh}{dots}"
