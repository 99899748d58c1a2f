"""sepkit separate: artwork and a garment in, a print folder out."""

from __future__ import annotations

import json
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING

import click

from sepkit.cli.common import NameChoice, Number, TerminalProgress
from sepkit.cli.print_options import print_options
from sepkit.cli.show import say, say_shop, show_findings, show_plates
from sepkit.cli.show_plan import show_plan
from sepkit.errors import UsageError
from sepkit.places import OTHER_NAMES, PLACES

if TYPE_CHECKING:
    from sepkit.workshop.print.write import MadePrint

WORST_SHOWN = 3
"""Findings shown without --explain; the sheet has them all."""
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
@click.option(
    "--placement",
    type=NameChoice(tuple(PLACES), also=OTHER_NAMES),
    metavar="PLACE",
    help=f"Where it goes: {', '.join(PLACES)} [default: left chest up to {LEFT_CHEST_MM:g} mm wide, else the front].",
)
@print_options
@click.option(
    "--one-ink-on",
    multiple=True,
    metavar="GARMENT=INK",
    help='The one ink on one of several garments, as "white tee=black".',
)
@click.option("--press", metavar="PRESS", help="Press (sepkit shelf presses) [default: the shop's, else two-head].")
@click.option(
    "--edge-growth",
    "edge_growth_um",
    type=Number(0, 300),
    help="How far a printed edge grows, in µm [default: as `sepkit wedge` found for the press].",
)
@click.option(
    "--sizes", metavar="SIZES", help="Sizes of the run, as S,M,3XL: shows the smallest and the largest side by side."
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
      sepkit separate logo.png --on "black tee" --width 250mm --one-ink white
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
    say_shop(quiet=hush)
    one_ink_on = _inks_on(given.pop("one_ink_on"), garments)
    options = [
        replace(PrintOptions(art=art, garment=garment, **given), **one_ink_on.get(garment.lower(), {}))  # type: ignore[arg-type]
        for garment in garments
    ]
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


def _inks_on(texts: object, garments: Sequence[str]) -> dict[str, dict[str, str]]:
    """Return what ``GARMENT=INK`` changes, by garment in lower case. Raises UsageError for a garment not asked for."""
    out = {}
    for text in texts if isinstance(texts, tuple) else ():
        garment, _, ink = (part.strip() for part in text.rpartition("="))
        if not ink or garment.lower() not in {name.lower() for name in garments}:
            hint = f"write GARMENT=INK with one of {', '.join(garments)}"
            raise UsageError(f'"{text}"', where="--one-ink-on", hint=hint)
        out[garment.lower()] = {"one_ink": ink}
    return out


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
