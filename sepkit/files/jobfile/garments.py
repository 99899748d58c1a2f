"""The garments of a job file: what is ordered in which size, or expected while orders come in.

In: the job's [[garment]] tables, and CSV files of orders. Out: jobs.GarmentLine; problems are noted on the tables.
"""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import TYPE_CHECKING

from sepkit.errors import DataFileError, near_names
from sepkit.files.jobfile.keys import OPENING
from sepkit.files.jobfile.orders import read_orders
from sepkit.files.jobfile.source import looked_up
from sepkit.files.toml.table import unique
from sepkit.jobs import GarmentLine

if TYPE_CHECKING:
    from sepkit.files.jobfile.source import JobSource
    from sepkit.files.toml.table import Table


def read_garments(source: JobSource) -> tuple[GarmentLine, ...]:
    """Return the garments of the job, sizes in the order of the size chart."""
    tables = source.tables("garment", least=1)
    unique(tables, "garment")
    return tuple(_line(table, source) for table in tables)


def _line(table: Table, source: JobSource) -> GarmentLine:
    name = table.text("name")
    found = looked_up(table, "name", source.shelf.garment, name) if name else None
    sizes = _sizes(table, source, found.half_chest_mm if found else {})
    expected, curve = table.whole("expected"), table.text("curve")
    if curve not in source.names.curves:
        table.problem("curve", f'no size curve "{curve}"', near_names(curve, source.names.curves))
    _check_counts(table, sizes, expected)
    return GarmentLine(
        garment=found.name if found else name,
        sizes=sizes,
        expected=expected,
        curve=curve,
        children=table.yes("children"),
        opening=table.choice(OPENING),
        price=table.number("price"),
    )


def _check_counts(table: Table, sizes: Mapping[str, int], expected: int) -> None:
    """Note where nothing is ordered, or sizes, ``expected`` and ``total`` do not go together."""
    ordered, total = sum(sizes.values()), table.whole("total")
    wrong = table.has_problem("sizes", "orders")
    if not ordered and not expected and not wrong and not table.has_problem("expected"):
        table.problem("sizes", "nothing is ordered", "give sizes, orders (a CSV) or expected")
    if expected and ordered > expected:
        said = f"is {expected}, and {ordered} are ordered already"
        table.problem("expected", said, "leave it out, or expect more")
    if total and ordered and not wrong and total != ordered:
        table.problem("total", f"is {total}, the sizes add up to {ordered}", "mend one of them")


def _sizes(table: Table, source: JobSource, known: Mapping[str, float]) -> dict[str, int]:
    """Return size to pieces, the smallest of the ``known`` sizes first."""
    sizes = table.sizes("sizes")
    orders = table.path("orders", source.folder)
    if orders is not None:
        if sizes:
            table.problem("orders", "and sizes are both given", "keep one of them")
        sizes = _ordered(table, orders)
    for size in sizes:
        if known and size not in known:
            key = "orders" if orders else "sizes"
            table.problem(key, f'size "{size}" is not in the size chart', near_names(size, known))
    rank = {size: nth for nth, size in enumerate(known)}
    return {s: n for s, n in sorted(sizes.items(), key=lambda item: rank.get(item[0], 99)) if n > 0}


def _ordered(table: Table, orders: Path) -> dict[str, int]:
    """Return size to pieces of a CSV; what is wrong with it is a problem of the job."""
    try:
        return read_orders(orders)
    except DataFileError as error:
        for problem in error.problems:
            place = f"{orders.name}, line {problem.line}" if problem.line else orders.name
            table.problem("orders", f"{place}: {problem.text}", problem.hint)
        return {}
