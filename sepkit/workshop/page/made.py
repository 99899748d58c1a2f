"""What was made in the working folder: print, job and inspection folders, known by their records; their pictures.

In: the working folder, plain names. Out: rows, and the bytes of a picture that such a folder holds; nothing else of the
disk is read.
"""

from __future__ import annotations

import json
from dataclasses import dataclass
from pathlib import Path

from sepkit.errors import NotFoundError

RECORDS = {"separation.json": "print", "job.json": "job", "inspection.json": "inspection"}
"""File name of a record, and what its folder is."""
MOST_BYTES = 60_000_000
DEEP = 3


@dataclass(frozen=True, slots=True)
class MadeFolder:
    """A folder that sepkit made."""

    name: str
    """Below the working folder, parts joined by /."""
    kind: str
    title: str
    pictures: tuple[str, ...]


def made_folders(folder: Path) -> tuple[MadeFolder, ...]:
    """Return the folders made below a working folder, prints of jobs among them, newest first."""
    found: list[tuple[float, MadeFolder]] = []
    for place in sorted(folder.iterdir()):
        if place.is_dir() and not place.is_symlink() and not place.name.startswith("."):
            _look(folder, place, found)
    return tuple(one for _, one in sorted(found, key=lambda row: -row[0]))


def _look(folder: Path, place: Path, found: list[tuple[float, MadeFolder]]) -> None:
    for record, kind in RECORDS.items():
        file = place / record
        if file.is_file():
            name = place.relative_to(folder).as_posix()
            found.append((file.stat().st_mtime, MadeFolder(name, kind, _title(file), _pictures(place))))
            for inner in sorted((place / "prints").glob("*")) if kind == "job" else ():
                _look(folder, inner, found)
            return


def picture_of(folder: Path, made: str, name: str) -> bytes:
    """Return a picture of a made folder. Raises NotFoundError for one that is not among its pictures."""
    for one in made_folders(folder):
        if one.name == made and name in one.pictures:
            path = folder / made / name
            if path.stat().st_size <= MOST_BYTES:
                return path.read_bytes()
    raise NotFoundError("there is no such picture", where="picture", hint="make the folder again")


def made_folder(folder: Path, made: str, kind: str) -> Path:
    """Return a made folder by its name. Raises NotFoundError."""
    for one in made_folders(folder):
        if one.name == made and one.kind == kind:
            return folder / made
    raise NotFoundError(f"there is no such {kind} folder", where="folder", hint="make it on the table first")


def _pictures(place: Path) -> tuple[str, ...]:
    files = (path for path in place.rglob("*.png") if not path.is_symlink())
    near = (path.relative_to(place) for path in files if len(path.relative_to(place).parts) <= DEEP)
    return tuple(sorted(path.as_posix() for path in near if path.parts[0] not in ("plates", "films")))


def _title(file: Path) -> str:
    try:
        record = json.loads(file.read_text("utf-8"))
        return str(record.get("title") or record["artwork"]["file"])
    except (OSError, ValueError, KeyError, TypeError, AttributeError):
        return ""
