"""sepkit check: what is wrong with artwork before any film is made."""

from __future__ import annotations

import json
import warnings
from contextlib import ExitStack
from pathlib import Path
from typing import TYPE_CHECKING

import click

from sepkit.cli.common import LengthParam, Number, TerminalProgress
from sepkit.cli.show import say, show_findings, swatch
from sepkit.errors import ChecksFailedError
from sepkit.model import BACKGROUND_RULES

if TYPE_CHECKING:
    from sepkit.model import U8

MADE_BY = "sepkit check"
"""What a marked picture says of itself: one that does is replaced by the next check of the same art."""
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
    "--background",
    type=click.Choice(BACKGROUND_RULES),
    default="print",
    show_default=True,
    help="A colour that fills the picture to its border: print it as a box, or leave it open.",
)
@click.option("--press", metavar="PRESS", default="two-head", show_default=True, help="Press (sepkit shelf presses).")
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
@click.option("--json", "as_json", is_flag=True, help="Print one JSON object.")
@click.option("--quiet", is_flag=True, help="Print only the path of the marked picture.")
def check(art: Path, out: Path | None, force: bool, as_json: bool, quiet: bool, **given: object) -> None:
    """Check ART at its print size: resolution, thin lines and gaps, specks, tones on their mesh, number of inks.

    Exit code 8 when something would ruin the print.

    \b
    Examples:
      sepkit check badge.png --width 250mm
      sepkit check badge.svg --on "black tee" --width 250mm --mesh 43-80
      sepkit check poster.jpg --width 300mm --mesh 77-55 --lpi 45
    """
    from sepkit.files.folders.parts import finding_record
    from sepkit.files.folders.write import replace_file
    from sepkit.workshop.print.check import check_art
    from sepkit.workshop.print.options import PrintOptions

    progress = TerminalProgress(quiet=quiet or as_json)
    with ExitStack() as held:
        part = None if out is None else held.enter_context(replace_file(out, force=force))  # a taken name tells at once
        try:
            checked = check_art(PrintOptions(art=art, **given), progress=progress)  # type: ignore[arg-type]
        finally:
            progress.end()
        path = out or (Path(f"{art.stem}-check.png") if checked.marks else None)
        if path is not None:
            _save(checked.marked, part or held.enter_context(replace_file(path, force=force or _is_ours(path))))
    hush = quiet or as_json
    say(
        f"{checked.artwork.source}: {checked.artwork.width_mm:.1f} x {checked.artwork.height_mm:.1f} mm "
        f"on {checked.garment.name}",
        quiet=hush,
    )
    for name, rgb, share, mesh in checked.inks:
        say(
            f"  {swatch(rgb)}  {name}: {100 * share:.1f} % of the area, mesh {mesh}",
            quiet=hush,
        )
    show_findings(checked.findings, quiet=hush)
    if not checked.findings:
        say("  nothing stood out", quiet=hush)
    failed = any(finding.level == "error" for finding in checked.findings)
    if as_json:
        click.echo(
            json.dumps(
                {
                    "schema": 1,
                    "ok": not failed,
                    "marked": None if path is None else str(path),
                    "inks": [
                        {"name": n, "srgb": "#{:02x}{:02x}{:02x}".format(*c), "share": round(s, 5)}
                        for n, c, s, _ in checked.inks
                    ],
                    "findings": [finding_record(finding) for finding in checked.findings],
                }
            )
        )
    elif path is not None:
        click.echo(str(path))
    if failed:
        worst = next(finding for finding in checked.findings if finding.level == "error")
        raise ChecksFailedError(worst.text, where=checked.artwork.source, hint=worst.hint)


def _save(marked: U8, part: Path) -> None:
    from PIL import Image
    from PIL.PngImagePlugin import PngInfo

    made_by = PngInfo()
    made_by.add_text("Software", MADE_BY)
    Image.fromarray(marked).save(part, format="PNG", pnginfo=made_by)


def _is_ours(path: Path) -> bool:
    """Tell whether ``path`` is a marked picture of an earlier check: art is checked again and again."""
    from PIL import Image

    try:
        with warnings.catch_warnings(action="ignore"), Image.open(path) as picture:
            return picture.info.get("Software") == MADE_BY
    except (OSError, ValueError, SyntaxError, Image.DecompressionBombError):
        return False
