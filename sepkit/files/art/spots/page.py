"""The first page of a PDF in its inks: their names and colours, and a page that shows one of them in greys.

In: the file's bytes. Out: names, and small PDFs for the renderer. Whatever cannot be told in plates is an
UnreadableError with words for it. Transparency groups and soft masks stay: each ink blends by itself, as greys do
(ISO 32000-1:2008, 11.7.3).
"""

from __future__ import annotations

import io
import re
from dataclasses import replace
from typing import Any

from sepkit.files.art.pdf_facts import reader_of
from sepkit.files.art.spots.greys import even_steps, grey_space, parsed
from sepkit.files.art.spots.spaces import ALL, PROCESS, Space, UnreadableError, space_of, there
from sepkit.files.art.spots.tokens import Operation, name_of
from sepkit.files.art.spots.walk import State, Walk

MOST_CONTENT = 60_000_000
"""Bytes of one drawing, unpacked."""
_LONG = {
    "/W": "/Width",
    "/H": "/Height",
    "/BPC": "/BitsPerComponent",
    "/CS": "/ColorSpace",
    "/D": "/Decode",
    "/DP": "/DecodeParms",
    "/F": "/Filter",
    "/I": "/Interpolate",
    "/IM": "/ImageMask",
    "/AHx": "/ASCIIHexDecode",
    "/A85": "/ASCII85Decode",
    "/LZW": "/LZWDecode",
    "/Fl": "/FlateDecode",
    "/RL": "/RunLengthDecode",
    "/CCF": "/CCITTFaxDecode",
    "/DCT": "/DCTDecode",
}
"""Abbreviations of inline images (8.9.7, tables 93 and 94)."""
_OF_STREAM = frozenset(
    {"/Resources", "/Length", "/Filter", "/DecodeParms", "/PieceInfo", "/Metadata", "/StructParents"}
)
"""Of a form: what is written anew, or says nothing of its drawing."""
_UNHEARD = ("/OP", "/op", "/OPM", "/Font", "/TR", "/TR2", "/HT", "/BG", "/BG2", "/UCR", "/UCR2")
"""Of a graphics state: overprint, which is worked out here, and what concerns other devices."""
_CMYK_SOLID = {name: tuple(float(one == name) for one in PROCESS) for name in PROCESS}


class SpotPage:
    """One page; drawings of it are written anew for each ink."""

    def __init__(self, data: bytes) -> None:
        self.page = reader_of(data).pages[0]
        self._spaces: dict[str, Any] = {}

    def inks(self) -> tuple[str, ...]:
        """Return the inks that the page paints with, in the order they come; OTHER among them for colours of light."""
        drawing = _Drawing(self.page, ALL)
        drawing.written()
        self._spaces = drawing.spaces
        return tuple(dict.fromkeys(ink for ink in drawing.painted if ink != ALL))

    def in_greys(self, ink: str) -> bytes:
        """Return the page as a PDF in greys: white where ``ink`` is none, black where it is solid."""
        return _Drawing(self.page, ink).written()

    def swatch(self, ink: str) -> bytes:
        """Return a PDF filled with one of ``inks``, solid, in the colour that stands in for it."""
        from pypdf import PdfWriter

        writer = PdfWriter()
        resources = parsed("<< >>")
        if ink in PROCESS:
            fill = " ".join(f"{value:g}" for value in _CMYK_SOLID[ink]) + " k"
        else:
            space = self._spaces[ink]
            names = space_of(space, None).names
            resources = parsed("<< /ColorSpace << >> >>")
            resources["/ColorSpace"][_key("/Ink")] = there(space).clone(writer)
            fill = "/Ink cs " + " ".join("1" if name == ink else "0" for name in names) + " scn"
        _add_page(writer, parsed("<< /MediaBox [0 0 8 8] >>"), resources, f"{fill} -1 -1 10 10 re f".encode())
        return _bytes(writer)


class _Drawing:
    """A page on its way into a file of its own; a ``walk.Target``."""

    def __init__(self, page: Any, ink: str) -> None:
        from pypdf import PdfWriter

        self.page, self.ink = page, ink
        self.writer = PdfWriter()
        self.painted: list[str] = []
        self.spaces: dict[str, Any] = {}
        self._made: dict[object, str] = {}
        self._objects: dict[str, Any] = {}
        self._kept: list[Any] = []
        self._count = 0
        self._resources: list[Any] = []

    def written(self) -> bytes:
        """Return the page in the ink's greys."""
        contents = self.page.get_contents()
        text = b"" if contents is None else _text(contents)
        self._open(self.page.get("/Resources"))
        text = Walk(self.ink, self, self.page.get("/Resources"), 0).run(text, State())
        box = parsed("<< >>")
        for key in ("/MediaBox", "/CropBox", "/Rotate", "/UserUnit"):
            value = self.page.get(key)
            if value is not None:
                box[_key(key)] = there(value).clone(self.writer)
        _add_page(self.writer, box, self._resources.pop(), text)
        return _bytes(self.writer)

    def paints(self, inks: tuple[str, ...]) -> None:
        """Take note of inks."""
        self.painted += [ink for ink in inks if ink not in self.painted]

    def opacity(self, fill: float, stroke: float) -> str:
        """Return a graphics state with these opacities."""
        return self._named(
            "/ExtGState", ("opacity", fill, stroke), lambda: parsed(f"<< /ca {fill:g} /CA {stroke:g} >>")
        )

    def graphics(self, entry: Any) -> str:
        """Return a graphics state of the page, overprint aside: it is worked out already."""

        def made() -> Any:
            kept = entry.clone(self.writer, ignore_fields=_UNHEARD)
            for key in _UNHEARD:
                kept.pop(key, None)
            return kept

        return self._named("/ExtGState", id(entry), made, keep=entry)

    def pattern(self, entry: Any, resources: Any, depth: int) -> tuple[str, tuple[str, ...]]:
        """Return a pattern in greys; a tiling one is a drawing of its own."""
        if int(there(entry.get("/PatternType", 1))) == 2:
            space = self._space(there(entry["/Shading"])["/ColorSpace"], resources)
            return self._named("/Pattern", id(entry), lambda: self._shaded(entry, space), keep=entry), space.inks
        inner = entry.get("/Resources", resources)
        coloured = int(there(entry.get("/PaintType", 1))) == 1

        def made() -> Any:
            if not coloured:
                return self._stream(entry, _text(entry), inner)
            return self._drawn(entry, inner, State(), depth + 1)

        return self._named("/Pattern", (id(entry), "tiles"), made, keep=entry), ()

    def shading(self, entry: Any, resources: Any) -> tuple[str, tuple[str, ...]]:
        """Return a shading in greys."""
        space = self._space(entry["/ColorSpace"], resources)
        return self._named("/Shading", id(entry), lambda: self._shading(entry, space), keep=entry), space.inks

    def picture(self, entry: Any, resources: Any) -> tuple[str, Space | None]:
        """Return a picture in greys, or a mask as it is."""
        if _is_true(entry.get("/ImageMask")):
            return self._named("/XObject", id(entry), lambda: entry.clone(self.writer), keep=entry), None
        if "/ColorSpace" not in entry:
            raise UnreadableError("a picture in it says no colour space")
        space = self._space(entry["/ColorSpace"], resources)

        def made() -> Any:
            image = entry.clone(self.writer, ignore_fields=("/ColorSpace", "/Alternates", "/OPI", "/Metadata"))
            image[_key("/ColorSpace")] = grey_space(space, self.ink, self.writer)
            return image

        return self._named("/XObject", id(entry), made, keep=entry), space

    def form(self, entry: Any, state: State, resources: Any, depth: int) -> str:
        """Return a form as drawn in ``state``; a group starts opaque (11.6.6)."""
        if "/Group" in entry:
            state = replace(state, opacity=(1.0, 1.0))
        inner = entry.get("/Resources", resources)
        return self._named("/XObject", (id(entry), state), lambda: self._drawn(entry, inner, state, depth), keep=entry)

    def inline(self, operation: Operation, resources: Any) -> tuple[bytes, Space | None]:
        """Return an inline image as a picture of the page."""
        from pypdf.generic import EncodedStreamObject

        words = operation.operands
        entries = {name_of(key): value for key, value in zip(words[::2], words[1::2], strict=False)}
        image = EncodedStreamObject()
        image._data = operation.data
        image.update(parsed("<< /Subtype /Image /Type /XObject >>"))
        for key, value in entries.items():
            value = _in_full(value) if key in ("/F", "/Filter") else value
            image[_key(_LONG.get(key, key))] = parsed(value.decode("latin-1"))
        if _is_true(image.get("/ImageMask")):
            return f"{self._named('/XObject', id(image), lambda: image, keep=image)} Do".encode(), None
        name, space = self.picture(image, resources)
        return f"{name} Do".encode("latin-1"), space

    def _space(self, entry: Any, resources: Any) -> Space:
        space = space_of(entry, there(resources) or {})
        self._remember(entry, resources)
        return space

    def _remember(self, entry: Any, resources: Any) -> None:
        """Keep, for each ink by name, a space that knows its colour; its own Separation is best."""
        entry = there(entry)
        if isinstance(entry, str):
            entry = there((there((there(resources) or {}).get("/ColorSpace")) or {}).get(entry))
        if not isinstance(entry, list) or len(entry) < 2:
            return
        if str(there(entry[0])) in ("/Indexed", "/I", "/Pattern"):
            self._remember(entry[1], resources)
            return
        if str(there(entry[0])) not in ("/Separation", "/DeviceN"):
            return
        for name in space_of(entry, None).names:
            held = self.spaces.get(name)
            if held is None or len(space_of(held, None).names) > len(space_of(entry, None).names):
                self.spaces[name] = entry

    def _shading(self, entry: Any, space: Space) -> Any:
        shading = entry.clone(self.writer, ignore_fields=("/ColorSpace",))
        shading[_key("/ColorSpace")] = grey_space(space, self.ink, self.writer)
        even_steps(shading)
        return shading

    def _shaded(self, entry: Any, space: Space) -> Any:
        pattern = entry.clone(self.writer, ignore_fields=("/Shading", "/ExtGState"))
        pattern.pop("/ExtGState", None)
        pattern[_key("/Shading")] = self._reference(self._shading(there(entry["/Shading"]), space))
        return pattern

    def _drawn(self, entry: Any, resources: Any, state: State, depth: int) -> Any:
        """Return a form or tiling pattern whose drawing is in greys."""
        self._open(resources)
        text = Walk(self.ink, self, resources, depth).run(_text(entry), state)
        out = self._stream(entry, text, None)
        out[_key("/Resources")] = self._resources.pop()
        return out

    def _stream(self, entry: Any, text: bytes, resources: Any) -> Any:
        from pypdf.generic import DecodedStreamObject

        out = DecodedStreamObject()
        out.set_data(text)
        for key, value in entry.items():
            if key not in _OF_STREAM:
                out[_key(key)] = there(value).clone(self.writer)
        if resources is not None:
            out[_key("/Resources")] = there(resources).clone(self.writer)
        return out

    def _open(self, resources: Any) -> None:
        """Start resources for one drawing: fonts and marked content as they are, the rest as it is used."""
        resources = there(resources) or {}
        out = parsed("<< /ColorSpace << /Uncoloured [/Pattern /DeviceGray] >> >>")
        for key in ("/Font", "/Properties"):
            if key in resources:
                out[_key(key)] = there(resources[key]).clone(self.writer)
        for space in (there(resources.get("/ColorSpace")) or {}).values():
            self._remember(space, resources)
        self._resources.append(out)

    def _named(self, category: str, key: object, make: Any, *, keep: Any = None) -> str:
        """Return the name of a resource in the drawing at hand; made once, entered wherever it is used."""
        whole = (category, key)
        if whole not in self._made:
            self._made[whole] = ""  # a form that draws itself finds nothing here
            self._kept.append(keep)  # so that no other object takes its id
            self._count += 1
            name = f"/Sk{self._count}"
            self._objects[name] = self._reference(make())
            self._made[whole] = name
        name = self._made[whole]
        if not name:
            raise UnreadableError("a form in it draws itself")
        entries = self._resources[-1].setdefault(_key(category), parsed("<< >>"))
        entries[_key(name)] = self._objects[name]
        return name

    def _reference(self, made: Any) -> Any:
        return getattr(made, "indirect_reference", None) or self.writer._add_object(made)


def _add_page(writer: Any, boxes: Any, resources: Any, text: bytes) -> None:
    from pypdf.generic import DecodedStreamObject

    content = DecodedStreamObject()
    content.set_data(text)
    page = writer.add_blank_page(width=8, height=8)
    page.update(boxes)
    page[_key("/Resources")] = resources
    page[_key("/Contents")] = writer._add_object(content)


def _bytes(writer: Any) -> bytes:
    out = io.BytesIO()
    writer.write(out)
    return out.getvalue()


def _text(stream: Any) -> bytes:
    text = bytes(stream.get_data())
    if len(text) > MOST_CONTENT:
        raise UnreadableError("its drawing is too long")
    return text


def _in_full(filters: bytes) -> bytes:
    """Return the filters of an inline image by their full names."""
    return re.sub(rb"/\w+", lambda found: _LONG.get(found[0].decode(), found[0].decode()).encode(), filters)


def _key(name: str) -> Any:
    from pypdf.generic import NameObject

    return NameObject(name)


def _is_true(value: Any) -> bool:
    value = there(value)
    return bool(getattr(value, "value", value))
