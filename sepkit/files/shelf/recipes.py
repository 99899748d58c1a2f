"""The shelf: garments, meshes and presses from recipes/, and where recipes/ and sample_art/ are.

In: TOML files of the package, and of the person's own folder (environment variable SEPKIT_RECIPES), which is
searched first: an entry of the same name there replaces ours. Out: model types.
Lengths mm, thread µm, weight g/m², shares 0..1, reflectance 400-700 nm in 31 bands of 10 nm.
A broken file raises JobFileError with file, key and range; an unknown name raises NotFoundError with near names.
"""

from __future__ import annotations

import math
import os
import re
from collections.abc import Callable
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np

import sepkit
from sepkit.colorimetry.srgb import srgb8_to_lab
from sepkit.errors import JobFileError, NotFoundError, UsageError, near_names
from sepkit.files.shelf.toml_lines import NotTomlError, parse_toml
from sepkit.files.words import shown
from sepkit.model import BANDS_NM, GARMENT_SHAPES, RGB8, Garment, InkStatus, Mesh, Press
from sepkit.units import parse_hex, threads_per_cm_to_tpi, to_hex

if TYPE_CHECKING:
    from sepkit.model import F64

OWN_FOLDER_VARIABLE = "SEPKIT_RECIPES"

PLAIN_WEIGHT_G_M2 = 180.0
"""Cloth weight taken for a garment given as a bare colour (common practice for a tee)."""

TPI_TOLERANCE = 0.04
"""Inch counts are rounded from metric weaves: 120/cm is sold as 305 and as 300 (common practice)."""

_HEX = re.compile(r"#(?:[0-9a-f]{3}|[0-9a-f]{6})", re.IGNORECASE)
_NUMBER = r"(\d+(?:[.,]\d+)?)"
_TWO_NUMBERS = re.compile(rf"{_NUMBER}\s*(?:/\s*cm)?\s*[-–.x]\s*{_NUMBER}\s*(?:um|µm|μm)?", re.IGNORECASE)
_PER_CM = re.compile(rf"{_NUMBER}\s*(?:/\s*cm|t|per cm|threads/cm)", re.IGNORECASE)
_PER_INCH = re.compile(rf"{_NUMBER}\s*(?:tpi|/\s*in|per inch|threads/in)", re.IGNORECASE)
_COUNT_ONLY = re.compile(rf"{_NUMBER}(?:\s*mesh)?", re.IGNORECASE)

Table = dict[str, Any]


def recipes_folder() -> Path:
    """Return the folder of the recipes that come with sepkit. Raises NotFoundError when it is not installed."""
    return _data_folder("recipes")


def sample_art_folder() -> Path:
    """Return the folder of the sample art that comes with sepkit. Raises NotFoundError when it is not installed."""
    return _data_folder("sample_art")


def recipe_folders() -> tuple[Path, ...]:
    """Return the folders to search, the person's own (SEPKIT_RECIPES) first.

    Raises NotFoundError when the variable names no folder.
    """
    own = os.environ.get(OWN_FOLDER_VARIABLE, "").strip()
    if not own:
        return (recipes_folder(),)
    folder = Path(own).expanduser()
    if not folder.is_dir():
        raise NotFoundError(
            f'there is no folder "{own}"', where=OWN_FOLDER_VARIABLE, hint="make it, or unset the variable"
        )
    return folder, recipes_folder()


def garment_names() -> tuple[str, ...]:
    """Return the names of all garments, our own first."""
    return tuple(entry["name"] for entry, _ in _garment_entries().values())


def find_garment(name_or_hex: str) -> Garment:
    """Return the garment of that name (any case), or a plain tee in that colour for ``#rrggbb``.

    Raises NotFoundError for a name that the shelf does not hold, JobFileError for a broken file.
    """
    text = " ".join(name_or_hex.split())
    if text.startswith("#"):
        if not _HEX.fullmatch(text):
            raise UsageError(f'"{shown(text)}" is not a colour', where="garment", hint="write it as #rrggbb")
        return _plain_garment(parse_hex(text, what="garment"))
    entries = _garment_entries()
    found = entries.get(text.lower())
    if found is None:
        names = [entry["name"] for entry, _ in entries.values()]
        raise NotFoundError(
            f'no garment is called "{shown(text)}"',
            where="garment",
            hint=near_names(text, names) + ", or give a #rrggbb",
        )
    entry, file = found
    return _garment(entry, file)


def mesh_names() -> tuple[str, ...]:
    """Return the meshes of the shelf as count-thread, coarse first."""
    return tuple(f"{mesh.threads_per_cm:g}-{mesh.thread_um:g}" for mesh, _ in _meshes())


def mesh_uses() -> tuple[tuple[Mesh, bool, str], ...]:
    """Return (mesh, whether its thread is meant when only the count is given, what it is used for), coarse first."""
    words: dict[tuple[float, float], str] = {}
    for file, content in _read_toml("meshes.toml"):
        for entry in _tables(content, "mesh", file):
            words.setdefault((entry["threads_per_cm"], entry["thread_um"]), str(entry.get("use", "")))
    return tuple((mesh, usual, words[mesh.threads_per_cm, mesh.thread_um]) for mesh, usual in _meshes())


def find_mesh(text: str) -> Mesh:
    """Return the mesh meant by ``43-80``, ``43/cm`` or ``110 tpi``.

    A count alone takes the usual thread of the shelf; count and thread together may be any that can be woven.
    A bare number raises UsageError: 110 may be threads per cm or per inch. A count that the shelf does not hold
    raises NotFoundError.
    """
    plain = " ".join(text.split())
    if match := _TWO_NUMBERS.fullmatch(plain):
        return _woven_mesh(_number(match[1]), _number(match[2]), plain)
    if match := _PER_CM.fullmatch(plain):
        return _mesh_of_count(_number(match[1]), plain)
    if match := _PER_INCH.fullmatch(plain):
        wanted = _number(match[1])
        counts = {mesh.threads_per_cm for mesh, _ in _meshes()}
        best = min(counts, key=lambda n: abs(threads_per_cm_to_tpi(n) - wanted), default=0.0)
        near = abs(threads_per_cm_to_tpi(best) - wanted) <= TPI_TOLERANCE * wanted
        return _mesh_of_count(best if near else -1.0, plain)
    if match := _COUNT_ONLY.fullmatch(plain):
        hint = f"write {match[1]}/cm, {match[1]} tpi or 43-80"
        raise UsageError(f'"{shown(plain)}" may be threads per cm or per inch', where="mesh", hint=hint)
    raise UsageError(f'"{shown(plain)}" is not a mesh', where="mesh", hint="write it as 43-80, 43/cm or 110 tpi")


def press_names() -> tuple[str, ...]:
    """Return the names of all presses, our own first."""
    return tuple(press.name for press in _presses().values())


def find_press(name: str) -> Press:
    """Return the press of that name (any case). Raises NotFoundError."""
    presses = _presses()
    text = " ".join(name.split())
    if text.lower() not in presses:
        names = [press.name for press in presses.values()]
        raise NotFoundError(f'no press is called "{shown(text)}"', where="press", hint=near_names(text, names))
    return presses[text.lower()]


def _data_folder(name: str) -> Path:
    """Find a data folder: inside the installed package (wheel), else beside it (checkout, editable install)."""
    package = Path(sepkit.__file__).resolve().parent
    for folder in (package / "_data" / name, package.parent / name):
        if folder.is_dir():
            return folder
    raise NotFoundError(f"the folder {name}/ is missing", where=str(package), hint="install sepkit again")


def _read_toml(name: str) -> list[tuple[Path, Table]]:
    found = []
    for folder in recipe_folders():
        file = folder / name
        if not file.is_file():
            continue
        try:
            found.append((file, parse_toml(file.read_text(encoding="utf-8"))))
        except OSError as error:
            raise JobFileError(error.strerror or "cannot be read", where=str(file), hint="check the file") from error
        except UnicodeDecodeError as error:
            raise JobFileError("is not UTF-8 text", where=str(file), hint="save it as UTF-8") from error
        except NotTomlError as error:
            raise JobFileError(
                f"is not TOML: {shown(error, most=160)}", where=str(file), hint="mend that line"
            ) from error
    return found


def _tables(content: Table, key: str, file: Path) -> list[Table]:
    tables = content.get(key, [])
    if not isinstance(tables, list) or not all(isinstance(table, dict) for table in tables):
        raise JobFileError(f"{key} is not a list of tables", where=str(file), hint=f"write [[{key}]] before each")
    return tables


def _garment_entries() -> dict[str, tuple[Table, Path]]:
    """Return lower-case name -> (entry with its size tables filled in, file)."""
    entries: dict[str, tuple[Table, Path]] = {}
    files = _read_toml("garments.toml")
    sizes: Table = {}
    for file, content in reversed(files):
        own = content.get("sizes", {})
        if not isinstance(own, dict) or not all(isinstance(table, dict) for table in own.values()):
            raise JobFileError("sizes is not a table of tables", where=str(file), hint="write [sizes.tee]")
        sizes.update(own)
    for file, content in files:
        for entry in _tables(content, "garment", file):
            name = _text(entry, "name", file)
            shape = entry.get("shape", "tee")
            entries.setdefault(name.lower(), ({**sizes.get(str(shape), {}), **entry, "name": name}, file))
    return entries


def _garment(entry: Table, file: Path) -> Garment:
    name = _text(entry, "name", file)
    shape = _text(entry, "shape", file, name=name)
    if shape not in GARMENT_SHAPES:
        raise JobFileError(
            f'{shown(name)}: shape "{shown(shape)}" is not known',
            where=str(file),
            hint="one of " + ", ".join(GARMENT_SHAPES),
        )
    try:
        srgb = parse_hex(_text(entry, "srgb", file, name=name))
    except UsageError as error:
        raise JobFileError(f"{shown(name)}: srgb {shown(error.text)}", where=str(file), hint=error.hint) from error
    cotton = _in_range(entry, "cotton", 0.0, 1.0, file, name)
    polyester = _in_range(entry, "polyester", 0.0, 1.0, file, name)
    if cotton + polyester > 1.0 + 1e-6:
        raise JobFileError(f"{shown(name)}: cotton + polyester is over 1", where=str(file), hint="give shares of 1")
    reflectance, status = _reflectance(entry, srgb, file, name)
    return Garment(
        name=name,
        shape=shape,
        srgb=srgb,
        lab=_lab(srgb),
        reflectance=reflectance,
        weight_g_m2=_in_range(entry, "weight_g_m2", 50.0, 1000.0, file, name),
        cotton_share=cotton,
        polyester_share=polyester,
        status=status,
        half_chest_mm=_size_table(entry, "half_chest_mm", 150.0, 1200.0, file, name),
        body_length_mm=_size_table(entry, "body_length_mm", 200.0, 1500.0, file, name),
        fleece=shape == "hoodie",
        hood=shape == "hoodie",
    )


def _plain_garment(srgb: RGB8) -> Garment:
    sizes = next((c["sizes"]["tee"] for _, c in reversed(_read_toml("garments.toml")) if "tee" in c.get("sizes", {})))
    file = recipes_folder() / "garments.toml"
    return Garment(
        name=to_hex(srgb),
        shape="tee",
        srgb=srgb,
        lab=_lab(srgb),
        reflectance=_smooth_reflectance(srgb),
        weight_g_m2=PLAIN_WEIGHT_G_M2,
        cotton_share=1.0,
        polyester_share=0.0,
        half_chest_mm=_size_table(sizes, "half_chest_mm", 150.0, 1200.0, file, "tee"),
        body_length_mm=_size_table(sizes, "body_length_mm", 200.0, 1500.0, file, "tee"),
    )


def _lab(srgb: RGB8) -> tuple[float, float, float]:
    lab = srgb8_to_lab(np.array(srgb, np.uint8))
    return float(lab[0]), float(lab[1]), float(lab[2])


def _smooth_reflectance(srgb: RGB8) -> F64:
    from sepkit.colorimetry.upsampling import srgb8_to_reflectance

    return np.array(srgb8_to_reflectance(srgb), np.float64)


def _reflectance(entry: Table, srgb: RGB8, file: Path, name: str) -> tuple[F64, InkStatus]:
    given = entry.get("reflectance")
    if given is None:
        return _smooth_reflectance(srgb), "estimated"
    right = isinstance(given, list) and len(given) == len(BANDS_NM)
    if not right or not all(isinstance(v, (int, float)) and 0.0 <= v <= 1.0 for v in given):
        raise JobFileError(
            f"{shown(name)}: reflectance is not {len(BANDS_NM)} values of 0..1",
            where=str(file),
            hint="give one value per 10 nm from 400 to 700",
        )
    return np.array(given, np.float64), "measured"


def _meshes() -> list[tuple[Mesh, bool]]:
    """Return (mesh, usual thread of its count), coarse first; our own entries win over same ones below."""
    meshes: dict[tuple[float, float], tuple[Mesh, bool]] = {}
    for file, content in _read_toml("meshes.toml"):
        for entry in _tables(content, "mesh", file):
            count = _in_range(entry, "threads_per_cm", 5.0, 200.0, file, "mesh")
            thread = _in_range(entry, "thread_um", 15.0, 500.0, file, "mesh")
            if 10000.0 / count <= thread:
                raise JobFileError(f"mesh {count:g}-{thread:g} has no opening", where=str(file), hint="mend the thread")
            usual = entry.get("usual", False)
            if not isinstance(usual, bool):
                raise JobFileError(f"mesh {count:g}-{thread:g}: usual is not true or false", where=str(file))
            meshes.setdefault((count, thread), (Mesh(count, thread), usual))
    return [meshes[key] for key in sorted(meshes)]


def _mesh_of_count(count: float, text: str) -> Mesh:
    meshes = [(mesh, usual) for mesh, usual in _meshes() if math.isclose(mesh.threads_per_cm, count)]
    if not meshes:
        raise NotFoundError(
            f'no mesh on the shelf is "{shown(text)}"',
            where="mesh",
            hint="known: " + ", ".join(mesh_names()) + "; or give count and thread",
        )
    return next((mesh for mesh, usual in meshes if usual), meshes[0][0])


def _woven_mesh(count: float, thread: float, text: str) -> Mesh:
    if not 5.0 <= count <= 200.0 or not 15.0 <= thread <= 500.0 or 10000.0 / count <= thread:
        raise UsageError(
            f'"{shown(text)}" cannot be woven', where="mesh", hint="give threads per cm, then the thread in µm: 43-80"
        )
    return Mesh(count, thread)


def _presses() -> dict[str, Press]:
    presses: dict[str, Press] = {}
    for file, content in _read_toml("presses.toml"):
        for entry in _tables(content, "press", file):
            name = _text(entry, "name", file)
            press = Press(
                name=name,
                heads=int(_in_range(entry, "heads", 1, 20, file, name, whole=True)),
                platens=int(_in_range(entry, "platens", 1, 40, file, name, whole=True)),
                platen_width_mm=_in_range(entry, "platen_width_mm", 50.0, 2000.0, file, name),
                platen_height_mm=_in_range(entry, "platen_height_mm", 50.0, 2000.0, file, name),
                register_error_mm=_in_range(entry, "register_error_mm", 0.0, 10.0, file, name),
            )
            presses.setdefault(name.lower(), press)
    return presses


def _number(text: str) -> float:
    return float(text.replace(",", "."))


def _text(entry: Table, key: str, file: Path, *, name: str = "an entry") -> str:
    value = entry.get(key)
    if not isinstance(value, str) or not value.strip():
        raise JobFileError(f"{shown(name)} has no {key}", where=str(file), hint=f'write {key} = "..."')
    return " ".join(value.split())


def _in_range(
    entry: Table, key: str, least: float, most: float, file: Path, name: str, *, whole: bool = False
) -> float:
    value = entry.get(key)
    right_type: Callable[[Any], bool] = lambda v: isinstance(v, int if whole else (int, float))  # noqa: E731
    if value is None or isinstance(value, bool) or not right_type(value) or not least <= value <= most:
        said = "is missing" if value is None else f"= {shown(repr(value))}"
        kind = "a whole number" if whole else "a number"
        raise JobFileError(
            f"{shown(name)}: {shown(key)} {said}", where=str(file), hint=f"give {kind} of {least:g} to {most:g}"
        )
    return float(value)


def _size_table(entry: Table, key: str, least: float, most: float, file: Path, name: str) -> dict[str, float]:
    table = entry.get(key, {})
    if not isinstance(table, dict):
        raise JobFileError(f"{shown(name)}: {key} is not a table", where=str(file), hint=f"write {key} = {{ S = 460 }}")
    return {str(size): _in_range(table, str(size), least, most, file, f"{name}, {key}") for size in table}
