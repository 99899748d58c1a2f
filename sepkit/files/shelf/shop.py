"""shop.toml: what one shop owns, said once: press, platens, register, film, scale, flash, inks, frames, blades, prices.

Blades, film, heat press, prices and spoilage stand in the tables of a job file, which takes them from here.

    schema = "sepkit.shop/1"
    press = "two-head"              # a press of the shelf
    register_error_mm = 0.25        # as the wedge print measured it
    film_dpi = 720
    scale_step_g = 0.1
    flash_s = 12
    inks = ["white", "black", "red", "yellow"]

    [[ink]]
    name = "red"
    opacity = "medium"              # as your own pot covers: narrower than the shelf's guess

    [[platen]]
    width_mm = 360
    height_mm = 500
    count = 2

    [[blade]]
    width_mm = 300

    [money]
    hour = 18

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

import os
from collections.abc import Mapping, Sequence
from dataclasses import asdict, dataclass, field
from pathlib import Path
from typing import Any

from sepkit.files.jobfile.keys import KEYS as JOB_KEYS
from sepkit.files.shelf.folders import OWN_FOLDER_VARIABLE, plain_name
from sepkit.files.toml.keys import ChoiceKey, Key, choice_key, keys_of
from sepkit.files.toml.read import TomlFile, parse_toml, read_text
from sepkit.files.toml.table import Table, unique
from sepkit.files.toml.write import toml_text
from sepkit.inks.identify import OPACITIES, Opacity
from sepkit.jobs import Screen
from sepkit.model import Mesh

FILE_NAME = "shop.toml"
SCHEMA = "sepkit.shop/1"
CAREFUL_HAND_MM = 0.25
"""What careful hand presses hold where nobody measured it (common practice)."""
JOB_TABLES = ("blade", "film", "heat_press", "spoilage", "money")
"""Tables that a job takes from here where it has none of its own; their keys are the job file's."""
OPACITY = choice_key("ink", "opacity", "how one coat of your pot covers", OPACITIES, "good")
KEYS: tuple[Key, ...] = (
    Key("", "schema", "text", "layout of the file"),
    Key("", "press", "text", "your press, a name of sepkit shelf presses", default="two-head"),
    Key("", "register_error_mm", "length", "how far two prints fall apart", "mm", 0, 10, CAREFUL_HAND_MM),
    Key("", "film_dpi", "number", "resolution of the film printer", "dpi", 150, 2880, 720.0),
    Key("", "scale_step_g", "number", "step of the scale", "g", 0.001, 10, 0.1),
    Key("", "flash_s", "number", "seconds of flash until touch-dry", "s", 2, 120, 10.0),
    Key("ink", "name", "text", "an ink that you own, unique", must=True),
    OPACITY,
    Key("platen", "width_mm", "length", "width", "mm", 50, 1500, must=True),
    Key("platen", "height_mm", "length", "height", "mm", 50, 1500, must=True),
    Key("platen", "count", "whole", "how many you own", "", 1, 100, 1),
    Key("", "inks", "texts", "inks that you own, names of sepkit ink list; none: all of them"),
    Key("frame", "name", "text", "name of the frame, unique", must=True),
    Key("frame", "inside_width_mm", "length", "inside width", "mm", 100, 2000, must=True),
    Key("frame", "inside_height_mm", "length", "inside height", "mm", 100, 3000, must=True),
    Key("frame", "mesh", "text", "its mesh, as 43-80", must=True),
    Key("frame", "count", "whole", "how many you own", "", 1, 500, 1),
)


@dataclass(frozen=True, slots=True)
class Platen:
    """Platens of one size."""

    width_mm: float
    height_mm: float
    count: int = 1


@dataclass(frozen=True, slots=True)
class Shop:
    """What is owned."""

    press: str
    register_error_mm: float
    film_dpi: float
    inks: tuple[str, ...]
    """Names as they are looked up; none: all inks of the shelf."""
    frames: tuple[Screen, ...]
    scale_step_g: float = 0.1
    flash_s: float = 10.0
    opacities: tuple[tuple[str, Opacity], ...] = ()
    """(ink, how one coat of the pot that is owned covers)."""
    platens: tuple[Platen, ...] = ()
    tables: Mapping[str, Any] = field(default_factory=dict)
    """Tables of a job file, as written."""

    @property
    def measured(self) -> dict[str, float]:
        """What deciding takes from the shop, names with their units to numbers."""
        numbers = {"scale_step_g": self.scale_step_g, "flash_s": self.flash_s}
        width = self.tables.get("film", {}).get("sheet_width_mm")
        return numbers if width is None else {**numbers, "film_width_mm": float(width)}

    def as_job(self) -> dict[str, Any]:
        """Return what a job takes from here where it has none of its own, as a job file's values."""
        values: dict[str, Any] = {"scale_step_g": self.scale_step_g, **self.tables}
        values["film"] = {"dpi": self.film_dpi, **self.tables.get("film", {})}
        press: dict[str, Any] = {"name": self.press, "register_error_mm": self.register_error_mm}
        if self.platens:
            largest = max(self.platens, key=lambda one: one.width_mm * one.height_mm)
            press |= {"platen_width_mm": largest.width_mm, "platen_height_mm": largest.height_mm}
            press["platens"] = sum(one.count for one in self.platens)
        values["press"] = press
        if self.frames:
            values["screen"] = [_frame_values(frame) for frame in self.frames]
        return values

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
    top = file.top(keys_of(KEYS, ""), ("frame", "ink", "platen", *JOB_TABLES))
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
    own = file.tables("ink", keys_of(KEYS, "ink"))
    unique(own, "ink")
    for one in own:
        if plain_name(one.text("name")) not in inks:
            one.problem("name", f'"{one.text("name")}" is no ink of the shelf', "sepkit ink list shows them")
    shop = Shop(
        press,
        top.number("register_error_mm"),
        top.number("film_dpi"),
        owned,
        frames,
        top.number("scale_step_g"),
        top.number("flash_s"),
        tuple((plain_name(one.text("name")), one.choice(OPACITY)) for one in own),
        tuple(
            Platen(one.number("width_mm"), one.number("height_mm"), one.whole("count"))
            for one in file.tables("platen", keys_of(KEYS, "platen"))
        ),
        _job_tables(file),
    )
    file.check()
    return shop


def _job_tables(file: TomlFile) -> dict[str, Any]:
    """Return the tables of a job file that stand in the shop's, each value checked by the job's own keys."""
    there = [name for name in JOB_TABLES if name in file.values]
    for name in there:
        keys = keys_of(JOB_KEYS, name)
        for table in file.tables(name, keys) if name == "blade" else [file.table(name, keys)]:
            for key in keys.values():
                if key.name in table.given:
                    _read(table, key)
    return {name: file.values[name] for name in there}


def _read(table: Table, key: Key) -> None:
    """Read a value for the sake of what may be wrong with it."""
    if isinstance(key, ChoiceKey):
        table.choice(key)
    elif key.kind in ("number", "length"):
        table.number(key.name)
    elif key.kind == "whole":
        table.whole(key.name)
    elif key.kind == "shares":
        table.by_name(key.name)
    else:
        table.text(key.name)


def _frame_values(frame: Screen) -> dict[str, Any]:
    return {
        "name": frame.name,
        "inside_width_mm": frame.inside_width_mm,
        "inside_height_mm": frame.inside_height_mm,
        "mesh": str(frame.mesh),
        "count": frame.count,
    }


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
    rows = {
        "ink": [{"name": name, "opacity": opacity} for name, opacity in shop.opacities],
        "platen": [asdict(one) for one in shop.platens],
        "frame": [_frame_values(frame) for frame in shop.frames],
    }
    values: dict[str, Any] = {
        "schema": SCHEMA,
        "press": shop.press,
        "register_error_mm": shop.register_error_mm,
        "film_dpi": shop.film_dpi,
        "scale_step_g": shop.scale_step_g,
        "flash_s": shop.flash_s,
        "inks": list(shop.inks),
        **{name: entries for name, entries in rows.items() if entries},
        **shop.tables,
    }
    return "# What this shop owns. Commands propose only this.\n" + toml_text(_whole(values))


def _whole(value: Any) -> Any:
    """Return values with numbers that are whole written as such."""
    if isinstance(value, dict):
        return {key: _whole(one) for key, one in value.items()}
    if isinstance(value, (list, tuple)):
        return [_whole(one) for one in value]
    return int(value) if isinstance(value, float) and value.is_integer() else value
