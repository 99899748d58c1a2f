"""`sepkit ink match`: a target colour in, recipes in grams out."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from sepkit.cli.common import Number, Whole
from sepkit.cli.ink.common import (
    SCALE_G,
    chip,
    chosen_inks,
    emit,
    findings_json,
    garments,
    lab_list,
    lab_text,
    output_options,
    say_findings,
    say_kept,
    srgb_hex,
    table,
)
from sepkit.errors import OutOfReachError, UsageError

if TYPE_CHECKING:
    from sepkit.files.shelf.colours import Colour
    from sepkit.inks.match import Blend, InkSet, View
    from sepkit.model import Finding, Garment, Ink

LISTS = {".csv", ".cxf", ".xml", ".txt"}


@click.command()
@click.argument("target")
@click.option(
    "--on", "garment_name", metavar="GARMENT", help="Garment (sepkit shelf garments), or its colour as #rrggbb."
)
@click.option(
    "--inks",
    "ink_list",
    metavar="INKS",
    help="Shelf inks to use, as white,black,red [default: all that are not mixed].",
)
@click.option("--most", type=Whole(1, 4), default=3, show_default=True, help="Most inks in one recipe.")
@click.option("--batch", "batch_g", type=Number(), default=500.0, show_default=True, help="Grams to mix.")
@click.option("--scale", "step_g", type=Number(), default=SCALE_G, show_default=True, help="Step of the scale in g.")
@click.option("--as-printed", is_flag=True, help="Aim at the print on --on GARMENT instead of the opaque film.")
@click.option("--coats", type=Number(0.25, 6), default=1.0, show_default=True, help="Coats for --as-printed.")
@click.option("--base/--no-base", default=False, help="One coat of white below, for --as-printed.")
@click.option(
    "--tolerance",
    "tolerance_de00",
    type=Number(0.05, 20),
    default=2.0,
    show_default=True,
    help="ΔE00 up to which a target counts as reached.",
)
@click.option("--keep", type=Whole(1, 30), default=5, show_default=True, help="Recipes to show.")
@click.option(
    "--save",
    "save_name",
    metavar="NAME",
    help="Keep the best recipe as an ink of this name: in SEPKIT_RECIPES, else in ./recipes/inks.",
)
@click.option("--force", is_flag=True, help="Replace a kept recipe of that name.")
@output_options
def match(
    target: str, *, garment_name: str | None, save_name: str | None, as_json: bool, quiet: bool, **o: Any
) -> None:
    """Find recipes for TARGET.

    TARGET is #rrggbb, lab(L a b) or lab(L a b, D50/2), a Munsell notation, a W3C colour name, a picture's pixel as
    art.png@120,45, an entry of a colour list as list.csv@NAME, or a whole list.csv.

    \b
    Examples:
      sepkit ink match "#bf2f3a" --on "black tee" --batch 400
      sepkit ink match "lab(52 40 20, D50/2)" --inks white,red,orange,brown
      sepkit ink match indianred --on "black tee" --as-printed --base --save "stall red"
    """
    from sepkit.files.shelf.colours import parse_colour, read_colours
    from sepkit.inks.doses import check_batch
    from sepkit.inks.match import InkSet

    check_batch(o["batch_g"], o["step_g"])
    path = Path(target)
    whole_list = path.suffix.lower() in LISTS and "@" not in path.name
    colours = read_colours(path) if whole_list else [parse_colour(target)]
    if save_name is not None and len(colours) > 1:
        raise UsageError("a list gives many recipes", where="--save", hint="match one entry, as list.csv@NAME")
    garment = garments([garment_name])[0] if garment_name is not None else None
    inks = chosen_inks(o["ink_list"])
    shelf = InkSet(inks, most=o["most"], view=_view(garment, o))
    results = [_one(colour, shelf, garment, o) for colour in colours]
    file = _save(save_name, results[0], force=o["force"]) if save_name is not None else None
    payload: dict[str, Any] = {"schema": "sepkit.ink-match/1", "targets": [r["json"] for r in results]}
    payload["file"] = None if file is None else str(file)
    payload["ok"] = all(r["reached"] for r in results)
    lines = [line for r in results for line in r["lines"]]
    emit(payload, [*lines, *([str(file)] if file else [])], as_json=as_json)
    for result in results:
        say_findings(result["findings"], quiet=quiet)
    if save_name is not None and file is not None:
        say_kept(save_name, file, quiet=quiet)
    missed = [r for r in results if not r["reached"]]
    if missed:
        worst = max(missed, key=lambda r: r["best"].de00)
        name = worst["colour"].target.name
        raise OutOfReachError(
            f"these inks come no nearer than ΔE00 {worst['best'].de00:.1f}",
            where=name if len(missed) == 1 else f"{len(missed)} of {len(results)} targets, farthest {name}",
            hint="the nearest recipe is above; more inks may reach it" if not as_json else "add inks",
        )


def _view(garment: Garment | None, o: dict[str, Any]) -> View:
    from sepkit.files.shelf.inkfile import find_ink
    from sepkit.inks.layers import film
    from sepkit.inks.match import View

    if not o["as_printed"]:
        return View()
    if garment is None:
        raise UsageError(
            "a print needs its garment", where="--as-printed", hint='add --on "black tee" or --on "#1a1a1c"'
        )
    if not o["base"]:
        return View(cloth=garment.reflectance, coats=o["coats"])
    white = find_ink("white")
    base = film(white.absorption, white.scattering)
    return View(cloth=garment.reflectance, coats=o["coats"], base=base, base_coats=1.0)


def _one(colour: Colour, shelf: InkSet, garment: Garment | None, o: dict[str, Any]) -> dict[str, Any]:
    """Return one target's result as JSON, lines and findings."""
    from sepkit.inks.doses import let_downs, round_doses, weighing_findings
    from sepkit.inks.match import match as find

    target = colour.target
    blends = find(shelf, target, keep=o["keep"])
    best = blends[0]
    grams = [round_doses(b.mass_shares, o["batch_g"], o["step_g"]) for b in blends]
    rounded = [_rounded(b, g, shelf, target.lab) for b, g in zip(blends, grams, strict=True)]
    pastes = let_downs(best.inks, grams[0], o["step_g"])
    findings: list[Finding] = [*colour.findings, *weighing_findings(best.inks, best.mass_shares, grams[0], o["step_g"])]
    findings += _estimated(best.inks)
    prints = _prints(best.inks, grams[0], target.lab, garment) if garment else []
    aim = "as printed" if shelf.view.cloth is not None else "opaque film"
    lines = [f"{target.name}: {lab_text(target.lab)}, {aim}", ""]
    rows = [["", "ΔE00", "A, FL11", "rounded", "recipe in g"]]
    for index, (blend, dose, (_, off)) in enumerate(zip(blends, grams, rounded, strict=True), start=1):
        recipe = " + ".join(f"{ink.name} {g:g}" for ink, g in zip(blend.inks, dose, strict=True))
        rows.append([str(index), f"{blend.de00:.2f}", f"{blend.worst_light_de00:.2f}", f"{off:.2f}", recipe])
    lines += table(rows)
    lines += [p.text for p in pastes]
    lines += [f"{chip(p['rgb'])} {p['look']}: {p['text']}, ΔE00 {p['de00']:.1f}" for p in prints]
    return {
        "colour": colour,
        "best": best,
        "grams": grams[0],
        "lab": rounded[0][0],
        "reached": rounded[0][1] <= o["tolerance_de00"] or best.de00 <= o["tolerance_de00"],
        "findings": findings,
        "lines": [*lines, ""],
        "json": {
            "target": target.name,
            "lab": lab_list(target.lab),
            "aim": aim,
            "reached": best.de00 <= o["tolerance_de00"],
            "recipes": [
                _recipe_json(b, g, look, off) for b, g, (look, off) in zip(blends, grams, rounded, strict=True)
            ],
            "let_downs": [
                {f: getattr(p, f) for f in ("strong", "main", "strong_g", "main_g", "use_g")} for p in pastes
            ],
            "prints": [{k: v for k, v in p.items() if k != "rgb"} for p in prints],
            "findings": findings_json(findings),
        },
    }


def _rounded(blend: Blend, grams: Any, shelf: InkSet, lab: Any) -> tuple[Any, float]:
    """Return Lab and ΔE00 of the recipe as it will be weighed."""
    from sepkit.colorimetry.difference import delta_e_2000
    from sepkit.colorimetry.spectral import reflectance_to_lab
    from sepkit.inks.match import seen
    from sepkit.inks.mixing import mix

    ink = mix([(i, float(g)) for i, g in zip(blend.inks, grams, strict=True)])
    look = reflectance_to_lab(seen(ink.absorption, ink.scattering, shelf.view))
    return look, float(delta_e_2000(look, lab))


def _prints(inks: tuple[Ink, ...], grams: Any, lab: Any, garment: Garment) -> list[dict[str, Any]]:
    """Return the recipe's look on the garment by coats, with and without a white base."""
    from sepkit.colorimetry.difference import delta_e_2000
    from sepkit.colorimetry.spectral import reflectance_to_lab, reflectance_to_srgb8
    from sepkit.colorimetry.srgb import as_rgb8
    from sepkit.files.shelf.inkfile import find_ink
    from sepkit.inks.layers import printed_reflectance
    from sepkit.inks.mixing import mix

    ink = mix([(i, float(g)) for i, g in zip(inks, grams, strict=True)])
    white = find_ink("white")
    out = []
    for base in (0.0, 1.0):
        for coats in (1.0, 2.0):
            films = [(white, base), (ink, coats)] if base else [(ink, coats)]
            reflectance = printed_reflectance(films, garment.reflectance)
            look = reflectance_to_lab(reflectance)
            label = f"{garment.name}, {coats:g} coat{'s' if coats > 1 else ''}{' over one of white' if base else ''}"
            off = float(delta_e_2000(look, lab))
            rgb = as_rgb8(reflectance_to_srgb8(reflectance))
            out.append(
                {
                    "look": label,
                    "coats": coats,
                    "base": bool(base),
                    "lab": lab_list(look),
                    "srgb": srgb_hex(look),
                    "text": f"{srgb_hex(look)} {lab_text(look)}",
                    "de00": round(off, 3),
                    "rgb": rgb,
                }
            )
    return out


def _estimated(inks: tuple[Ink, ...]) -> list[Finding]:
    from sepkit.model import Finding

    names = [ink.name for ink in inks if ink.status == "estimated"]
    if not names:
        return []
    text = (
        f"{', '.join(names)} {'is' if len(names) == 1 else 'are'} estimated: expect 3 to 5 ΔE00, whatever is predicted"
    )
    return [Finding("ink-estimated", "info", text, 'print a test and repair it with "sepkit ink correct"')]


def _recipe_json(blend: Blend, grams: Any, look: Any, off: float) -> dict[str, Any]:
    return {
        "inks": [ink.name for ink in blend.inks],
        "percent": [round(100 * float(s), 4) for s in blend.mass_shares],
        "grams": [float(g) for g in grams],
        "de00": round(blend.de00, 4),
        "worst_light_de00": round(blend.worst_light_de00, 4),
        "rounded_de00": round(off, 4),
        "predicted_lab": lab_list(look),
        "predicted_srgb": srgb_hex(look),
    }


def _save(name: str, result: dict[str, Any], *, force: bool) -> Path:
    from sepkit.cli.ink.tint import keep_recipe

    parts = [(ink, float(g)) for ink, g in zip(result["best"].inks, result["grams"], strict=True)]
    target = result["colour"].target
    return keep_recipe(name, parts, target=target, force=force)
