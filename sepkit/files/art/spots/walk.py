"""A page's drawing walked operator by operator: which inks it paints with, and the same drawing in one ink's greys.

What is painted in a colour without the ink either knocks it out, and is drawn white, or overprints it, and is not
drawn: its opacity is set to nothing, which keeps text, clips and positions as they are. Forms are walked again for each
state that they are called in. Sources: ISO 32000-1:2008, 8.4 (graphics state), 8.6.7 and table 149 (overprint), 8.6.8
(colour operators), 8.7 (patterns), 8.10 (forms), 9.6.5 (Type 3 fonts), 11.7.4.

In: pypdf objects. Out: content streams as bytes; resources are asked of and put into a ``Target``.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any, Protocol

from sepkit.files.art.spots.spaces import (
    CMYK,
    GREY,
    LIGHT,
    NONE,
    PROCESS,
    Space,
    UnreadableError,
    space_of,
    there,
    tint,
)
from sepkit.files.art.spots.tokens import Operation, name_of, numbers, operations

MOST_DEPTH = 24
"""Forms in forms: real pages stay below ten."""
MOST_OPERATIONS = 3_000_000
_DEVICE = {b"g": GREY, b"rg": LIGHT, b"k": CMYK}
_FILLS = frozenset({b"f", b"F", b"f*", b"B", b"B*", b"b", b"b*"})
_STROKES = frozenset({b"S", b"s", b"B", b"B*", b"b", b"b*"})
_TEXT = frozenset({b"Tj", b"TJ", b"'", b'"'})


@dataclass(frozen=True, slots=True)
class Paint:
    """What fills or strokes: a space with a colour, or a pattern by the name it has in the output."""

    space: Space = GREY
    values: tuple[float, ...] = (0.0,)
    pattern: str = ""
    inks: tuple[str, ...] = ()
    """Of a shading pattern: the inks of its own space; a tiling pattern decides by what it draws."""


@dataclass(frozen=True, slots=True)
class State:
    """The graphics state as far as it decides what is painted."""

    fill: Paint = Paint()
    stroke: Paint = Paint()
    over_fill: bool = False
    over_stroke: bool = False
    nonzero: bool = False
    """OPM 1: zeros of DeviceCMYK leave their inks alone."""
    opacity: tuple[float, float] = (1.0, 1.0)
    """Of filling and stroking, as the page says."""
    text: int = 0


class Target(Protocol):
    """Takes the resources of a drawing under new names, and tells what was painted."""

    def opacity(self, fill: float, stroke: float) -> str:
        """Return the name of a graphics state with these opacities."""
        ...

    def graphics(self, entry: Any) -> str:
        """Return the name of a graphics state of the page."""
        ...

    def pattern(self, entry: Any, resources: Any, depth: int) -> tuple[str, tuple[str, ...]]:
        """Return the name of a pattern, and its inks when it is a shading."""
        ...

    def shading(self, entry: Any, resources: Any) -> tuple[str, tuple[str, ...]]:
        """Return the name of a shading, and its inks."""
        ...

    def picture(self, entry: Any, resources: Any) -> tuple[str, Space | None]:
        """Return the name of a picture, and its space; None when it is a mask that is filled."""
        ...

    def form(self, entry: Any, state: State, resources: Any, depth: int) -> str:
        """Return the name of a form as it is drawn in this state."""
        ...

    def inline(self, operation: Operation, resources: Any) -> tuple[bytes, Space | None]:
        """Return an inline image, and its space; None when it is a mask."""
        ...

    def paints(self, inks: tuple[str, ...]) -> None:
        """Take note of inks that something is painted with."""
        ...


class Walk:
    """One content stream in the greys of ``ink``; the state that it starts in is the one around it."""

    def __init__(self, ink: str, target: Target, resources: Any, depth: int) -> None:
        self.ink, self.target, self.depth = ink, target, depth
        self.resources = there(resources) or {}
        self.out: list[bytes] = []
        self.state = State()
        self.saved: list[tuple[State, tuple[float, float]]] = []
        self.opacity_now = (1.0, 1.0)
        self.count = 0

    def run(self, text: bytes, state: State) -> bytes:
        """Return the stream's drawing."""
        if self.depth > MOST_DEPTH:
            raise UnreadableError("its forms nest too deep")
        self.state, self.opacity_now = state, state.opacity
        if not state.fill.pattern and state.fill.space.kind != "pattern":
            self.out.append(f"{self._grey(state.fill)} g".encode())
        if not state.stroke.pattern and state.stroke.space.kind != "pattern":
            self.out.append(f"{self._grey(state.stroke)} G".encode())
        for operation in operations(text):
            self.count += 1
            if self.count > MOST_OPERATIONS:
                raise UnreadableError("its drawing is too long")
            self._one(operation)
        return b"\n".join(self.out)

    def _one(self, operation: Operation) -> None:
        name = operation.name
        if name in _FILLS or name in _STROKES:
            self._show(name in _FILLS, name in _STROKES)
        elif name in _TEXT:
            self._show(self.state.text % 4 in (0, 2), self.state.text % 4 in (1, 2))
        elif name.lower() in _DEVICE or name.lower() in (b"cs", b"sc", b"scn"):
            self._colour(operation)
            return
        elif name in _OTHERS:
            _OTHERS[name](self, operation)
            return
        self.out.append(operation.raw)

    def _push(self, operation: Operation) -> None:
        self.saved.append((self.state, self.opacity_now))
        self.out.append(operation.raw)

    def _pop(self, operation: Operation) -> None:
        if self.saved:
            self.state, self.opacity_now = self.saved.pop()
            self.out.append(operation.raw)

    def _text_mode(self, operation: Operation) -> None:
        self.state = replace(self.state, text=int((numbers(operation.operands) or (0.0,))[0]))
        self.out.append(operation.raw)

    def _graphics(self, operation: Operation) -> None:
        entry = self._entry("/ExtGState", operation)
        if entry is None:
            return
        self.out.append(f"{self.target.graphics(entry)} gs".encode("latin-1"))
        state = self.state
        if "/OP" in entry:
            state = replace(state, over_stroke=_true(entry["/OP"]), over_fill=_true(entry["/OP"]))
        if "/op" in entry:
            state = replace(state, over_fill=_true(entry["/op"]))
        if "/OPM" in entry:
            state = replace(state, nonzero=int(there(entry["/OPM"])) == 1)
        fill, stroke = state.opacity
        now_fill, now_stroke = self.opacity_now
        if "/ca" in entry:
            fill = now_fill = float(there(entry["/ca"]))
        if "/CA" in entry:
            stroke = now_stroke = float(there(entry["/CA"]))
        self.state, self.opacity_now = replace(state, opacity=(fill, stroke)), (now_fill, now_stroke)

    def _colour(self, operation: Operation) -> None:
        """Set a colour: written as its grey, or as the pattern under its new name."""
        stroking = operation.name.isupper()
        old = self.state.stroke if stroking else self.state.fill
        paint = self._paint(operation, old)
        self.state = replace(self.state, stroke=paint) if stroking else replace(self.state, fill=paint)
        grey, select, set_pattern = ("G", "CS", "SCN") if stroking else ("g", "cs", "scn")
        if paint.pattern:
            inner = paint.space.base
            chosen = "/Pattern" if inner is None else "/Uncoloured"
            value = "" if inner is None else f"{self._grey(Paint(inner, paint.values))} "
            self.out.append(f"{chosen} {select} {value}{paint.pattern} {set_pattern}".encode("latin-1"))
        elif paint.space.kind != "pattern":
            self.out.append(f"{self._grey(paint)} {grey}".encode())

    def _grey(self, paint: Paint) -> str:
        return f"{1 - tint(paint.space, paint.values, self.ink):.5g}"

    def _paint(self, operation: Operation, old: Paint) -> Paint:
        name, values = operation.name.lower(), numbers(operation.operands)
        if name in _DEVICE:
            return Paint(_DEVICE[name], values)
        if name == b"cs":
            space = space_of(_name(operation), self.resources)
            return Paint(space, space.first_colour)
        if operation.operands and operation.operands[-1].startswith(b"/"):
            entry = self._entry("/Pattern", operation)
            if entry is None:
                return Paint(Space("pattern", 0))
            pattern, inks = self.target.pattern(entry, self.resources, self.depth)
            coloured = int(there(entry.get("/PaintType", 1))) == 1
            return Paint(Space("pattern", 0) if coloured else old.space, values, pattern, inks)
        return Paint(old.space, values)

    def _show(self, fill: bool, stroke: bool) -> None:
        """Let the next paint show as far as it touches the ink."""
        state = self.state
        wanted = (
            state.opacity[0] if not fill or self._touches(state.fill, state.over_fill) else 0.0,
            state.opacity[1] if not stroke or self._touches(state.stroke, state.over_stroke) else 0.0,
        )
        self._set_opacity(wanted)

    def _set_opacity(self, wanted: tuple[float, float]) -> None:
        if wanted != self.opacity_now:
            self.opacity_now = wanted
            self.out.append(f"{self.target.opacity(*wanted)} gs".encode("latin-1"))

    def _touches(self, paint: Paint, over: bool) -> bool:
        """Tell whether a paint marks the ink or knocks it out."""
        space = paint.space
        if space.kind == "pattern" and space.base is None:
            self.target.paints(paint.inks)
            return not (over and paint.inks and self.ink not in paint.inks)
        if space.kind == "pattern" and space.base is not None:
            space = space.base
        self.target.paints(tuple(ink for ink in space.inks if tint(space, paint.values, ink) > 0))
        if space.kind == "named" and not space.inks:
            return False
        if over and space == CMYK and self.state.nonzero:
            return tint(space, paint.values, self.ink) > 0
        return not over or self._has(space)

    def _has(self, space: Space) -> bool:
        """Tell whether colours of a space say something of the ink; process colours say all four process inks."""
        process = space.kind in ("grey", "light", "cmyk") and self.ink in PROCESS
        return process or self.ink in space.inks or "All" in space.names

    def _picture_shows(self, space: Space | None) -> None:
        if space is None:
            self._show(True, False)
            return
        self.target.paints(space.inks)
        nothing = space.kind == "named" and set(space.names) == {NONE}
        hidden = nothing or (self.state.over_fill and not self._has(space))
        self._set_opacity((0.0 if hidden else self.state.opacity[0], self.opacity_now[1]))

    def _object(self, operation: Operation) -> None:
        entry = self._entry("/XObject", operation)
        kind = "" if entry is None else str(there(entry.get("/Subtype")))
        if entry is not None and kind == "/Image":
            name, space = self.target.picture(entry, self.resources)
            self._picture_shows(space)
        elif entry is not None and kind == "/Form":
            self._set_opacity(self.state.opacity)
            name = self.target.form(entry, self.state, self.resources, self.depth + 1)
        else:
            return
        self.out.append(f"{name} Do".encode("latin-1"))

    def _inline(self, operation: Operation) -> None:
        raw, space = self.target.inline(operation, self.resources)
        self._picture_shows(space)
        self.out.append(raw)

    def _shading(self, operation: Operation) -> None:
        entry = self._entry("/Shading", operation)
        if entry is None:
            return
        name, inks = self.target.shading(entry, self.resources)
        self.target.paints(inks)
        process = self.ink in PROCESS and "Black" in inks
        hidden = self.state.over_fill and self.ink not in inks and not process
        self._set_opacity((0.0 if hidden else self.state.opacity[0], self.opacity_now[1]))
        self.out.append(f"{name} sh".encode("latin-1"))

    def _font(self, operation: Operation) -> None:
        entry = self._entry("/Font", operation)
        if entry is not None and str(there(entry.get("/Subtype"))) == "/Type3":
            for glyph in (there(entry.get("/CharProcs")) or {}).values():
                if b" d0" in there(glyph).get_data()[:200]:
                    raise UnreadableError("a font in it has colours of its own")
        self.out.append(operation.raw)

    def _entry(self, category: str, operation: Operation) -> Any:
        entry = (there(self.resources.get(category)) or {}).get(_name(operation))
        return there(entry)


def _name(operation: Operation) -> str:
    return name_of(operation.operands[-1]) if operation.operands else ""


def _true(value: Any) -> bool:
    value = there(value)
    return bool(getattr(value, "value", value))


_OTHERS = {
    b"q": Walk._push,
    b"Q": Walk._pop,
    b"Tr": Walk._text_mode,
    b"gs": Walk._graphics,
    b"Do": Walk._object,
    b"BI": Walk._inline,
    b"sh": Walk._shading,
    b"Tf": Walk._font,
}
