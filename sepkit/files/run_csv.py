"""run.csv: a form of one job to fill in after the day, and runs.csv: all forms that were filled in.

In: RunRows, or CSV text with comma, semicolon or tab between, with or without a byte-order mark. Out: CSV text, or
RunRows. Raises DataFileError naming the line and what to write there.
"""

from __future__ import annotations

import csv
import io
from collections.abc import Sequence
from pathlib import Path

from sepkit.errors import DataFileError, Problem
from sepkit.files.toml.notes import Notes
from sepkit.files.words import shown
from sepkit.jobs import RUN_KINDS, RunRow

HEADS = ("run", "what", "name", "garment", "placement", "size", "planned", "unit", "actual", "factor")
UNITS = {
    "print": "pieces printed; actual: misprints",
    "round": "minutes",
    "ink": "g used; actual: g put out less g left",
}
MOST_BYTES = 5_000_000
MOST = 1e6


def run_csv(rows: Sequence[RunRow]) -> str:
    """Return the rows as CSV."""
    text = io.StringIO()
    writer = csv.writer(text, lineterminator="\n")
    writer.writerow(HEADS)
    for row in rows:
        actual = "" if row.actual is None else f"{row.actual:g}"
        what = (row.run, row.kind, row.name, row.garment, row.placement, row.size)
        writer.writerow((*what, f"{row.planned:g}", UNITS[row.kind], actual, f"{row.factor:g}"))
    return text.getvalue()


def read_run_csv(path: Path) -> tuple[RunRow, ...]:
    """Return the rows of a form or of all forms."""
    where = path.name
    try:
        raw = path.read_bytes()
    except OSError as error:
        raise DataFileError(Problem(error.strerror or "cannot be read", "check the file"), where=where) from error
    if len(raw) > MOST_BYTES:
        raise DataFileError(Problem("is larger than 5 MB", "give run.csv of a job"), where=where)
    try:
        text = raw.decode("utf-16" if raw[:2] in (b"\xff\xfe", b"\xfe\xff") else "utf-8-sig")
    except UnicodeDecodeError as error:
        raise DataFileError(Problem("is not UTF-8 text", "save it as CSV in UTF-8"), where=where) from error
    between = max(";,\t", key=text.split("\n", 1)[0].count)
    try:
        reader = csv.reader(io.StringIO(text), delimiter=between)
        lines = [(reader.line_num, [cell.strip() for cell in row]) for row in reader if any(map(str.strip, row))]
    except csv.Error as error:
        raise DataFileError(Problem(f"is not CSV: {error}", "save it as CSV in UTF-8"), where=where) from error
    if not lines or tuple(cell.lower() for cell in lines[0][1][: len(HEADS)]) != HEADS:
        hint = "give the run.csv that `sepkit job` wrote, filled in; its first line stays as it is"
        raise DataFileError(Problem("is no run of a job", hint), where=where)
    notes = Notes(where)
    rows = [_row(line, cells, notes) for line, cells in lines[1:]]
    notes.check()
    return tuple(row for row in rows if row is not None)


def _row(line: int, cells: list[str], notes: Notes) -> RunRow | None:
    if len(cells) < len(HEADS):
        notes.note(f"has {len(cells)} columns", f"keep all {len(HEADS)}", line=line)
        return None
    run, what, name, garment, placement, size, planned, _, actual, factor = cells[: len(HEADS)]
    kind = next((known for known in RUN_KINDS if known == what.lower()), None)
    if kind is None:
        notes.note(f'"{shown(what)}"', f"the second column is one of {', '.join(RUN_KINDS)}", line=line)
        return None
    numbers = [_number(text) for text in (planned, factor or "1", actual or "0")]
    if any(number is None for number in numbers):
        notes.note(f'"{shown(actual)}"', "give a number from 0 on, or leave it empty", line=line)
        return None
    plan, with_factor, was = (number or 0.0 for number in numbers)
    if kind == "print" and was > plan:
        notes.note(f"{was:g} misprints of {plan:g} printed", "give no more than were printed", line=line)
    done = was if actual else None
    return RunRow(run, kind, name, garment, placement, size, plan, done, with_factor or 1.0)


def _number(text: str) -> float | None:
    """Return a number from 0 to MOST, with a decimal point or comma; None for anything else."""
    try:
        value = float(text.replace(",", "."))
    except ValueError:
        return None
    return value if 0 <= value <= MOST else None
