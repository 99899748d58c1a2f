"""Films as TIFF: 1 bit, CCITT Group 4, one strip per band, true size in the resolution tags.

In: a FilmPage. Out: a baseline TIFF with one page. Ink is fax-black (WhiteIsZero), so every reader shows it black.
Sources: TIFF 6.0 (1992), sections 2 and 11; ITU-T T.6 for the code, made by Pillow's encoder, each strip on its own.
"""

from __future__ import annotations

import io
import struct
from pathlib import Path
from typing import TYPE_CHECKING, BinaryIO

from sepkit.files.films.disk import film_file
from sepkit.film.raster import BAND_ROWS, page_rows

if TYPE_CHECKING:
    from sepkit.film.page import FilmPage
    from sepkit.model import U8

SHORT, LONG, RATIONAL, ASCII = 3, 4, 5, 2


def write_film_tiff(path: str | Path, page: FilmPage) -> None:
    """Write one film page. Raises WriteError when the disk refuses."""
    with film_file(path) as file:
        _write(file, page)


def group4(rows: U8, width: int) -> bytes:
    """Return packed rows, 1 = ink, as one Group 4 strip in which ink is black."""
    from PIL import Image

    # The encoder takes bit 1 as black, whatever Pillow calls it.
    image = Image.frombytes("1", (width, rows.shape[0]), rows.tobytes())
    buffer = io.BytesIO()
    image.save(buffer, "TIFF", compression="group4", tiffinfo={278: rows.shape[0]})
    with Image.open(buffer) as coded:
        tags = coded.tag_v2  # type: ignore[attr-defined]
        starts, sizes = tags[273], tags[279]
    if len(starts) != 1:
        raise ValueError("the encoder split a strip")
    return buffer.getvalue()[starts[0] : starts[0] + sizes[0]]


def _write(file: BinaryIO, page: FilmPage) -> None:
    file.write(b"II*\0\0\0\0\0")
    at, starts, sizes = 8, [], []
    for rows in page_rows(page):
        strip = group4(rows, page.width_px)
        strip += b"\0" * (len(strip) % 2)
        file.write(strip)
        starts.append(at)
        sizes.append(len(strip))
        at += len(strip)
    resolution = struct.pack("<II", round(page.dpi * 1000), 1000)
    title = page.title.encode("ascii", "replace") + b"\0"
    entries = [
        (256, LONG, 1, struct.pack("<I", page.width_px)),
        (257, LONG, 1, struct.pack("<I", page.height_px)),
        (258, SHORT, 1, struct.pack("<H", 1)),
        (259, SHORT, 1, struct.pack("<H", 4)),
        (262, SHORT, 1, struct.pack("<H", 0)),
        (266, SHORT, 1, struct.pack("<H", 1)),
        (273, LONG, len(starts), struct.pack(f"<{len(starts)}I", *starts)),
        (277, SHORT, 1, struct.pack("<H", 1)),
        (278, LONG, 1, struct.pack("<I", BAND_ROWS)),
        (279, LONG, len(sizes), struct.pack(f"<{len(sizes)}I", *sizes)),
        (282, RATIONAL, 1, resolution),
        (283, RATIONAL, 1, resolution),
        (285, ASCII, len(title), title),
        (296, SHORT, 1, struct.pack("<H", 2)),
        (305, ASCII, 7, b"sepkit\0"),
    ]
    directory = struct.pack("<H", len(entries))
    extra, beyond = b"", at + 2 + 12 * len(entries) + 4
    for tag, kind, count, data in entries:
        if len(data) <= 4:
            value = data.ljust(4, b"\0")
        else:
            value = struct.pack("<I", beyond + len(extra))
            extra += data + b"\0" * (len(data) % 2)
        directory += struct.pack("<HHI", tag, kind, count) + value
    file.write(directory + b"\0\0\0\0" + extra)
    file.seek(4)
    file.write(struct.pack("<I", at))
