"""The prints of a job file: art, place, size, garments and inks of each.

In: the job's [[print]] tables and its garments. Out: jobs.Print; problems are noted on the tables.
Art lies in the job's folder or below it; ``sample:NAME`` is the sample art of sepkit.
"""

from __future__ import annotations

import os
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from sepkit.errors import DataFileError, near_names
from sepkit.files.edits import read_edits
from sepkit.files.jobfile.keys import WAY
from sepkit.files.jobfile.print_keys import (
    BACKGROUND,
    BY,
    DOTS,
    EDGES,
    KIND,
    PRINTS_FROM,
    SHADING,
    SHAPE,
    SOFT,
    WHITE,
)
from sepkit.files.jobfile.source import looked_up
from sepkit.files.shelf.folders import sample_art_folder
from sepkit.files.toml.table import unique
from sepkit.jobs import GarmentLine, Print
from sepkit.places import OTHER_NAMES
from sepkit.units import parse_hex

if TYPE_CHECKING:
    from sepkit.files.jobfile.source import JobSource
    from sepkit.files.toml.table import Table

SAMPLE = "sample:"


def read_prints(source: JobSource, garments: Sequence[GarmentLine]) -> tuple[Print, ...]:
    """Return the prints of the job."""
    tables = source.tables("print", least=1)
    unique(tables, "print")
    return tuple(_print(table, source, garments) for table in tables)


def _print(table: Table, source: JobSource, garments: Sequence[GarmentLine]) -> Print:
    names = [line.garment for line in garments]
    width, height = _width_and_height(table)
    chosen = table.names("garments", names, "a garment of this job") or tuple(names)
    mesh = table.text("mesh")
    if mesh:
        looked_up(table, "mesh", source.shelf.mesh, mesh)
    return Print(
        name=table.text("name"),
        art=_art(table, source),
        placement=_placement(table, source),
        width_mm=width or None,
        height_mm=height or None,
        garments=chosen,
        inks=table.text("inks"),
        by=table.choice(BY),
        base=table.texts("base"),
        mesh=mesh or None,
        soft=table.choice(SOFT),
        edges=table.choice(EDGES),
        dots=table.choice(DOTS),
        edits=_edits(table, source),
        ladder=table.yes("ladder"),
        explain=table.yes("explain"),
        check_discs=table.yes("check_discs"),
        lpi=table.number("lpi") or None,
        background=table.choice(BACKGROUND),
        may_turn_90=table.yes("may_turn_90"),
        one_ink=_ink(table, source, "one_ink", table.text("one_ink")),
        one_ink_on=_inks_on(table, source, names),
        one_ink_from=table.choice(PRINTS_FROM),
        kind=table.choice(KIND),
        shading=table.choice(SHADING),
        way=table.choice(WAY),
        trap_mm=_told(table, "trap_mm"),
        choke_mm=_told(table, "choke_mm"),
        overprint_mm=table.number("overprint_mm"),
        overprint_colours=table.yes("overprint_colours"),
        tolerance_de00=table.number("tolerance_de00"),
        white_screens=table.choice(WHITE),
        highlight=table.yes("highlight"),
        light_base=table.yes("light_base"),
        angle_deg=_told(table, "angle_deg"),
        shape=table.choice(SHAPE),
        screens=table.whole("screens") or None,
        sizes=_sizes(table, [line for line in garments if line.garment in chosen]),
    )


def _edits(table: Table, source: JobSource) -> Path | None:
    """Return the path of an edits file; what is wrong with it is a problem of the job."""
    path = table.path("edits", source.folder)
    if path is not None:
        try:
            read_edits(path, source.shelf)
        except DataFileError as error:
            for problem in error.problems:
                place = f"{path.name}, line {problem.line}" if problem.line else path.name
                table.problem("edits", f"{place}: {problem.text}", problem.hint)
    return path


def _told(table: Table, key: str) -> float | None:
    """Return a number, None where the file does not give it: 0 is a wish of its own."""
    return table.number(key) if key in table.given else None


def _placement(table: Table, source: JobSource) -> str:
    placement = table.text("placement").lower()
    placement = OTHER_NAMES.get(placement, placement)
    if placement and placement not in source.names.placements:
        hint = near_names(placement, source.names.placements)
        table.problem("placement", f'no placement "{placement}"', hint)
    return placement


def _width_and_height(table: Table) -> tuple[float, float]:
    """Return width and height in mm, one of them 0: it follows from the art."""
    width, height = table.number("width_mm"), table.number("height_mm")
    if bool(width) == bool(height) and not table.has_problem("width_mm", "height_mm"):
        both = "width_mm and height_mm are both given" if width else "has no size"
        table.problem("width_mm", both, "give width_mm or height_mm; the other follows from the art")
    return width, height


def _sizes(table: Table, wearers: Sequence[GarmentLine]) -> tuple[str, ...]:
    sizes = table.texts("sizes")
    ordered = {size for line in wearers for size in line.sizes}
    for size in sizes:
        if ordered and size not in ordered:
            table.problem("sizes", f'nothing is ordered in size "{size}"', near_names(size, sorted(ordered)))
    return sizes


def _art(table: Table, source: JobSource) -> Path:
    given = table.given.get("art")
    if not isinstance(given, str) or not given.startswith(SAMPLE):
        return table.path("art", source.folder) or source.folder
    folder = sample_art_folder()
    path = folder / given.removeprefix(SAMPLE)
    if path.parent != folder or not os.path.isfile(path):  # noqa: PTH113 - Path raises where a name is too long
        known = [p.name for p in sorted(folder.iterdir()) if p.suffix in (".svg", ".png", ".jpg")]
        table.problem("art", f'no sample art "{path.name}"', near_names(path.name, known))
    return path


def _ink(table: Table, source: JobSource, key: str, name: str) -> str:
    """Return the name of an ink of the shelf, or the ``#rrggbb`` as it is; empty where there is none."""
    if not name:
        return ""
    if name.startswith("#"):
        return name if looked_up(table, key, parse_hex, name) else ""
    ink = looked_up(table, key, source.shelf.ink, name)
    return ink.name if ink else ""


def _inks_on(table: Table, source: JobSource, garments: Sequence[str]) -> dict[str, str]:
    out: dict[str, str] = {}
    for garment, ink in table.pairs("one_ink_on").items():
        found = next((name for name in garments if name.lower() == garment.lower()), "")
        if not found:
            said = f'"{garment}" is not a garment of this job'
            table.problem("one_ink_on", said, near_names(garment, garments))
        out[found] = _ink(table, source, "one_ink_on", ink)
    return out
