"""sepkit check: what is wrong with artwork before any film is made."""

from __future__ import annotations

import json
from pathlib import Path
from typing import TYPE_CHECKING

import click

from sepkit.cli.common import LengthParam, Number, TerminalProgress
from sepkit.cli.show import KIND_CODE, colour_code, findings_json, say, say_shop, show_findings, swatch
from sepkit.errors import ChecksFailedError
from sepkit.model import BACKGROUND_RULES, DOTS_RULES, KIND_RULES, ONE_INK_FROM, SEPARATE_BY, SHADING_RULES

if TYPE_CHECKING:
    from sepkit.model import BackgroundRule, DotsRule, KindRule, OneInkFrom, SeparateBy, ShadingRule
    from sepkit.workshop.print.check import CheckedArt
    from sepkit.workshop.print.marked import MarkedCheck

SCREEN_LINES = 24
"""What a check tells fits a terminal window as it opens."""
SIZE = LengthParam(least_mm=1, most_mm=3000)


@click.command()
@click.argument("art", type=click.Path(path_type=Path))
@click.option(
    "--on",
    "garment",
    metavar="GARMENT",
    default="white tee",
    show_default=True,
    help="Garment, or its colour as #rrggbb.",
)
@click.option("--width", "width_mm", type=SIZE, help="Print width, as 300mm or 12in.")
@click.option("--height", "height_mm", type=SIZE, help="Print height instead of width.")
@click.option(
    "--inks",
    metavar="INKS",
    default="auto",
    show_default=True,
    help="auto, a count, or a list of shelf inks and #rrggbb.",
)
@click.option(
    "--by",
    type=click.Choice(SEPARATE_BY),
    default="auto",
    show_default=True,
    help="Part the art by colour, by the inks that a PDF names (plate), or by the named layers of an SVG. "
    "auto: by plate where a PDF names inks.",
)
@click.option(
    "--one-ink",
    metavar="INK",
    default="",
    help="Print all in this one ink, whatever its colours: a shelf ink or #rrggbb.",
)
@click.option(
    "--one-ink-from",
    type=click.Choice(ONE_INK_FROM),
    default="auto",
    show_default=True,
    help="What that ink prints: the figure as found, all that is opaque, the dark or light part, or all tones.",
)
@click.option(
    "--kind",
    type=click.Choice(KIND_RULES),
    default="auto",
    show_default=True,
    help="What the art is: found by itself, or solid colours, a drawing on paper, tones.",
)
@click.option(
    "--shading",
    type=click.Choice(SHADING_RULES),
    default="open",
    show_default=True,
    help="Pencil shading of a drawing on paper: left open, or a halftone.",
)
@click.option(
    "--background",
    type=click.Choice(BACKGROUND_RULES),
    default="print",
    show_default=True,
    help="A colour that fills the picture to its border: print it as a box, or leave it open.",
)
@click.option(
    "--dots",
    type=click.Choice(DOTS_RULES),
    default="average",
    show_default=True,
    help="Printed dots in a scan: average them to tones, keep them one to one, or screen over them.",
)
@click.option("--press", metavar="PRESS", help="Press (sepkit shelf presses) [default: the shop's, else two-head].")
@click.option(
    "--mesh", metavar="MESH", help="Mesh to check against, as 62-60 [default: what each ink would start with]."
)
@click.option("--lpi", type=Number(10, 150), help="Ruling of tones to check [default: from the mesh].")
@click.option("--angle", "angle_deg", type=Number(-360, 360), help="Angle of the first tone plate.")
@click.option(
    "-o",
    "--out",
    type=click.Path(path_type=Path),
    help="Marked picture to write [default: ART-check.png when something is marked].",
)
@click.option("--force", is_flag=True, help="Replace a marked picture that exists.")
@click.option("--all", "tell_all", is_flag=True, help="Tell all notes, however many lines they take.")
@click.option("--json", "as_json", is_flag=True, help="Print one JSON object.")
@click.option("--quiet", is_flag=True, help="Print only the path of the marked picture.")
def check(
    art: Path,
    garment: str,
    width_mm: float | None,
    height_mm: float | None,
    inks: str,
    by: SeparateBy,
    one_ink: str,
    one_ink_from: OneInkFrom,
    kind: KindRule,
    shading: ShadingRule,
    background: BackgroundRule,
    dots: DotsRule,
    press: str,
    mesh: str | None,
    lpi: float | None,
    angle_deg: float | None,
    out: Path | None,
    force: bool,
    tell_all: bool,
    as_json: bool,
    quiet: bool,
) -> None:
    """Check ART at its print size: resolution, thin lines and gaps, specks, tones on their mesh, number of inks.

    Exit code 8 when something would ruin the print.

    \b
    Examples:
      sepkit check badge.png --width 250mm
      sepkit check badge.svg --on "black tee" --width 250mm --mesh 43-80
      sepkit check poster.jpg --width 300mm --mesh 77-55 --lpi 45
    """
    from sepkit.workshop.print.marked import check_and_mark
    from sepkit.workshop.print.options import PrintOptions

    hush = quiet or as_json
    options = PrintOptions(
        art=art,
        garment=garment,
        width_mm=width_mm,
        height_mm=height_mm,
        inks=inks,
        by=by,
        one_ink=one_ink,
        one_ink_from=one_ink_from,
        kind=kind,
        shading=shading,
        background=background,
        dots=dots,
        press=press,
        mesh=mesh,
        lpi=lpi,
        angle_deg=angle_deg,
    )
    say_shop(quiet=hush)
    progress = TerminalProgress(quiet=hush)
    try:
        made = check_and_mark(options, out=out, force=force, progress=progress)
    finally:
        progress.end()
    _show(made.checked, tell_all=tell_all, hush=hush)
    if as_json:
        click.echo(json.dumps(_payload(made)))
    elif made.picture is not None:
        click.echo(str(made.picture))
    worst = made.checked.worst
    if worst is not None:
        raise ChecksFailedError(worst.text, where=made.checked.artwork.source, hint=worst.hint)


def _show(checked: CheckedArt, *, tell_all: bool, hush: bool) -> None:
    art = checked.artwork
    say(f"{art.source}: {art.width_mm:.1f} x {art.height_mm:.1f} mm on {checked.garment.name}", quiet=hush)
    for ink in checked.inks:
        say(f"  {swatch(ink.srgb)}  {ink.name}: {100 * ink.share:.1f} % of the area, mesh {ink.mesh}", quiet=hush)
    most = None if tell_all else SCREEN_LINES - 3 - len(checked.inks)
    show_findings(checked.findings, quiet=hush, most_lines=most)
    if all(finding.code == KIND_CODE for finding in checked.findings):
        say("  nothing stood out", quiet=hush)


def _payload(made: MarkedCheck) -> dict[str, object]:
    checked = made.checked
    return {
        "schema": 1,
        "ok": checked.worst is None,
        "marked": None if made.picture is None else str(made.picture),
        "inks": [
            {"name": ink.name, "srgb": colour_code(ink.srgb), "share": round(ink.share, 5)} for ink in checked.inks
        ],
        "findings": findings_json(checked.findings),
    }
