"""`sepkit ink list` and `sepkit ink show`: the shelf."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from sepkit.cli.ink.common import emit, lab_list, lab_text, output_options
from sepkit.cli.show import chip, colour_code, say, table
from sepkit.workshop.inks import open_shelf

if TYPE_CHECKING:
    from sepkit.workshop.inks.shelf import ShelfList, ShownInk


@click.command("list")
@click.option("--out", type=click.Path(path_type=Path), help="Write a swatch card of the shelf as PNG.")
@click.option("--force", is_flag=True, help="Overwrite the PNG.")
@output_options
def list_inks(*, out: Path | None, force: bool, as_json: bool, quiet: bool) -> None:
    """List the inks of the shelf, with how each hides and tints.

    "hides" is the contrast ratio of one coat over black and over white; "5 % in white" is L* of that tint.

    \b
    Examples:
      sepkit ink list
      sepkit ink list --out shelf.png
    """
    from sepkit.workshop.inks.shelf import estimated_words
    from sepkit.workshop.inks.shelf import list_inks as listed

    found = listed(open_shelf(), card=out, force=force)
    emit(_list_payload(found), _list_lines(found), as_json=as_json)
    if found.any_estimated:
        say(f'{estimated_words()}: "sepkit ink measure" replaces them by yours', quiet=quiet)


@click.command()
@click.argument("name")
@click.option("--out", type=click.Path(path_type=Path), help="Write a swatch card as PNG.")
@click.option("--force", is_flag=True, help="Overwrite the PNG.")
@output_options
def show(name: str, *, out: Path | None, force: bool, as_json: bool, quiet: bool) -> None:
    """Show one ink: its thick film (masstone), white tints, on white and on black cloth.

    \b
    Examples:
      sepkit ink show red
      sepkit ink show red --out red.png
    """
    from sepkit.workshop.inks.shelf import estimated_words, show_ink

    found = show_ink(name, open_shelf(), card=out, force=force)
    emit(_show_payload(found), _show_lines(found), as_json=as_json)
    if found.ink.status == "estimated":
        say(estimated_words(), quiet=quiet)


def _list_payload(found: ShelfList) -> dict[str, object]:
    inks = [
        {
            "name": one.ink.name,
            "kind": one.ink.kind,
            "status": one.ink.status,
            "srgb": colour_code(one.ink.srgb),
            "density_g_ml": one.ink.density_g_ml,
            "contrast_ratio": round(one.contrast_ratio, 3),
            "source": one.ink.source,
        }
        for one in found.inks
    ]
    return {"schema": "sepkit.ink-list/1", "inks": inks, "file": None if found.card is None else str(found.card)}


def _list_lines(found: ShelfList) -> list[str]:
    rows = [["name", "kind", "status", "colour", "hides", "5 % in white"]]
    for one in found.inks:
        ink, lightness = one.ink, one.tint_lightness
        tint = "" if lightness is None else f"{lightness:.0f}"
        rows.append([ink.name, ink.kind, ink.status, colour_code(ink.srgb), f"{one.contrast_ratio:.2f}", tint])
    chips = [" " * 4, *(chip(one.ink.srgb) for one in found.inks)]
    lines = [f"{block} {line}" for block, line in zip(chips, table(rows), strict=True)]
    return [*lines, *([] if found.card is None else [str(found.card)])]


def _show_payload(found: ShownInk) -> dict[str, object]:
    ink = found.ink
    return {
        "schema": "sepkit.ink-show/1",
        "name": ink.name,
        "kind": ink.kind,
        "status": ink.status,
        "density_g_ml": ink.density_g_ml,
        "source": ink.source,
        "looks": [
            {"what": one.label, "lab": lab_list(one.look.lab), "srgb": colour_code(one.look.srgb)}
            for one in found.looks
        ],
        "file": None if found.card is None else str(found.card),
    }


def _show_lines(found: ShownInk) -> list[str]:
    rows = [["", "Lab D65/2", "sRGB"]]
    rows += [[one.label, lab_text(one.look.lab), colour_code(one.look.srgb)] for one in found.looks]
    source = [f"source: {found.ink.source}"] if found.ink.source else []
    return [found.heading, *table(rows), *source, *([] if found.card is None else [str(found.card)])]
