"""sepkit shelf: the garments, meshes and presses that other commands know by name."""

from __future__ import annotations

import json
from typing import TYPE_CHECKING, Any

import click

from sepkit.cli.show import chip, table

if TYPE_CHECKING:
    from sepkit.files.shelf.shelf import Shelf

MEASURED_WORDS = {
    "edge_growth_um": "edge growth",
    "ink_factor": "ink a print",
    "thinnest_line_mm": "thinnest line",
    "thinnest_gap_mm": "narrowest gap",
    "smallest_type_pt": "smallest type",
}
KINDS = ("garments", "meshes", "presses")


@click.command()
@click.argument("what", type=click.Choice(KINDS), required=False)
@click.option("--json", "as_json", is_flag=True, help="Print one JSON object.")
def shelf(what: str | None, as_json: bool) -> None:
    """List the garments, meshes and presses of the shelf, all of them or only WHAT. Inks: sepkit ink list.

    Names go into --on, --mesh and --press. Your own stand in garments.toml, meshes.toml and presses.toml of the folder
    that SEPKIT_RECIPES names; an entry of the same name there comes before ours.

    \b
    Examples:
      sepkit shelf
      sepkit shelf garments
      sepkit shelf presses --json
    """
    from sepkit.files.shelf.folders import recipe_folders
    from sepkit.files.shelf.shelf import Shelf

    makers = {"garments": _garments, "meshes": _meshes, "presses": _presses}
    kinds = KINDS if what is None else (what,)
    own = Shelf()
    found = {kind: makers[kind](own) for kind in kinds}
    if as_json:
        records = {kind: records for kind, (records, _) in found.items()}
        folders = [str(folder) for folder in recipe_folders()]
        click.echo(json.dumps({"schema": 1, "ok": True, "folders": folders, **records}, ensure_ascii=False))
        return
    for number, (kind, (_, lines)) in enumerate(found.items()):
        if len(kinds) > 1:
            click.echo(("\n" if number else "") + kind)
        for line in lines:
            click.echo(line)
    for folder in recipe_folders():
        click.echo(f"from {folder}", err=True)


def _garments(shelf: Shelf) -> tuple[list[dict[str, Any]], list[str]]:
    from sepkit.units import to_hex

    garments = [shelf.garment(name) for name in shelf.garment_names()]
    records = [
        {
            "name": g.name,
            "shape": g.shape,
            "srgb": to_hex(g.srgb),
            "weight_g_m2": g.weight_g_m2,
            "cotton": g.cotton_share,
            "polyester": g.polyester_share,
            "status": g.status,
            "half_chest_mm": g.half_chest_mm,
            "body_length_mm": g.body_length_mm,
        }
        for g in garments
    ]
    rows = [["name", "colour", "cloth", "g/m²", "sizes", "colour is"]]
    rows += [
        [
            g.name,
            to_hex(g.srgb),
            _fibres(g.cotton_share, g.polyester_share),
            f"{g.weight_g_m2:g}",
            _span(g.half_chest_mm),
            g.status,
        ]
        for g in garments
    ]
    chips = [" " * 4, *(chip(g.srgb) for g in garments)]
    return records, [f"  {block} {line}" for block, line in zip(chips, table(rows), strict=True)]


def _meshes(shelf: Shelf) -> tuple[list[dict[str, Any]], list[str]]:
    from sepkit.press.advice import usable_mm
    from sepkit.units import threads_per_cm_to_tpi

    rows, records = [["name", "per inch", "opening", "line", "gap", "use"]], []
    for mesh, usual, use in shelf.mesh_uses():
        name, tpi = str(mesh), threads_per_cm_to_tpi(mesh.threads_per_cm)
        line_mm, gap_mm = usable_mm(mesh)
        opening_um = 10000.0 / mesh.threads_per_cm - mesh.thread_um
        rows.append([name, f"{tpi:.0f} tpi", f"{opening_um:.0f} µm", f"{line_mm:.2f} mm", f"{gap_mm:.2f} mm", use])
        records.append(
            {
                "name": name,
                "threads_per_cm": mesh.threads_per_cm,
                "thread_um": mesh.thread_um,
                "tpi": round(tpi),
                "opening_um": round(opening_um, 1),
                "thinnest_line_mm": round(line_mm, 3),
                "thinnest_gap_mm": round(gap_mm, 3),
                "usual_thread": usual,
                "use": use,
            }
        )
    return records, [f"  {line}" for line in table(rows)]


def _presses(shelf: Shelf) -> tuple[list[dict[str, Any]], list[str]]:
    rows, records = [["name", "heads", "platens", "platen", "register error", "measured"]], []
    for press in (shelf.press(name) for name in shelf.press_names()):
        measured = {key: value for key, value in shelf.measured(press.name).items() if key != "register_error_mm"}
        known = ", ".join(words for key, words in MEASURED_WORDS.items() if key in measured)
        platen = f"{press.platen_width_mm:g} x {press.platen_height_mm:g} mm"
        rows.append(
            [
                press.name,
                f"{press.heads}",
                f"{press.platens}",
                platen,
                f"{press.register_error_mm:g} mm",
                known or "nothing yet: sepkit wedge",
            ]
        )
        records.append(
            {
                "name": press.name,
                "heads": press.heads,
                "platens": press.platens,
                "platen_mm": [press.platen_width_mm, press.platen_height_mm],
                "register_error_mm": press.register_error_mm,
                "measured": measured,
            }
        )
    return records, [f"  {line}" for line in table(rows)]


def _fibres(cotton: float, polyester: float) -> str:
    parts = [f"{100 * share:.0f} % {name}" for share, name in ((cotton, "cotton"), (polyester, "polyester")) if share]
    return ", ".join(parts) or "other fibre"


def _span(sizes: dict[str, float]) -> str:
    names = list(sizes)
    return "" if not names else names[0] if len(names) == 1 else f"{names[0]} to {names[-1]}"
