"""Who reads which broken file in the fuzz run: the reader itself, and the command that a person would give.

In: a working folder and bytes of one kind. Out: a call that reads them, and the words of a command.
"""

from __future__ import annotations

import random
import shutil
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

ART = {
    "png": ".png",
    "jpeg": ".jpg",
    "tiff": ".tif",
    "webp": ".webp",
    "gif": ".gif",
    "bmp": ".bmp",
    "svg": ".svg",
    "pdf": ".pdf",
}
RECIPES = ("garments", "meshes", "presses")
SHARES = {
    "png": 10,
    "jpeg": 8,
    "tiff": 10,
    "webp": 6,
    "gif": 3,
    "bmp": 2,
    "svg": 14,
    "pdf": 10,
    "job": 10,
    "ink": 6,
    "garments": 3,
    "meshes": 2,
    "presses": 3,
    "orders": 4,
    "wedge": 4,
    "colours": 3,
    "cxf": 3,
    "folder": 6,
    "jobfolder": 2,
}
"""How often each kind comes, of all."""


@dataclass(frozen=True, slots=True)
class Bench:
    """Where one worker works: ``work`` holds input and output, ``own`` is the folder of own recipes."""

    work: Path
    own: Path
    good_folder: Path
    good_art: Path


def place(kind: str, data: bytes, bench: Bench, rng: random.Random, broken: Callable[[bytes], bytes]) -> Path:
    """Put the input where its reader looks for it; return its path."""
    work, own = bench.work, bench.own
    if kind in ART:
        path = work / f"art{ART[kind]}"
    elif kind == "ink":
        path = own / "inks" / "odd.toml"
    elif kind in RECIPES:
        path = own / f"{kind}.toml"
    elif kind == "folder":
        return _place_folder(bench, rng, broken)
    elif kind == "jobfolder":
        (work / "out").mkdir()
        path = work / "out" / "job.json"
    else:
        path = (
            work
            / {
                "job": "drop.toml",
                "orders": "orders.csv",
                "wedge": "wedge.csv",
                "colours": "list.csv",
                "cxf": "list.cxf",
            }[kind]
        )
    path.parent.mkdir(parents=True, exist_ok=True)
    path.write_bytes(data)
    if kind in {"job", "orders", "jobfolder", *RECIPES}:
        shutil.copy(bench.good_art, work / "art.png")
        if kind != "orders":
            (work / "orders.csv").write_text("size,pieces\nM,3\nL,4\n", encoding="utf-8")
        if kind != "job":
            (work / "drop.toml").write_text(_JOB, encoding="utf-8")
    return path


def read(kind: str, path: Path, bench: Bench, rng: random.Random) -> None:
    """Read the input as the program does. Raises what the reader raises."""
    if kind in ART:
        from sepkit.files.art.artwork import read_artwork

        size = rng.choice(({"width_mm": 40.0}, {"width_mm": 40.0}, {}, {"height_mm": 60.0}, {"width_mm": 3.0}))
        read_artwork(path, film_dpi=300.0, **size)
    elif kind in {"job", "orders"}:
        from sepkit.workshop.drop.load import load_job

        load_job(bench.work / "drop.toml")
    elif kind == "jobfolder":
        _read_job_folder(bench)
    elif kind == "folder":
        from sepkit.files.folders.print_folder import read_print_folder

        read_print_folder(path)
    elif kind in {"ink", *RECIPES}:
        _read_shelf(kind, path)
    else:
        _read_list(kind, path)


def words(kind: str, path: Path, rng: random.Random) -> list[str]:
    """Return the command that a person would give, run in the working folder."""
    if kind in ART:
        if rng.random() < 0.05:
            return [
                "separate",
                path.name,
                "--on",
                "black tee",
                "--width",
                "30mm",
                "--film-dpi",
                "600",
                "--no-ladder",
                "-o",
                "out",
                "--quiet",
            ]
        return ["check", path.name, "--width", "30mm"]
    if kind == "folder":
        return ["films", path.name, "--quiet"]
    if kind == "ink":
        return rng.choice((["ink", "list"], ["ink", "show", "odd"]))
    if kind == "wedge":
        return ["wedge", "--read", path.name, "--to", "out.toml", "--quiet"]
    if kind in {"colours", "cxf"}:
        return ["ink", "match", f"{path.name}@teal", "--most", "1", "--inks", "white,red", "--quiet"]
    return ["job", "drop.toml", "--check"]


OUTPUTS = ("out", "out.toml", "art-check.png")


def _place_folder(bench: Bench, rng: random.Random, broken: Callable[[bytes], bytes]) -> Path:
    folder = bench.work / "print"
    shutil.copytree(bench.good_folder, folder)
    files = sorted(
        p for p in folder.rglob("*") if p.suffix in (".json", ".png") and "plates" in str(p.relative_to(folder))
    )
    path = folder / "separation.json" if rng.random() < 0.7 else rng.choice(files)
    if rng.random() < 0.05:
        path.unlink()
    else:
        path.write_bytes(broken(path.read_bytes()))
    return folder


def _read_job_folder(bench: Bench) -> None:
    """Bring a job folder up to date, up to the first print."""
    from unittest import mock

    from sepkit.errors import WriteError
    from sepkit.workshop.drop import make as job

    stop = WriteError("stopped by the fuzz run", where="out")
    with mock.patch.object(job, "make_job_prints", side_effect=stop):
        job.make_job(bench.work / "drop.toml", bench.work / "out", force=True, anyway=True)


def _read_shelf(kind: str, path: Path) -> None:
    from sepkit.files.shelf import inks, pressfile
    from sepkit.files.shelf.shelf import Shelf

    shelf = Shelf()
    if kind == "ink":
        inks.read_ink_file(path)
    elif kind == "garments":
        for name in shelf.garment_names():
            shelf.garment(name)
        shelf.garment("#123456")
    elif kind == "meshes":
        shelf.mesh_uses()
        shelf.mesh("43/cm")
    else:
        for name in shelf.press_names():
            shelf.press(name)
            shelf.measured(name)
        press = shelf.press("two-head")
        pressfile.with_measured(path.read_text("utf-8"), press, {"edge_growth_um": 20.0}, file=path)


def _read_list(kind: str, path: Path) -> None:
    if kind == "wedge":
        from sepkit.files.shelf.shelf import Shelf
        from sepkit.files.wedge_csv import read_wedge
        from sepkit.press.wedge_reading import press_numbers
        from sepkit.workshop.wedge import reading_of

        press_numbers(reading_of(read_wedge(path), Shelf()))
    else:
        from sepkit.files.shelf.colours import read_colours

        read_colours(path)


_JOB = """schema = 1
title = "lantern festival"
[press]
name = "two-head"
[[screen]]
name = "large"
inside_width_mm = 500
inside_height_mm = 700
mesh = "77-55"
count = 8
[[blade]]
width_mm = 300
[[garment]]
name = "black tee"
orders = "orders.csv"
[[print]]
name = "badge"
art = "art.png"
placement = "front"
width_mm = 250
"""
