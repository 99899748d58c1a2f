"""sepkit separate: artwork and a garment in, a print folder out."""

from __future__ import annotations

import json
from pathlib import Path
from typing import TYPE_CHECKING

import click

from sepkit.cli.common import LengthParam, NameChoice, Number, TerminalProgress, Whole
from sepkit.cli.show import say, show_findings, show_plates
from sepkit.cli.show_plan import show_plan
from sepkit.model import BACKGROUND_RULES, DOT_SHAPES, EDGE_RULES, SOFT_RULES, WHITE_SCREENS
from sepkit.places import OTHER_NAMES, PLACES

if TYPE_CHECKING:
    from sepkit.workshop.print.write import MadePrint

SIZE = LengthParam(least_mm=1, most_mm=3000)
WORST_SHOWN = 3
"""Findings shown without --explain; the sheet has them all."""
GAP = LengthParam(least_mm=0, most_mm=10)
LEFT_CHEST_MM = PLACES["left chest"].most_mm[0]


@click.command()
@click.argument("art", type=click.Path(path_type=Path))
@click.option(
    "--on",
    "garments",
    metavar="GARMENT",
    multiple=True,
    required=True,
    help="Garment from the shelf, or its colour as #rrggbb. Give it twice for two garments side by side.",
)
@click.option("--width", "width_mm", type=SIZE, help="Print width, as 300mm or 12in.")
@click.option("--height", "height_mm", type=SIZE, help="Print height instead of width.")
@click.option(
    "--placement",
    type=NameChoice(tuple(PLACES), also=OTHER_NAMES),
    metavar="PLACE",
    help=f"Where it goes: {', '.join(PLACES)} [default: left chest up to {LEFT_CHEST_MM:g} mm wide, else the front].",
)
@click.option(
    "--inks",
    metavar="INKS",
    default="auto",
    show_default=True,
    help="auto: those that are worth their screens; all; a count; or a list of shelf inks and #rrggbb.",
)
@click.option(
    "--screens",
    type=Whole(1, 15),
    help="No more screens than these, the base among them [default: as many as are worth it].",
)
@click.option("--base", "base", metavar="RULE", multiple=True, help="White base: auto, always, never, or INK=always.")
@click.option(
    "--white-screens",
    type=click.Choice(WHITE_SCREENS),
    default="auto",
    show_default=True,
    help="White seen and base: one screen hit twice, or two. auto: one where it saves a round.",
)
@click.option("--highlight", is_flag=True, help="Print seen white last, on the base, from a screen of its own.")
@click.option("--light-base", is_flag=True, help="Thin the base to dots under inks that need less of it.")
@click.option(
    "--soft",
    type=click.Choice(SOFT_RULES),
    default="tone",
    show_default=True,
    help="Soft transparent shadows: halftone, leave out, or print solid.",
)
@click.option(
    "--edges",
    type=click.Choice(EDGE_RULES),
    default="smooth",
    show_default=True,
    help="Outlines of coarse, compressed flat art: drawn again, smooth, or left as they are.",
)
@click.option(
    "--background",
    type=click.Choice(BACKGROUND_RULES),
    default="print",
    show_default=True,
    help="A colour that fills the picture to its border: print it as a box, or leave it open.",
)
@click.option("--press", metavar="PRESS", help="Press (sepkit shelf presses) [default: the shop's, else two-head].")
@click.option("--trap", "trap_mm", type=GAP, help="Overlap of touching inks [default: the press's register error].")
@click.option(
    "--overprint",
    "overprint_mm",
    type=GAP,
    default=0.0,
    show_default="off",
    help="Dark lines up to this width print over the lighter inks beside them, instead of knocking them out.",
)
@click.option(
    "--overprint-colours",
    is_flag=True,
    help="Let two transparent inks printed over each other stand for a third (flat art): saves its screen.",
)
@click.option("--choke", "choke_mm", type=GAP, help="How far the base draws in [default: the press's register error].")
@click.option(
    "--tolerance",
    "tolerance_de00",
    type=Number(0.1, 20),
    default=3.0,
    show_default=True,
    help="Colour shift (ΔE00) that passes without a base or second coat.",
)
@click.option(
    "--mesh", metavar="MESH", help="One mesh for all screens, as 62-60 or 156tpi [default: advised for each screen]."
)
@click.option("--lpi", type=Number(10, 150), help="Halftone ruling [default: from the mesh].")
@click.option("--angle", "angle_deg", type=Number(-360, 360), help="Halftone angle of the first tone plate.")
@click.option(
    "--shape",
    type=click.Choice(DOT_SHAPES),
    default="ellipse",
    show_default=True,
    help="Halftone dot.",
)
@click.option(
    "--edits",
    type=click.Path(path_type=Path),
    metavar="FILE",
    help="Changes by hand, as TOML: another ink, coats, base, areas printed together or left open, the order.",
)
@click.option(
    "--sizes", metavar="SIZES", help="Sizes of the run, as S,M,3XL: shows the smallest and the largest side by side."
)
@click.option(
    "--ladder/--no-ladder",
    default=True,
    show_default=True,
    help="With --inks auto: what fewer inks would cost (ladder.png).",
)
@click.option(
    "--explain",
    is_flag=True,
    help="Tell more: every way of every ink, order, flashes, stress, ladder; "
    "and explain.png rings the places that no ink explains.",
)
@click.option(
    "--check-discs",
    is_flag=True,
    help="Rows of 3 mm discs beside the art on the films, by which `sepkit inspect` tells register; "
    "tape them off after the first pull.",
)
@click.option("--film-dpi", type=Number(150, 2880), help="Film resolution [default: the shop's, else 720].")
@click.option(
    "-o", "--out", type=click.Path(path_type=Path), help="Print folder to make [default: named after art and garment]."
)
@click.option("--force", is_flag=True, help="Replace a print folder that exists.")
@click.option("--json", "as_json", is_flag=True, help="Print one JSON object.")
@click.option("--quiet", is_flag=True, help="Print only the paths.")
def separate(art: Path, garments: tuple[str, ...], out: Path | None, **given: object) -> None:
    """Make a print folder: plates, films, preview and sheet for ART on a garment.

    \b
    Examples:
      sepkit separate badge.svg --on "black tee" --width 250mm
      sepkit separate badge.png --on "#1a1a1c" --width 300mm --inks 3 -o badge-black
      sepkit separate badge.png --on "black tee" --on "white tee" --width 300mm
      sepkit separate poster.jpg --on "white tee" --height 350mm --inks "red,#203060"
    """
    from sepkit.files.shelf.shelf import Shelf
    from sepkit.workshop.print.options import USUAL_FILM_DPI, PrintOptions
    from sepkit.workshop.print.write import folder_name, make_prints

    force, as_json, quiet = (bool(given.pop(word)) for word in ("force", "as_json", "quiet"))
    hush = quiet or as_json
    given["sizes"] = _sizes(given["sizes"])
    shop = Shelf().shop()
    given["film_dpi"] = given["film_dpi"] or (USUAL_FILM_DPI if shop is None else shop.film_dpi)
    if shop is not None:
        say("only what your shop.toml owns is proposed: sepkit shop shows it", quiet=hush)
    options = [PrintOptions(art=art, garment=garment, **given) for garment in garments]  # type: ignore[arg-type]
    target = out or Path(folder_name(art, garments))
    progress = TerminalProgress(quiet=hush)
    try:
        made = make_prints(options, target, force=force, progress=progress)
    finally:
        progress.end()
    for one in made:
        _tell(one, explain=bool(given["explain"]), quiet=hush)
    if as_json:
        click.echo(
            json.dumps({"schema": 1, "ok": True, "folder": str(target), "prints": [one.as_dict() for one in made]})
        )
        return
    for one in made:
        for path in (one.folder,) if quiet else (one.folder / "sheet.html", one.folder / "films.pdf"):
            click.echo(str(path))


def _sizes(text: object) -> tuple[str, ...]:
    """Return the sizes of ``S,m, 3XL`` in capitals; none for nothing."""
    words = (word.strip().upper() for word in str(text or "").split(","))
    return tuple(word for word in words if word)


def _tell(one: MadePrint, *, explain: bool, quiet: bool) -> None:
    """Tell people of one print: screens, ways, findings."""
    show_plates(one.planned.separation, quiet=quiet)
    show_plan(one.planned, one.record, explain=explain, quiet=quiet)
    show_findings(one.planned.separation.findings, quiet=quiet, most=None if explain else WORST_SHOWN)
    say(quiet=quiet)
