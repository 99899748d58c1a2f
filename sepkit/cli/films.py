"""sepkit films: the films of a print folder again, with other film settings."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import click

from sepkit.cli.common import LengthParam, Number, TerminalProgress
from sepkit.cli.show import say, show_findings
from sepkit.errors import UsageError
from sepkit.film.tone import SMALL_TONES
from sepkit.model import DOT_SHAPES


@click.command()
@click.argument("folder", type=click.Path(path_type=Path))
@click.option("--dpi", type=Number(), help="Film resolution [default: as before].")
@click.option("--lpi", type=Number(), help="Halftone ruling [default: as before].")
@click.option("--angle", "angle_deg", type=Number(), help="Halftone angle of the first tone plate; others turn by 30.")
@click.option("--shape", type=click.Choice(DOT_SHAPES), help="Halftone dot.")
@click.option(
    "--edge-growth",
    "edge_mm",
    type=LengthParam(least_mm=0, most_mm=0.3),
    help="How far a printed edge grows, as 30um; tones are made lighter to match [default: as before].",
)
@click.option(
    "--printed", "points", metavar="FILM:PRINT,...", help="Measured tints instead, in percent, as 25:41,50:72,75:90."
)
@click.option(
    "--small-tones",
    "small",
    type=click.Choice(SMALL_TONES[::-1]),
    default="fewer",
    show_default=True,
    help="Dots and gaps the mesh cannot hold: fewer of the smallest that it can, all raised to that, or dropped.",
)
@click.option("--mirror", is_flag=True, help="Mirrored films, margin and all, for prints by way of a transfer.")
@click.option(
    "--density",
    type=click.Choice(["black", "rich"]),
    default="black",
    show_default=True,
    help="Solid in black, or in all colours of the film printer.",
)
@click.option("--sheet", metavar="SIZE", help="Film sheet, as A3, 13x19in or 329x483mm; larger films become tiles.")
@click.option("--roll", metavar="WIDTH", help="Roll of film by its width, as 432mm or 17in.")
@click.option(
    "--check-discs/--no-check-discs",
    "check_discs",
    default=None,
    help="Rows of 3 mm discs beside the art, one for each screen, by which `sepkit inspect` tells register "
    "[default: as before].",
)
@click.option("--tiff", is_flag=True, help="Also write 1-bit TIFF (Group 4).")
@click.option("--png", is_flag=True, help="Also write 1-bit PNG.")
@click.option(
    "--moire",
    "moire_pictures",
    is_flag=True,
    help="Also draw how dots and mesh beat, as asked and as suggested: films/moire-NAME.png.",
)
@click.option("--json", "as_json", is_flag=True, help="Print one JSON object.")
@click.option("--quiet", is_flag=True, help="Print only the paths.")
def films(folder: Path, **given: Any) -> None:
    """Make the films of the print folder FOLDER again; its films/ and films.pdf are replaced.

    \b
    Examples:
      sepkit films badge-black-tee --lpi 38 --angle 15
      sepkit films badge-black-tee --dpi 1440 --edge-growth 30um
      sepkit films badge-black-tee --sheet A3 --tiff
    """
    from sepkit.workshop.print.remake import FilmOptions, gain_from_text, remake_films

    options = FilmOptions(
        dpi=given["dpi"],
        lpi=given["lpi"],
        angle_deg=given["angle_deg"],
        shape=given["shape"],
        gain=gain_from_text(given["edge_mm"], given["points"]),
        small=given["small"],
        mirror=given["mirror"],
        all_colours=given["density"] == "rich",
        sheet=_sheet(given["sheet"], given["roll"]),
        check_discs=given["check_discs"],
        moire_pictures=given["moire_pictures"],
        formats=("pdf", *(("tiff",) if given["tiff"] else ()), *(("png",) if given["png"] else ())),
    )
    quiet = given["quiet"] or given["as_json"]
    progress = TerminalProgress(quiet=quiet)
    try:
        made = remake_films(folder, options, progress=progress)
    finally:
        progress.end()
    if given["as_json"]:
        from sepkit.files.folders.parts import finding_record

        click.echo(
            json.dumps(
                {
                    "schema": 1,
                    "ok": True,
                    "files": [str(path) for path in made.files],
                    "pages": made.pages,
                    "film": {"dpi": made.dpi, "width_px": made.width_px, "height_px": made.height_px},
                    "findings": [finding_record(f) for f in made.findings],
                }
            )
        )
        return
    say(f"{made.pages} pages, {made.width_px} x {made.height_px} px at {made.dpi:g} dpi", quiet=quiet)
    show_findings(made.findings, quiet=quiet)
    for path in made.files:
        click.echo(str(path))


def _sheet(sheet: str | None, roll: str | None) -> Any:
    from sepkit.press.sheet import parse_roll, parse_sheet

    if sheet and roll:
        raise UsageError("give a sheet or a roll, not both", where="--roll", hint="drop one")
    if roll:
        return parse_roll(roll)
    return parse_sheet(sheet) if sheet else None
