"""Ways to break a good file, each told by a seeded generator: bits, lengths, sizes, texts, structure.

In: bytes of one kind and a random.Random. Out: bytes. The same seed gives the same bytes.
"""

from __future__ import annotations

import random
import re
import struct
import zlib
from collections.abc import Callable, Sequence

from tests.benchmarks._hostile import EXTREMES, NUMBERS, PDF_PARTS, SIDES, SVG_HEADS, SVG_PARTS, WORDS

Mutator = Callable[[bytes, random.Random, Sequence[bytes]], bytes]


def bits(data: bytes, rng: random.Random, _others: Sequence[bytes]) -> bytes:
    out = bytearray(data)
    for _ in range(rng.choice((1, 1, 2, 4, 8, 32))):
        out[rng.randrange(len(out))] ^= 1 << rng.randrange(8)
    return bytes(out)


def some_bytes(data: bytes, rng: random.Random, _others: Sequence[bytes]) -> bytes:
    out = bytearray(data)
    for _ in range(rng.choice((1, 2, 4, 16, 64))):
        out[rng.randrange(len(out))] = rng.choice((0, 0xFF, 0x7F, 0x80, rng.randrange(256)))
    return bytes(out)


def cut_short(data: bytes, rng: random.Random, _others: Sequence[bytes]) -> bytes:
    return data[: rng.choice((rng.randrange(len(data)), max(len(data) - rng.randrange(1, 40), 0), rng.randrange(64)))]


def part_moved(data: bytes, rng: random.Random, _others: Sequence[bytes]) -> bytes:
    """Leave out, double or insert a part."""
    start = rng.randrange(len(data))
    stop = min(start + rng.choice((1, 2, 4, 16, 200, 2000)), len(data))
    part, at = data[start:stop], rng.randrange(len(data))
    return rng.choice(
        (
            data[:start] + data[stop:],
            data[:stop] + part * rng.choice((1, 3, 50)) + data[stop:],
            data[:at] + part + data[at:],
            data[:at] + rng.randbytes(rng.choice((1, 4, 100))) + data[at:],
        )
    )


def length_field(data: bytes, rng: random.Random, _others: Sequence[bytes]) -> bytes:
    out = bytearray(data)
    for _ in range(rng.choice((1, 1, 2))):
        width = rng.choice((2, 4, 4, 8))
        if len(out) <= width:
            break
        # headers hold most of the lengths
        at = rng.randrange(min(len(out) - width, rng.choice((64, 400, len(out)))) or 1)
        value = rng.choice(EXTREMES) & ((1 << 8 * width) - 1)
        out[at : at + width] = value.to_bytes(width, rng.choice(("little", "big")))
    return bytes(out)


def spliced(data: bytes, rng: random.Random, others: Sequence[bytes]) -> bytes:
    other = rng.choice(others)
    return data[: rng.randrange(len(data))] + other[rng.randrange(len(other)) :]


_PNG_FORMS = ((1, 2, 4, 8, 16, 3, 255), (0, 2, 3, 4, 6, 9), (0, 0, 1), (0, 0, 1), (0, 1, 7))
"""Depth, colour, packing, filter, interlacing."""


def png_chunk(data: bytes, rng: random.Random, _others: Sequence[bytes]) -> bytes:
    """Change a chunk and mend its checksum, so that the change is seen."""
    chunks = _chunks(data)
    if not chunks:
        return bits(data, rng, _others)
    at = rng.randrange(len(chunks)) if rng.random() < 0.6 else 0
    kind, body = chunks[at]
    if kind == b"IHDR" and len(body) == 13:
        body = rng.choice(
            (
                struct.pack(">II", rng.choice(SIDES) & 0xFFFFFFFF, rng.choice(SIDES) & 0xFFFFFFFF) + body[8:],
                body[:8] + bytes(rng.choice(some) for some in _PNG_FORMS),
            )
        )
    elif kind == b"IDAT" and rng.random() < 0.5:
        body = _repacked(body, rng)
    elif body:
        body = rng.choice((bits, some_bytes, cut_short, part_moved))(body, rng, ())
    chunks[at] = (kind, body)
    if rng.random() < 0.3:
        chunks.insert(rng.randrange(len(chunks)), chunks[rng.randrange(len(chunks))])
    if rng.random() < 0.2:
        extra = rng.choice((b"iCCP", b"tRNS", b"PLTE", b"gAMA", b"eXIf", b"zTXt", b"pHYs", b"acTL", b"fcTL", b"fdAT"))
        bomb = zlib.compress(bytes(3_000_000), 9)
        chunks.insert(1, (extra, rng.choice((rng.randbytes(30), b"a\0\0" + bomb, b""))))
    return data[:8] + b"".join(
        struct.pack(">I", len(b)) + k + b + struct.pack(">I", zlib.crc32(k + b)) for k, b in chunks
    )


def jpeg_frame(data: bytes, rng: random.Random, _others: Sequence[bytes]) -> bytes:
    """Change the declared size, components or tables of a frame."""
    out = bytearray(data)
    places = [m.start() for m in re.finditer(rb"\xff[\xc0-\xc2\xc4\xdb\xda\xdd\xe0-\xee]", data)]
    if not places:
        return bits(data, rng, _others)
    at = rng.choice(places)
    if out[at + 1] in (0xC0, 0xC1, 0xC2) and len(out) > at + 10:
        out[at + 5 : at + 9] = struct.pack(">HH", rng.choice(SIDES) & 0xFFFF, rng.choice(SIDES) & 0xFFFF)
        if rng.random() < 0.4:
            out[at + 9] = rng.choice((0, 1, 2, 3, 4, 5, 255))
    else:
        for _ in range(rng.choice((1, 3))):
            out[min(at + 2 + rng.randrange(20), len(out) - 1)] = rng.randrange(256)
    return bytes(out)


def tiff_entry(data: bytes, rng: random.Random, _others: Sequence[bytes]) -> bytes:
    """Change entries of the first directory of a classic TIFF."""
    order = {b"II*\0": "<", b"MM\0*": ">"}.get(data[:4])
    if order is None or len(data) < 16:
        return length_field(data, rng, _others)
    out = bytearray(data)
    (start,) = struct.unpack_from(order + "I", data, 4)
    if start + 2 > len(data):
        return bits(data, rng, _others)
    (count,) = struct.unpack_from(order + "H", data, start)
    for _ in range(rng.choice((1, 1, 2, 3))):
        at = start + 2 + 12 * rng.randrange(max(count, 1))
        if at + 12 > len(out):
            continue
        what = rng.randrange(5)
        if what == 0:
            struct.pack_into(
                order + "H", out, at, rng.choice((256, 257, 258, 259, 262, 273, 277, 278, 279, 322, 338, 339, 34675))
            )
        elif what == 1:
            struct.pack_into(order + "H", out, at + 2, rng.randrange(20))
        elif what == 2:
            struct.pack_into(order + "I", out, at + 4, rng.choice(EXTREMES) & 0xFFFFFFFF)
        else:
            value = rng.choice((*EXTREMES, *SIDES, 5, 6, 32773, 50000, rng.randrange(1 << 16))) & 0xFFFFFFFF
            (kind,) = struct.unpack_from(order + "H", out, at + 2)
            struct.pack_into(order + "I", out, at + 8, value & 0xFFFF if kind == 3 and order == "<" else value)
    return bytes(out)


def number(data: bytes, rng: random.Random, _others: Sequence[bytes]) -> bytes:
    """Put extreme numbers in the place of some."""
    found = list(re.finditer(rb"-?\d+(?:\.\d+)?", data))
    for match in sorted(rng.sample(found, min(len(found), rng.choice((1, 1, 2, 5)))), key=lambda m: -m.start()):
        data = data[: match.start()] + rng.choice(NUMBERS).encode() + data[match.end() :]
    return data


def word(data: bytes, rng: random.Random, _others: Sequence[bytes]) -> bytes:
    """Put a hostile word somewhere, or in the place of a word."""
    new = rng.choice(WORDS).encode("utf-8", "surrogatepass")
    found = list(re.finditer(rb"[A-Za-z_]\w*", data))
    if found and rng.random() < 0.7:
        match = rng.choice(found)
        return data[: match.start()] + new + data[match.end() :]
    at = rng.randrange(len(data) + 1)
    return data[:at] + new + data[at:]


def line(data: bytes, rng: random.Random, others: Sequence[bytes]) -> bytes:
    """Leave out, double, swap or borrow a line."""
    lines = data.split(b"\n")
    at, to = rng.randrange(len(lines)), rng.randrange(len(lines))
    what = rng.randrange(4)
    if what == 0:
        del lines[at]
    elif what == 1:
        lines[to:to] = [lines[at]] * rng.choice((1, 2, 500))
    elif what == 2:
        lines[at], lines[to] = lines[to], lines[at]
    else:
        lines.insert(to, rng.choice(rng.choice(others).split(b"\n")))
    return b"\n".join(lines)


def svg_part(data: bytes, rng: random.Random, _others: Sequence[bytes]) -> bytes:
    """Add a hostile part, head or size."""
    what = rng.random()
    if what < 0.15:
        return rng.choice(SVG_HEADS).encode() + data
    if what < 0.4:
        return re.sub(rb'(width|height|viewBox)="[^"]*"', _size(rng), data, count=rng.choice((1, 2, 3)))
    ends = [m.end() for m in re.finditer(rb">", data)]
    at = rng.choice(ends) if ends else 0
    return data[:at] + rng.choice(SVG_PARTS).encode("utf-8") + data[at:]


def _size(rng: random.Random) -> Callable[[re.Match[bytes]], bytes]:
    def new(match: re.Match[bytes]) -> bytes:
        values = [rng.choice((*NUMBERS[:12], "300mm", "1e6in", "100%", "3em", "40")) for _ in range(4)]
        text = " ".join(values) if match[1] == b"viewBox" else values[0]
        return match[1] + b'="' + text.encode() + b'"'

    return new


def pdf_part(data: bytes, rng: random.Random, _others: Sequence[bytes]) -> bytes:
    """Put a hostile entry over or beside a name, or point references at other objects."""
    names = list(re.finditer(rb"/[A-Za-z]+", data))
    if rng.random() < 0.3:
        refs = list(re.finditer(rb"(\d+) 0 R", data))
        if refs:
            match = rng.choice(refs)
            return data[: match.start()] + b"%d 0 R" % rng.randrange(12) + data[match.end() :]
    match = rng.choice(names) if names else None
    at = match.start() if match else 0
    stop = match.end() if match and rng.random() < 0.4 else at
    return data[:at] + rng.choice(PDF_PARTS) + b" " + data[stop:]


RAW: tuple[Mutator, ...] = (bits, some_bytes, cut_short, part_moved, length_field, spliced)
TEXT: tuple[Mutator, ...] = (number, number, word, word, line, bits, cut_short, part_moved, spliced)
OF_KIND: dict[str, tuple[Mutator, ...]] = {
    "png": (*RAW, png_chunk, png_chunk, png_chunk, png_chunk),
    "jpeg": (*RAW, jpeg_frame, jpeg_frame, jpeg_frame),
    "tiff": (*RAW, tiff_entry, tiff_entry, tiff_entry, tiff_entry),
    "webp": RAW,
    "gif": RAW,
    "bmp": RAW,
    "svg": (*TEXT, svg_part, svg_part, svg_part, svg_part, svg_part),
    "pdf": (*RAW, number, number, pdf_part, pdf_part, pdf_part),
    "folder": (*TEXT, *RAW),
    "jobfolder": (*TEXT, *RAW),
}


def broken(kind: str, rng: random.Random, seeds: Sequence[bytes]) -> bytes:
    """Return a broken file of a kind; now and then a good one."""
    data = rng.choice(seeds)
    for _ in range(rng.choice((0, 1, 1, 1, 1, 1, 2, 2, 3))):
        data = rng.choice(OF_KIND.get(kind, TEXT))(data or b" ", rng, seeds)
    return data


def _chunks(data: bytes) -> list[tuple[bytes, bytes]]:
    out, at = [], 8
    while at + 12 <= len(data):
        (length,) = struct.unpack_from(">I", data, at)
        if at + 12 + length > len(data):
            break
        out.append((data[at + 4 : at + 8], data[at + 8 : at + 8 + length]))
        at += 12 + length
    return out


def _repacked(body: bytes, rng: random.Random) -> bytes:
    try:
        raw = zlib.decompress(body)
    except zlib.error:
        return bits(body, rng, ())
    return zlib.compress(rng.choice((some_bytes, cut_short, part_moved))(raw, rng, ()))
