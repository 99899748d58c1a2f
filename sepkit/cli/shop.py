"""`sepkit shop`: what the shop owns, asked once, shown, or taken from a file."""

from __future__ import annotations

import json
import re
import sys
from collections.abc import Mapping, Sequence
from dataclasses import asdict, replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

import click

from sepkit.errors import UsageError

if TYPE_CHECKING:
    from sepkit.files.shelf.shelf import Shelf
    from sepkit.files.shelf.shop import Shop
    from sepkit.jobs import Screen

_FRAME = re.compile(r"(\d+(?:\.\d+)?)\s*x\s*(\d+(?:\.\d+)?)\s+(\S+)(?:\s+x(\d+))?")


@click.command()
@click.option("--from", "source", type=click.Path(path_type=Path), help="Take the shop from this file.")
@click.option("--ask", is_flag=True, help="Ask again, with what stands there as defaults.")
@click.option("--json", "as_json", is_flag=True, help="Print one JSON object.")
def shop(source: Path | None, ask: bool, as_json: bool) -> None:
    """Show what the shop owns; the first time, ask for it. Then all commands propose only that.

    It stands in shop.toml of the folder that SEPKIT_RECIPES names, or of ./recipes. Every question has a default.

    \b
    Examples:
      sepkit shop
      sepkit shop --from my-shop.toml
      sepkit shop --ask
    """
    from sepkit.files.folders.write import replace_file
    from sepkit.files.shelf.shelf import Shelf
    from sepkit.files.shelf.shop import shop_path, shop_text
    from sepkit.files.toml.read import read_text

    shelf, path = Shelf(), shop_path()
    there = None if source is not None else shelf.shop()
    if source is not None:
        found = shelf.shop_of(read_text(source, what="a shop"), str(source))
    elif there is not None and not ask:
        _show(there, path, as_json=as_json)
        return
    elif not sys.stdin.isatty():
        raise UsageError("there is no shop yet", where=str(path), hint="give --from FILE, or run it on a terminal")
    else:
        found = shelf.shop_of(shop_text(_asked(shelf, there)), "the answers")
    with replace_file(path) as part:
        part.write_text(shop_text(found), encoding="utf-8")
    _show(found, path, as_json=as_json)


def _asked(shelf: Shelf, there: Shop | None) -> Shop:
    """Ask on the terminal; what is not asked stays as it stands there."""
    from sepkit.files.shelf.folders import plain_name
    from sepkit.files.shelf.shop import CAREFUL_HAND_MM, Shop

    press = click.prompt(
        "Press", default=there.press if there else "two-head", type=click.Choice(shelf.press_names()), err=True
    )
    register = click.prompt(
        "Two prints fall apart by at most, mm (the wedge print measures it)",
        default=there.register_error_mm if there else CAREFUL_HAND_MM,
        type=click.FloatRange(0, 10),
        err=True,
    )
    dpi = click.prompt(
        "Film printer, dpi", default=there.film_dpi if there else 720.0, type=click.FloatRange(150, 2880), err=True
    )
    words = click.prompt(
        "Inks owned, with commas (all of the shelf: leave it)",
        default=", ".join(there.inks) if there and there.inks else "all",
        err=True,
    )
    inks = (
        () if words.strip().lower() == "all" else tuple(plain_name(word) for word in words.split(",") if word.strip())
    )
    for ink in inks:
        shelf.ink(ink)
    scale = click.prompt(
        "Step of the scale, g", default=there.scale_step_g if there else 0.1, type=click.FloatRange(0.001, 10), err=True
    )
    flash = click.prompt(
        "Seconds of flash until touch-dry",
        default=there.flash_s if there else 10.0,
        type=click.FloatRange(2, 120),
        err=True,
    )
    frames = _frames(shelf, there)
    tables = dict(there.tables) if there else {}
    width = click.prompt(
        "Widest film, mm",
        default=float(tables.get("film", {}).get("sheet_width_mm", 329.0)),
        type=click.FloatRange(100, 2000),
        err=True,
    )
    tables["film"] = {**tables.get("film", {}), "sheet_width_mm": width}
    blades = click.prompt(
        "Blades, widths in mm with commas (none: leave it)",
        default=", ".join(f"{one['width_mm']:g}" for one in tables.get("blade", ())) or "none",
        err=True,
    )
    if blades.strip().lower() != "none":
        tables["blade"] = _blades(blades, tables.get("blade", ()))
    found = Shop(press, register, dpi, inks, frames, scale, flash, tables=tables)
    return found if there is None else replace(found, opacities=there.opacities, platens=there.platens)


def _frames(shelf: Shelf, there: Shop | None) -> tuple[Screen, ...]:
    """Ask for frames as ``400x500 43-80 x4``; those that stand there stay where nothing is typed."""
    from sepkit.jobs import Screen

    words = click.prompt(
        "Frames, inside width x height in mm, mesh, how many: 400x500 43-80 x4, ... (leave it: as they are)",
        default="as they are" if there and there.frames else "any",
        err=True,
    )
    if words in ("as they are", "any"):
        return there.frames if there else ()
    out = []
    for number, part in enumerate(words.split(","), 1):
        found = _FRAME.fullmatch(part.strip())
        if found is None:
            raise UsageError(f'"{part.strip()}" is no frame', where="frames", hint="write it as 400x500 43-80 x4")
        width, height, mesh, count = found.groups()
        out.append(Screen(f"frame {number}", float(width), float(height), shelf.mesh(mesh), int(count or 1)))
    return tuple(out)


def _blades(words: str, there: Sequence[Mapping[str, Any]]) -> list[dict[str, Any]]:
    known = {float(one["width_mm"]): dict(one) for one in there}
    out = []
    for word in words.split(","):
        try:
            width = float(word)
        except ValueError:
            raise UsageError(f'"{word.strip()}" is no width', where="blades", hint="as 200, 300") from None
        out.append(known.get(width, {"width_mm": width}))
    return out


def _show(found: Shop, path: Path, *, as_json: bool) -> None:
    if as_json:
        frames = [
            {
                "name": frame.name,
                "inside_width_mm": frame.inside_width_mm,
                "inside_height_mm": frame.inside_height_mm,
                "mesh": str(frame.mesh),
                "count": frame.count,
            }
            for frame in found.frames
        ]
        record = {
            "press": found.press,
            "register_error_mm": found.register_error_mm,
            "film_dpi": found.film_dpi,
            "scale_step_g": found.scale_step_g,
            "flash_s": found.flash_s,
            "inks": list(found.inks),
            "opacity": dict(found.opacities),
            "platens": [asdict(one) for one in found.platens],
            "frames": frames,
            **found.tables,
        }
        click.echo(json.dumps({"schema": 1, "ok": True, "file": str(path), **record}, ensure_ascii=False))
        return
    click.echo(f"press     {found.press}, two prints fall apart by {found.register_error_mm:g} mm")
    click.echo(f"films     {found.film_dpi:g} dpi")
    click.echo(f"scale     {found.scale_step_g:g} g; flash {found.flash_s:g} s until touch-dry")
    click.echo(f"inks      {', '.join(found.inks) if found.inks else 'all of the shelf'}")
    for name, opacity in found.opacities:
        click.echo(f"ink       {name}: {opacity}")
    for one in found.platens:
        click.echo(f"platen    {one.width_mm:g} x {one.height_mm:g} mm, {one.count} owned")
    for name, given in found.tables.items():
        for entry in given if isinstance(given, list) else [given]:
            click.echo(f"{name:<10}" + ", ".join(f"{key} {value}" for key, value in entry.items()))
    for frame in found.frames:
        size = (
            f"{frame.inside_width_mm:g} x {frame.inside_height_mm:g} mm inside, mesh {frame.mesh}, {frame.count} owned"
        )
        click.echo(f"frame     {frame.name}: {size}")
    if not found.frames:
        click.echo("frames    none told: any mesh may be asked for; add [[frame]] tables to the file")
    click.echo(f"from {path}", err=True)
