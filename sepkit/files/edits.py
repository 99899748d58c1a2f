"""The edits file: what a person changed about a print by hand, as TOML (schema "sepkit.edits/1").

    schema = "sepkit.edits/1"
    art_sha256 = "..."              # of the art that they were made for; may be left out
    choke_mm = 0.3                  # left out: decided; trap_mm likewise
    screens = 3                     # no more than these; or all_inks = true; left out: as many as are worth it
    order = ["#2f9e94", "#f4c95d"]  # areas, first to last
    [[ink]]
    of = "#f4c95d"                  # an area, by its colour as found in the art
    ink = "#e8b040"                 # or an ink of the shelf
    name = "sun"
    coats = 2
    base = "never"
    mesh = "43-80"
    [[ink]]
    of = "#9a5b2f"
    with = "#d63c2c"                # prints from that screen; or open = true: the garment shows
    [[part]]
    at_mm = [112.4, 80.1]           # right and down from the art's top left
    of = "#f4c95d"
    to = "#2f9e94"                  # or open = true

In: a path and a shelf. Out: PrintEdits, and back as text; raises DataFileError with everything that is wrong.
"""

from __future__ import annotations

import json
import re
from pathlib import Path
from typing import TYPE_CHECKING, Any

from sepkit.decisions import AreaEdit, AreaWish, PartEdit, PrintEdits
from sepkit.errors import NotFoundError, UsageError
from sepkit.files.toml.keys import Key, choice_key, keys_of
from sepkit.files.toml.notes import Notes
from sepkit.files.toml.read import TomlFile, parse_toml, read_text
from sepkit.inks.identify import ink_from_swatch
from sepkit.model import BASE_RULES
from sepkit.units import parse_hex, to_hex

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from sepkit.files.shelf.shelf import Shelf
    from sepkit.files.toml.table import Table
    from sepkit.model import RGB8, BaseRule, Ink, Mesh

SCHEMA = "sepkit.edits/1"
FILE_NAME = "edits.toml"
"""Its copy in a print folder."""
MOST_NAME = 60
_WHAT = "an edits"
_BASE = choice_key("ink", "base", "white base below it", BASE_RULES, "auto")
KEYS: tuple[Key, ...] = (
    Key("", "schema", "text", f'"{SCHEMA}"', must=True),
    Key("", "art_sha256", "text", "SHA-256 of the art's file, 64 hex digits"),
    Key("", "trap_mm", "length", "overlap of touching inks", "mm", 0, 10),
    Key("", "choke_mm", "length", "how far the base draws in", "mm", 0, 10),
    Key("", "screens", "whole", "no more screens than these", "", 1, 15),
    Key("", "all_inks", "yes/no", "all inks of the art, however little one gains"),
    Key("", "order", "texts", "areas by colour, first to last"),
    Key("ink", "of", "colour", "the area, by its colour in the art", must=True),
    Key("ink", "ink", "text", "an ink of the shelf, or its colour as #rrggbb"),
    Key("ink", "name", "text", "what its screen is called"),
    Key("ink", "coats", "whole", "coats of ink", "", 1, 3),
    _BASE,
    Key("ink", "mesh", "text", "mesh of its screen, as 43-80"),
    Key("ink", "with", "colour", "the area whose screen prints it too"),
    Key("ink", "open", "yes/no", "leave it open: the garment shows"),
    Key("part", "at_mm", "numbers", "a place in the part, right and down in mm", "mm", 0, 5000, must=True, count=2),
    Key("part", "of", "colour", "the area that it belongs to", must=True),
    Key("part", "to", "colour", "the area whose screen prints it"),
    Key("part", "open", "yes/no", "leave it open: the garment shows"),
)


def read_edits(path: Path, shelf: Shelf) -> PrintEdits:
    """Return the edits of a file. Raises DataFileError."""
    return edits_of(read_text(path, what=_WHAT), shelf, where=str(path))


def edits_of(text: str, shelf: Shelf, *, where: str) -> PrintEdits:
    """Return the edits of a file's text. Raises DataFileError, its lines told of ``where``."""
    return _edits(parse_toml(text, where=where, what=_WHAT), shelf)


def edits_of_values(values: Mapping[str, Any], shelf: Shelf, *, where: str) -> PrintEdits:
    """Return the edits of values as a file would hold them, the schema left out. Raises DataFileError."""
    return _edits(TomlFile({"schema": SCHEMA, **values}, Notes(where), what=_WHAT), shelf)


def _edits(file: TomlFile, shelf: Shelf) -> PrintEdits:
    file.of_schema(SCHEMA)
    top = file.top(keys_of(KEYS, ""), ("ink", "part"))
    inks = file.tables("ink", keys_of(KEYS, "ink"))
    edits = PrintEdits(
        tuple(_area(table, shelf) for table in inks),
        tuple(_part(table) for table in file.tables("part", keys_of(KEYS, "part"))),
        _order(top),
        top.number("trap_mm") if "trap_mm" in top.given else None,
        top.number("choke_mm") if "choke_mm" in top.given else None,
        top.whole("screens") if "screens" in top.given else None,
        top.yes("all_inks"),
        _digest(top),
    )
    if edits.all_inks and edits.screens is not None:
        top.problem("all_inks", "is told together with `screens`", "leave one of them out")
    _check_areas(inks, edits.areas)
    file.check()
    return edits


def _order(top: Table) -> tuple[RGB8, ...]:
    out: list[RGB8] = []
    for text in top.texts("order"):
        try:
            colour = parse_hex(text)
        except UsageError as error:
            top.problem("order", f'"{text}" is no colour', error.hint)
            continue
        if colour in out:
            top.problem("order", f"{to_hex(colour)} is named twice", "name each area once")
        out.append(colour)
    return tuple(out)


def _digest(top: Table) -> str:
    digest = top.text("art_sha256").lower()
    if digest and not re.fullmatch("[0-9a-f]{64}", digest):
        top.problem("art_sha256", "is no SHA-256", "give 64 hex digits, or leave it out")
        return ""
    return digest


def _area(table: Table, shelf: Shelf) -> AreaEdit:
    given = table.given
    into = table.colour("with") if "with" in given else None
    open_ = table.yes("open")
    if into is not None and open_:
        table.problem("open", "is told together with `with`", "leave one of them out")
    name = table.text("name")
    if len(name) > MOST_NAME:
        table.problem("name", f"has {len(name)} characters", f"give {MOST_NAME} at most")
    base: BaseRule | None = table.choice(_BASE) if "base" in given else None
    wish = AreaWish(
        _ink(table, shelf), base, table.whole("coats") if "coats" in given else None, _mesh(table, shelf), name
    )
    if (into is not None or open_) and wish:
        table.problem("of", "prints on no screen of its own, and has wishes for one", "leave those out")
    elif given.keys() <= {"of"}:
        table.problem("of", "has nothing changed", "say ink, name, coats, base, mesh, with, or open = true")
    return AreaEdit(table.colour("of") if "of" in given else (0, 0, 0), wish, into, open_)


def _ink(table: Table, shelf: Shelf) -> Ink | None:
    text = table.text("ink")
    if not text:
        return None
    try:
        if text.startswith("#"):
            return ink_from_swatch(to_hex(parse_hex(text)), parse_hex(text))
        return shelf.ink(text)
    except (NotFoundError, UsageError) as error:
        table.problem("ink", error.text, error.hint)
    return None


def _mesh(table: Table, shelf: Shelf) -> Mesh | None:
    text = table.text("mesh")
    if not text:
        return None
    try:
        return shelf.mesh(text)
    except (NotFoundError, UsageError) as error:
        table.problem("mesh", error.text, error.hint)
    return None


def _part(table: Table) -> PartEdit:
    to = table.colour("to") if "to" in table.given else None
    if (to is None) != table.yes("open"):
        table.problem("to", "and `open` are both told" if to else "is missing", "give one of: to, open = true")
    at = table.numbers("at_mm") or (0.0, 0.0)
    of = table.colour("of") if "of" in table.given else (0, 0, 0)
    if to == of:
        table.problem("to", f"is the area that it belongs to, {to_hex(of)}", "name another area")
    return PartEdit((at[0], at[1]), of, to)


def _check_areas(tables: Sequence[Table], edits: Sequence[AreaEdit]) -> None:
    """Note areas and names that come twice, and areas that print with each other in a ring."""
    into = {edit.of: edit.into for edit in edits if edit.into is not None}
    colours: set[RGB8] = set()
    names: set[str] = set()
    for table, edit in zip(tables, edits, strict=True):
        if edit.of in colours:
            table.problem("of", f"{to_hex(edit.of)} is changed twice", "write all of it in one [[ink]]")
        if edit.wish.name and edit.wish.name.lower() in names:
            table.problem("name", f'"{edit.wish.name}" is used twice', "give each screen a name of its own")
        colours.add(edit.of)
        names.add(edit.wish.name.lower())
        if edit.of in into and _comes_back(edit.of, into):
            table.problem("with", "comes back to the area itself", "name an area that has a screen")


def _comes_back(of: RGB8, into: Mapping[RGB8, RGB8]) -> bool:
    seen: set[RGB8] = set()
    at: RGB8 | None = of
    while at is not None and at not in seen:
        seen.add(at)
        at = into.get(at)
    return at == of


def edits_text(edits: PrintEdits) -> str:
    """Return the edits as the text of a file that reads back the same."""
    lines = [f'schema = "{SCHEMA}"']
    if edits.art_sha256:
        lines.append(f'art_sha256 = "{edits.art_sha256}"')
    lines += [
        f"{name} = {value!r}"
        for name, value in (("trap_mm", edits.trap_mm), ("choke_mm", edits.choke_mm), ("screens", edits.screens))
        if value is not None
    ]
    lines += ["all_inks = true"] if edits.all_inks else []
    if edits.order:
        lines.append(f"order = [{', '.join(_quoted(to_hex(colour)) for colour in edits.order)}]")
    for edit in edits.areas:
        lines += ["", "[[ink]]", f'of = "{to_hex(edit.of)}"', *_wish_lines(edit.wish)]
        lines += [f'with = "{to_hex(edit.into)}"'] if edit.into is not None else []
        lines += ["open = true"] if edit.open else []
    for part in edits.parts:
        lines += ["", "[[part]]", f"at_mm = [{part.at_mm[0]!r}, {part.at_mm[1]!r}]", f'of = "{to_hex(part.of)}"']
        lines.append("open = true" if part.to is None else f'to = "{to_hex(part.to)}"')
    return "\n".join(lines) + "\n"


def _wish_lines(wish: AreaWish) -> list[str]:
    given = (
        ("ink", wish.ink and _quoted(wish.ink.name)),
        ("name", wish.name and _quoted(wish.name)),
        ("coats", wish.coats),
        ("base", wish.base and _quoted(wish.base)),
        ("mesh", wish.mesh and _quoted(str(wish.mesh))),
    )
    return [f"{name} = {value}" for name, value in given if value]


def _quoted(text: str) -> str:
    """Return a TOML basic string; JSON writes one, but for DEL."""
    return json.dumps(text, ensure_ascii=False).replace("\x7f", "\\u007f")
