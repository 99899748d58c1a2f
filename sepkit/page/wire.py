"""Bytes that the page reads.

An index: 8 words of 4 bytes, little-endian (magic "SIX2", width, height, combinations, plates, bytes of a combination's
number, top level, runs), then levels (combinations x plates), dots (the same, 0 or 1), then runs as byte planes, low
bytes first (planes of alike bytes pack better): runs in each row in 4 bytes, their combinations, their lengths in 4.

Planes of a window: 8 words (magic "SPL1", width, height, plates, 0 ...), then the planes.

A garment: 8 words (magic "SBG1", width, height of its picture, left, top, width, height of the window that a print
touches, 1 where the print is turned), 4 doubles (left, top, width, height of the print in pixels), the picture as
planes of green, red less green, blue less green, each less the row above (all modulo 256: cloth has one hue and soft
folds, so that these pack to less than half), then of the window the light in 2 bytes (32768 is 1) and how much shows
(0 to 255). All of it is deflated (RFC 1950).
"""

from __future__ import annotations

import math
import struct
import zlib
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from collections.abc import Sequence

    from sepkit.model import U8
    from sepkit.preview.garment import BareGarment
    from sepkit.preview.index import StackIndex

MAGIC = 0x32584953
PLANES = 0x314C5053
GARMENT = 0x31474253
LIGHT_ONE = 32768
PICTURE_LEVEL = 6
"""Of a garment, which is sent once for a print."""
INDEX_LEVEL = 6
"""Of an index: runs are few."""
MOST_SHORT = 1 << 16
"""So many combinations are numbered in two bytes; more take four."""
LEVEL = 1
"""Of deflate: more costs the processor thrice for a third fewer bytes, on a road that costs nothing."""


def index_bytes(index: StackIndex) -> bytes:
    """Return an index as deflated bytes."""
    height, width = index.shape
    count, plates = index.levels.shape
    size = 2 if count <= MOST_SHORT else 4
    head = struct.pack("<8I", MAGIC, width, height, count, plates, size, index.top, len(index.ids))
    packer = zlib.compressobj(INDEX_LEVEL)
    out = [packer.compress(part) for part in (head, index.levels.tobytes(), index.dots.astype(np.uint8).tobytes())]
    for numbers, octets in ((index.in_row, 4), (index.ids, size), (index.lengths, 4)):
        out += [packer.compress(((numbers >> (8 * byte)) & 255).astype(np.uint8).tobytes()) for byte in range(octets)]
    return b"".join([*out, packer.flush()])


def planes_bytes(planes: Sequence[U8]) -> bytes:
    """Return planes of one size as deflated bytes."""
    height, width = planes[0].shape
    head = struct.pack("<8I", PLANES, width, height, len(planes), 0, 0, 0, 0)
    return zlib.compress(b"".join([head, *(plane.tobytes() for plane in planes)]), LEVEL)


def garment_bytes(bare: BareGarment) -> bytes:
    """Return a garment as deflated bytes."""
    height, width = bare.light.shape
    left, top = max(0, math.floor(bare.left_px)), max(0, math.floor(bare.top_px))
    right = min(width, math.ceil(bare.left_px + bare.wide_px))
    bottom = min(height, math.ceil(bare.top_px + bare.tall_px))
    window = (slice(top, bottom), slice(left, right))
    light = np.rint(np.clip(bare.light[window] * LIGHT_ONE, 0, 65535)).astype("<u2")
    shown = np.rint(bare.open_part[window] * 255).astype(np.uint8)
    words = (GARMENT, width, height, left, top, max(0, right - left), max(0, bottom - top), int(bare.turned))
    head = struct.pack("<8I4d", *words, bare.left_px, bare.top_px, bare.wide_px, bare.tall_px)
    red, green, blue = (bare.picture[..., k] for k in range(3))
    planes = np.stack([green, red - green, blue - green])
    packer = zlib.compressobj(PICTURE_LEVEL, strategy=zlib.Z_FILTERED)
    parts = (head, np.diff(planes, axis=1, prepend=np.uint8(0)).tobytes(), light.tobytes(), shown.tobytes())
    return b"".join([*map(packer.compress, parts), packer.flush()])
