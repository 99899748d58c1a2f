"""`sepkit ink match`: a target colour in, recipes in grams out."""

from __future__ import annotations

from typing import TYPE_CHECKING

import click

from sepkit.cli.common import Number, Whole
from sepkit.cli.ink.common import (
    coats_text,
    emit,
    lab_list,
    lab_text,
    output_options,
    parse_names,
    say_kept,
    scale_option,
)
from sepkit.cli.show import chip, colour_code, findings_json, say_shop, show_findings, table
from sepkit.errors import OutOfReachError
from sepkit.workshop.inks import open_shelf

if TYPE_CHECKING:
    from sepkit.workshop.inks.match import Matched, MatchedRecipe, MatchedTarget, PrintLook


@click.command()
@click.argument("target")
@click.option("--on", "garment", metavar="GARMENT", help="Garment (sepkit shelf garments), or its colour as #rrggbb.")
@click.option(
    "--inks",
    metavar="INKS",
    help="Shelf inks to use, as white,black,red [default: all that are not mixed].",
)
@click.option("--most", "most_inks", type=Whole(1, 4), default=3, show_default=True, help="Most inks in one recipe.")
@click.option("--batch", "batch_g", type=Number(), default=500.0, show_default=True, help="Grams to mix.")
@scale_option
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
@click.option("--keep", "recipes", type=Whole(1, 30), default=5, show_default=True, help="Recipes to show.")
@click.option(
    "--save",
    "save_as",
    metavar="NAME",
    help="Keep the best recipe as an ink of this name: in SEPKIT_RECIPES, else in ./recipes/inks.",
)
@click.option("--force", is_flag=True, help="Replace a kept recipe of that name.")
@output_options
def match(
    target: str,
    *,
    garment: str | None,
    inks: str | None,
    most_inks: int,
    batch_g: float,
    step_g: float,
    as_printed: bool,
    coats: float,
    base: bool,
    tolerance_de00: float,
    recipes: int,
    save_as: str | None,
    force: bool,
    as_json: bool,
    quiet: bool,
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
    from sepkit.workshop.inks.match import AsPrinted, MatchRequest, find_recipes

    request = MatchRequest(
        target,
        garment=garment,
        inks=parse_names(inks),
        most_inks=most_inks,
        batch_g=batch_g,
        step_g=step_g,
        as_printed=AsPrinted(coats, base) if as_printed else None,
        tolerance_de00=tolerance_de00,
        recipes=recipes,
    )
    say_shop(quiet=quiet or as_json or inks is not None)
    found = find_recipes(request, open_shelf(), save_as=save_as, force=force)
    emit(_payload(found), _lines(found), as_json=as_json)
    for one in found.targets:
        show_findings(one.findings, quiet=quiet)
    say_kept(found.kept, quiet=quiet)
    if found.missed:
        raise _out_of_reach(
            found, hint="add inks" if as_json else "the nearest recipe is above; more inks may reach it"
        )


def _out_of_reach(found: Matched, *, hint: str) -> OutOfReachError:
    farthest, count = found.missed[0], len(found.missed)
    name = farthest.target.name
    return OutOfReachError(
        f"these inks come no nearer than ΔE00 {farthest.best.blend.de00:.1f}",
        where=name if count == 1 else f"{count} of {len(found.targets)} targets, farthest {name}",
        hint=hint,
    )


def _payload(found: Matched) -> dict[str, object]:
    return {
        "schema": "sepkit.ink-match/1",
        "targets": [_target_json(one) for one in found.targets],
        "file": None if found.kept is None else str(found.kept.file),
        "ok": not found.missed,
    }


def _target_json(one: MatchedTarget) -> dict[str, object]:
    return {
        "target": one.target.name,
        "lab": lab_list(one.target.lab),
        "aim": _aim(one),
        "reached": one.reached_exactly,
        "recipes": [_recipe_json(recipe) for recipe in one.recipes],
        "let_downs": [
            {
                "strong": paste.strong,
                "main": paste.main,
                "strong_g": paste.strong_g,
                "main_g": paste.main_g,
                "use_g": paste.use_g,
            }
            for paste in one.let_downs
        ],
        "prints": [_print_json(look) for look in one.prints],
        "findings": findings_json(one.findings),
    }


def _recipe_json(recipe: MatchedRecipe) -> dict[str, object]:
    return {
        "inks": [dose.ink.name for dose in recipe.doses],
        "percent": [round(100 * dose.mass_share, 4) for dose in recipe.doses],
        "grams": [dose.mass_g for dose in recipe.doses],
        "de00": round(recipe.blend.de00, 4),
        "worst_light_de00": round(recipe.blend.worst_light_de00, 4),
        "rounded_de00": round(recipe.rounded_de00, 4),
        "predicted_lab": lab_list(recipe.look.lab),
        "predicted_srgb": colour_code(recipe.look.srgb),
    }


def _print_json(one: PrintLook) -> dict[str, object]:
    return {
        "look": _label(one),
        "coats": one.coats,
        "base": one.base,
        "lab": lab_list(one.look.lab),
        "srgb": colour_code(one.look.srgb),
        "text": _colour_text(one),
        "de00": one.de00,
    }


def _lines(found: Matched) -> list[str]:
    lines = [line for one in found.targets for line in _target_lines(one)]
    return [*lines, *([] if found.kept is None else [str(found.kept.file)])]


def _target_lines(one: MatchedTarget) -> list[str]:
    rows = [["", "ΔE00", "A, FL11", "rounded", "recipe in g"]]
    for place, recipe in enumerate(one.recipes, start=1):
        off = (recipe.blend.de00, recipe.blend.worst_light_de00, recipe.rounded_de00)
        doses = " + ".join(f"{dose.ink.name} {dose.mass_g:g}" for dose in recipe.doses)
        rows.append([str(place), *(f"{value:.2f}" for value in off), doses])
    return [
        f"{one.target.name}: {lab_text(one.target.lab)}, {_aim(one)}",
        "",
        *table(rows),
        *(paste.text for paste in one.let_downs),
        *(f"{chip(p.look.srgb)} {_label(p)}: {_colour_text(p)}, ΔE00 {p.de00:.1f}" for p in one.prints),
        "",
    ]


def _aim(one: MatchedTarget) -> str:
    return "as printed" if one.as_printed else "opaque film"


def _label(one: PrintLook) -> str:
    return f"{one.garment}, {coats_text(one.coats)}{' over one of white' if one.base else ''}"


def _colour_text(one: PrintLook) -> str:
    return f"{colour_code(one.look.srgb)} {lab_text(one.look.lab)}"
