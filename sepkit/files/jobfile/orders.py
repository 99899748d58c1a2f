"""Orders from a shop's CSV: how many pieces in each size.

In: CSV text with a heading line that names a size column and a pieces column; comma, semicolon or tab between; with or
without a byte-order mark. Out: size to pieces, lines of one size added up. Raises DataFileError naming each line.
"""

from __future__ import annotations

import csv
import io
from pathlib import Path

from sepkit.errors import DataFileError, Problem
from sepkit.files.toml.notes import Notes
from sepkit.files.words import shown

MOST_BYTES = 5_000_000
SIZE_WORDS = ("size", "sizes", "größe", "taille", "talla", "rozmiar")
PIECES_WORDS = ("pieces", "quantity", "qty", "count", "number", "menge", "anzahl", "quantité", "cantidad", "ilość")
MOST_PIECES = 100_000

Row = tuple[int, list[str]]
"""Line, counted from 1, and cells."""


def read_orders(path: Path) -> dict[str, int]:
    """Return size to pieces from a CSV file."""
    where = path.name
    rows = _rows(_text(path), where)
    heading = [cell.strip().lower() for cell in rows[0][1]]
    columns = _column(heading, SIZE_WORDS, where), _column(heading, PIECES_WORDS, where)
    notes = Notes(where)
    out: dict[str, int] = {}
    for line, row in rows[1:]:
        if any(cell.strip() for cell in row):
            size, pieces = _order(line, row, columns, notes)
            out[size] = out.get(size, 0) + pieces
    notes.check()
    if not any(out.values()):
        raise DataFileError(Problem("holds no orders", "one line a size: M,12"), where=where)
    return out


def _order(line: int, row: list[str], columns: tuple[int, int], notes: Notes) -> tuple[str, int]:
    """Return size and pieces of one row; no pieces where it is wrong."""
    if len(row) <= max(columns):
        notes.note(f"has {len(row)} columns", "give size and pieces on each", line=line)
        return "", 0
    size, text = (row[at].strip() for at in columns)
    number = text if text.isascii() and text.isdigit() and len(text) <= 9 else ""
    if not size or not number or int(number) > MOST_PIECES:
        notes.note(f'"{shown(size)}", "{shown(text)}"', "give a size and a whole number", line=line)
        return "", 0
    return size, int(number)


def _text(path: Path) -> str:
    where = path.name
    try:
        if path.stat().st_size > MOST_BYTES:
            raise DataFileError(Problem("is larger than 5 MB", "give the order list only"), where=where)
        raw = path.read_bytes()
    except OSError as error:
        raise DataFileError(Problem(error.strerror or "cannot be read", "check the file"), where=where) from error
    # A spreadsheet program may save UTF-16 with a byte-order mark.
    encoding = "utf-16" if raw[:2] in (b"\xff\xfe", b"\xfe\xff") else "utf-8-sig"
    try:
        return raw.decode(encoding)
    except UnicodeDecodeError as error:
        raise DataFileError(Problem("is not UTF-8 text", "save it as CSV in UTF-8"), where=where) from error


def _rows(text: str, where: str) -> list[Row]:
    first = text.split("\n", 1)[0]
    between = max(";,\t", key=first.count)
    try:
        reader = csv.reader(io.StringIO(text), delimiter=between)
        rows = [(reader.line_num, row) for row in reader if row]
    except csv.Error as error:
        raise DataFileError(Problem(f"is not CSV: {error}", "save it as CSV in UTF-8"), where=where) from error
    if len(rows) < 2:
        hint = "a heading line size,pieces, then one line a size"
        raise DataFileError(Problem("holds no orders", hint), where=where)
    return rows


def _column(heading: list[str], words: tuple[str, ...], where: str) -> int:
    for at, cell in enumerate(heading):
        if cell in words:
            return at
    known = shown(", ".join(heading[:8]), most=100)
    hint = f'the heading line needs a column "{words[0]}"'
    raise DataFileError(Problem(f"no {words[0]} column among {known}", hint), where=where)
