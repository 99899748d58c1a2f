"""Bytes that the page reads.

An index: 8 words of 4 bytes, little-endian (magic "SIX1", width, height, combinations, plates, bytes a pixel, top
level, 0), then levels (combinations x plates), dots (the same, 0 or 1), then the pixels as byte planes, low bytes
first: planes of alike bytes pack better. All of it is deflated (RFC 1950).
"""

from __future__ import annotations

import struct
import zlib
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from sepkit.preview.index import StackIndex

MAGIC = 0x31584953
LEVEL = 1
"""Of deflate: more costs the processor thrice for a third fewer bytes, on a road that costs nothing."""


def index_bytes(index: StackIndex) -> bytes:
    """Return an index as deflated bytes."""
    height, width = index.pixels.shape
    count, plates = index.levels.shape
    size = index.pixels.dtype.itemsize
    packer = zlib.compressobj(LEVEL)
    out = [packer.compress(struct.pack("<8I", MAGIC, width, height, count, plates, size, index.top, 0))]
    out += [packer.compress(index.levels.tobytes()), packer.compress(index.dots.astype(np.uint8).tobytes())]
    for byte in range(size):
        out.append(packer.compress(((index.pixels >> (8 * byte)) & 255).astype(np.uint8).tobytes()))
    return b"".join([*out, packer.flush()])
