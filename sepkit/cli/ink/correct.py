"""`sepkit ink correct`: repair a batch that measured off."""

from __future__ import annotations

from typing import TYPE_CHECKING

import click

from sepkit.cli.common import Number, Whole
from sepkit.cli.ink.common import emit, lab_list, lab_text, output_options, parse_names, parse_parts, scale_option
from sepkit.cli.show import colour_code, findings_json, show_findings, table
from sepkit.errors import OutOfReachError, UsageError
from sepkit.workshop.inks import open_shelf

if TYPE_CHECKING:
    from sepkit.workshop.inks.correct import Pot, Repair


@click.command()
@click.argument("batch", nargs=-1, required=True, metavar="RECIPE|INK:GRAMS...")
@click.option("--measured", required=True, help="Colour that the batch measured, as an opaque film.")
@click.option("--target", help="Colour that it should have [default: the kept recipe's target or prediction].")
@click.option("--grams", "batch_g", type=Number(), help="Grams of a kept RECIPE in the pot [default: its own].")
@click.option("--add", "may_add", help="Inks that may be added, as white,black [default: all that are not mixed].")
@click.option("--most", "most_inks", type=Whole(1, 3), default=3, show_default=True, help="Most inks to add.")
@scale_option
@click.option(
    "--tolerance",
    "tolerance_de00",
    type=Number(0.05, 20),
    default=1.0,
    show_default=True,
    help="ΔE00 that is good enough: the first addition below it is advised.",
)
@output_options
def correct(
    batch: tuple[str, ...],
    *,
    measured: str,
    target: str | None,
    batch_g: float | None,
    may_add: str | None,
    most_inks: int,
    step_g: float,
    tolerance_de00: float,
    as_json: bool,
    quiet: bool,
) -> None:
    """Repair a batch by additions only: ΔE00 against grams added, least grams first, in doses the scale can weigh.

    \b
    Examples:
      sepkit ink correct white:380 yellow:90 red:30 --measured "lab(72 22 48)" --target "#e0a060"
      sepkit ink correct "warm cream" --grams 400 --measured "#f0dfb0"
    """
    from sepkit.workshop.inks.correct import RepairRequest, repair_batch

    request = RepairRequest(
        _pot(batch, batch_g),
        measured,
        target=target,
        may_add=parse_names(may_add),
        most_inks=most_inks,
        step_g=step_g,
        tolerance_de00=tolerance_de00,
    )
    found = repair_batch(request, open_shelf())
    emit(_payload(found), _lines(found), as_json=as_json)
    show_findings(found.findings, quiet=quiet)
    if not found.reached:
        raise OutOfReachError(
            f"additions come no nearer than ΔE00 {found.advised_de00:.1f}",
            where=found.target.name,
            hint="allow more inks with --add, or mix a new batch",
        )


def _pot(texts: tuple[str, ...], batch_g: float | None) -> Pot:
    """Return what is in the pot: parts with their grams, or a kept recipe. Raises UsageError."""
    from sepkit.workshop.inks.correct import Pot

    if len(texts) == 1 and ":" not in texts[0]:
        return Pot(recipe=texts[0], batch_g=batch_g)
    if batch_g is not None:
        raise UsageError("the parts give the grams", where="--grams", hint="leave it out")
    return Pot(parts=parse_parts(texts))


def _payload(found: Repair) -> dict[str, object]:
    return {
        "schema": "sepkit.ink-correct/1",
        "ok": found.reached,
        "batch_g": found.batch_g,
        "target": {"name": found.target.name, "lab": lab_list(found.target.lab)},
        "measured_lab": lab_list(found.measured.lab),
        "advised": found.advised,
        "additions": [
            {
                "inks": [ink.name for ink, _ in one.parts],
                "grams": [mass_g for _, mass_g in one.parts],
                "added_g": round(one.total_g, 6),
                "de00": round(one.de00, 4),
                "predicted_lab": lab_list(one.look.lab),
                "predicted_srgb": colour_code(one.look.srgb),
            }
            for one in found.additions
        ],
        "findings": findings_json(found.findings),
    }


def _lines(found: Repair) -> list[str]:
    rows = [["", "added g", "ΔE00", "add"]]
    for place, one in enumerate(found.additions):
        doses = " + ".join(f"{ink.name} {mass_g:g}" for ink, mass_g in one.parts) or "nothing"
        rows.append(["->" if place == found.advised else "", f"{one.total_g:g}", f"{one.de00:.2f}", doses])
    measured, target = found.measured, found.target
    head = f"{found.batch_g:g} g measured {lab_text(measured.lab)}, target {target.name} {lab_text(target.lab)}"
    return [head, *table(rows)]
