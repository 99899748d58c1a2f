"""What ``sepkit page`` starts with: a working folder, and prints of art or of a job file that are laid on its desk.

In: the argument as a path that exists. Out: Start. Raises SepkitErrors as the readers of art, job and shelf do.
"""

from __future__ import annotations

import tomllib
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import TYPE_CHECKING, Any

from sepkit.errors import UsageError
from sepkit.files.shelf.shelf import Shelf
from sepkit.workshop.drop.load import load_job
from sepkit.workshop.drop.options import print_options
from sepkit.workshop.page.drop import job_said
from sepkit.workshop.page.keep import ART_ENDINGS
from sepkit.workshop.print.options import PrintOptions

if TYPE_CHECKING:
    from sepkit.jobs import GarmentLine

USUAL_GARMENT, USUAL_WIDTH_MM = "black tee", 280.0
_OF_ORDERS = ("name", "sizes", "orders", "total", "price")
"""Keys of a garment that the page's own orders stand for."""


@dataclass(frozen=True, slots=True)
class LaidPrint:
    """A print to lay on the desk."""

    options: PrintOptions
    edits: Mapping[str, Any] = field(default_factory=dict)
    table: Mapping[str, Any] = field(default_factory=dict)
    """Its table in the job file."""


@dataclass(frozen=True, slots=True)
class Start:
    """The working folder, and what is laid on the desk unless it lies there already."""

    folder: Path
    prints: tuple[LaidPrint, ...] = ()
    drop: Mapping[str, Any] = field(default_factory=dict)
    """What a job file says of the drop, and which file at what state it was; empty without one."""


def start_of(path: Path, *, garment: str | None = None, width_mm: float | None = None) -> Start:
    """Return what to start with. ``path`` is absolute; ``garment`` and ``width_mm`` are for art alone."""
    if path.suffix.lower() in ART_ENDINGS and path.is_file():
        here = Path.cwd()
        folder = here if path.is_relative_to(here) else path.parent
        options = PrintOptions(path, garment or USUAL_GARMENT, width_mm=width_mm or USUAL_WIDTH_MM)
        Shelf().garment(options.garment)
        return Start(folder, (LaidPrint(options),))
    if garment is not None or width_mm is not None:
        raise UsageError("only art is laid on a garment", where="--on, --width", hint="give an art file with them")
    if path.is_dir():
        return Start(path)
    if path.suffix.lower() == ".toml":
        return _job_start(path)
    raise UsageError(
        f"{path.name} is neither art, nor a job file, nor a folder",
        where="sepkit page",
        hint=f"art ends with {', '.join(ART_ENDINGS)}; a job file with .toml",
    )


def _job_start(path: Path) -> Start:
    job = load_job(path)
    values = tomllib.loads(path.read_text("utf-8-sig"))
    shelf = Shelf()
    prints: list[LaidPrint] = []
    for one, table in zip(job.prints, values["print"], strict=True):
        edits = _edits(getattr(one, "edits", None))
        for name in one.garments:
            options = print_options(job, one, shelf.garment(name), ink=one.one_ink_on.get(name, one.one_ink))
            # What was decided over is laid on the desk beside the print.
            prints.append(LaidPrint(replace(options, edits=None), edits, table))
    orders = {line.garment: _ordered(line, table) for line, table in zip(job.garments, values["garment"], strict=True)}
    base = {key: value for key, value in values.items() if key not in ("print", "garment", "title", "schema")}
    drop = {
        "title": job.title,
        "orders": orders,
        "base": base,
        "job": job_said(path),
    }
    return Start(path.parent, tuple(prints), drop)


def _ordered(line: GarmentLine, table: Mapping[str, Any]) -> dict[str, Any]:
    """Return the order of a garment as the page keeps it; pieces that are only expected are in no size yet."""
    more = {key: value for key, value in table.items() if key not in _OF_ORDERS}
    sizes = dict(table.get("sizes", {}) if "expected" in table else line.sizes)
    if "expected" in table and "orders" in table:
        more["orders"] = table["orders"]
    return {"sizes": sizes, "price": line.price, "more": more}


def _edits(path: Path | None) -> dict[str, Any]:
    if path is None:
        return {}
    values = tomllib.loads(path.read_text("utf-8-sig"))
    return {key: value for key, value in values.items() if key not in ("schema", "art_sha256")}
