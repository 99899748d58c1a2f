"""The job file: TOML in, a checked Job out, or every problem at once with its line.

In: a path, the names that placements and size curves may have, and the shelf. Out: jobs.Job with absolute paths and
known names. Raises DataFileError with all problems: line, key, what is wrong, near names or the allowed range and unit.
"""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

from sepkit.errors import near_names
from sepkit.files.jobfile.asked import Told, with_told
from sepkit.files.jobfile.garments import read_garments
from sepkit.files.jobfile.keys import INK_KIND, KEYS, SCHEMA, SPARES, TABLES
from sepkit.files.jobfile.prints import read_prints
from sepkit.files.jobfile.source import JobNames, JobSource, looked_up
from sepkit.files.toml.keys import keys_of
from sepkit.files.toml.read import read_toml
from sepkit.files.toml.table import unique
from sepkit.jobs import DEFAULT_LOSS, Blade, FilmPrinter, HeatPress, Job, Leftover, Money, Screen, Spoilage
from sepkit.model import Mesh, Press

if TYPE_CHECKING:
    from sepkit.files.shelf.shelf import Shelf
    from sepkit.files.toml.read import TomlFile
    from sepkit.files.toml.table import Table


def read_job(path: Path, *, names: JobNames, shelf: Shelf, told: Sequence[Told] = ()) -> Job:
    """Read and check a job file; keys that were ``told`` beside it win.

    Raises DataFileError with all problems, or with the one that hides all; UsageError for a told key that it has not.
    """
    start = "`sepkit job --new` writes a commented one to start from"
    file = read_toml(path, what="a job", help_hint="`sepkit job --explain` lists all", start_hint=start)
    take_from_shop(file, shelf)
    return job_of(with_told(file, told), path.resolve().parent, names=names, shelf=shelf)


def take_from_shop(file: TomlFile, shelf: Shelf) -> None:
    """Put what the shop owns into a job file's values where the job says nothing of it. Raises DataFileError."""
    shop = shelf.shop()
    if shop is None:
        return
    for name, value in shop.as_job().items():
        own = file.values.get(name)
        if own is None:
            file.values[name] = value
        elif name == "press" and isinstance(own, dict) and _same(own.get("name", shop.press), shop.press):
            file.values[name] = {**value, **own}


def _same(name: object, other: str) -> bool:
    return str(name).lower() == other.lower()


def job_of(file: TomlFile, folder: Path, *, names: JobNames, shelf: Shelf) -> Job:
    """Return the job of a file as parsed; ``folder`` is where it lies. Raises DataFileError with all problems."""
    file.of_schema(SCHEMA)
    source = JobSource(file, folder, names, shelf)
    top = file.top(keys_of(KEYS, ""), [table for table in TABLES if table])
    top.whole("schema")
    table = source.table("press")
    press = _press(table, source)
    measured = shelf.measured(press.name)
    garments = read_garments(source)
    job = Job(
        title=top.text("title"),
        folder=folder,
        prints=read_prints(source, garments),
        garments=garments,
        press=press,
        screens=_screens(source),
        blades=tuple(Blade(t.number("width_mm"), t.whole("shore_a"), t.whole("count")) for t in source.tables("blade")),
        film=_film(source.table("film")),
        heat_press=_heat_press(source.table("heat_press")),
        spoilage=_spoilage(source.table("spoilage"), names),
        money=_money(source.table("money")),
        ink_kind=top.choice(INK_KIND),
        scale_step_g=top.number("scale_step_g"),
        # The job's own number, else what the calibration print told about its press, else the default.
        edge_growth_um=_or_measured(top, "edge_growth_um", measured.get("edge_growth_um")),
        ink_factor=_or_measured(top, "ink_factor", measured.get("ink_factor")),
        leftovers=tuple(Leftover(t.text("ink").lower(), t.number("mass_g")) for t in source.tables("leftover")),
        screens_apart=top.yes("screens_apart"),
        platen_reach_mm=table.number("reach_mm") or None,
    )
    file.check()
    return job


def _or_measured(top: Table, key: str, measured: float | None) -> float:
    own = top.number(key)
    return own if key in top.given or measured is None else measured


def _press(table: Table, source: JobSource) -> Press:
    """Return the press of the shelf with what the job says of it."""
    shelf = source.shelf
    name = table.text("name")
    found = looked_up(table, "name", shelf.press, name) or shelf.press(shelf.press_names()[-1])
    return Press(
        name=found.name,
        heads=table.whole("heads") or found.heads,
        platens=table.whole("platens") or found.platens,
        platen_width_mm=table.number("platen_width_mm") or found.platen_width_mm,
        platen_height_mm=table.number("platen_height_mm") or found.platen_height_mm,
        register_error_mm=table.number("register_error_mm", otherwise=found.register_error_mm),
        platens_come_off=table.yes("platens_come_off") if "platens_come_off" in table.given else found.platens_come_off,
        refit_mm=table.number("refit_mm", otherwise=found.refit_mm),
        jig_mm=table.number("jig_mm", otherwise=found.jig_mm),
    )


def _screens(source: JobSource) -> tuple[Screen, ...]:
    tables = source.tables("screen", least=1)
    unique(tables, "screen")
    return tuple(
        Screen(
            table.text("name"),
            table.number("inside_width_mm"),
            table.number("inside_height_mm"),
            _mesh(table, source),
            table.whole("count"),
        )
        for table in tables
    )


def _mesh(table: Table, source: JobSource) -> Mesh:
    text = table.text("mesh")
    found = looked_up(table, "mesh", source.shelf.mesh, text) if text else None
    return found or Mesh(43, 80)


def _film(table: Table) -> FilmPrinter:
    return FilmPrinter(
        table.number("sheet_width_mm"),
        table.number("sheet_height_mm"),
        table.number("margin_mm"),
        table.number("dpi"),
        table.number("overlap_mm"),
    )


def _heat_press(table: Table) -> HeatPress:
    return HeatPress(
        table.number("plate_width_mm"), table.number("plate_height_mm"), table.number("set_c"), table.number("seconds")
    )


def _spoilage(table: Table, names: JobNames) -> Spoilage:
    shares = table.by_name("loss_by_placement")
    for name in shares:
        if name not in names.placements:
            hint = near_names(name, names.placements)
            table.problem("loss_by_placement", f'no placement "{name}"', hint)
    return Spoilage(
        table.number("loss", otherwise=DEFAULT_LOSS),
        table.number("certainty"),
        shares,
        table.whole("test_garments"),
        table.whole("wash_tests"),
        table.choice(SPARES),
        table.number("late_order") if "late_order" in table.given else None,
        table.number("kept"),
        table.number("most_spares"),
    )


def _money(table: Table) -> Money:
    return Money(
        table.text("currency"),
        *(table.number(k) for k in ("hour", "ink_kg", "film_m2", "screen", "piece", "price", "platen")),
    )
