"""shop.toml: what one shop owns, said once: press, register, film printer, inks, frames.

    schema = "sepkit.shop/1"
    press = "two-head"              # a press of the shelf
    register_error_mm = 0.25        # as the wedge print measured it
    film_dpi = 720
    inks = ["white", "black", "red", "yellow"]

    [[frame]]
    name = "big"
    inside_width_mm = 457
    inside_height_mm = 559
    mesh = "43-80"
    count = 4

In: a file, or text. Out: a Shop, or one line for each thing that is wrong. It lies in the folder that SEPKIT_RECIPES
names, or in ./recipes. Without it commands propose from the whole shelf.
"""

from __future__ import annotations

import json
import os
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from sepkit.files.shelf.folders import OWN_FOLDER_VARIABLE, plain_name
from sepkit.files.toml.keys import Key, keys_of
from sepkit.files.toml.read import TomlFile, parse_toml, read_text
from sepkit.files.toml.table import Table, unique
from sepkit.jobs import Screen
from sepkit.model import Mesh

FILE_NAME = "shop.toml"
SCHEMA = "sepkit.shop/1"
CAREFUL_HAND_MM = 0.25
"""What careful hand presses hold where nobody measured it (common practice)."""
KEYS: tuple[Key, ...] = (
    Key("", "schema", "text", "layout of the file"),
    Key("", "press", "text", "your press, a name of sepkit shelf presses", default="two-head"),
    Key("", "register_error_mm", "length", "how far two prints fall apart", "mm", 0, 10, CAREFUL_HAND_MM),
    Key("", "film_dpi", "number", "resolution of the film printer", "dpi", 150, 2880, 720.0),
    Key("", "inks", "texts", "inks that you own, names of sepkit ink list; none: all of them"),
    Key("frame", "name", "text", "name of the frame, unique", must=True),
    Key("frame", "inside_width_mm", "length", "inside width", "mm", 100, 2000, must=True),
    Key("frame", "inside_height_mm", "length", "inside height", "mm", 100, 3000, must=True),
    Key("frame", "mesh", "text", "its mesh, as 43-80", must=True),
    Key("frame", "count", "whole", "how many you own", "", 1, 500, 1),
)


@dataclass(frozen=True, slots=True)
class Shop:
    """What is owned."""

    press: str
    register_error_mm: float
    film_dpi: float
    inks: tuple[str, ...]
    """Names as they are looked up; none: all inks of the shelf."""
    frames: tuple[Screen, ...]

    def owns(self, ink: str) -> bool:
        """Return whether an ink of the shelf is owned."""
        return not self.inks or plain_name(ink) in self.inks


def shop_path() -> Path:
    """Return where the shop's file lies or is to be written."""
    own = os.environ.get(OWN_FOLDER_VARIABLE, "").strip()
    return (Path(own).expanduser() if own else Path.cwd() / "recipes") / FILE_NAME


def own_shop(meshes: Sequence[Mesh], presses: Sequence[str], inks: Sequence[str]) -> Shop | None:
    """Return the shop of this folder; None where there is no file. Raises DataFileError."""
    path = shop_path()
    return shop_of(read_text(path, what="a shop"), str(path), meshes, presses, inks) if path.is_file() else None


def shop_of(text: str, where: str, meshes: Sequence[Mesh], presses: Sequence[str], inks: Sequence[str]) -> Shop:
    """Return the shop of a file's text. Raises DataFileError with all that is wrong with it."""
    file: TomlFile = parse_toml(text, where=where, what="a shop")
    file.of_schema(SCHEMA)
    top = file.top(keys_of(KEYS, ""), ("frame",))
    press = top.text("press") or "two-head"
    if press.lower() not in {name.lower() for name in presses}:
        top.problem("press", f'"{press}" is no press of the shelf', f"there are {', '.join(presses)}")
    owned = tuple(plain_name(name) for name in top.texts("inks"))
    for name in owned:
        if name not in inks:
            top.problem("inks", f'"{name}" is no ink of the shelf', "sepkit ink list shows them")
    tables = file.tables("frame", keys_of(KEYS, "frame"))
    unique(tables, "frame")
    frames = tuple(_frame(table, meshes) for table in tables)
    shop = Shop(press, top.number("register_error_mm"), top.number("film_dpi"), owned, frames)
    file.check()
    return shop


def _frame(table: Table, meshes: Sequence[Mesh]) -> Screen:
    word = table.text("mesh")
    mesh = next((one for one in meshes if str(one) == word), None)
    if mesh is None:
        table.problem("mesh", f'"{word}" is no mesh of the shelf', "write it as 43-80: sepkit shelf meshes")
    return Screen(
        table.text("name"),
        table.number("inside_width_mm"),
        table.number("inside_height_mm"),
        mesh or Mesh(62, 60),
        table.whole("count"),
    )


def shop_text(shop: Shop) -> str:
    """Return the file of a shop."""
    inks = ", ".join(json.dumps(name, ensure_ascii=False) for name in shop.inks)
    lines = [
        "# What this shop owns. Commands propose only this.",
        f'schema = "{SCHEMA}"',
        f'press = "{shop.press}"',
        f"register_error_mm = {shop.register_error_mm:g}",
        f"film_dpi = {shop.film_dpi:g}",
        f"inks = [{inks}]",
    ]
    for frame in shop.frames:
        lines += [
            "",
            "[[frame]]",
            f"name = {json.dumps(frame.name, ensure_ascii=False)}",
            f"inside_width_mm = {frame.inside_width_mm:g}",
            f"inside_height_mm = {frame.inside_height_mm:g}",
            f'mesh = "{frame.mesh}"',
            f"count = {frame.count}",
        ]
    return "\n".join(lines) + "\n"
