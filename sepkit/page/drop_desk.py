"""The drop on the desk: what is typed of it, kept as plain values, and the job file that it comes to."""

from __future__ import annotations

from collections.abc import Collection, Mapping, Sequence
from pathlib import Path
from typing import Any

from sepkit.errors import SepkitError, UsageError
from sepkit.page import asked, drop_calls
from sepkit.workshop.drop.folder import read_job_folder
from sepkit.workshop.page.drop import DropSheet, Order, garments_of, job_values, place_names, sizes_of, write_job_file
from sepkit.workshop.page.keep import DeskRow

MOST_PRICE = 10_000.0
Kept = dict[str, Any]


def changed(kept: Mapping[str, Any], body: Mapping[str, Any], prints: Collection[str]) -> Kept:
    """Return what is kept with what is typed laid in. Raises UsageError."""
    out: Kept = {**kept, "orders": dict(kept.get("orders", {})), "places": dict(kept.get("places", {}))}
    if "title" in body:
        out["title"] = asked.text(body, "title")
    for row in asked.rows(body, "orders"):
        sizes = sizes_of(asked.text(row, "sizes", ""))
        price = asked.number(row, "price", 0.0, least=0, most=MOST_PRICE)
        name = asked.text(row, "garment")
        out["orders"][name] = {**out["orders"].get(name, {}), "sizes": sizes, "price": price}
    for row in asked.rows(body, "places"):
        number, place = asked.text(row, "print"), asked.text(row, "place")
        if number not in prints or place not in place_names():
            raise UsageError(f'"{place}" is no place of a print here', where="places", hint="choose one of the list")
        out["places"][number] = place
    return out


def sheet_of(kept: Mapping[str, Any]) -> DropSheet:
    """Return what is kept as a sheet. Raises UsageError for values that a person bent in the desk's file."""
    try:
        orders = {
            str(name): Order(
                {str(size): int(count) for size, count in one["sizes"].items()},
                float(one["price"]),
                dict(one.get("more", {})),
            )
            for name, one in kept.get("orders", {}).items()
        }
        return DropSheet(
            str(kept.get("title", "My drop")),
            orders,
            {str(key): str(value) for key, value in kept.get("places", {}).items()},
            dict(kept.get("base", {})),
            {str(key): dict(value) for key, value in kept.get("tables", {}).items()},
        )
    except (ValueError, TypeError, KeyError, AttributeError) as error:
        raise UsageError("what the desk holds of the drop is damaged", where="drop", hint="type it again") from error


def shown(folder: Path, rows: Sequence[DeskRow], kept: Mapping[str, Any]) -> dict[str, Any]:
    """Return what the page is told of the drop."""
    sheet = sheet_of(kept)
    try:
        tables = job_values(folder, rows, sheet)["print"]
        missing = ""
    except SepkitError as error:
        tables, missing = [], f"{error.text} {error.hint}"
    made = None
    old = read_job_folder(folder / str(kept["made"])) if kept.get("made") else None
    if old is not None:
        made = drop_calls.told(folder, old.folder.name, old.record)
    return {
        "title": sheet.title,
        "garments": [
            {
                "name": garment,
                "sizes": ", ".join(f"{size} {count}" for size, count in order.sizes.items()),
                "price": order.price or "",
            }
            for garment in garments_of(rows)
            for order in [sheet.orders.get(garment, Order())]
        ],
        "places": dict(sheet.places),
        "place_names": list(place_names()),
        "prints": [{"name": table["name"], "garments": table["garments"]} for table in tables],
        "missing": missing,
        "made": made,
    }


def written(folder: Path, rows: Sequence[DeskRow], kept: Mapping[str, Any]) -> Path:
    """Write the job file; return where. Raises UsageError or WriteError."""
    if not rows:
        raise UsageError("there is no print on the desk", where="drop", hint="lay art on the table first")
    return write_job_file(folder, rows, sheet_of(kept))
