"""`sepkit ink correct`: repair a batch that measured off."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import click

from sepkit.cli.common import Number, Whole
from sepkit.cli.ink.common import (
    SCALE_G,
    chosen_inks,
    emit,
    findings_json,
    lab_list,
    lab_text,
    output_options,
    parse_parts,
    say_findings,
    srgb_hex,
    table,
)
from sepkit.errors import OutOfReachError, UsageError

if TYPE_CHECKING:
    from sepkit.inks.correct import Addition
    from sepkit.inks.match import Target
    from sepkit.model import Finding, Ink


@click.command()
@click.argument("batch", nargs=-1, required=True, metavar="RECIPE|INK:GRAMS...")
@click.option("--measured", required=True, help="Colour that the batch measured, as an opaque film.")
@click.option("--target", help="Colour that it should have [default: the kept recipe's target or prediction].")
@click.option("--grams", "batch_g", type=Number(), help="Grams of a kept RECIPE in the pot [default: its own].")
@click.option("--add", "add_list", help="Inks that may be added, as white,black [default: all that are not mixed].")
@click.option("--most", type=Whole(1, 3), default=3, show_default=True, help="Most inks to add.")
@click.option("--scale", "step_g", type=Number(), default=SCALE_G, show_default=True, help="Step of the scale in g.")
@click.option(
    "--tolerance",
    "tolerance_de00",
    type=Number(0.05, 20),
    default=1.0,
    show_default=True,
    help="ΔE00 that is good enough: the first addition below it is advised.",
)
@output_options
def correct(batch: tuple[str, ...], *, as_json: bool, quiet: bool, **o: Any) -> None:
    """Repair a batch by additions only: ΔE00 against grams added, least grams first, in doses the scale can weigh.

    \b
    Examples:
      sepkit ink correct white:380 yellow:90 red:30 --measured "lab(72 22 48)" --target "#e0a060"
      sepkit ink correct "warm cream" --grams 400 --measured "#f0dfb0"
    """
    import numpy as np

    from sepkit.colorimetry.difference import delta_e_2000
    from sepkit.files.shelf.colours import parse_colour
    from sepkit.inks.correct import after_adding, corrections
    from sepkit.inks.doses import check_batch

    parts, kept_target = _batch(batch, o["batch_g"])
    mass = sum(grams for _, grams in parts)
    check_batch(mass, o["step_g"])
    measured = parse_colour(o["measured"], what="--measured")
    target = parse_colour(o["target"], what="--target").target if o["target"] else kept_target
    if target is None:
        raise UsageError("what should it look like?", where="--target", hint='add --target "#e0a060"')
    allowed = chosen_inks(o["add_list"])
    found = corrections(parts, measured.target.lab, target.lab, allowed, most=o["most"])
    rounded = [_rounded(one, o["step_g"]) for one in found]
    labs = [
        after_adding(parts, measured.target.lab, list(zip(one.inks, grams, strict=True)))
        for one, grams in zip(found, rounded, strict=True)
    ]
    off = [float(delta_e_2000(lab, target.lab)) for lab in labs]
    good = next((i for i, left in enumerate(off) if left <= o["tolerance_de00"]), int(np.argmin(off)))
    findings = [*measured.findings, *_findings(found, good, mass, o["step_g"])]
    rows = [["", "added g", "ΔE00", "add"]]
    for index, (one, grams, left) in enumerate(zip(found, rounded, off, strict=True)):
        text = " + ".join(f"{ink.name} {g:g}" for ink, g in zip(one.inks, grams, strict=True)) or "nothing"
        rows.append(["->" if index == good else "", f"{sum(grams):g}", f"{left:.2f}", text])
    payload = {
        "schema": "sepkit.ink-correct/1",
        "ok": off[good] <= o["tolerance_de00"],
        "batch_g": mass,
        "target": {"name": target.name, "lab": lab_list(target.lab)},
        "measured_lab": lab_list(measured.target.lab),
        "advised": good,
        "additions": [
            {
                "inks": [ink.name for ink in one.inks],
                "grams": grams,
                "added_g": round(sum(grams), 6),
                "de00": round(left, 4),
                "predicted_lab": lab_list(lab),
                "predicted_srgb": srgb_hex(lab),
            }
            for one, grams, lab, left in zip(found, rounded, labs, off, strict=True)
        ],
        "findings": findings_json(findings),
    }
    head = f"{mass:g} g measured {lab_text(measured.target.lab)}, target {target.name} {lab_text(target.lab)}"
    emit(payload, [head, *table(rows)], as_json=as_json)
    say_findings(findings, quiet=quiet)
    if not payload["ok"]:
        raise OutOfReachError(
            f"additions come no nearer than ΔE00 {off[good]:.1f}",
            where=target.name,
            hint="allow more inks with --add, or mix a new batch",
        )


def _batch(texts: tuple[str, ...], grams: float | None) -> tuple[list[tuple[Ink, float]], Target | None]:
    """Return the parts in the pot, and the target of a kept recipe."""
    import numpy as np

    from sepkit.errors import NotFoundError, near_names
    from sepkit.files.shelf.colours import of_lab
    from sepkit.files.shelf.ink_recipe import find_recipe
    from sepkit.files.shelf.inkfile import find_ink, ink_names

    if len(texts) > 1 or ":" in texts[0]:
        if grams is not None:
            raise UsageError("the parts give the grams", where="--grams", hint="leave it out")
        return [(ink, g) for ink, g in parse_parts(texts) if g > 0], None
    recipe = find_recipe(texts[0])
    if recipe is None:
        kept = [name for name in ink_names() if find_recipe(name)]
        hint = near_names(texts[0], kept) if kept else "write its parts, as white:380 yellow:90"
        raise NotFoundError(f'no kept recipe "{texts[0]}"', where="ink shelf", hint=hint)
    total = sum(part.grams for part in recipe.parts)
    parts = [(find_ink(part.ink), part.grams * (grams or total) / total) for part in recipe.parts]
    lab = recipe.target_lab or recipe.predicted_lab
    target = of_lab(recipe.target or texts[0], np.array(lab), what=texts[0]).target if lab else None
    return parts, target


def _rounded(one: Addition, step_g: float) -> list[float]:
    return [round(max(round(float(g) / step_g), 1) * step_g, 6) for g in one.grams]


def _findings(found: list[Addition], good: int, mass: float, step_g: float) -> list[Finding]:
    from sepkit.inks.doses import STEPS_TO_WEIGH
    from sepkit.model import Finding

    out = []
    chosen = found[good]
    for ink, grams in zip(chosen.inks, chosen.grams, strict=True):
        if grams < STEPS_TO_WEIGH * step_g:
            text = f"{grams:.2g} g of {ink.name} is hard to weigh in {step_g:g} g steps"
            out.append(Finding("dose-coarse", "warn", text, "add it as a 10 % paste in the main ink"))
    if chosen.total_g > 0:
        text = f"add half of it, mix, measure again; the pot grows from {mass:g} to {mass + chosen.total_g:.0f} g"
        out.append(Finding("add-in-steps", "info", text, "then correct again from what it measures"))
    return out
