"""`sepkit ink tint`: what a ratio of inks looks like, and the steps around it."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

import click

from sepkit.cli.common import Number
from sepkit.cli.ink.common import (
    coats_text,
    emit,
    lab_list,
    lab_text,
    output_options,
    parse_numbers,
    parse_parts,
    say_kept,
    scale_option,
    split_list,
)
from sepkit.cli.show import chip, colour_code, findings_json, show_findings, table
from sepkit.errors import UsageError
from sepkit.workshop.inks import open_shelf

if TYPE_CHECKING:
    from sepkit.workshop.inks.tint import Apart, Tint, TintLook


@click.command()
@click.argument("parts", nargs=-1, required=True, metavar="INK:WEIGHT...")
@click.option("--against", help="Targets to compare with, comma-separated; as in sepkit ink match.")
@click.option(
    "--on",
    "garments",
    metavar="GARMENT",
    multiple=True,
    help="Garment from the shelf or #rrggbb; may be given again.",
)
@click.option("--coats", default="1,2", show_default=True, help="Coats to show on the garments.")
@click.option("--batch", "batch_g", type=Number(), help="Grams to mix: gives the doses.")
@scale_option
@click.option("--out", type=click.Path(path_type=Path), help="Write the strip of 1 to 20 % of the last ink as PNG.")
@click.option("--save", "save_as", metavar="NAME", help="Keep this recipe on your shelf under this name.")
@click.option("--lot", "lots", multiple=True, metavar="INK=LOT", help="Lot number to keep with the recipe.")
@click.option("--measured", help="Colour that the mixed batch measured, to keep with the recipe.")
@click.option("--force", is_flag=True, help="Replace files that exist.")
@output_options
def tint(
    parts: tuple[str, ...],
    *,
    against: str | None,
    garments: tuple[str, ...],
    coats: str,
    batch_g: float | None,
    step_g: float,
    out: Path | None,
    save_as: str | None,
    lots: tuple[str, ...],
    measured: str | None,
    force: bool,
    as_json: bool,
    quiet: bool,
) -> None:
    """Predict a ratio by weight, such as white:95 black:5.

    Shows it as an opaque film and on each garment by coats, its distance to targets, and the steps of 1 to 20 % of the
    last ink named.

    \b
    Examples:
      sepkit ink tint white:95 black:5 --on "white tee"
      sepkit ink tint white:95 black:5 --against "#9a9a9c,silver" --out strip.png
      sepkit ink tint white:80 yellow:18 red:2 --batch 400 --save "warm cream"
    """
    from sepkit.workshop.inks.tint import TintOutputs, TintRequest, predict_tint

    if save_as is None and (measured or lots):
        raise UsageError("nothing is kept", where="--measured, --lot", hint="add --save NAME")
    request = TintRequest(
        parts=parse_parts(parts),
        against=tuple(split_list(against or "")),
        garments=garments,
        coats=parse_numbers(coats, what="--coats", least=0.25, most=6),
        batch_g=batch_g,
        step_g=step_g,
    )
    outputs = TintOutputs(strip=out, save_as=save_as, measured=measured, lots=lots, force=force)
    found = predict_tint(request, open_shelf(), outputs)
    emit(_payload(found), _lines(found, unit="" if batch_g is None else " g"), as_json=as_json)
    show_findings(found.findings, quiet=quiet)
    say_kept(found.kept, quiet=quiet)


def _payload(found: Tint) -> dict[str, object]:
    return {
        "schema": "sepkit.ink-tint/1",
        "parts": [
            {"ink": dose.ink.name, "percent": round(100 * dose.mass_share, 4), "grams": dose.mass_g}
            for dose in found.doses
        ],
        "density_g_ml": round(found.density_g_ml, 4),
        "looks": [
            {
                "what": _label(one),
                "lab": lab_list(one.look.lab),
                "srgb": colour_code(one.look.srgb),
                "de00": _apart_json(one.apart),
            }
            for one in found.looks
        ],
        "steps": [
            {
                "percent": one.step.percent,
                "asked": one.step.asked,
                "lab": lab_list(one.step.look.lab),
                "srgb": colour_code(one.step.look.srgb),
                "de00": _apart_json(one.apart),
            }
            for one in found.steps
        ],
        "findings": findings_json(found.findings),
        "files": _files(found),
    }


def _apart_json(apart: Sequence[Apart]) -> dict[str, float]:
    return {one.target: one.de00 for one in apart}


def _label(one: TintLook) -> str:
    return "opaque film" if one.garment is None else f"{one.garment}, {coats_text(one.coats)}"


def _files(found: Tint) -> list[str]:
    kept = None if found.kept is None else found.kept.file
    return [str(path) for path in (found.strip, kept) if path is not None]


def _lines(found: Tint, *, unit: str) -> list[str]:
    """Return the recipe, its looks and the strip; ``unit`` is " g" when doses were asked for."""
    head = " + ".join(f"{dose.ink.name} {dose.mass_g:g}{unit}" for dose in found.doses)
    return [head, *_look_lines(found), *_step_lines(found), *_files(found)]


def _look_lines(found: Tint) -> list[str]:
    rows = [["", "Lab D65/2", "sRGB", *(f"ΔE00 {name}" for name in found.targets)]]
    for one in found.looks:
        off = [f"{apart.de00:.2f}" for apart in one.apart]
        rows.append([_label(one), lab_text(lab_list(one.look.lab)), colour_code(one.look.srgb), *off])
    blocks = ["    ", *(chip(one.look.srgb) for one in found.looks)]
    return [f"{block} {line}" for block, line in zip(blocks, table(rows), strict=True)]


def _step_lines(found: Tint) -> list[str]:
    if not found.steps:
        return []
    last = found.doses[-1].ink.name
    rows = [[f"% {last}", "Lab D65/2", "sRGB", *(f"ΔE00 {name}" for name in found.targets)]]
    for one in found.steps:
        look, off = one.step.look, [f"{apart.de00:.2f}" for apart in one.apart]
        share = f"{one.step.percent:g}" + (" <" if one.step.asked else "")
        rows.append([share, lab_text(lab_list(look.lab)), colour_code(look.srgb), *off])
    blocks = ["    ", *(chip(one.step.look.srgb) for one in found.steps)]
    return ["", *(f"{block} {line}" for block, line in zip(blocks, table(rows), strict=True))]
