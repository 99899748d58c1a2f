"""The photo desk: photographs of a test print held against its folder, and the printed wedge read.

In: the working folder, the object of a request, photographs that were dropped. Out: plain values; the folder of an
inspection, the wedge's films and sheet, and the press file, as the command line writes them.
"""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

from sepkit.errors import NotFoundError, UsageError
from sepkit.page import asked

if TYPE_CHECKING:
    from sepkit.model import Progress
    from sepkit.page.asked import Body
    from sepkit.workshop.page.values import Values
    from sepkit.workshop.photo.inspect import Top

MOST_PHOTOS = 6
OF_PHOTOS = ("inspect", "wedge_read")
"""Calls that are given photographs."""
WEDGE = "wedge.pdf"


def inspect_call(folder: Path, body: Body, progress: Progress) -> Values:
    """Hold photographs against a print folder, and write the folder of what they show, NAME-inspected."""
    from sepkit.workshop.page.made import made_folder
    from sepkit.workshop.page.values import findings_told
    from sepkit.workshop.photo.inspect import inspect
    from sepkit.workshop.photo.told import inspection_json, pictures, write_inspection

    kept = made_folder(folder, asked.text(body, "folder"), "print")
    target = folder / f"{kept.name}-inspected"
    found = inspect(kept, photos_of(folder, body), top=_top(body), progress=progress)
    progress.step("drawing what was found", 0, 1)
    write_inspection(target, found, force=target.exists())
    told = inspection_json(found)
    told["folder"], told["photos"] = target.name, [one.path.name for one in found.photos]
    moves = [{"name": screen.name, "words": screen.move()} for screen in found.screens]
    shown = [{"name": one.name, "words": one.caption} for one in pictures(found)]
    return told | {"moves": moves, "pictures": shown, "findings": findings_told(found.findings)}


def wedge_film(folder: Path, body: Body, _: Progress) -> Values:
    """Write the wedge's films and its reading sheet."""
    from sepkit.workshop.page.wedges import film_of_wedge

    del body
    return {"files": [path.name for path in film_of_wedge(folder / WEDGE)]}


def wedge_read(folder: Path, body: Body, progress: Progress) -> Values:
    """Read photographs of the printed wedge into its sheet, and the sheet into the press file."""
    from sepkit.workshop.page.wedges import read_wedge_photos_into_press

    return read_wedge_photos_into_press(
        photos_of(folder, body), folder / WEDGE, press=asked.text(body, "press", "two-head"), progress=progress
    )


def guide(folder: Path, body: Body, _: Progress) -> Values:
    """Return how to take the photograph."""
    from sepkit.workshop.photo.guide import GUIDE

    del folder, body
    return {"text": GUIDE}


def photos_of(folder: Path, body: Body) -> list[Path]:
    """Return photographs that were dropped. Raises UsageError, NotFoundError."""
    from sepkit.workshop.page.keep import photo_folder

    names = body.get("photos")
    if not isinstance(names, list) or not 1 <= len(names) <= MOST_PHOTOS:
        raise UsageError("no photograph", where="photos", hint=f"drop one to {MOST_PHOTOS}")
    out = []
    for name in names:
        path = photo_folder(folder) / asked.plain_name({"file": name}, "file")
        if not path.is_file():
            raise NotFoundError("no such photograph", where="photos", hint="drop it again")
        out.append(path)
    return out


def _top(body: Body) -> Top | None:
    tops: dict[str, Top] = {"up": "up", "right": "right", "down": "down", "left": "left"}
    return tops.get(asked.text(body, "top", "auto"))
