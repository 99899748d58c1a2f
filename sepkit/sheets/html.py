"""A sheet as one HTML page: every text escaped, no script, nothing loaded from outside, pictures inside as data.

In: a Sheet. Out: HTML text that a browser shows without a network and prints on A4.
"""

from __future__ import annotations

import base64
import re
from functools import singledispatch
from html import escape
from typing import TYPE_CHECKING

from sepkit.sheets.blocks import (
    Bullets,
    Cautions,
    Cell,
    Column,
    FilmNote,
    Gate,
    Heading,
    Notes,
    Paragraph,
    Pictures,
    Steps,
    Swatches,
    Table,
)
from sepkit.sheets.style import STYLE
from sepkit.units import to_hex

if TYPE_CHECKING:
    from collections.abc import Iterable

    from sepkit.model import RGB8, Finding
    from sepkit.sheets.blocks import Picture, PressStep, Section, Sheet, Swatch

LONGEST_WHOLE = 24
"""Characters of a cell that stay on one line in a column of whole names or numbers."""
LONGEST_WORD = 16
"""Characters after which a word, such as a file's name, may break: longer ones would push a table off the paper."""
SHORT_TABLE = 14
"""Rows up to which a table is kept on one page."""

_POLICY = "default-src 'none'; img-src data:; style-src 'unsafe-inline'"
"""Content Security Policy (W3C): the browser itself refuses scripts and whatever would come from outside."""
_LONG_WORD = re.compile(rf"(\S{{{LONGEST_WORD}}})(?=\S)")
_BOX = '<span class="box"></span>'
_FILM_NOTE, _FILM_NOTE_END = '<div id="film-note">', "</div>"


def html_page(sheet: Sheet) -> str:
    """Return the sheet as HTML."""
    body = "\n".join(_section(section) for section in sheet.sections if section.blocks)
    return f"""<!doctype html>
<html lang="en"><head><meta charset="utf-8"><meta http-equiv="Content-Security-Policy" content="{_POLICY}">
<title>{escape(sheet.title)}</title><meta name="viewport" content="width=device-width"><style>
{STYLE}
</style></head><body>
<h1>{_text(sheet.title)}</h1>
<p class="sub">{_text(sheet.sub)}</p>
{body}
</body></html>
"""


def with_film_note(page: str, note: str) -> str:
    """Return a page with ``note`` (plain text) in the place of its FilmNote; a page that has none is left as it is."""
    before, place, rest = page.partition(_FILM_NOTE)
    _, end, after = rest.partition(_FILM_NOTE_END)
    return f"{before}{place}{_film_note_text(note)}{end}{after}" if end else page


def _section(section: Section) -> str:
    name = section.page or ("press" if section.at_press else "")
    kind = f' class="{name}"' if name else ""
    head = f"<h2>{_text(section.title)}</h2>\n" if section.title else ""
    body = "\n".join(_block(block) for block in section.blocks)
    if section.folded:
        return (
            f'<section class="fold"><details>\n<summary>{_text(section.title)}</summary>\n{body}\n</details></section>'
        )
    return f"<section{kind}>\n{head}{body}\n</section>"


@singledispatch
def _block(block: object) -> str:
    raise TypeError(f"no block of a sheet: {type(block).__name__}")


@_block.register
def _(block: Heading) -> str:
    return f"<h3>{_text(block.text)}</h3>"


@_block.register
def _(block: Paragraph) -> str:
    return f'<p class="small">{_text(block.text)}</p>' if block.small else f"<p>{_text(block.text)}</p>"


@_block.register
def _(block: Bullets) -> str:
    return _bullets(block.lines)


@_block.register
def _(block: Gate) -> str:
    head = f"<h3>{_text(block.title)}</h3>" if block.title else ""
    return f'<div class="gate">{head}{_ticks(block.lines)}</div>'


@_block.register
def _(block: Cautions) -> str:
    return f'<div class="cautions">{_bullets(block.lines)}</div>'


@_block.register
def _(block: Notes) -> str:
    return '<ul class="notes">' + "\n".join(_note(finding) for finding in block.findings) + "</ul>"


@_block.register
def _(table: Table) -> str:
    columns = [column if isinstance(column, Column) else Column(column) for column in table.columns]
    heads = "".join(f'<th scope="col"{_cell_class(column, "")}>{_text(column.head)}</th>' for column in columns)
    first_sum = len(table.rows) - table.sums
    rows = []
    for number, row in enumerate(table.rows):
        cells = "".join(_cell(cell, column) for cell, column in zip(row, columns, strict=True))
        rows.append(f'<tr class="sum">{cells}</tr>' if number >= first_sum else f"<tr>{cells}</tr>")
    kind = ' class="short"' if len(rows) <= SHORT_TABLE else ""
    return f"<table{kind}><thead><tr>{heads}</tr></thead><tbody>\n" + "\n".join(rows) + "\n</tbody></table>"


@_block.register
def _(block: Swatches) -> str:
    return '<ul class="swatches">' + "\n".join(_swatch_row(row) for row in block.rows) + "</ul>"


@_block.register
def _(block: Pictures) -> str:
    return f'<div class="{block.layout}">' + "\n".join(_picture(picture) for picture in block.pictures) + "</div>"


@_block.register
def _(block: Steps) -> str:
    items = [_step(f"{number}. " if block.numbered else "", step) for number, step in enumerate(block.steps, 1)]
    return '<ol class="steps">' + "\n".join(items) + "</ol>"


@_block.register
def _(block: FilmNote) -> str:
    return f"{_FILM_NOTE}{_film_note_text(block.text)}{_FILM_NOTE_END}"


def _bullets(lines: Iterable[str]) -> str:
    return "<ul>" + "\n".join(f"<li>{_text(line)}</li>" for line in lines) + "</ul>"


def _ticks(lines: Iterable[str]) -> str:
    return '<ul class="ticks">' + "\n".join(f"<li>{_BOX}<span>{_text(line)}</span></li>" for line in lines) + "</ul>"


def _note(finding: Finding) -> str:
    level = "" if finding.word == "note" else f"<b>{finding.word.capitalize()}:</b> "
    hint = f' <span class="hint">→ {_text(finding.hint)}</span>' if finding.hint else ""
    kind = ' class="error"' if finding.word == "error" else ""
    more = f'<div class="small">{_text(finding.more)}</div>' if finding.more else ""
    return f"<li{kind}>{level}{_text(finding.text)}{hint}{more}</li>"


def _cell(cell: Cell | str, column: Column) -> str:
    if isinstance(cell, str):
        cell = Cell(cell)
    text = f"<b>{_text(cell.text)}</b>" if cell.strong else _text(cell.text)
    return f"<td{_cell_class(column, cell.text)}>{_BOX if cell.tick else ''}{_swatch(cell.swatch)}{text}</td>"


def _cell_class(column: Column, text: str) -> str:
    whole = column.kind != "text" and 0 < len(text) <= LONGEST_WHOLE
    kinds = [*(["number"] if column.kind == "number" else []), *(["whole"] if whole else [])]
    return f' class="{" ".join(kinds)}"' if kinds else ""


def _swatch_row(row: Swatch) -> str:
    command = f" <code>{_text(row.command)}</code>" if row.command else ""
    return f"<li>{_swatch(row.srgb)}{_text(row.text)}{command}</li>"


def _swatch(srgb: RGB8 | None) -> str:
    return "" if srgb is None else f'<span class="swatch" style="background:{to_hex(srgb)}"></span>'


def _step(number: str, step: PressStep) -> str:
    before = f'<p class="before">First: {_text("; ".join(step.before))}.</p>' if step.before else ""
    title = f"<h3>{_BOX}<span>{number}{_swatch(step.swatch)}{_text(step.title)}</span></h3>"
    return f"<li>{before}{title}{_ticks(step.lines) if step.lines else ''}</li>"


def _picture(picture: Picture) -> str:
    source = f"data:{escape(picture.media_type)};base64,{base64.b64encode(picture.data).decode()}"
    image = f'<img src="{source}" alt="{escape(picture.caption)}">'
    return f"<figure>{image}<figcaption>{_text(picture.caption)}</figcaption></figure>"


def _film_note_text(text: str) -> str:
    return f"<p>{_text(text)}</p>" if text else ""


def _text(text: str) -> str:
    """Return text escaped, with places at which a word of unusual length may break."""
    return "<wbr>".join(escape(part) for part in _LONG_WORD.sub("\\1\0", text).split("\0"))
