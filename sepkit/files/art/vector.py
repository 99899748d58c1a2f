"""SVG artwork (also gzip-packed .svgz): checked, then rendered with alpha at any width.

In: a file. Out: a Drawing. A page is refused before rendering when it declares entities, refers to anything outside
itself, nests or repeats itself without end, or embeds a picture over the pixel limit (svg_guard.py reads it).
Size: width and height with physical units; else only proportions, from width and height or the viewBox.
Source: SVG 1.1 (W3C, second edition), 7.7 viewBox and 7.10 units; CSS absolute lengths (96 px = 1 in) for ratios.
"""

from __future__ import annotations

import codecs
import gzip
import io
import re
import zlib
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np
from PIL import Image

from sepkit.errors import ArtworkError
from sepkit.files.art.aside import Aside
from sepkit.files.art.drawing_process import PX_PER_INCH
from sepkit.files.art.layers import layer_plate, layers_of
from sepkit.files.art.picture import Brought, Drawing
from sepkit.files.art.raster import quiet_decoders
from sepkit.files.art.svg_guard import SvgFacts, examine
from sepkit.model import Finding
from sepkit.units import MM_PER_INCH

if TYPE_CHECKING:
    from sepkit.model import U8, SeparateBy

MAX_BYTES = 50_000_000
LOOK_PX = 800
"""Wide enough to tell whether any text is drawn."""

_UNIT_PX = {
    "": 1.0,
    "px": 1.0,
    "in": PX_PER_INCH,
    "cm": PX_PER_INCH / 2.54,
    "mm": PX_PER_INCH / 25.4,
    "q": PX_PER_INCH / 101.6,
    "pt": PX_PER_INCH / 72,
    "pc": PX_PER_INCH / 6,
}
_NO_SIZE_UNITS = frozenset({"", "px"})
_LENGTH = re.compile(r"\s*\+?(\d*\.?\d+(?:e[-+]?\d+)?)\s*([a-z]*)\s*", re.IGNORECASE)
_ATTRIBUTE = re.compile(r"([^\s=]+)(\s*=\s*(?:\"[^\"]*\"|'[^']*'))")
_ROOT_TAG = re.compile(r"(<(?:[^\s>/:]+:)?svg)((?:\s+[^\s=>]+\s*=\s*(?:\"[^\"]*\"|'[^']*'))*)(\s*/?>)")
_START = re.compile(r"\s*<(?:\?xml|!--|!doctype|(?:[\w.-]+:)?svg[\s>/])", re.IGNORECASE)
_ENCODING = re.compile(rb"<\?xml[^>]*?encoding\s*=\s*[\"']([\w.-]+)[\"']")


def is_svg(head: bytes) -> bool:
    """Return True when the first bytes of a file are XML that may be an SVG, or gzip of such."""
    if head[:2] == b"\x1f\x8b":
        try:
            head = zlib.decompressobj(wbits=31).decompress(head, 1024)
        except zlib.error:
            return False
    if head[:2] in {codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE}:
        text = head[: len(head) // 2 * 2].decode("utf-16", "replace")
    else:
        text = head.removeprefix(codecs.BOM_UTF8).decode("latin-1")
    return bool(_START.match(text))


def open_svg(path: Path, *, by: SeparateBy = "colour") -> Drawing:
    """Check an SVG file and return it as a Drawing; with its named layers as plates when ``by`` is "layer".

    Raises ArtworkError when it is unsafe, broken, has neither a size nor a viewBox, or no layer that has a name.
    """
    data = _utf8(_read(path), path.name)
    facts = examine(data, path.name, encoding="utf-8")
    width_mm, aspect = _page(facts, path.name)

    aside = Aside(path.name)

    layers = layers_of(data) if by == "layer" else ()
    if by == "layer" and not layers:
        raise ArtworkError("has no group with a name", where=path.name, hint="name its layers, or leave --by layer out")

    def plates(width_px: int) -> Brought:
        drawn = [layer_plate(layer.name, render(width_px, layer.text)) for layer in layers]
        found = tuple(finding for _, finding in drawn if finding is not None)
        return Brought(tuple(plate for plate, _ in drawn if plate is not None), found)

    def drawn(by: Aside, width_px: int, page: bytes, *, fonts: bool) -> U8:
        text = _resized(page, facts, width_px=width_px, aspect=aspect)
        _, png = by.ask("svg", text.encode(), pixels=round(width_px * max(width_px * aspect, 1)), fonts=fonts)
        with quiet_decoders(), Image.open(io.BytesIO(png), formats=("PNG",)) as image:
            return np.array(image.convert("RGBA"))

    def render(width_px: int, page: bytes = data) -> U8:
        return drawn(aside, width_px, page, fonts=facts.texts > 0)

    findings = list(facts.findings)
    if facts.texts:
        without = Aside(path.name)  # one that draws without fonts opens nothing more
        try:
            looks = drawn(aside, LOOK_PX, data, fonts=True), drawn(without, LOOK_PX, data, fonts=False)
            findings.append(_live_text(looks, path.name))
        except BaseException:
            aside.close()
            raise
        finally:
            without.close()
    return Drawing(
        aspect=aspect,
        width_mm=width_mm,
        render=render,
        image_px=facts.image_px,
        findings=findings,
        plates=plates if layers else None,
        close=aside.close,
    )


def _live_text(looks: tuple[U8, U8], where: str) -> Finding:
    """Return what to know of a page with text, drawn small with fonts and without: where both are equal none is seen.

    Raises ArtworkError when nothing else is on the page.
    """
    with_text, without = looks
    hint = "convert text to outlines before saving"
    if not np.array_equal(with_text, without):
        return Finding("live-text", "warn", "text in the file is drawn with the fonts of this computer", hint)
    if not with_text[..., 3].any():
        raise ArtworkError(
            "nothing of it is drawn: text that is hidden, or whose font is missing here", where=where, hint=hint
        )
    return Finding("text-left-out", "warn", "text is not drawn: hidden, or its font is missing here", hint)


def _read(path: Path) -> bytes:
    too_big = ArtworkError(
        f"the SVG is over {MAX_BYTES // 1_000_000} MB", where=path.name, hint="export it as PNG at 300-600 dpi"
    )
    try:
        if path.stat().st_size > MAX_BYTES:
            raise too_big
        data = path.read_bytes()
        if data[:2] == b"\x1f\x8b":
            with gzip.GzipFile(fileobj=io.BytesIO(data)) as packed:
                data = packed.read(MAX_BYTES + 1)
    except (OSError, EOFError, zlib.error) as error:
        raise ArtworkError("cannot be unpacked or read", where=path.name, hint="export it again") from error
    if len(data) > MAX_BYTES:
        raise too_big
    return data


def _utf8(data: bytes, where: str) -> bytes:
    """Return the text in UTF-8; what its declaration says no longer counts."""
    if data[:2] in {codecs.BOM_UTF16_LE, codecs.BOM_UTF16_BE}:
        name = "utf-16"
    else:
        declared = _ENCODING.match(data.removeprefix(codecs.BOM_UTF8))
        name = declared[1].decode("ascii") if declared else "utf-8"
    try:
        text = data.decode("utf-8-sig" if name.lower().replace("_", "-") in {"utf-8", "utf8"} else name)
    except (LookupError, UnicodeDecodeError) as error:
        raise ArtworkError("is not text in its declared encoding", where=where, hint="save it as UTF-8") from error
    return text.encode()


def _resized(data: bytes, facts: SvgFacts, *, width_px: int, aspect: float) -> str:
    """Return the text with a root that asks for ``width_px``, its contents as they were.

    Told a size beside the file, the renderer fits the page's rounded pixel size, half a percent off for small pages.
    """
    head, tail = data[: facts.root_at].decode(), data[facts.root_at :].decode()
    tag = _ROOT_TAG.match(tail)
    if tag is None:  # not reached: the text was parsed
        return head + tail
    kept = [name + value for name, value in _ATTRIBUTE.findall(tag[2]) if name not in {"width", "height"}]
    if not _view_box(facts.view_box):
        width, height = _length(facts.width), _length(facts.height)
        if width and height:
            kept = [part for part in kept if not part.startswith("viewBox")]
            kept.append(f'viewBox="0 0 {width[0]:.9g} {height[0]:.9g}"')
    size = f'width="{width_px}" height="{max(width_px * aspect, 1.0):.9g}"'
    return f"{head}{tag[1]} {' '.join([size, *kept])}{tag[3]}{tail[tag.end() :]}"


def _page(facts: SvgFacts, where: str) -> tuple[float | None, float]:
    """Return (own width in mm or None, height / width)."""
    width, height = _length(facts.width), _length(facts.height)
    box = _view_box(facts.view_box)
    if width and height:
        aspect = height[0] / width[0]
    elif box:
        aspect = box[1] / box[0]
    else:
        raise ArtworkError("the SVG has no size and no viewBox", where=where, hint="export it with a page size")
    if width and width[1] not in _NO_SIZE_UNITS:
        return width[0] / PX_PER_INCH * MM_PER_INCH, aspect
    if height and not width and height[1] not in _NO_SIZE_UNITS:
        return height[0] / PX_PER_INCH * MM_PER_INCH / aspect, aspect
    return None, aspect


def _length(text: str) -> tuple[float, str] | None:
    """Return (CSS px, unit), or None for nothing, nonsense, a percentage or a font-relative length."""
    match = _LENGTH.fullmatch(text)
    if not match or match[2].lower() not in _UNIT_PX:
        return None
    value = float(match[1]) * _UNIT_PX[match[2].lower()]
    return (value, match[2].lower()) if 0 < value < 1e9 else None


def _view_box(text: str) -> tuple[float, float] | None:
    parts = text.replace(",", " ").split()
    try:
        _, _, width, height = (float(part) for part in parts)
    except ValueError:
        return None
    return (width, height) if 0 < width < 1e9 and 0 < height < 1e9 else None
