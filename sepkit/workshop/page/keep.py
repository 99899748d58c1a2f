"""The page's own files, in ``sepkit-page`` of the working folder: dropped art, the desk, edits of each print.

In: rows and bytes. Out: files, written whole or not at all, and rows back. A desk file that cannot be read is set aside
and told, never written over.
"""

from __future__ import annotations

import contextlib
import json
import re
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field, fields
from pathlib import Path
from typing import Any

from sepkit.errors import UsageError, WriteError
from sepkit.files.folders.write import replace_file
from sepkit.workshop.print.options import PrintOptions

SCHEMA = "sepkit.desk/1"
OWN = "sepkit-page"
ART_ENDINGS = (".png", ".jpg", ".jpeg", ".tif", ".tiff", ".webp", ".svg", ".pdf")
MOST_ART = 200
MOST_NAME = 80
MOST_BYTES = 20_000_000


@dataclass(frozen=True, slots=True)
class DeskRow:
    """One print of the desk: what was asked, every step of its edits, and the step that stands."""

    number: str
    options: PrintOptions
    history: tuple[Mapping[str, Any], ...]
    at: int
    art_sha256: str = ""
    """Of the art when it was laid on the table; empty until then."""


@dataclass(frozen=True, slots=True)
class KeptDesk:
    """All that the desk's file holds."""

    rows: tuple[DeskRow, ...] = ()
    drop: Mapping[str, Any] = field(default_factory=dict)
    """What the drop says, as plain values."""


def art_kept(folder: Path, name: str, data: bytes) -> Path:
    """Write dropped art under a name of its own kind: letters, digits, dots and dashes; another's is not replaced.

    Raises UsageError for an empty file, WriteError.
    """
    return _kept(art_folder(folder), name, data)


def photo_kept(folder: Path, name: str, data: bytes) -> Path:
    """Write a photograph that was dropped, as ``art_kept`` does art."""
    return _kept(photo_folder(folder), name, data)


def photo_folder(folder: Path) -> Path:
    """Return where photographs are kept."""
    return folder / OWN / "photos"


def _kept(art: Path, name: str, data: bytes) -> Path:
    if not data:
        raise UsageError("the file is empty", where="art", hint="drop another")
    plain = (
        re.sub(r"[^\w.-]+", "-", Path(name.replace("\\", "/")).name, flags=re.ASCII).strip(".-")[-MOST_NAME:] or "art"
    )
    _made(art)
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


def art_here(folder: Path) -> list[str]:
    """Return the names of art files that lie in a folder itself, not below it."""
    with contextlib.suppress(OSError):
        found = (path for path in folder.iterdir() if path.suffix.lower() in ART_ENDINGS and path.is_file())
        return sorted(path.name for path in found if not path.name.startswith("."))[:MOST_ART]
    return []


def save_edits(folder: Path, number: str, text: str) -> Path:
    """Write the edits of a print beside the desk."""
    path = edits_path(folder, number)
    own_folder(folder)
    _write(path, text.encode())
    return path


def edits_path(folder: Path, number: str) -> Path:
    """Return where the edits of a print are kept."""
    return folder / OWN / f"print-{number}.edits.toml"


def save_desk(folder: Path, rows: Sequence[DeskRow], drop: Mapping[str, Any]) -> None:
    """Write the desk."""
    value = {"schema": SCHEMA, "prints": [_row_json(row, folder) for row in rows], "drop": dict(drop)}
    _write(own_folder(folder) / "desk.json", json.dumps(value, indent=1).encode())


def read_desk(folder: Path) -> KeptDesk:
    """Return the desk of a folder, empty where there is none. Raises WriteError for a damaged one."""
    path = folder / OWN / "desk.json"
    if not path.is_file():
        return KeptDesk()
    try:
        if path.stat().st_size > MOST_BYTES:
            raise ValueError("far too large")
        value = json.loads(path.read_text("utf-8"))
        if value["schema"] != SCHEMA:
            raise ValueError(f"schema {value['schema']!r}")
        drop = value.get("drop", {})
        if not isinstance(drop, dict):
            raise ValueError("drop")
        return KeptDesk(tuple(_row_of(row, folder) for row in value["prints"]), drop)
    except (ValueError, KeyError, TypeError, AttributeError, RecursionError, OSError) as error:
        raise WriteError(
            f"the desk is damaged ({type(error).__name__})", where=str(path), hint="move that file away to start anew"
        ) from error


def _row_json(row: DeskRow, folder: Path) -> dict[str, Any]:
    options, usual = row.options, PrintOptions(row.options.art, row.options.garment)
    art = options.art
    said = {
        one.name: value if not isinstance(value, tuple) else list(value)
        for one in fields(PrintOptions)
        if one.name not in ("art", "edits") and (value := getattr(options, one.name)) != getattr(usual, one.name)
    }
    return {
        "number": row.number,
        "art": str(art.relative_to(folder)) if art.is_relative_to(folder) else str(art),
        "art_sha256": row.art_sha256,
        "options": {"garment": options.garment, **said},
        "history": list(row.history),
        "at": row.at,
    }


_FIRST_KEYS = ("garment", "width_mm", "inks", "press", "background")
"""What desks of before said of a print, without a table of options."""


def _row_of(row: Mapping[str, Any], folder: Path) -> DeskRow:
    history, at = tuple(dict(one) for one in row["history"]), int(row["at"])
    if not history or not 0 <= at < len(history):
        raise ValueError("steps")
    said = dict(row["options"]) if "options" in row else {key: row[key] for key in _FIRST_KEYS if key in row}
    if not set(said) <= {one.name for one in fields(PrintOptions)} - {"art", "edits"}:
        raise ValueError("options")
    given: dict[str, Any] = {key: tuple(value) if isinstance(value, list) else value for key, value in said.items()}
    options = PrintOptions(folder / str(row["art"]), **given)
    return DeskRow(str(int(row["number"])), options, history, at, str(row.get("art_sha256", "")))


def _write(path: Path, data: bytes) -> None:
    with replace_file(path) as part:
        part.write_bytes(data)


def own_folder(folder: Path) -> Path:
    """Return the page's own folder, which is made where there is none. Raises WriteError."""
    return _made(folder / OWN)


def _made(folder: Path) -> Path:
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise WriteError(
            f"cannot be made ({error.strerror})", where=str(folder), hint="give a folder that you may write in"
        ) from error
    return folder
