"""Colour spaces of a page, and what of one ink a colour in them asks.

In: pypdf objects. Out: Spaces; tints 0..1.
Sources: ISO 32000-1:2008, 8.6.4 to 8.6.6 (device, CIE-based, Indexed, Separation, DeviceN), 8.6.6.4 (All, None).

Process colours ask what they say: CMYK its four, grey black. RGB that is neutral asks black; any other colour of light
asks for no ink by name and is told as ``OTHER``: it is separated by its colour.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any, Literal

Kind = Literal["grey", "light", "cmyk", "named", "indexed", "pattern"]

PROCESS = ("Cyan", "Magenta", "Yellow", "Black")
OTHER = ""
"""Stands for colours of light that are no ink's."""
ALL, NONE = "All", "None"
NEUTRAL = 0.02
"""Colours of light whose parts lie within this are grey: what programs write for black and white."""
MOST_INKS = 32
"""ISO 32000-1, table C.1: the most colorants of a DeviceN."""
_GREYS = frozenset({"/DeviceGray", "/G", "/CalGray"})
_INKS = frozenset({"/DeviceCMYK", "/CMYK", "/CalCMYK"})
_LIGHTS = frozenset({"/DeviceRGB", "/RGB", "/CalRGB", "/Lab"})


class UnreadableError(ValueError):
    """A page that cannot be told in plates, with words for it."""


@dataclass(frozen=True, slots=True)
class Space:
    """A colour space: what kind, its inks, and of an indexed or pattern space the one below it."""

    kind: Kind
    count: int
    names: tuple[str, ...] = ()
    base: Space | None = None
    table: bytes = b""
    lab: bool = False

    @property
    def first_colour(self) -> tuple[float, ...]:
        """The colour that selecting the space sets (8.6.3 ff.): black, or all inks solid."""
        if self.kind == "cmyk":
            return (0.0, 0.0, 0.0, 1.0)
        return (1.0 if self.kind == "named" else 0.0,) * self.count

    @property
    def inks(self) -> tuple[str, ...]:
        """The inks that colours in it may ask."""
        if self.kind in ("indexed", "pattern"):
            return self.base.inks if self.base is not None else ()
        if self.kind == "named":
            return tuple(name for name in self.names if name != NONE)
        return {"grey": ("Black",), "light": (OTHER, "Black"), "cmyk": PROCESS}[self.kind]


GREY, LIGHT, CMYK = Space("grey", 1), Space("light", 3), Space("cmyk", 4)


def space_of(entry: Any, resources: Any, depth: int = 0) -> Space:
    """Return the space of a name or array. Raises UnreadableError for one that is none."""
    entry = there(entry)
    if depth > 8:
        raise UnreadableError("its colour spaces nest too deep")
    if isinstance(entry, str):
        return _space_named(str(entry), resources, depth)
    if not isinstance(entry, list) or not entry:
        raise UnreadableError("a colour space in it is broken")
    family = str(there(entry[0]))
    if family == "/ICCBased":
        return {1: GREY, 3: LIGHT, 4: CMYK}[int(there(entry[1]).get("/N", 3))]
    if family in ("/Separation", "/DeviceN"):
        found = there(entry[1])
        names = tuple(str(there(one))[1:] for one in (found if isinstance(found, list) else [found]))
        if not 1 <= len(names) <= MOST_INKS:
            raise UnreadableError(f"a colour in it has {len(names)} inks")
        return Space("named", len(names), names)
    if family in ("/Indexed", "/I"):
        base = space_of(entry[1], resources, depth + 1)
        table = there(entry[3])
        raw = table.get_data() if hasattr(table, "get_data") else getattr(table, "original_bytes", table)
        return Space("indexed", 1, base=base, table=bytes(raw))
    if family == "/Pattern":
        return Space("pattern", 0, base=space_of(entry[1], resources, depth + 1) if len(entry) > 1 else None)
    return _space_named(family, None, depth)


def _space_named(name: str, resources: Any, depth: int) -> Space:
    if name in _GREYS or name in _INKS:
        return GREY if name in _GREYS else CMYK
    if name in _LIGHTS:
        return Space("light", 3, lab=True) if name == "/Lab" else LIGHT
    if name == "/Pattern":
        return Space("pattern", 0)
    entry = None if resources is None else (there(resources.get("/ColorSpace")) or {}).get(name)
    if entry is None:
        raise UnreadableError(f"the colour space {name[1:]} is not in it")
    return space_of(entry, resources, depth + 1)


def tint(space: Space, values: tuple[float, ...], ink: str) -> float:
    """Return how much of ``ink`` (0..1) a colour asks; 0 where it knocks the ink out."""
    values = tuple(values[: space.count]) + (0.0,) * (space.count - len(values))
    if space.kind == "indexed":
        return _table_tint(space, int(values[0]), ink)
    if space.kind == "named":
        asked = [value for name, value in zip(space.names, values, strict=True) if name in (ink, ALL) and ink != OTHER]
        return _held(asked[0]) if asked else 0.0
    if space.kind == "cmyk":
        return _held(values[PROCESS.index(ink)]) if ink in PROCESS else 0.0
    if space.kind == "grey":
        return _held(1 - values[0]) if ink == "Black" else 0.0
    if space.kind == "light":
        neutral, light = _neutral(space, values)
        return (_held(1 - light) if ink == "Black" else 0.0) if neutral else float(ink == OTHER)
    return 0.0


def _neutral(space: Space, values: tuple[float, ...]) -> tuple[bool, float]:
    if space.lab:
        return max(abs(values[1]), abs(values[2])) < 100 * NEUTRAL, values[0] / 100
    return max(values) - min(values) < NEUTRAL, sum(values) / 3


def _table_tint(space: Space, index: int, ink: str) -> float:
    base = space.base
    if base is None:
        return 0.0
    row = space.table[index * base.count : (index + 1) * base.count]
    values = tuple(value / 255 for value in row)
    if base.lab and len(values) == 3:
        values = (100 * values[0], 255 * values[1] - 128, 255 * values[2] - 128)
    return tint(base, values, ink)


def _held(value: float) -> float:
    return min(max(value, 0.0), 1.0)


def place_of(space: Space, ink: str) -> int | None:
    """Return which component asks ``ink``; None where none does."""
    if space.kind == "named" and ink != OTHER:
        return next((k for k, name in enumerate(space.names) if name in (ink, ALL)), None)
    if space.kind == "cmyk" and ink in PROCESS:
        return PROCESS.index(ink)
    return 0 if space.kind == "grey" and ink == "Black" else None


def there(value: Any) -> Any:
    """Return what a reference points at; anything else is itself."""
    return value.get_object() if hasattr(value, "get_object") else value
