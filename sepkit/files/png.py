"""PNG of large flat pictures: rows as they are, compressed once, several times faster than trying filters on each.

In: rows of bytes in bands. Out: a PNG. Art of few colours is runs of equal bytes: without a filter it deflates as small
as with the best one for each row, or smaller. Source: Portable Network Graphics (PNG) Specification, W3C (third
edition, 2023).
"""

from __future__ import annotations

import struct
import zlib
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from typing import TYPE_CHECKING, BinaryIO, Literal

import numpy as np

from sepkit.coverage.bands import row_bands

if TYPE_CHECKING:
    from sepkit.model import U8

Kind = Literal["bits", "grey", "rgb"]
_DEPTH: dict[Kind, tuple[int, int]] = {"bits": (1, 0), "grey": (8, 0), "rgb": (8, 2)}
"""Bits of a sample, and the colour type (PNG, 11.2.1)."""
PLANE_LEVEL = 1
PICTURE_LEVEL = 3
"""Knit and soft edges gain a tenth from it; flat planes gain nothing."""
BAND_BYTES = 1 << 21


@dataclass(frozen=True, slots=True)
class PngHead:
    """What a PNG says before its pixels."""

    width_px: int
    height_px: int
    kind: Kind
    dpi: float | None = None


def write_png(file: BinaryIO, head: PngHead, bands: Iterable[U8], *, level: int = PLANE_LEVEL) -> None:
    """Write a PNG of ``bands``, (rows, bytes of a row) uint8 from the top: packed bits (1 white), grey, or r, g, b."""
    file.write(b"\x89PNG\r\n\x1a\n")
    depth, colours = _DEPTH[head.kind]
    _chunk(file, b"IHDR", struct.pack(">IIBBBBB", head.width_px, head.height_px, depth, colours, 0, 0, 0))
    if head.dpi is not None:
        per_metre = round(head.dpi / 0.0254)
        _chunk(file, b"pHYs", struct.pack(">IIB", per_metre, per_metre, 1))
    packer = zlib.compressobj(level)
    for rows in bands:
        # Each row opens with its filter, 0 = none.
        lines = np.zeros((rows.shape[0], rows.shape[1] + 1), np.uint8)
        lines[:, 1:] = rows
        data = packer.compress(lines.data)
        if data:
            _chunk(file, b"IDAT", data)
    _chunk(file, b"IDAT", packer.flush())
    _chunk(file, b"IEND", b"")


def picture_bands(picture: U8) -> Iterator[U8]:
    """Yield a plane (h, w) or picture (h, w, 3) uint8 as rows of bytes."""
    rows = picture.reshape(len(picture), -1)
    for band in row_bands(len(rows), max(1, BAND_BYTES // max(rows.shape[1], 1))):
        yield rows[band.start : band.stop]


def _chunk(file: BinaryIO, kind: bytes, data: bytes) -> None:
    file.write(struct.pack(">I", len(data)) + kind + data + struct.pack(">I", zlib.crc32(kind + data)))
