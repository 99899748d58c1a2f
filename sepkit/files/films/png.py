"""Films as PNG: 1-bit grey, ink black, true size in pHYs, written in bands.

In: a FilmPage. Out: a PNG. Source: Portable Network Graphics (PNG) Specification, W3C (third edition, 2023).
"""

from __future__ import annotations

import struct
import zlib
from pathlib import Path
from typing import TYPE_CHECKING, BinaryIO

import numpy as np

from sepkit.files.films.disk import film_file
from sepkit.film.raster import page_rows

if TYPE_CHECKING:
    from sepkit.film.page import FilmPage

FLATE_LEVEL = 1


def write_film_png(path: str | Path, page: FilmPage) -> None:
    """Write one film page. Raises WriteError when the disk refuses."""
    with film_file(path) as file:
        _write(file, page)


def _write(file: BinaryIO, page: FilmPage) -> None:
    file.write(b"\x89PNG\r\n\x1a\n")
    _chunk(file, b"IHDR", struct.pack(">IIBBBBB", page.width_px, page.height_px, 1, 0, 0, 0, 0))
    per_metre = round(page.dpi / 0.0254)
    _chunk(file, b"pHYs", struct.pack(">IIB", per_metre, per_metre, 1))
    packer = zlib.compressobj(FLATE_LEVEL)
    for rows in page_rows(page):
        # Each row opens with its filter, 0 = none; grey 0 is black.
        lines = np.zeros((rows.shape[0], rows.shape[1] + 1), np.uint8)
        np.invert(rows, out=lines[:, 1:])
        data = packer.compress(lines.tobytes())
        if data:
            _chunk(file, b"IDAT", data)
    _chunk(file, b"IDAT", packer.flush())
    _chunk(file, b"IEND", b"")


def _chunk(file: BinaryIO, kind: bytes, data: bytes) -> None:
    file.write(struct.pack(">I", len(data)) + kind + data + struct.pack(">I", zlib.crc32(kind + data)))
