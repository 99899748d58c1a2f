"""The page's own files, in ``sepkit-page`` of the working folder: dropped art, the desk, edits of each print.

In: rows and bytes. Out: files, written whole or not at all, and rows back. A desk file that cannot be read is set aside
and told, never written over.
"""

from __future__ import annotations

import json
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from sepkit.errors import UsageError, WriteError
from sepkit.files.folders.write import replace_file
from sepkit.workshop.print.options import PrintOptions

SCHEMA = "sepkit.desk/1"
OWN = "sepkit-page"
MOST_NAME = 80
MOST_BYTES = 20_000_000


@dataclass(frozen=True, slots=True)
class DeskRow:
    """One print of the desk: what was asked, every step of its edits, and the step that stands."""

    number: str
    options: PrintOptions
    history: tuple[Mapping[str, Any], ...]
    at: int


def art_kept(folder: Path, name: str, data: bytes) -> Path:
    """Write dropped art under a name of its own kind: letters, digits, dots and dashes; another's is not replaced.

    Raises UsageError for an empty file, WriteError.
    """
    if not data:
        raise UsageError("the file is empty", where="art", hint="drop another")
    plain = (
        re.sub(r"[^\w.-]+", "-", Path(name.replace("\\", "/")).name, flags=re.ASCII).strip(".-")[-MOST_NAME:] or "art"
    )
    art = art_folder(folder)
    art.mkdir(parents=True, exist_ok=True)
    stem, suffix = Path(plain).stem, Path(plain).suffix
    for nth in range(1, 10_000):
        path = art / (plain if nth == 1 else f"{stem}-{nth}{suffix}")
        if path.exists() and path.read_bytes() != data:
            continue
        if not path.exists():
            _write(path, data)
        return path
    raise WriteError("too many files of one name", where=str(art), hint="clear out that folder")


def art_folder(folder: Path) -> Path:
    """Return where dropped art is kept."""
    return folder / OWN / "art"


def save_edits(folder: Path, number: str, text: str) -> Path:
    """Write the edits of a print beside the desk."""
    path = _own(folder) / f"print-{number}.edits.toml"
    _write(path, text.encode())
    return path


def save_desk(folder: Path, rows: Sequence[DeskRow]) -> None:
    """Write the desk."""
    value = {"schema": SCHEMA, "prints": [_row_json(row, folder) for row in rows]}
    _write(_own(folder) / "desk.json", json.dumps(value, indent=1).encode())


def read_desk(folder: Path) -> tuple[DeskRow, ...]:
    """Return the desk of a folder, empty where there is none. Raises WriteError for a damaged one."""
    path = folder / OWN / "desk.json"
    if not path.is_file():
        return ()
    try:
        if path.stat().st_size > MOST_BYTES:
            raise ValueError("far too large")
        value = json.loads(path.read_text("utf-8"))
        if value["schema"] != SCHEMA:
            raise ValueError(f"schema {value['schema']!r}")
        return tuple(_row_of(row, folder) for row in value["prints"])
    except (ValueError, KeyError, TypeError, AttributeError, RecursionError, OSError) as error:
        raise WriteError(
            f"the desk is damaged ({type(error).__name__})", where=str(path), hint="move that file away to start anew"
        ) from error


def _row_json(row: DeskRow, folder: Path) -> dict[str, Any]:
    options = row.options
    art = options.art
    return {
        "number": row.number,
        "art": str(art.relative_to(folder)) if art.is_relative_to(folder) else str(art),
        "garment": options.garment,
        "width_mm": options.width_mm,
        "inks": options.inks,
        "press": options.press,
        "background": options.background,
        "history": list(row.history),
        "at": row.at,
    }


def _row_of(row: Mapping[str, Any], folder: Path) -> DeskRow:
    history, at = tuple(dict(one) for one in row["history"]), int(row["at"])
    if not history or not 0 <= at < len(history):
        raise ValueError("steps")
    options = PrintOptions(
        folder / str(row["art"]),
        str(row["garment"]),
        width_mm=float(row["width_mm"]),
        inks=str(row["inks"]),
        press=str(row["press"]),
        background="drop" if row["background"] == "drop" else "print",
    )
    return DeskRow(str(int(row["number"])), options, history, at)


def _write(path: Path, data: bytes) -> None:
    with replace_file(path) as part:
        part.write_bytes(data)


def _own(folder: Path) -> Path:
    own = folder / OWN
    own.mkdir(parents=True, exist_ok=True)
    return own
