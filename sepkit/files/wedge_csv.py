"""The reading sheet of a calibration print: a CSV to fill in, and the CSV as filled in.

In: CSV text, comma, semicolon or tab between, with or without a byte-order mark, decimal points or commas (commas only
with another separator). Out: WedgeRows. Raises DataFileError naming the line.
"""

from __future__ import annotations

import csv
import io
import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

from sepkit.errors import DataFileError, Problem, near_names
from sepkit.files.words import shown

MOST_BYTES = 1_000_000
NUMBERS: dict[str, tuple[str, ...]] = {
    "tone": ("lpi", "film %", "printed %"),
    "width": ("film mm", "printed mm"),
    "line": ("thinnest mm",),
    "gap": ("narrowest mm",),
    "type": ("smallest pt",),
    "reversed type": ("smallest pt",),
    "register": ("across mm", "down mm"),
    "weight": ("before g", "after g"),
    "scale": ("film mm", "measured mm"),
    "area": ("inked cm2",),
    "coats": ("coats",),
    "angle": ("degrees",),
}
TEXTS = ("mesh", "ink", "dots")
RANGES: dict[str, tuple[float, float]] = {
    "lpi": (10, 200),
    "film %": (0.5, 99.5),
    "printed %": (0, 100),
    "film mm": (0.05, 1000),
    "printed mm": (0.01, 1000),
    "thinnest mm": (0.05, 5),
    "narrowest mm": (0.05, 5),
    "smallest pt": (2, 72),
    "across mm": (-10, 10),
    "down mm": (-10, 10),
    "before g": (1, 5000),
    "after g": (1, 5000),
    "measured mm": (1, 1000),
    "inked cm2": (1, 5000),
    "coats": (1, 10),
    "degrees": (-360, 360),
}


@dataclass(frozen=True, slots=True)
class WedgeRows:
    """Rows as read: numbers by test in the order given, and the texts."""

    numbers: dict[str, tuple[tuple[float, ...], ...]]
    texts: dict[str, str]


def reading_sheet(
    *, lpi: tuple[float, ...], tones: tuple[int, ...], shape: str, angle_deg: float, area_cm2: float
) -> str:
    """Return the CSV to fill in: a comment line starts with #; rows left empty are skipped."""
    lines = [
        "test,first,second,third",
        "# Fill in what you measured and leave the rest empty. Lines that start with # are not read.",
        "# mesh as 43-80; ink is a name of the shelf",
        "mesh,",
        "ink,",
        f"dots,{shape}",
        f"angle,{angle_deg:g}",
        f"area,{area_cm2:.1f}",
        "coats,1",
        "# tone: ruling, film %, printed % (with a loupe or a scan; filled in is 100)",
        *(f"tone,{one:g},{percent}," for one in lpi for percent in tones),
        "# width: a bar's width on the film and as printed, mm",
        "width,1.00,",
        "width,0.50,",
        "# the thinnest line that prints without a break, the narrowest gap that stays open, mm; type in pt",
        "line,",
        "gap,",
        "type,",
        "reversed type,",
        "# register: where the ladders of both screens meet, across and down, one line for each of ten prints, mm",
        *("register,," for _ in range(10)),
        "# weight: five garments before and after one print, g",
        *("weight,," for _ in range(5)),
        "# scale: the bars of the film, measured",
        "scale,150,",
        "scale,250,",
    ]
    return "\n".join(lines) + "\n"


def read_wedge(path: Path) -> WedgeRows:
    """Return the rows of a filled-in reading sheet."""
    text = _text(path)
    where = path.name
    first = next((line for line in text.split("\n") if line.strip() and not line.startswith("#")), "")
    between = max(",;\t", key=first.count)
    numbers: dict[str, list[tuple[float, ...]]] = {}
    texts: dict[str, str] = {}
    try:
        rows = list(csv.reader(io.StringIO(text), delimiter=between))
    except csv.Error as error:
        raise DataFileError(Problem(f"is not CSV: {error}", "save it as CSV in UTF-8"), where=where) from error
    for line, row in enumerate(rows, 1):
        cells = [cell.strip() for cell in row]
        if not any(cells) or cells[0].startswith("#") or (cells[0].lower() == "test"):
            continue
        _take(cells, numbers, texts, f"{where}:{line}")
    if not set(numbers) - {"area", "coats", "angle"}:
        hint = (
            "print the film, measure, and write what you found behind the last comma, as line,0.35 or "
            "tone,45,50,68; what you leave empty keeps its default"
        )
        raise DataFileError(Problem("is still blank: no test has a reading", hint), where=where)
    return WedgeRows({test: tuple(rows) for test, rows in numbers.items()}, texts)


@dataclass(frozen=True, slots=True)
class SheetHead:
    """What a reading sheet says of the film that it belongs to; None where it says nothing."""

    lpi: tuple[float, ...]
    angle_deg: float | None
    dots: str | None


def sheet_head(path: Path) -> SheetHead:
    """Return what a reading sheet, blank or filled in, says of its film. Raises DataFileError."""
    rulings: list[float] = []
    angle, dots = None, None
    for number, line in enumerate(_text(path).splitlines(), 1):
        cells = [cell.strip() for cell in line.replace(";", ",").replace("\t", ",").split(",")]
        where = f"{path.name}:{number}"
        if cells[0].lower() == "tone" and len(cells) > 2:
            lpi = _number(cells[1], "lpi", where)
            rulings += [] if lpi in rulings else [lpi]
        elif cells[0].lower() == "angle" and len(cells) > 1 and cells[1]:
            angle = _number(cells[1], "degrees", where)
        elif cells[0].lower() == "dots" and len(cells) > 1 and cells[1]:
            dots = cells[1].lower()
    return SheetHead(tuple(rulings), angle, dots)


def filled_sheet(text: str, values: Mapping[tuple[str, ...], str], register: Sequence[tuple[float, float]]) -> str:
    """Return a reading sheet with values behind the last comma of the rows that are still blank there.

    ``values`` are told by what stands before: ("tone", "35", "5"), ("width", "0.5"), ("line",). ``register`` fills one
    row for each print, and adds rows where there are too few. What the person wrote stays.
    """
    lines = text.splitlines()
    first = next((line for line in lines if line.strip() and not line.startswith("#")), "")
    between = max(",;\t", key=first.count)
    left = list(register)
    out: list[str] = []
    for line in lines:
        cells = [cell.strip() for cell in line.split(between)]
        test = cells[0].lower()
        if test == "register" and left and not any(cells[1:]):
            x, y = left.pop(0)
            line = between.join([test, f"{x:.3f}", f"{y:.3f}"])
        elif test in NUMBERS and not any(cells[len(NUMBERS[test]) :]):
            before = (test, *(_plain(cell) for cell in cells[1 : len(NUMBERS[test])]))
            if before in values:
                line = between.join([*cells[: len(NUMBERS[test])], values[before]])
        out.append(line)
    out += [between.join(["register", f"{x:.3f}", f"{y:.3f}"]) for x, y in left]
    return "\n".join(out) + "\n"


def _plain(cell: str) -> str:
    try:
        return f"{float(cell.replace(',', '.')):g}"
    except ValueError:
        return cell


def _take(cells: list[str], numbers: dict[str, list[tuple[float, ...]]], texts: dict[str, str], where: str) -> None:
    test, given = cells[0].lower(), cells[1:]
    if test in TEXTS:
        if given and given[0]:
            texts[test] = given[0]
        return
    if test not in NUMBERS:
        raise DataFileError(Problem(f'no test "{shown(test)}"', near_names(test, [*NUMBERS, *TEXTS])), where=where)
    names = NUMBERS[test]
    values = (given + [""] * len(names))[: len(names)]
    # What the sheet itself fills in does not make a reading.
    if not values[-1]:
        return
    numbers.setdefault(test, []).append(
        tuple(_number(text, name, where) for text, name in zip(values, names, strict=True))
    )


def _number(text: str, name: str, where: str) -> float:
    low, high = RANGES[name]
    try:
        value = float(text.replace(",", ".").removesuffix("%").strip())
    except ValueError:
        value = math.nan
    if not low <= value <= high:
        raise DataFileError(Problem(f'{name} is "{shown(text)}"', f"give {low:g} to {high:g}"), where=where)
    return value


def _text(path: Path) -> str:
    try:
        if path.stat().st_size > MOST_BYTES:
            raise DataFileError(Problem("is larger than 1 MB", "give the reading sheet"), where=path.name)
        raw = path.read_bytes()
        encoding = "utf-16" if raw[:2] in (b"\xff\xfe", b"\xfe\xff") else "utf-8-sig"
        return raw.decode(encoding)
    except UnicodeDecodeError as error:
        raise DataFileError(Problem("is not UTF-8 text", "save it as CSV in UTF-8"), where=path.name) from error
    except OSError as error:
        problem = Problem(error.strerror or "cannot be read", "check the file")
        raise DataFileError(problem, where=str(path)) from error
