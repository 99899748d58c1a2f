"""What a sheet is made of: sections of blocks, all plain text. No block knows how it is drawn.

Texts are unescaped, as people read them; colours are 8-bit sRGB; pictures are bytes of a file. One look for all sheets
stands in ``style``, the writing of HTML in ``html``.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

if TYPE_CHECKING:
    from sepkit.model import RGB8, Finding

ColumnKind = Literal["text", "whole", "number"]
"""Text wraps; whole is a short name that stays on one line; numbers stand at the right."""
Layout = Literal["grid", "pair", "pair low", "full", "strip"]
"""Pictures side by side, as many as fit; two with the second wider, or lower; each as wide as the sheet; one low
row."""
Page = Literal[
    "",
    "card",
    "card full",
    "card fuller",
    "card fullest",
    "day",
    "day full",
    "day fuller",
    "press full",
    "press fuller",
]
"""A section that is one page of its own: a card at the press, or the day in two columns, or with others at the press;
full ones in smaller type."""
PictureType = Literal["image/png", "image/jpeg"]


@dataclass(frozen=True, slots=True)
class Heading:
    """A heading within a section."""

    text: str


@dataclass(frozen=True, slots=True)
class Paragraph:
    """Running text; ``small`` for what is read once."""

    text: str
    small: bool = False


@dataclass(frozen=True, slots=True)
class Bullets:
    """A plain list."""

    lines: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Gate:
    """A framed list to tick, all of it before anything else goes on."""

    title: str
    lines: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Cautions:
    """A framed list of what can hurt or spoil."""

    lines: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Notes:
    """Findings with their hints, drawn in the order given."""

    findings: tuple[Finding, ...]


@dataclass(frozen=True, slots=True)
class Column:
    """The head of a column, and how its cells lie."""

    head: str
    kind: ColumnKind = "text"


@dataclass(frozen=True, slots=True)
class Cell:
    """A table cell: text, a swatch of colour before it, a box to tick, or bold."""

    text: str
    swatch: RGB8 | None = None
    tick: bool = False
    strong: bool = False


Row = tuple[Cell | str, ...]
"""A str is a plain cell."""


@dataclass(frozen=True, slots=True)
class Table:
    """A table of rows as long as ``columns``, where a str is a plain column; the last ``sums`` rows are sums."""

    columns: tuple[Column | str, ...]
    rows: tuple[Row, ...]
    sums: int = 0


@dataclass(frozen=True, slots=True)
class Swatch:
    """A colour, what it is called, and the command that makes it."""

    srgb: RGB8
    text: str
    command: str = ""


@dataclass(frozen=True, slots=True)
class Swatches:
    """Colours one below the other."""

    rows: tuple[Swatch, ...]


@dataclass(frozen=True, slots=True)
class Picture:
    """One picture and what it shows."""

    data: bytes
    caption: str
    media_type: PictureType = "image/png"


@dataclass(frozen=True, slots=True)
class Pictures:
    """Pictures with captions."""

    pictures: tuple[Picture, ...]
    layout: Layout = "grid"


@dataclass(frozen=True, slots=True)
class PressStep:
    """One step at the press: what to do, line by line, and ``before`` it what to change."""

    title: str
    lines: tuple[str, ...]
    before: tuple[str, ...] = ()
    swatch: RGB8 | None = None


@dataclass(frozen=True, slots=True)
class Steps:
    """Steps in their order, numbered or called by their titles alone, each line with a box to tick."""

    steps: tuple[PressStep, ...]
    numbered: bool = True


@dataclass(frozen=True, slots=True)
class FilmNote:
    """The place of a note on the films, empty until films are made again: see ``html.with_film_note``."""

    text: str = ""


Block = Heading | Paragraph | Bullets | Gate | Cautions | Notes | Table | Swatches | Pictures | Steps | FilmNote


@dataclass(frozen=True, slots=True)
class Section:
    """A heading, or none when ``title`` is empty, and what stands below it; a section without blocks is left out.

    ``at_press`` sections are read while printing: larger type, and pages of their own on paper.
    """

    title: str
    blocks: tuple[Block, ...]
    at_press: bool = False
    page: Page = ""
    folded: bool = False
    """Read on a screen by whoever wants to know more: opened by its title there, and left off paper."""


@dataclass(frozen=True, slots=True)
class Sheet:
    """A whole sheet: its title, a line below it, its sections."""

    title: str
    sub: str
    sections: tuple[Section, ...]
