"""Ink files: find them by name, read them, write them.

An ink file is TOML, one ink each, ``inks/NAME.toml`` on a shelf:

    schema = "sepkit.ink/1"
    name = "white"
    kind = "plastisol"            # or "water-based", ...
    status = "estimated"          # or "measured"
    density_g_ml = 1.5
    source = "where the numbers are from"
    date = "2026-01-31"
    absorption = [31 numbers]     # K per coat, 400-700 nm in 10 nm bands
    scattering = [31 numbers]     # S per coat

A shelf is a recipes folder: ``recipes`` in the working folder, the person's own (SEPKIT_RECIPES), then sepkit's.
"""

from __future__ import annotations

import datetime
import math
import re
from pathlib import Path
from typing import Any

import numpy as np

from sepkit.errors import NotFoundError, UsageError, near_names
from sepkit.files.shelf.recipes import recipe_folders
from sepkit.files.shelf.toml_lines import NotTomlError, parse_toml
from sepkit.files.words import shown
from sepkit.inks.mixing import masstone_srgb
from sepkit.model import Ink

SCHEMA = "sepkit.ink/1"
BANDS = 31
STATUSES = ("measured", "estimated")
MOST_DENSITY = 5.0
MOST_COEFFICIENT = 1e4


def shelf_folders() -> tuple[Path, ...]:
    """Return the folders that hold ink files, the person's own first."""
    places = (Path.cwd() / "recipes", *recipe_folders())
    return tuple(dict.fromkeys((place / "inks").resolve() for place in places if (place / "inks").is_dir()))


def ink_files() -> dict[str, Path]:
    """Return ink names (file stem, "-" as space) and their files; the person's own shelf wins."""
    found: dict[str, Path] = {}
    for folder in shelf_folders():
        for path in sorted(folder.glob("*.toml")):
            found.setdefault(_name_of(path), path)
    return found


def ink_names() -> list[str]:
    """Return the names of the inks on the shelf, sorted."""
    return sorted(ink_files())


def find_ink(name: str) -> Ink:
    """Return an ink of the shelf by name (case, "-" and "_" do not matter). Raises NotFoundError with near names."""
    files = ink_files()
    wanted = plain_name(name)
    if wanted not in files:
        raise NotFoundError(f'no ink "{shown(name)}"', where="ink shelf", hint=near_names(wanted, sorted(files)))
    return read_ink(files[wanted])


def read_ink(path: Path) -> Ink:
    """Return the ink of a file. Raises UsageError naming the file, the key and what is allowed."""
    data = ink_table(path)
    absorption = _coefficients(data, "absorption", path)
    scattering = _coefficients(data, "scattering", path)
    status = data.get("status")
    if status not in STATUSES:
        raise UsageError(
            f"status is {shown(repr(status))}", where=path.name, hint='write status = "measured" or "estimated"'
        )
    return Ink(
        name=_text(data, "name", path),
        absorption=absorption,
        scattering=scattering,
        density_g_ml=_density(data, path),
        kind=_text(data, "kind", path),
        status=status,
        srgb=masstone_srgb(absorption, scattering),
        source=str(data.get("source", "")),
        date=str(data.get("date", "")),
    )


def ink_table(path: Path) -> dict[str, Any]:
    """Return an ink file as a table. Raises NotFoundError or UsageError."""
    try:
        return parse_toml(path.read_text(encoding="utf-8"))
    except OSError as error:
        raise NotFoundError(f"cannot be read: {error.strerror}", where=str(path)) from error
    except (NotTomlError, UnicodeDecodeError) as error:
        raise UsageError(
            f"is not a TOML file: {error}", where=path.name, hint="see an ink file of the shelf"
        ) from error


def ink_toml(ink: Ink, *, extra: str = "") -> str:
    """Return an ink as the text of its file; ``extra`` is TOML appended at the end."""
    lines = [
        f"schema = {quoted(SCHEMA)}",
        f"name = {quoted(ink.name)}",
        f"kind = {quoted(ink.kind)}",
        f"status = {quoted(ink.status)}",
        f"density_g_ml = {ink.density_g_ml:.4g}",
        f"source = {quoted(ink.source)}",
        f"date = {quoted(ink.date)}",
        f"absorption = {_numbers(ink.absorption)}",
        f"scattering = {_numbers(ink.scattering)}",
    ]
    return "\n".join(lines) + "\n" + extra


def new_ink_path(name: str, *, folder: Path | None = None) -> Path:
    """Return where an ink called ``name`` is kept: SEPKIT_RECIPES, else ``recipes`` in the working folder.

    Raises UsageError for a name that cannot be a file name.
    """
    stem = re.sub(r"\s+", "-", name.strip().lower())
    if not re.fullmatch(r"[^\W_][\w.+-]{0,79}", stem):
        raise UsageError(f'"{name}" cannot be an ink name', hint="letters, digits, spaces and - . + only")
    own = recipe_folders()[:-1]
    return (folder or (own[0] if own else Path.cwd() / "recipes") / "inks") / f"{stem}.toml"


def today() -> str:
    """Return today's date as YYYY-MM-DD."""
    return datetime.datetime.now(tz=datetime.UTC).astimezone().date().isoformat()


def plain_name(name: str) -> str:
    """Return a name as it is looked up: lower case, single spaces for "-" and "_"."""
    return " ".join(name.strip().lower().replace("-", " ").replace("_", " ").split())


def _name_of(path: Path) -> str:
    return plain_name(path.stem)


def _text(data: dict[str, Any], key: str, path: Path) -> str:
    value = data.get(key)
    if not isinstance(value, str) or not value.strip():
        raise UsageError(f"{key} is missing", where=path.name, hint=f'write {key} = "..."')
    return value.strip()


def _density(data: dict[str, Any], path: Path) -> float:
    value = data.get("density_g_ml")
    if value is None:
        raise UsageError(
            "density_g_ml is missing", where=path.name, hint="weigh 10 ml; inks are near 1.2, whites near 1.5 g/ml"
        )
    if isinstance(value, bool) or not isinstance(value, int | float) or not 0.3 <= float(value) <= MOST_DENSITY:
        raise UsageError(
            f"density_g_ml is {shown(repr(value))}", where=path.name, hint=f"a number from 0.3 to {MOST_DENSITY:g} g/ml"
        )
    return float(value)


def _coefficients(data: dict[str, Any], key: str, path: Path) -> np.ndarray[Any, np.dtype[np.float64]]:
    values = data.get(key)
    if not isinstance(values, list) or len(values) != BANDS:
        count = len(values) if isinstance(values, list) else 0
        raise UsageError(
            f"{key} has {count} numbers", where=path.name, hint=f"give {BANDS}, for 400 to 700 nm in steps of 10 nm"
        )
    for value in values:
        good = isinstance(value, int | float) and not isinstance(value, bool) and math.isfinite(value)
        if not good or not 0 <= value <= MOST_COEFFICIENT:
            raise UsageError(
                f"{key} holds {shown(repr(value))}", where=path.name, hint=f"numbers from 0 to {MOST_COEFFICIENT:g}"
            )
    return np.array(values, np.float64)


def _numbers(values: np.ndarray[Any, np.dtype[np.float64]]) -> str:
    return "[" + ", ".join(f"{v:.5g}" for v in values) + "]"


def quoted(text: str) -> str:
    """Return text as a TOML string."""
    escaped = text.replace("\\", "\\\\").replace('"', '\\"')
    clean = "".join(c if c.isprintable() else " " for c in escaped)
    return f'"{clean}"'
