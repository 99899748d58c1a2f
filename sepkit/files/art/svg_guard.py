"""Reads an SVG once without drawing it: refuses what is unsafe, and gathers what its reader needs to know.

In: the bytes of the file. Out: SvgFacts. Refused with ArtworkError: broken XML, entity declarations, references out of
the file (href, url(), @import, style sheet instructions), endless nesting or repetition, embedded pictures over the
pixel limit. A link (<a href>) draws nothing and may stay.
"""

from __future__ import annotations

import base64
import binascii
import io
import math
import re
from dataclasses import dataclass, field
from urllib.parse import unquote_to_bytes
from xml.parsers import expat

from PIL import Image

from sepkit.errors import ArtworkError
from sepkit.files.art.picture import check_pixels
from sepkit.files.art.raster import quiet_decoders
from sepkit.files.words import shown
from sepkit.model import Finding

SVG_NAMESPACE = "http://www.w3.org/2000/svg"
MAX_DEPTH = 256
"""Nesting; art of drawing programs stays below 60."""
MAX_DRAWN = 2_000_000
"""Elements after repetition by <use>, patterns, masks and the like."""
MAX_NESTED_SVG = 3
LEAST_IMAGE_SHARE = 0.1
"""A placed picture narrower than this share of the page does not decide the rendering's resolution."""

_URL = re.compile(r"url\(\s*[\"']?\s*([^\"')\s]+)", re.IGNORECASE)
_IMPORT = re.compile(r"@import\s+(?:url\()?[\"'\s]*([^\"')\s;]+)", re.IGNORECASE)
_TRANSFORM = re.compile(r"(matrix|scale)\s*\(([^)]*)\)", re.IGNORECASE)
_EMBED = "embed it in the file before saving"


@dataclass(slots=True)
class SvgFacts:
    """What the page says about itself."""

    width: str = ""
    height: str = ""
    view_box: str = ""
    root_at: int = 0
    """Byte where the root's tag starts."""
    texts: int = 0
    image_px: float = 0.0
    """Width in pixels at which the finest large picture on the page keeps its pixels."""
    findings: list[Finding] = field(default_factory=list)


@dataclass(slots=True)
class _Element:
    name: str
    scale: float
    children: list[int] = field(default_factory=list)
    refers: list[str] = field(default_factory=list)


def examine(data: bytes, where: str, *, encoding: str | None = None, nested: int = 0) -> SvgFacts:
    """Read an SVG and return its facts; ``encoding`` goes before the declared one.

    Raises ArtworkError for anything listed in this module's docstring.
    """
    parser = expat.ParserCreate(encoding, namespace_separator=" ")
    parser.buffer_text = True
    reader = _Reader(where, nested, parser)
    parser.StartDoctypeDeclHandler = reader.doctype
    parser.ProcessingInstructionHandler = reader.instruction
    parser.StartElementHandler = reader.start
    parser.EndElementHandler = reader.end
    parser.CharacterDataHandler = reader.characters
    try:
        parser.Parse(data, True)
    except (LookupError, ValueError) as error:  # an encoding of its own that nobody knows, or of many bytes
        raise ArtworkError(
            f"is not text in its declared encoding ({_short(str(error))})", where=where, hint="save it as UTF-8"
        ) from error
    except expat.ExpatError as error:
        what = "is not an SVG" if not reader.elements else "the SVG is broken or cut short"
        raise ArtworkError(f"{what}: {error}", where=where, hint="export it again") from error
    reader.check_repetition()
    return reader.facts


class _Reader:
    """Handlers of one reading."""

    def __init__(self, where: str, nested: int, parser: expat.XMLParserType) -> None:
        self.where = where
        self.parser = parser
        self.nested = nested
        self.facts = SvgFacts()
        self.elements: list[_Element] = []
        self.ids: dict[str, int] = {}
        self.open: list[int] = []
        self.style: list[str] = []
        self.page_width = 0.0
        self.told: set[str] = set()

    def refuse(self, text: str, hint: str) -> ArtworkError:
        return ArtworkError(text, where=self.where, hint=hint)

    def doctype(self, _name: str, _system: str | None, _public: str | None, has_subset: int) -> None:
        if has_subset:  # a bare DOCTYPE, as many programs write it, declares nothing and is never fetched
            raise self.refuse("declares entities or a document type of its own", "save it as plain SVG")

    def instruction(self, target: str, content: str) -> None:
        if target == "xml-stylesheet":
            raise self.refuse(f"refers to a style sheet outside: {_short(content)}", "save it with its styles inside")

    def start(self, qualified: str, attributes: dict[str, str]) -> None:
        namespace, _, name = qualified.rpartition(" ")
        if not self.elements:
            self._root(namespace, name, attributes)
        if len(self.open) >= MAX_DEPTH:
            raise self.refuse(f"is nested more than {MAX_DEPTH} deep", "ungroup and save it again")
        parent = self.elements[self.open[-1]] if self.open else None
        element = _Element(name, (parent.scale if parent else 1.0) * _scale(attributes.get("transform", "")))
        number = len(self.elements)
        self.elements.append(element)
        if parent:
            parent.children.append(number)
        self.open.append(number)
        if namespace not in {SVG_NAMESPACE, ""}:
            return
        if "id" in attributes:
            self.ids.setdefault(attributes["id"], number)
        self._references(element, attributes)
        self._note(name, parent.name if parent else "", attributes, element.scale)

    def end(self, _qualified: str) -> None:
        if self.elements[self.open.pop()].name == "style":
            self._style_sheet("".join(self.style))
            self.style.clear()

    def characters(self, text: str) -> None:
        if self.open and self.elements[self.open[-1]].name == "style":
            self.style.append(text)

    def check_repetition(self) -> None:
        """Count what is drawn when each reference is followed; children always come after their parent."""
        drawn: dict[int, int] = {}
        for first in range(len(self.elements) - 1, -1, -1):
            self._count(first, drawn)

    def _count(self, first: int, drawn: dict[int, int]) -> None:
        waiting, entered = [first], set[int]()
        while waiting:
            number = waiting[-1]
            if number in drawn:
                waiting.pop()
                continue
            element = self.elements[number]
            parts = element.children + [self.ids[name] for name in element.refers if name in self.ids]
            if number not in entered:
                entered.add(number)
                waiting += [part for part in parts if part not in drawn and part not in entered]
                continue
            # a part that is entered but not counted refers back to us: the renderer breaks such rings itself
            drawn[number] = 1 + sum(drawn.get(part, 0) for part in parts)
            waiting.pop()
            if drawn[number] > MAX_DRAWN:
                raise self.refuse("repeats parts of itself millions of times", "expand or simplify it before saving")

    def _root(self, namespace: str, name: str, attributes: dict[str, str]) -> None:
        if name == "svg" and not namespace:
            raise self.refuse("does not declare itself as SVG", f'add xmlns="{SVG_NAMESPACE}" to its <svg>')
        if name != "svg" or namespace != SVG_NAMESPACE:
            raise self.refuse(f"is XML, but no SVG (its root is <{_short(name)}>)", "give an SVG file")
        self.facts.root_at = self.parser.CurrentByteIndex
        self.facts.width = attributes.get("width", "")
        self.facts.height = attributes.get("height", "")
        self.facts.view_box = attributes.get("viewBox", "")
        parts = self.facts.view_box.replace(",", " ").split()
        self.page_width = _float(parts[2] if len(parts) == 4 else self.facts.width)

    def _references(self, element: _Element, attributes: dict[str, str]) -> None:
        for key, value in attributes.items():
            key_name = key.rpartition(" ")[2]
            if key_name == "href" and element.name != "a":
                self._reference(element, value.strip())
            elif "url(" in value.lower():
                for target in _URL.findall(value):
                    self._reference(element, target)

    def _reference(self, element: _Element, target: str) -> None:
        if not target:
            return
        if target.startswith("#"):
            element.refers.append(target[1:])
        elif target[:5].lower() != "data:":
            raise self.refuse(f"refers to something outside the file: {_short(target)}", _EMBED)

    def _style_sheet(self, text: str) -> None:
        for target in _IMPORT.findall(text) + _URL.findall(text):
            if not target.startswith("#") and target[:5].lower() != "data:":
                raise self.refuse(f"refers to something outside the file: {_short(target)}", _EMBED)

    def _note(self, name: str, parent: str, attributes: dict[str, str], scale: float) -> None:
        if name == "text":
            self.facts.texts += 1
        elif name == "foreignObject" and parent != "switch":
            self._tell("not-drawn", "a part that is no SVG (foreignObject) is not drawn", "convert it to shapes")
        elif name in {"image", "feImage"}:
            self._image(attributes, scale)

    def _image(self, attributes: dict[str, str], scale: float) -> None:
        target = next((v.strip() for k, v in attributes.items() if k.rpartition(" ")[2] == "href"), "")
        if target[:5].lower() != "data:":
            return
        kind, data = _data_of(target)
        if "svg" in kind:
            if self.nested >= MAX_NESTED_SVG:
                raise self.refuse("holds an SVG in an SVG in an SVG too often", "flatten it before saving")
            inner = examine(data, self.where, nested=self.nested + 1)
            self.facts.texts += inner.texts
            return
        try:
            with quiet_decoders(), Image.open(io.BytesIO(data), formats=("PNG", "JPEG", "WEBP", "GIF")) as image:
                size = image.size
        except Exception:  # a decoder may raise anything on a broken file
            self._tell("not-drawn", "a picture in the file is broken and is not drawn", "place it again")
            return
        check_pixels(*size, self.where, what="a picture in the file")
        wide = (_float(attributes.get("width", "")) or size[0]) * scale
        if self.page_width and wide >= LEAST_IMAGE_SHARE * self.page_width:
            self.facts.image_px = max(self.facts.image_px, size[0] * self.page_width / wide)

    def _tell(self, code: str, text: str, hint: str) -> None:
        if text not in self.told:
            self.told.add(text)
            self.facts.findings.append(Finding(code, "warn", text, hint))


def _data_of(target: str) -> tuple[str, bytes]:
    """Return (media type, content) of a data: reference (RFC 2397); nothing when it is broken."""
    head, _, body = target[5:].partition(",")
    raw = unquote_to_bytes(body)
    if not head.lower().replace(" ", "").endswith(";base64"):
        return head.lower(), raw
    try:
        return head.lower(), base64.b64decode(b"".join(raw.split()) + b"==")
    except (binascii.Error, ValueError):
        return head.lower(), b""


def _scale(transform: str) -> float:
    """Return the width factor of a transform list, from its scale() and matrix() parts."""
    factor = 1.0
    for kind, inside in _TRANSFORM.findall(transform):
        values = [_float(part) for part in inside.replace(",", " ").split()]
        if values:
            factor *= math.hypot(*values[:2]) if kind == "matrix" and len(values) > 1 else abs(values[0])
    return factor


def _float(text: str) -> float:
    match = re.match(r"\s*[-+]?\d*\.?\d+(?:[eE][-+]?\d{1,3})?", text)
    return float(match[0]) if match else 0.0


def _short(text: str) -> str:
    return shown(" ".join(text.split()))
