"""The planes of a print folder: 8-bit grey PNG below plates/, 0 no ink, 255 solid, on the art's own pixel grid.

plates/ hold what the art asks of each ink; plates/printed/ what is printed, after trap and choke; plates/tone/ where an
ink is a tone; plates/base/ the area that a seen white is base for; plates/areas/ areas of the art that no plate holds
alone.
"""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from sepkit.errors import WriteError
from sepkit.files.png import PngHead, picture_bands, write_png

if TYPE_CHECKING:
    from sepkit.model import U8, Bool, Plate

AGAIN = "make the folder again with `sepkit separate`"


def plate_slug(plate: Plate) -> str:
    """Return the file stem of a plate: ``01-underbase``."""
    return f"{plate.order:02d}-{file_word(plate.name) or 'ink'}"


def file_word(name: str) -> str:
    """Return a name with letters and digits only, a dash for all else."""
    word = "".join(c if c.isalnum() else "-" for c in name.lower()).strip("-")
    while "--" in word:
        word = word.replace("--", "-")
    return word


def save_plane(path: Path, plane: U8, dpi: float) -> None:
    """Write one plane (h, w) uint8."""
    path.parent.mkdir(parents=True, exist_ok=True)
    height, width = plane.shape
    with path.open("wb") as file:
        write_png(file, PngHead(width, height, "grey", dpi), picture_bands(np.ascontiguousarray(plane)))


def save_mask(path: Path, mask: Bool, dpi: float) -> None:
    """Write a mask (h, w) as 0 and 255."""
    save_plane(path, np.where(mask, np.uint8(255), np.uint8(0)), dpi)


def load_plane(folder: Path, name: str, shape: tuple[int, int]) -> U8:
    """Return one plane of ``folder``, (h, w) uint8. Raises WriteError for one that is missing, outside, or not so."""
    from PIL import Image

    path = plane_path(folder, name)
    try:
        with Image.open(path) as image:
            if image.size != (shape[1], shape[0]) or image.mode != "L":
                raise WriteError(
                    f"the plate is {image.size} {image.mode}, the record says {(shape[1], shape[0])} grey",
                    where=str(path),
                    hint=AGAIN,
                )
            return np.array(image, np.uint8)
    except (OSError, SyntaxError, ValueError, Image.DecompressionBombError) as error:
        raise WriteError("a plate cannot be read", where=str(path), hint=AGAIN) from error


def plane_path(folder: Path, name: str) -> Path:
    """Return where a plane lies. Raises WriteError for one that is missing or outside the folder."""
    path = (folder / name).resolve()
    if folder.resolve() not in path.parents:
        raise WriteError("a plate lies outside the folder", where=str(name), hint=AGAIN)
    if not path.is_file():
        raise WriteError("a plate is missing", where=str(folder / name), hint=AGAIN)
    return path
