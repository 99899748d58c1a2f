"""`sepkit ink label`: the tinted near-white for an inner neck label."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from sepkit.cli.common import Number, Whole
from sepkit.cli.ink.common import (
    SCALE_G,
    emit,
    findings_json,
    garments,
    lab_list,
    output_options,
    say_findings,
    srgb_hex,
    table,
)
from sepkit.errors import OutOfReachError, UsageError

if TYPE_CHECKING:
    from sepkit.inks.label import LabelAdvice, LabelPoint
    from sepkit.model import Garment


COARSE = (0.0, 1.0, 5.0, 20.0, 100.0)
"""Tints in percent that the table always shows."""


@click.command()
@click.option(
    "--on",
    "garment_name",
    metavar="GARMENT",
    required=True,
    help="Garment (sepkit shelf garments), or its colour as #rrggbb.",
)
@click.option("--weight", "weight_g_m2", type=Number(60, 800), help="Cloth g/m² [default: the garment's].")
@click.option("--white", "white_name", default="white", show_default=True, help="The white ink.")
@click.option("--tint", "tint_name", default="black", show_default=True, help="The ink that tints it.")
@click.option("--coats", type=Number(0.25, 3), default=1.0, show_default=True, help="Coats.")
@click.option("--size", "size_text", default="60x30mm", show_default=True, help="Size of the label.")
@click.option("--count", type=Whole(1, 100_000), default=50, show_default=True, help="Labels to print.")
@click.option("--scale", "step_g", type=Number(), default=SCALE_G, show_default=True, help="Step of the scale in g.")
@click.option("--cloth-black", help="Colour of one bare panel on black, to calibrate the cloth.")
@click.option("--cloth-white", help="Colour of the same panel on white.")
@click.option("--out", type=click.Path(path_type=Path), help="Write the curve as PNG.")
@click.option("--force", is_flag=True, help="Overwrite the PNG.")
@output_options
def label(*, garment_name: str, out: Path | None, force: bool, as_json: bool, quiet: bool, **o: Any) -> None:
    """Find the tint that is legible inside the neck and not seen outside.

    "inside" is ΔE00 of the label to the cloth around it: it reads from 10 on. "outside" is how far the outside of the
    cloth changes, lying flat or worn on skin, the worse of both: hidden up to 1, plain from 2 on. "if cloth differs"
    is the same for cloth that scatters half or twice as assumed, or a fifth less or more than measured. --json has all.

    \b
    Examples:
      sepkit ink label --on "white tee"
      sepkit ink label --on "#f4f4f2" --weight 500 --count 120 --out label.png
    """
    from sepkit.files.ink_pictures import save_png
    from sepkit.files.shelf.inkfile import find_ink
    from sepkit.inks.doses import let_downs, round_doses, weighing_findings
    from sepkit.inks.label import label_advice, label_ink_g
    from sepkit.units import parse_size_mm

    garment = garments([garment_name])[0]
    if o["weight_g_m2"] is not None:
        garment = replace(garment, weight_g_m2=float(o["weight_g_m2"]))
    white, tint = find_ink(o["white_name"]), find_ink(o["tint_name"])
    strength = _strength(o["cloth_black"], o["cloth_white"], garment.weight_g_m2)
    advice = label_advice(garment, white, tint, coats=o["coats"], strength=strength)
    width, height = parse_size_mm(o["size_text"], what="--size")
    batch = float(round(label_ink_g(width * height * o["coats"], o["count"]), 0))
    shares = [1 - advice.best_percent / 100, advice.best_percent / 100]
    grams = [float(g) for g in round_doses(_array(shares), batch, o["step_g"])]
    used = [(ink, s, g) for ink, s, g in zip((white, tint), shares, grams, strict=True) if s > 0]
    findings = list(advice.findings)
    inks, part, dose = zip(*used, strict=True)
    findings += weighing_findings(inks, _array(part), _array(dose), o["step_g"])
    if out is not None:
        save_png(_plot(advice, garment, tint.name), out, force=force)
    pastes = let_downs(inks, _array(dose), o["step_g"])
    doses = " + ".join(f"{ink.name} {g:g} g" for ink, _, g in used)
    lines = [
        f"{tint.name} in {white.name} on {garment.name}, {garment.weight_g_m2:g} g/m²",
        *_table(advice),
        _range_text(advice, tint.name),
        f"start with {advice.best_percent:g} %: {doses} for {o['count']} labels of {width:g} x {height:g} mm",
        *(p.text for p in pastes),
        *([str(out)] if out else []),
    ]
    payload = {
        "schema": "sepkit.ink-label/1",
        "ok": advice.range_percent is not None,
        "garment": garment.name,
        "weight_g_m2": garment.weight_g_m2,
        "cloth_strength": strength,
        "white": white.name,
        "tint": tint.name,
        "points": [_point_json(p) for p in advice.points],
        "range_percent": advice.range_percent,
        "best_percent": advice.best_percent,
        "grams": {ink.name: g for ink, _, g in used},
        "findings": findings_json(findings),
        "file": None if out is None else str(out),
    }
    emit(payload, lines, as_json=as_json)
    say_findings(findings, quiet=quiet)
    if advice.range_percent is None:
        raise OutOfReachError(
            f"no share of {tint.name} in {white.name} is legible",
            where=garment.name,
            hint="take an ink that differs more from the cloth",
        )


def _strength(on_black: str | None, on_white: str | None, weight_g_m2: float) -> float | None:
    from sepkit.files.shelf.colours import parse_colour
    from sepkit.inks.layers import cloth_strength

    if (on_black is None) != (on_white is None):
        raise UsageError("one of two", where="--cloth-black, --cloth-white", hint="give both")
    if on_black is None or on_white is None:
        return None
    black = parse_colour(on_black, what="--cloth-black").target.reflectance
    white = parse_colour(on_white, what="--cloth-white").target.reflectance
    return cloth_strength(black, white, weight_g_m2)


def _array(values: Any) -> Any:
    import numpy as np

    return np.array(values)


def _table(advice: LabelAdvice) -> list[str]:
    """Return the tints that help to choose: a coarse row of all, every one around the recommended ones."""
    points = advice.points
    best = next(n for n, p in enumerate(points) if p.percent == advice.best_percent)
    low, high = advice.range_percent or (advice.best_percent, advice.best_percent)
    shown = [p for n, p in enumerate(points) if p.percent in COARSE or abs(n - best) <= 1 or p.percent in (low, high)]
    rows = [["", "tint", "inside", "outside", "if cloth differs", "label", ""]]
    rows += [
        [
            "->" if p.percent == advice.best_percent else "",
            f"{p.percent:g} %",
            f"{p.inside_de00:.1f}",
            f"{p.outside_de00:.1f}",
            f"{p.outside_low_de00:.1f} to {p.outside_high_de00:.1f}",
            srgb_hex(p.lab),
            _verdict(p),
        ]
        for p in shown
    ]
    return table(rows)


def _verdict(point: LabelPoint) -> str:
    from sepkit.inks.label import HIDDEN_DE00, LEGIBLE_DE00

    inside = "too faint to read" if point.inside_de00 < LEGIBLE_DE00 else "reads"
    if point.outside_de00 <= HIDDEN_DE00:
        return f"{inside}, hidden outside"
    return f"{inside}, {'just seen' if point.outside_de00 <= 2 * HIDDEN_DE00 else 'plain'} outside"


def _range_text(advice: LabelAdvice, tint: str) -> str:
    if advice.range_percent is None:
        return f"no share of {tint} is legible there"
    low, high = advice.range_percent
    point = next(p for p in advice.points if p.percent == advice.best_percent)
    how = "hidden" if point.outside_de00 < 1 else "at the limit" if point.outside_de00 <= 2 else "seen"
    return f"recommended: {low:g} to {high:g} % {tint}; outside {how} (ΔE00 {point.outside_de00:.1f})"


def _point_json(p: LabelPoint) -> dict[str, Any]:
    return {
        "percent": p.percent,
        "lab": lab_list(p.lab),
        "srgb": srgb_hex(p.lab),
        "inside_de00": round(p.inside_de00, 3),
        "lightness_step": round(p.lightness_step, 3),
        "flat_de00": round(p.flat_de00, 3),
        "worn_de00": round(p.worn_de00, 3),
        "outside_low_de00": round(p.outside_low_de00, 3),
        "outside_high_de00": round(p.outside_high_de00, 3),
    }


def _plot(advice: LabelAdvice, garment: Garment, tint: str) -> Any:
    """Return what is seen outside over the tint; where it cannot be read inside is grey, what is advised green."""
    from sepkit.files.ink_pictures import Curve, PlotWords, Zone, curve_plot
    from sepkit.inks.label import HIDDEN_DE00, LEGIBLE_DE00
    from sepkit.units import parse_hex

    faint = [p.percent for p in advice.points if p.inside_de00 < LEGIBLE_DE00]
    zones = [Zone(min(faint), max(faint), "too faint to read", (236, 236, 238))] if len(faint) > 1 else []
    if advice.range_percent is not None:
        zones.append(Zone(*advice.range_percent, "use this", (206, 232, 204)))
    return curve_plot(
        PlotWords(
            f"Neck label on {garment.name}, {garment.weight_g_m2:g} g/m²: what shows outside",
            across=f"% {tint} by weight, and the label's colour",
            up="ΔE00",
        ),
        [
            Curve("flat or worn, the worse", tuple((p.percent, p.outside_de00) for p in advice.points)),
            Curve(
                "if the cloth hides less than assumed",
                tuple((p.percent, p.outside_high_de00) for p in advice.points),
                dashed=True,
            ),
        ],
        levels=[(HIDDEN_DE00, "hidden below"), (2 * HIDDEN_DE00, "plain above")],
        zones=zones,
        chips=[(p.percent, parse_hex(srgb_hex(p.lab))) for p in advice.points],
        most_up=6.0,
    )
