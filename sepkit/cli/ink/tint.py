"""`sepkit ink tint`: what a ratio of inks looks like, and the steps around it."""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from sepkit.cli.common import Number
from sepkit.cli.ink.common import (
    SCALE_G,
    chip,
    emit,
    findings_json,
    garments,
    lab_list,
    lab_text,
    output_options,
    parse_numbers,
    parse_parts,
    say_findings,
    say_kept,
    split_list,
    srgb_hex,
    table,
)
from sepkit.errors import UsageError

if TYPE_CHECKING:
    from sepkit.files.ink_pictures import Swatch
    from sepkit.inks.match import Target
    from sepkit.model import Garment, Ink

STEPS = (1.0, 2.0, 3.0, 4.0, 5.0, 6.0, 8.0, 10.0, 12.0, 15.0, 20.0)


@click.command()
@click.argument("parts", nargs=-1, required=True, metavar="INK:WEIGHT...")
@click.option("--against", help="Targets to compare with, comma-separated; as in sepkit ink match.")
@click.option(
    "--on",
    "garment_names",
    metavar="GARMENT",
    multiple=True,
    help="Garment from the shelf or #rrggbb; may be given again.",
)
@click.option("--coats", default="1,2", show_default=True, help="Coats to show on the garments.")
@click.option("--batch", "batch_g", type=Number(), help="Grams to mix: gives the doses.")
@click.option("--scale", "step_g", type=Number(), default=SCALE_G, show_default=True, help="Step of the scale in g.")
@click.option("--out", type=click.Path(path_type=Path), help="Write the strip of 1 to 20 % of the last ink as PNG.")
@click.option("--save", "save_name", metavar="NAME", help="Keep this recipe on your shelf under this name.")
@click.option("--lot", "lots", multiple=True, metavar="INK=LOT", help="Lot number to keep with the recipe.")
@click.option("--measured", help="Colour that the mixed batch measured, to keep with the recipe.")
@click.option("--force", is_flag=True, help="Replace files that exist.")
@output_options
def tint(parts: tuple[str, ...], *, as_json: bool, quiet: bool, **o: Any) -> None:
    """Predict a ratio by weight, such as white:95 black:5.

    Shows it as an opaque film and on each garment by coats, its distance to targets, and the steps of 1 to 20 % of the
    last ink named.

    \b
    Examples:
      sepkit ink tint white:95 black:5 --on "white tee"
      sepkit ink tint white:95 black:5 --against "#9a9a9c,silver" --out strip.png
      sepkit ink tint white:80 yellow:18 red:2 --batch 400 --save "warm cream"
    """
    import numpy as np

    from sepkit.files.shelf.colours import parse_colour
    from sepkit.inks.doses import round_doses, weighing_findings
    from sepkit.inks.mixing import mix

    recipe = parse_parts(parts)
    colours = [parse_colour(text, what="--against") for text in split_list(o["against"] or "")]
    targets = [colour.target for colour in colours]
    coats = parse_numbers(o["coats"], what="--coats", least=0.25, most=6)
    cloths = garments(o["garment_names"])
    ink = mix(recipe)
    looks = _looks(ink, cloths, coats, targets)
    steps = _steps(recipe, targets)
    total = sum(g for _, g in recipe)
    findings = [f for colour in colours for f in colour.findings]
    shares = [g / total for _, g in recipe]
    grams: list[float] = [g for _, g in recipe]
    if o["batch_g"] is not None:
        grams = [float(g) for g in round_doses(np.array(shares), o["batch_g"], o["step_g"])]
        findings += weighing_findings([i for i, _ in recipe], np.array(shares), np.array(grams), o["step_g"])
    file = o["out"]
    if file is not None:
        _write_strip(file, recipe, steps, targets, force=o["force"])
    kept = None
    if o["save_name"] is not None:
        measured = parse_colour(o["measured"], what="--measured").target if o["measured"] else None
        weighed = [(i, g) for (i, _), g in zip(recipe, grams, strict=True)]
        target = targets[0] if targets else None
        kept = keep_recipe(
            o["save_name"], weighed, target=target, measured=measured, lots=_lots(o["lots"], recipe), force=o["force"]
        )
    elif o["measured"] or o["lots"]:
        raise UsageError("nothing is kept", where="--measured, --lot", hint="add --save NAME")
    payload = {
        "schema": "sepkit.ink-tint/1",
        "parts": [
            {"ink": i.name, "percent": round(100 * s, 4), "grams": g}
            for (i, _), s, g in zip(recipe, shares, grams, strict=True)
        ],
        "density_g_ml": round(ink.density_g_ml, 4),
        "looks": looks,
        "steps": steps,
        "findings": findings_json(findings),
        "files": [str(path) for path in (file, kept) if path is not None],
    }
    lines = _lines(recipe, grams, looks, steps, targets, weighed_out=o["batch_g"] is not None)
    emit(payload, [*lines, *payload["files"]], as_json=as_json)  # type: ignore[misc]
    say_findings(findings, quiet=quiet)
    if kept is not None:
        say_kept(o["save_name"], kept, quiet=quiet)


def keep_recipe(
    name: str,
    parts: list[tuple[Ink, float]],
    *,
    target: Target | None = None,
    measured: Target | None = None,
    lots: dict[str, str] | None = None,
    force: bool = False,
) -> Path:
    """Write a recipe to the person's shelf and return its file. Raises WriteError when it exists."""
    from dataclasses import replace

    from sepkit.colorimetry.spectral import reflectance_to_lab
    from sepkit.files.folders.write import replace_file
    from sepkit.files.shelf.ink_recipe import Part, Recipe, recipe_toml
    from sepkit.files.shelf.inkfile import new_ink_path, today
    from sepkit.inks.layers import masstone
    from sepkit.inks.mixing import mix

    path = new_ink_path(name)
    if any(ink.name == name for ink, _ in parts):
        raise UsageError(f'"{name}" is one of its own parts', where="--save", hint="choose another name")
    mixed = mix(parts)
    source = "mixed: " + " + ".join(f"{ink.name} {grams:g}" for ink, grams in parts)
    ink = replace(mixed, name=" ".join(name.split()), source=source, date=today())
    predicted = reflectance_to_lab(masstone(ink))
    recipe = Recipe(
        parts=tuple(Part(ink.name, grams, (lots or {}).get(ink.name, "")) for ink, grams in parts),
        target=target.name if target else "",
        target_lab=_triple(target.lab) if target else None,
        predicted_lab=_triple(predicted),
        measured_lab=_triple(measured.lab) if measured else None,
    )
    with replace_file(path, force=force) as part:
        part.write_text(recipe_toml(ink, recipe), encoding="utf-8")
    return path


def _triple(lab: Any) -> tuple[float, float, float]:
    return float(lab[0]), float(lab[1]), float(lab[2])


def _lots(texts: tuple[str, ...], recipe: list[tuple[Ink, float]]) -> dict[str, str]:
    names = {ink.name for ink, _ in recipe}
    out = {}
    for text in texts:
        name, sign, lot = text.partition("=")
        if not sign or name.strip() not in names:
            raise UsageError(f'"{text}" names no part', where="--lot", hint=f"write {sorted(names)[0]}=LOT")
        out[name.strip()] = lot.strip()
    return out


def _looks(ink: Ink, cloths: list[Garment], coats: list[float], targets: list[Target]) -> list[dict[str, Any]]:
    from sepkit.colorimetry.spectral import reflectance_to_lab
    from sepkit.inks.layers import masstone, printed_reflectance

    films = [("opaque film", reflectance_to_lab(masstone(ink)))]
    for cloth in cloths:
        for amount in coats:
            label = f"{cloth.name}, {amount:g} coat{'s' if amount > 1 else ''}"
            films.append((label, reflectance_to_lab(printed_reflectance([(ink, amount)], cloth.reflectance))))
    return [
        {"what": label, "lab": lab_list(lab), "srgb": srgb_hex(lab), "de00": _against(lab, targets)}
        for label, lab in films
    ]


def _steps(recipe: list[tuple[Ink, float]], targets: list[Target]) -> list[dict[str, Any]]:
    """Return the opaque film for each share of the last ink, the others keeping their proportions."""
    from sepkit.colorimetry.spectral import reflectance_to_lab
    from sepkit.inks.layers import masstone
    from sepkit.inks.mixing import mix

    if len(recipe) < 2:
        return []
    others, (last, weight) = recipe[:-1], recipe[-1]
    rest = sum(g for _, g in others)
    if rest <= 0:
        return []
    own = 100 * weight / (weight + rest)
    out = []
    for percent in sorted({*STEPS, round(own, 3)}):
        ink = mix([*((i, g * (100 - percent) / rest) for i, g in others), (last, percent)])
        lab = reflectance_to_lab(masstone(ink))
        out.append(
            {
                "percent": percent,
                "asked": abs(percent - own) < 1e-3,
                "lab": lab_list(lab),
                "srgb": srgb_hex(lab),
                "de00": _against(lab, targets),
            }
        )
    return out


def _against(lab: Any, targets: list[Target]) -> dict[str, float]:
    from sepkit.colorimetry.difference import delta_e_2000

    return {target.name: round(float(delta_e_2000(lab, target.lab)), 3) for target in targets}


def _lines(
    recipe: list[tuple[Ink, float]],
    grams: list[float],
    looks: list[dict[str, Any]],
    steps: list[dict[str, Any]],
    targets: list[Target],
    *,
    weighed_out: bool,
) -> list[str]:
    from sepkit.units import parse_hex

    names = [target.name for target in targets]
    head = " + ".join(
        f"{ink.name} {g:g}{' g' if weighed_out else ''}" for (ink, _), g in zip(recipe, grams, strict=True)
    )
    rows = [["", "Lab D65/2", "sRGB", *(f"ΔE00 {name}" for name in names)]]
    rows += [[k["what"], lab_text(k["lab"]), k["srgb"], *(f"{k['de00'][n]:.2f}" for n in names)] for k in looks]
    blocks = ["    ", *(chip(parse_hex(k["srgb"])) for k in looks)]
    lines = [head, *(f"{block} {line}" for block, line in zip(blocks, table(rows), strict=True))]
    if steps:
        rows = [[f"% {recipe[-1][0].name}", "Lab D65/2", "sRGB", *(f"ΔE00 {name}" for name in names)]]
        rows += [
            [
                f"{s['percent']:g}" + (" <" if s["asked"] else ""),
                lab_text(s["lab"]),
                s["srgb"],
                *(f"{s['de00'][n]:.2f}" for n in names),
            ]
            for s in steps
        ]
        blocks = ["    ", *(chip(parse_hex(s["srgb"])) for s in steps)]
        lines += ["", *(f"{block} {line}" for block, line in zip(blocks, table(rows), strict=True))]
    return lines


def _write_strip(
    path: Path, recipe: list[tuple[Ink, float]], steps: list[dict[str, Any]], targets: list[Target], *, force: bool
) -> None:
    from sepkit.files.ink_pictures import Swatch, save_png, swatch_rows
    from sepkit.units import parse_hex

    if not steps:
        raise UsageError("a strip needs two inks", where="--out", hint="such as white:95 black:5")
    first = targets[0].name if targets else None

    def swatch(step: dict[str, Any]) -> Swatch:
        note = f"ΔE00 {step['de00'][first]:.1f}" if first else step["srgb"]
        mark = " (asked)" if step["asked"] else ""
        return Swatch(parse_hex(step["srgb"]), f"{step['percent']:g} %{mark}", note)

    swatches = [swatch(step) for step in steps]
    heading = f"{recipe[-1][0].name} in {' + '.join(ink.name for ink, _ in recipe[:-1])}, % by weight"
    rows = [(heading if i == 0 else "", swatches[i : i + 6]) for i in range(0, len(swatches), 6)]
    if targets:
        rows.append(("targets", [Swatch(parse_hex(srgb_hex(t.lab)), t.name, srgb_hex(t.lab)) for t in targets]))
    save_png(swatch_rows("tint strip, opaque film", rows), path, force=force)
