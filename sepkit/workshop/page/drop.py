"""The drop of the page: prints of the desk, orders for each garment, and the job file that they come to.

In: rows of the desk, a DropSheet. Out: the job file's text, which ``sepkit job`` reads; nothing is planned here. A job
file that was opened gives what it says beside prints and garments; the file itself stays as the person wrote it.
"""

from __future__ import annotations

import hashlib
import json
import re
import tomllib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from sepkit.errors import UsageError
from sepkit.files.folders.write import replace_file
from sepkit.files.shelf.shelf import Shelf
from sepkit.files.toml.write import toml_text
from sepkit.places import PLACES, place_named, usual_place
from sepkit.workshop.drop.load import starter_job
from sepkit.workshop.page.keep import DeskRow, edits_path
from sepkit.workshop.print.options import DEFAULT_PRESS, PrintOptions

OURS = "# Written by sepkit page from what lies on the desk; changes made here are written over.\n"
FILE = "drop.toml"
MOST_PIECES = 100_000
_ORDER = re.compile(r"\s*([0-9]{0,2}[A-Za-z][A-Za-z0-9/ -]{0,11}?|[0-9]{1,3})\s*[:= ]\s*(\d{1,6})\s*")


@dataclass(frozen=True, slots=True)
class Order:
    """What is ordered of one garment."""

    sizes: Mapping[str, int] = field(default_factory=dict)
    price: float = 0.0
    more: Mapping[str, Any] = field(default_factory=dict)
    """What an opened job file says of the garment beside these: expected, curve, children, opening."""


@dataclass(frozen=True, slots=True)
class DropSheet:
    """What a drop says beside its prints."""

    title: str = "My drop"
    orders: Mapping[str, Order] = field(default_factory=dict)
    """By garment."""
    places: Mapping[str, str] = field(default_factory=dict)
    """By print: where it goes; the usual place where nothing is said."""
    base: Mapping[str, Any] = field(default_factory=dict)
    """What an opened job file says beside prints and garments."""
    tables: Mapping[str, Mapping[str, Any]] = field(default_factory=dict)
    """By print: its table in the job file that was opened."""


def sizes_of(text: str) -> dict[str, int]:
    """Return pieces by size of what a person types.

    >>> sizes_of("S 4, M: 10, 2XL=1")
    {'S': 4, 'M': 10, '2XL': 1}

    Raises UsageError.
    """
    out: dict[str, int] = {}
    for part in (piece for piece in re.split(r"[,;\n]", text) if piece.strip()):
        found = _ORDER.fullmatch(part)
        if not found or found[1] in out or int(found[2]) > MOST_PIECES:
            raise UsageError(f'"{part.strip()[:30]}" is no order', where="sizes", hint="write S 4, M 10, XL 2")
        if int(found[2]):
            out[found[1]] = int(found[2])
    return out


def place_names() -> tuple[str, ...]:
    """Return the names of the places of a print."""
    return tuple(PLACES)


def usual_place_name(width_mm: float, height_mm: float) -> str:
    """Return where a print of this size usually goes."""
    place = usual_place(width_mm, height_mm)
    return next(name for name, one in PLACES.items() if one == place)


def garments_of(rows: Sequence[DeskRow]) -> tuple[str, ...]:
    """Return the garments on the desk, each once."""
    return tuple(dict.fromkeys(row.options.garment for row in rows))


def job_values(folder: Path, rows: Sequence[DeskRow], sheet: DropSheet) -> dict[str, Any]:
    """Return the job file of a drop as values. Raises UsageError where an order is missing."""
    base = dict(sheet.base) or _usual()
    garments = []
    for garment in garments_of(rows):
        order = sheet.orders.get(garment, Order())
        if not order.sizes and not order.more.get("expected"):
            raise UsageError(f"how many of {garment} are ordered?", where="orders", hint="write S 4, M 10, XL 2")
        given = {"name": garment, "sizes": dict(order.sizes) or None, "price": order.price or None}
        more = {key: value for key, value in order.more.items() if key != "orders" or not order.sizes}
        garments.append({**given, **more})
    return {**base, "schema": 1, "title": sheet.title, "garment": garments, "print": _prints(folder, rows, sheet)}


def asked_of_art(options: PrintOptions) -> dict[str, Any]:
    """Return what a print's table says of its inks, screens and kind of art; None for what it leaves to us."""
    kind = None if options.kind == "auto" else options.kind
    return {"inks": options.inks, "screens": options.screens, "kind": kind}


def write_job_file(folder: Path, rows: Sequence[DeskRow], sheet: DropSheet) -> Path:
    """Write the job file of a drop into the working folder; a person's own file of that name is not touched.

    Raises UsageError or WriteError.
    """
    path = folder / FILE
    if path.is_file() and not path.read_text("utf-8", "replace").startswith(OURS):
        path = folder / "drop-page.toml"
    text = OURS + "\n" + toml_text(job_values(folder, rows, sheet))
    with replace_file(path, force=True) as part:
        part.write_text(text, encoding="utf-8")
    return path


def job_said(path: Path) -> dict[str, str]:
    """Return the name of a job file and what stands for all that it says, whatever its comments and spaces."""
    said = json.dumps(tomllib.loads(path.read_text("utf-8-sig")), sort_keys=True, default=str)
    return {"file": path.name, "says": hashlib.sha256(said.encode()).hexdigest()}


def _prints(folder: Path, rows: Sequence[DeskRow], sheet: DropSheet) -> list[dict[str, Any]]:
    """Return the [[print]] tables: prints that differ in their garment alone are one."""
    out: list[tuple[dict[str, Any], list[str]]] = []
    for row in rows:
        table = dict(sheet.tables.get(row.number) or _table(folder, row))
        for key in ("garments", "edits", "name"):
            table.pop(key, None)
        table["placement"] = _place(row, sheet, table)
        if row.history[row.at]:
            table["edits"] = edits_path(folder, row.number).relative_to(folder).as_posix()
            table["mark"] = repr(row.history[row.at])
        for known, garments in out:
            if {**known, "edits": ""} == {**table, "edits": ""} and row.options.garment not in garments:
                garments.append(row.options.garment)
                break
        else:
            out.append((table, [row.options.garment]))
    names: dict[str, int] = {}
    tables = []
    for table, garments in out:
        table.pop("mark", None)
        stem = Path(str(table["art"]).removeprefix("sample:")).stem
        names[stem] = names.get(stem, 0) + 1
        name = stem if names[stem] == 1 else f"{stem} {names[stem]}"
        tables.append({"name": name, **table, "garments": garments})
    return tables


def _table(folder: Path, row: DeskRow) -> dict[str, Any]:
    options = row.options
    if not options.art.resolve().is_relative_to(folder.resolve()):
        raise UsageError(
            f"{options.art.name} lies outside the working folder", where="art", hint="drop it on the page again"
        )
    return {
        "art": options.art.resolve().relative_to(folder.resolve()).as_posix(),
        "width_mm": options.width_mm,
        **asked_of_art(options),
        "background": None if options.background == "print" else options.background,
        "one_ink": options.one_ink or None,
    }


def _place(row: DeskRow, sheet: DropSheet, table: Mapping[str, Any]) -> str:
    wanted = sheet.places.get(row.number) or row.options.placement or table.get("placement") or "full front"
    place_named(str(wanted))
    return str(wanted)


def _usual() -> dict[str, Any]:
    """Return what a drop rests on where no job file was opened: the shop's frames and press, else the starter's."""
    values = {
        key: value
        for key, value in tomllib.loads(starter_job()).items()
        if key not in ("print", "garment", "money", "title", "schema")
    }
    values["press"] = {"name": DEFAULT_PRESS}
    shop = Shelf().shop()
    if shop is None:
        return values
    return {**values, **shop.as_job()}
