"""`sepkit shop`: what the shop owns, asked once, shown, or taken from a file."""

from __future__ import annotations

import json
import sys
from pathlib import Path
from typing import TYPE_CHECKING

import click

from sepkit.errors import UsageError

if TYPE_CHECKING:
    from sepkit.files.shelf.shelf import Shelf
    from sepkit.files.shelf.shop import Shop


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
    there = shelf.shop()
    if source is not None:
        found = shelf.shop_of(read_text(source, what="a shop"), str(source))
    elif there is not None and not ask:
        _show(there, path, as_json=as_json)
        return
    elif not sys.stdin.isatty():
        raise UsageError("there is no shop yet", where=str(path), hint="give --from FILE, or run it on a terminal")
    else:
        found = _asked(shelf, there)
    with replace_file(path) as part:
        part.write_text(shop_text(found), encoding="utf-8")
    _show(found, path, as_json=as_json)


def _asked(shelf: Shelf, there: Shop | None) -> Shop:
    """Ask on the terminal; the frames that stand there stay, and are changed in the file."""
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
    return Shop(press, register, dpi, inks, there.frames if there else ())


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
            "inks": list(found.inks),
            "frames": frames,
        }
        click.echo(json.dumps({"schema": 1, "ok": True, "file": str(path), **record}, ensure_ascii=False))
        return
    click.echo(f"press     {found.press}, two prints fall apart by {found.register_error_mm:g} mm")
    click.echo(f"films     {found.film_dpi:g} dpi")
    click.echo(f"inks      {', '.join(found.inks) if found.inks else 'all of the shelf'}")
    for frame in found.frames:
        size = (
            f"{frame.inside_width_mm:g} x {frame.inside_height_mm:g} mm inside, mesh {frame.mesh}, {frame.count} owned"
        )
        click.echo(f"frame     {frame.name}: {size}")
    if not found.frames:
        click.echo("frames    none told: any mesh may be asked for; add [[frame]] tables to the file")
    click.echo(f"from {path}", err=True)
