"""Bytes that the page reads.

An index: 8 words of 4 bytes, little-endian (magic "SIX2", width, height, combinations, plates, bytes of a combination's
number, top level, runs), then levels (combinations x plates), dots (the same, 0 or 1), then runs as byte planes, low
bytes first (planes of alike bytes pack better): runs in each row in 4 bytes, their combinations, their lengths in 4.

A parcel: how long its JSON is (4 bytes), the JSON, then the octets that the JSON tells of.

Planes of a window: 8 words (magic "SPL1", width, height, plates, 0 ...), then the planes.

A garment: 8 words (magic "SBG2", width, height of its picture, left, top, width, height of the window that a print
touches, 1 where the print is turned), 6 doubles (left, top, width, height of the print in pixels, the least light and a
step of it), which channel leads (0 red, 1 green, 2 blue), what each of the two others, in order, has most often at each
of its 256 levels, then the picture as planes: the leader, less the row above, the others, less what they usually have
(all modulo 256: cloth has one hue, soft folds, and a knit that nobody foretells), then of the window the light in
steps, less the row above, and how much shows (0 to 255). A step of light is mostly 1/256: no level of the print changes
by more than a quarter for it. All of it is deflated (RFC 1950).
"""

from __future__ import annotations

import json
import math
import struct
import zlib
from typing import TYPE_CHECKING, Any

import numpy as np

if TYPE_CHECKING:
    from collections.abc import Sequence

    from sepkit.model import U8
    from sepkit.preview.garment import BareGarment
    from sepkit.preview.index import StackIndex

Array = np.ndarray[Any, np.dtype[Any]]

MAGIC = 0x32584953
PLANES = 0x314C5053
GARMENT = 0x32474253
LIGHT_STEP = 1 / 256
LOOKED_AT = 97
"""Every so many pixels of a garment tell which channel has most levels: it leads."""
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


def parcel_bytes(told: Any, octets: Sequence[bytes]) -> bytes:
    """Return JSON and the octets that it tells of."""
    words = json.dumps(told, ensure_ascii=False).encode()
    return b"".join([struct.pack("<I", len(words)), words, *octets])


def garment_bytes(bare: BareGarment) -> bytes:
    """Return a garment as deflated bytes."""
    height, width = bare.light.shape
    left, top = max(0, math.floor(bare.left_px)), max(0, math.floor(bare.top_px))
    right = min(width, math.ceil(bare.left_px + bare.wide_px))
    bottom = min(height, math.ceil(bare.top_px + bare.tall_px))
    window = (slice(top, bottom), slice(left, right))
    light = bare.light[window]
    least, most = (float(light.min()), float(light.max())) if light.size else (1.0, 1.0)
    step = max(LIGHT_STEP, (most - least) / 255)
    words = (GARMENT, width, height, left, top, max(0, right - left), max(0, bottom - top), int(bare.turned))
    head = struct.pack("<8I6d", *words, bare.left_px, bare.top_px, bare.wide_px, bare.tall_px, least, step)
    at = int(np.ptp(bare.picture.reshape(-1, 3)[::LOOKED_AT].astype(np.int16), axis=0).argmax())
    lead = np.ascontiguousarray(bare.picture[..., at])
    others = [np.ascontiguousarray(bare.picture[..., k]) for k in range(3) if k != at]
    usual = [_usual(lead, other) for other in others]
    planes = [np.array([at]), *usual, _less_above(lead)]
    planes += [other - table[lead] for other, table in zip(others, usual, strict=True)]
    planes += [_less_above(np.rint((light - least) / step).astype(np.uint8)), np.rint(bare.open_part[window] * 255)]
    packer = zlib.compressobj(PICTURE_LEVEL, strategy=zlib.Z_FILTERED)
    parts = (head, *(plane.astype(np.uint8).tobytes() for plane in planes))
    return b"".join([*map(packer.compress, parts), packer.flush()])


def _usual(lead: U8, other: U8) -> U8:
    """Return the level that another plane has most often at each level of the leader, (256,) uint8."""
    pairs = np.bincount((lead.astype(np.uint16) * 256 + other).ravel(), minlength=1 << 16)
    found: U8 = pairs.reshape(256, 256).argmax(axis=1).astype(np.uint8)
    return found


def _less_above(plane: U8) -> U8:
    return np.diff(plane, axis=0, prepend=np.uint8(0))
