"""`sepkit ink label`: the tinted near-white for an inner neck label."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import click

from sepkit.cli.common import Number, SizeParam, Whole
from sepkit.cli.ink.common import emit, lab_list, output_options, scale_option
from sepkit.cli.show import colour_code, findings_json, show_findings, table
from sepkit.errors import OutOfReachError, UsageError
from sepkit.workshop.inks import open_shelf

if TYPE_CHECKING:
    from sepkit.workshop.inks.label import BarePanel, LabelPlan, LabelRow

OUTSIDE_WORDS = {"hidden": "hidden", "limit": "just seen", "plain": "plain"}
"""How a tint shows outside, in the table."""
RANGE_WORDS = {"hidden": "hidden", "limit": "at the limit", "plain": "seen"}
"""The same of the recommended range."""


@click.command()
@click.option(
    "--on",
    "garment",
    metavar="GARMENT",
    required=True,
    help="Garment (sepkit shelf garments), or its colour as #rrggbb.",
)
@click.option("--weight", "weight_g_m2", type=Number(60, 800), help="Cloth g/m² [default: the garment's].")
@click.option("--white", default="white", show_default=True, help="The white ink.")
@click.option("--tint", default="black", show_default=True, help="The ink that tints it.")
@click.option("--coats", type=Number(0.25, 3), default=1.0, show_default=True, help="Coats.")
@click.option("--size", "size_mm", type=SizeParam(), default="60x30mm", show_default=True, help="Size of the label.")
@click.option("--count", type=Whole(1, 100_000), default=50, show_default=True, help="Labels to print.")
@scale_option
@click.option("--cloth-black", help="Colour of one bare panel on black, to calibrate the cloth.")
@click.option("--cloth-white", help="Colour of the same panel on white.")
@click.option("--out", type=click.Path(path_type=Path), help="Write the curve as PNG.")
@click.option("--force", is_flag=True, help="Overwrite the PNG.")
@output_options
def label(
    *,
    garment: str,
    weight_g_m2: float | None,
    white: str,
    tint: str,
    coats: float,
    size_mm: tuple[float, float],
    count: int,
    step_g: float,
    cloth_black: str | None,
    cloth_white: str | None,
    out: Path | None,
    force: bool,
    as_json: bool,
    quiet: bool,
) -> None:
    """Find the tint that is legible inside the neck and not seen outside.

    "inside" is ΔE00 of the label to the cloth around it: it reads from 10 on. "outside" is how far the outside of the
    cloth changes, lying flat or worn on skin, the worse of both: hidden up to 1, plain from 2 on. "if cloth differs"
    is the same for cloth that scatters half or twice as assumed, or a fifth less or more than measured. --json has all.

    \b
    Examples:
      sepkit ink label --on "white tee"
      sepkit ink label --on "#f4f4f2" --weight 500 --count 120 --out label.png
    """
    from sepkit.workshop.inks.label import LabelRequest, plan_label

    request = LabelRequest(
        garment,
        weight_g_m2=weight_g_m2,
        white=white,
        tint=tint,
        coats=coats,
        size_mm=size_mm,
        count=count,
        step_g=step_g,
        panel=_panel(cloth_black, cloth_white),
    )
    found = plan_label(request, open_shelf(), curve=out, force=force)
    width_mm, height_mm = size_mm
    run = f"{count} labels of {width_mm:g} x {height_mm:g} mm"
    emit(_payload(found), _lines(found, run=run), as_json=as_json)
    show_findings(found.findings, quiet=quiet)
    if found.advice.range_percent is None:
        raise OutOfReachError(
            f"no share of {found.tint.name} in {found.white.name} is legible",
            where=found.garment.name,
            hint="take an ink that differs more from the cloth",
        )


def _panel(on_black: str | None, on_white: str | None) -> BarePanel | None:
    from sepkit.workshop.inks.label import BarePanel

    if on_black is None and on_white is None:
        return None
    if on_black is None or on_white is None:
        raise UsageError("one of two", where="--cloth-black, --cloth-white", hint="give both")
    return BarePanel(on_black, on_white)


def _payload(found: LabelPlan) -> dict[str, object]:
    return {
        "schema": "sepkit.ink-label/1",
        "ok": found.advice.range_percent is not None,
        "garment": found.garment.name,
        "weight_g_m2": found.garment.weight_g_m2,
        "cloth_strength": found.cloth_strength,
        "white": found.white.name,
        "tint": found.tint.name,
        "points": [_row_json(row) for row in found.rows],
        "range_percent": found.advice.range_percent,
        "best_percent": found.advice.best_percent,
        "grams": {dose.ink.name: dose.mass_g for dose in found.doses},
        "findings": findings_json(found.findings),
        "file": None if found.curve is None else str(found.curve),
    }


def _row_json(row: LabelRow) -> dict[str, object]:
    point = row.point
    return {
        "percent": point.percent,
        "lab": lab_list(point.lab),
        "srgb": colour_code(row.look.srgb),
        "inside_de00": round(point.inside_de00, 3),
        "lightness_step": round(point.lightness_step, 3),
        "flat_de00": round(point.flat_de00, 3),
        "worn_de00": round(point.worn_de00, 3),
        "outside_low_de00": round(point.outside_low_de00, 3),
        "outside_high_de00": round(point.outside_high_de00, 3),
    }


def _lines(found: LabelPlan, *, run: str) -> list[str]:
    rows = [["", "tint", "inside", "outside", "if cloth differs", "label", ""]]
    rows += [_cells(row) for row in found.rows if row.telling]
    doses = " + ".join(f"{dose.ink.name} {dose.mass_g:g} g" for dose in found.doses)
    return [
        f"{found.tint.name} in {found.white.name} on {found.garment.name}, {found.garment.weight_g_m2:g} g/m²",
        *table(rows),
        _range_text(found),
        f"start with {found.advice.best_percent:g} %: {doses} for {run}",
        *(paste.text for paste in found.let_downs),
        *([] if found.curve is None else [str(found.curve)]),
    ]


def _cells(row: LabelRow) -> list[str]:
    point = row.point
    inside = "reads" if point.reads else "too faint to read"
    return [
        "->" if row.advised else "",
        f"{point.percent:g} %",
        f"{point.inside_de00:.1f}",
        f"{point.outside_de00:.1f}",
        f"{point.outside_low_de00:.1f} to {point.outside_high_de00:.1f}",
        colour_code(row.look.srgb),
        f"{inside}, {OUTSIDE_WORDS[point.outside]} outside",
    ]


def _range_text(found: LabelPlan) -> str:
    advice, tint = found.advice, found.tint.name
    if advice.range_percent is None:
        return f"no share of {tint} is legible there"
    low, high = advice.range_percent
    how = f"{RANGE_WORDS[advice.best.outside]} (ΔE00 {advice.best.outside_de00:.1f})"
    return f"recommended: {low:g} to {high:g} % {tint}; outside {how}"
