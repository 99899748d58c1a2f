"""What a PDF says of its first page besides its picture: the unit of its lengths, and the colours it is built of.

In: the file's bytes, from anywhere: this runs in the drawing process, within its bounds of time and memory. Out: plain
values; what this reader cannot parse only loses a remark, for the renderer has the last word.
Sources: ISO 32000-1:2008, 7.7.3.3 (UserUnit), 8.6 (colour spaces), 8.6.8 (K and k select CMYK).
"""

from __future__ import annotations

import io
import re
import zlib
from typing import Any

MOST_FORMS = 200
"""Resources, forms among them, that are searched for colour spaces."""
MOST_CONTENT = 5_000_000
"""Bytes of a page's drawing that are searched for CMYK."""
_PROCESS = re.compile(rb"(?<![\w.])[kK](?![\w.])")


def look_inside(data: bytes) -> tuple[float, set[str]]:
    """Return the page's UserUnit and the colour spaces it uses. A page that cannot be parsed says 1 and none."""
    try:
        page = reader_of(data).pages[0]
        unit = float(page.get("/UserUnit", 1))
        spaces = _colour_spaces(page)
        if _PROCESS.search(_content(page)):
            spaces.add("/DeviceCMYK")
    except Exception:  # a parser of strangers' files raises anything
        return 1.0, set()
    return (unit if 0.01 <= unit <= 1000 else 1.0), spaces


def has_no_pages(data: bytes) -> bool:
    """Return whether a file that the renderer refuses is sound, but has no pages."""
    try:
        reader = reader_of(data)
        return "/Root" in reader.trailer and len(reader.pages) == 0
    except Exception:  # broken in a way that this reader cannot mend either
        return False


def reader_of(data: bytes) -> Any:
    """Return pypdf's reader of a file, without its remarks. Raises anything for broken ones."""
    import logging

    from pypdf import PdfReader

    logging.getLogger("pypdf").setLevel(logging.CRITICAL)
    return PdfReader(io.BytesIO(data))


def _content(page: Any) -> bytes:
    """Return the page's drawing, or as much of it as is searched: packed streams can grow a thousandfold."""
    streams = _there(page.get("/Contents"))
    parts = streams if isinstance(streams, list) else [] if streams is None else [streams]
    text = b""
    for part in parts:
        stream = _there(part)
        kind = str(_there(stream.get("/Filter", "")))
        raw = bytes(stream._data)
        if kind in ("/FlateDecode", "['/FlateDecode']"):
            raw = zlib.decompressobj().decompress(raw, MOST_CONTENT)
        elif kind:
            raw = stream.get_data() if len(raw) < MOST_CONTENT // 1000 else b""
        text += raw + b"\n"
        if len(text) > MOST_CONTENT:
            break
    return text[:MOST_CONTENT]


def _colour_spaces(page: Any) -> set[str]:
    """Return the families of colour spaces that the page's resources name, forms on it included."""
    found: set[str] = set()
    waiting = [_there(page.get("/Resources"))]
    for _ in range(MOST_FORMS):
        if not waiting:
            break
        resources = waiting.pop()
        if resources is None:
            continue
        for space in (_there(resources.get("/ColorSpace")) or {}).values():
            found.add(_family(space))
        for shading in (_there(resources.get("/Shading")) or {}).values():
            found.add(_family(_there(shading).get("/ColorSpace", "")))
        for entry in (_there(resources.get("/Pattern")) or {}).values():
            pattern = _there(entry)
            found.add(_family(_there(pattern.get("/Shading", {})).get("/ColorSpace", "")))
            waiting.append(_there(pattern.get("/Resources")))
        for entry in (_there(resources.get("/XObject")) or {}).values():
            item = _there(entry)
            if "/ColorSpace" in item:
                found.add(_family(item["/ColorSpace"]))
            waiting.append(_there(item.get("/Resources")))
    return found


def _family(space: Any) -> str:
    space = _there(space)
    family = str(_there(space[0]) if isinstance(space, list) and space else space)
    if family in ("/Indexed", "/I", "/Pattern") and isinstance(space, list) and len(space) > 1:
        return _family(space[1])
    return family


def _there(value: Any) -> Any:
    """Return what a reference points at; anything else is itself."""
    return value.get_object() if hasattr(value, "get_object") else value
