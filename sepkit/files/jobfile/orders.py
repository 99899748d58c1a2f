"""Orders from a shop's CSV: how many pieces in each size.

In: CSV text with a heading line that names a size column and a pieces column; comma, semicolon or tab between; with or
without a byte-order mark. Out: size to pieces, lines of one size added up. Raises JobFileError naming the line.
"""

from __future__ import annotations

import csv
import io
from pathlib import Path

from sepkit.errors import JobFileError
from sepkit.files.words import shown

MOST_BYTES = 5_000_000
SIZE_WORDS = ("size", "sizes", "größe", "taille", "talla", "rozmiar")
PIECES_WORDS = ("pieces", "quantity", "qty", "count", "number", "menge", "anzahl", "quantité", "cantidad", "ilość")
MOST_PIECES = 100_000


def read_orders(path: Path) -> dict[str, int]:
    """Return size to pieces from a CSV file."""
    where = path.name
    try:
        if path.stat().st_size > MOST_BYTES:
            raise JobFileError("is larger than 5 MB", where=where, hint="give the order list only")
        raw = path.read_bytes()
    except OSError as error:
        raise JobFileError(error.strerror or "cannot be read", where=where, hint="check the file") from error
    rows = _rows(_decoded(raw, where), where)
    heading = [cell.strip().lower() for cell in rows[0][1]]
    size_at, pieces_at = _column(heading, SIZE_WORDS, where), _column(heading, PIECES_WORDS, where)
    out: dict[str, int] = {}
    for line, row in rows[1:]:
        if not any(cell.strip() for cell in row):
            continue
        if len(row) <= max(size_at, pieces_at):
            raise JobFileError(f"line {line} has {len(row)} columns", where=where, hint="give size and pieces on each")
        size, text = row[size_at].strip(), row[pieces_at].strip()
        if not size or not text.isascii() or not text.isdigit() or len(text) > 9 or int(text) > MOST_PIECES:
            raise JobFileError(
                f'line {line}: "{shown(size)}", "{shown(text)}"', where=where, hint="give a size and a whole number"
            )
        out[size] = out.get(size, 0) + int(text)
    if not any(out.values()):
        raise JobFileError("holds no orders", where=where, hint="one line a size: M,12")
    return out


def _decoded(raw: bytes, where: str) -> str:
    # A spreadsheet program may save UTF-16 with a byte-order mark.
    encoding = "utf-16" if raw[:2] in (b"\xff\xfe", b"\xfe\xff") else "utf-8-sig"
    try:
        return raw.decode(encoding)
    except UnicodeDecodeError as error:
        raise JobFileError("is not UTF-8 text", where=where, hint="save it as CSV in UTF-8") from error


def _rows(text: str, where: str) -> list[tuple[int, list[str]]]:
    first = text.split("\n", 1)[0]
    between = max(";,\t", key=first.count)
    try:
        rows = [(n, row) for n, row in enumerate(csv.reader(io.StringIO(text), delimiter=between), 1)]
    except csv.Error as error:
        raise JobFileError(f"is not CSV: {error}", where=where, hint="save it as CSV in UTF-8") from error
    rows = [(n, row) for n, row in rows if row]
    if len(rows) < 2:
        raise JobFileError("holds no orders", where=where, hint="a heading line size,pieces, then one line a size")
    return rows


def _column(heading: list[str], words: tuple[str, ...], where: str) -> int:
    for at, cell in enumerate(heading):
        if cell in words:
            return at
    known = shown(", ".join(heading[:8]), most=100)
    hint = f'the heading line needs a column "{words[0]}"'
    raise JobFileError(f"no {words[0]} column among {known}", where=where, hint=hint)
