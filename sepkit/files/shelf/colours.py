"""Colours a person writes or a file holds, as targets with Lab D65/2 and a reflectance.

Written: ``#rrggbb``; ``lab(52 40 20)`` (D65/2) or ``lab(52 40 20, D50/2)``; a Munsell notation, ``5R 4/14``; a W3C
colour name; a pixel of a picture, ``art.png@120,45``; an entry of a colour list, ``list.csv@sea green``.
A colour list is CSV with a header: name, and hex, or L, a, b (and light as D50/2), or reflectances under wavelengths
in nm (400 to 700 at least); or spot-colour data in ISO 17972 XML (CxF3) that carries spectra. Reflectance is 0..1.
"""

from __future__ import annotations

import csv
import io
import math
import re
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import numpy as np

from sepkit.colorimetry.adaptation import lab_to_d65
from sepkit.colorimetry.spectral import reflectance_to_lab
from sepkit.colorimetry.srgb import srgb8_to_lab
from sepkit.colorimetry.upsampling import smooth_reflectance, srgb8_to_reflectance
from sepkit.errors import NotFoundError, UsageError, near_names
from sepkit.files.words import shown
from sepkit.inks.match import Target
from sepkit.model import BANDS_NM, RGB8, Finding
from sepkit.units import parse_hex

Array = np.ndarray[Any, np.dtype[Any]]

MOST_CHROMA_AXIS = 150.0
OVER_WHITE = 1.3
"""Brightened cloth may measure above 1 in the blue; above this it is not a reflectance at all."""
MOST_ROWS = 2000
_NUMBER = r"[-+]?(?:\d+(?:\.\d*)?|\.\d+)"
_LAB = re.compile(
    rf"lab\(\s*({_NUMBER})[\s,;]+({_NUMBER})[\s,;]+({_NUMBER})\s*(?:[,;\s]\s*([A-Za-z]+[\d.]*)\s*/\s*(2|10)°?\s*)?\)",
    re.IGNORECASE,
)
_DECIMAL = r"\d+(?:\.\d+)?"
_MUNSELL = re.compile(
    rf"(?:{_DECIMAL}\s*(?:R|YR|Y|GY|G|BG|B|PB|P|RP)\s+{_DECIMAL}\s*/\s*{_DECIMAL}|N\s*{_DECIMAL}/?)", re.IGNORECASE
)
_LIGHT = re.compile(r"([A-Za-z]+[\d.]*)\s*/\s*(2|10)°?")
_WAVELENGTH = re.compile(r"(?:nm|r|spectral|spectral_nm|spec)?_?\s*(\d{3})(?:\.0)?\s*(?:nm)?", re.IGNORECASE)
_EXAMPLE = 'such as "#bf2f3a", "lab(52 40 20, D50/2)", "5R 4/14", tomato, art.png@120,45'


@dataclass(frozen=True, slots=True, eq=False)
class Colour:
    """A target, the other columns of its row, and what to know about it."""

    target: Target
    columns: dict[str, str] = field(default_factory=dict)
    findings: tuple[Finding, ...] = ()


def parse_colour(text: str, *, what: str = "target") -> Colour:
    """Return the colour that ``text`` writes. Raises UsageError or NotFoundError."""
    plain = text.strip()
    if plain.startswith("#"):
        return _of_srgb(plain, parse_hex(plain, what=what))
    if plain.lower().startswith("lab("):
        return _of_lab_text(plain, what)
    if _MUNSELL.fullmatch(plain):
        from sepkit.colorimetry.reference import munsell_to_lab

        return of_lab(plain, munsell_to_lab(plain), what=what)
    if "@" in plain:
        file, _, place = plain.rpartition("@")
        return _of_place(Path(file), place.strip(), what)
    return _of_srgb(plain, _named(plain, what))


def read_colours(path: Path) -> list[Colour]:
    """Return the colours of a CSV or CxF3 list. Raises UsageError naming file, row and column."""
    try:
        raw = path.read_bytes()
    except OSError as error:
        raise NotFoundError(error.strerror or "cannot be read", where=str(path), hint="check the path") from error
    try:
        text = raw.decode("utf-8-sig")
    except UnicodeDecodeError:
        raise UsageError("is not UTF-8 text", where=path.name, hint="save the list as CSV UTF-8") from None
    if text.lstrip().startswith("<"):
        from sepkit.files.shelf.cxf import read_cxf

        found = [of_spectrum(n, nm, values, where=f"{path.name}, {n}") for n, nm, values in read_cxf(text, path.name)]
    else:
        found = _read_csv(text, path.name)
    if not found:
        raise UsageError("holds no colour", where=path.name, hint="a header row, then one colour a row")
    return found


def of_lab(name: str, lab: Array, *, what: str, light: tuple[str, str] = ("D65", "2")) -> Colour:
    """Return a colour from Lab; values under a light other than D65/2 are adapted (Bradford).

    Raises UsageError for impossible values.
    """
    values = np.asarray(lab, np.float64).reshape(3)
    if not np.all(np.isfinite(values)) or not 0 <= values[0] <= 100 or np.abs(values[1:]).max() > MOST_CHROMA_AXIS:
        written = " ".join(f"{v:g}" for v in values)
        raise UsageError(
            f"Lab {written} is impossible", where=what, hint=f"L 0 to 100, a and b within ±{MOST_CHROMA_AXIS:g}"
        )
    if light != ("D65", "2"):
        values = lab_to_d65(values, *light)
    smooth = smooth_reflectance(values)
    findings: tuple[Finding, ...] = ()
    if smooth.moved_de00 > 0.5:
        text = f"{name}: no surface has this colour; the nearest is ΔE00 {smooth.moved_de00:.1f} away"
        findings = (Finding("impossible-colour", "warn", text, "check the values and their light"),)
    return Colour(Target(name, values, smooth.reflectance), {}, findings)


def of_spectrum(name: str, nm: Array, values: Array, *, where: str) -> Colour:
    """Return a colour from reflectances 0..1 at wavelengths in nm.

    Raises UsageError for data that are no reflectance.
    """
    v = np.asarray(values, np.float64)
    if not np.all(np.isfinite(v)):
        raise UsageError("a reflectance is missing or no number", where=where, hint="give every band")
    if v.min() < 0:
        raise UsageError(f"a reflectance is {v.min():g}", where=where, hint="allowed is 0 to 1")
    if v.max() > 2:
        raise UsageError(f"a reflectance is {v.max():g}", where=where, hint="these look like percent: divide by 100")
    if v.max() > OVER_WHITE:
        raise UsageError(f"a reflectance is {v.max():g}", where=where, hint="allowed is 0 to 1; check the calibration")
    nm = np.asarray(nm, np.float64)
    order = np.argsort(nm)
    steps = np.diff(nm[order])
    if len(nm) < 16 or nm.min() > BANDS_NM[0] or nm.max() < BANDS_NM[-1] or steps.min() <= 0 or steps.max() > 20:
        raise UsageError(
            f"{len(nm)} bands from {nm.min():g} to {nm.max():g} nm",
            where=where,
            hint="give 400 to 700 nm in steps of 10 nm (31 bands) or finer",
        )
    curve = np.interp(BANDS_NM, nm[order], v[order])
    findings: tuple[Finding, ...] = ()
    if curve.max() > 1:
        peak = BANDS_NM[int(curve.argmax())]
        text = f"{name}: brighter than white at {peak} nm ({curve.max():.2f}), a brightener glows"
        findings = (Finding("over-white", "warn", text, "clipped to 1; layer optics cannot carry fluorescence"),)
    curve = np.clip(curve, 1e-5, 1 - 1e-5)
    return Colour(Target(name, reflectance_to_lab(curve), curve, measured_spectrum=True), {}, findings)


def _of_srgb(name: str, rgb: RGB8) -> Colour:
    lab = srgb8_to_lab(np.array(rgb)).astype(np.float64)
    return Colour(Target(name, lab, srgb8_to_reflectance(rgb)))


def _of_lab_text(text: str, what: str) -> Colour:
    match = _LAB.fullmatch(text)
    if not match:
        hint = "write lab(52 40 20) or lab(52 40 20, D50/2)"
        raise UsageError(f'"{text}" is not a Lab colour', where=what, hint=hint)
    light = ((match[4] or "D65").upper(), match[5] or "2")
    return of_lab(text, np.array([float(match[i]) for i in (1, 2, 3)]), what=what, light=light)


def _named(name: str, what: str) -> RGB8:
    from PIL import ImageColor

    wanted = name.lower().replace(" ", "").replace("-", "")
    if wanted not in ImageColor.colormap:
        raise UsageError(f'"{name}" is not a colour', where=what, hint=_EXAMPLE)
    r, g, b = ImageColor.getrgb(wanted)[:3]
    return r, g, b


def _of_place(path: Path, place: str, what: str) -> Colour:
    """Return a pixel of a picture, or an entry of a list."""
    if path.suffix.lower() in {".csv", ".txt", ".cxf", ".xml"}:
        found = {c.target.name: c for c in read_colours(path)}
        wanted = next((n for n in found if n.strip().lower() == place.lower()), None)
        if wanted is None:
            raise NotFoundError(f'no colour "{place}"', where=path.name, hint=near_names(place, found))
        return found[wanted]
    return _of_pixel(path, place, what)


def _of_pixel(path: Path, place: str, what: str) -> Colour:
    """Return a pixel of a picture, ``ACROSS,DOWN`` from 0."""
    match = re.fullmatch(r"(\d{1,9})\s*[,x]\s*(\d{1,9})", place)
    if not match:
        raise UsageError(f'"{place}" is not a pixel', where=what, hint="write art.png@ACROSS,DOWN, counted from 0")
    from sepkit.files.art.raster import read_raster

    if not path.is_file():
        raise NotFoundError("no such file", where=str(path), hint="check the path before the @")
    picture = read_raster(path)
    x, y = int(match[1]), int(match[2])
    height, width = picture.alpha.shape
    if x >= width or y >= height:
        raise UsageError(
            f"pixel {x},{y} is outside {width} x {height}", where=path.name, hint=f"0,0 to {width - 1},{height - 1}"
        )
    if picture.alpha[y, x] < 255:
        raise UsageError(f"pixel {x},{y} is not opaque", where=path.name, hint="choose one inside a colour")
    r, g, b = (int(v) for v in picture.rgb[y, x])
    return _of_srgb(f"{path.name}@{x},{y}", (r, g, b))


def _read_csv(text: str, file: str) -> list[Colour]:
    delimiter = max(",;\t", key=text[:4096].split("\n")[0].count)
    rows = _csv_rows(text, file, delimiter)
    if not rows:
        return []
    header = [cell.strip().lower() for cell in rows[0]]
    bands = [(i, int(m[1])) for i, cell in enumerate(header) if (m := _WAVELENGTH.fullmatch(cell))]
    out = []
    for number, row in enumerate(rows[1:], start=2):
        cells = dict(zip(header, (cell.strip() for cell in row), strict=False))
        name = shown(cells.get("name") or cells.get("sample") or f"row {number}")
        where = f"{file}, row {number}"
        if bands:
            colour = _row_spectrum(name, row, bands, where, delimiter)
        else:
            colour = _row_colour(name, cells, where, delimiter)
        out.append(Colour(colour.target, cells, colour.findings))
    return out


def _csv_rows(text: str, file: str, delimiter: str) -> list[list[str]]:
    """Return the rows that hold something and are no comment."""
    try:
        rows = list(csv.reader(io.StringIO(text), delimiter=delimiter))
    except csv.Error as error:
        raise UsageError(f"is not CSV: {error}", where=file, hint="save the list as CSV UTF-8") from error
    rows = [row for row in rows if any(cell.strip() for cell in row) and not row[0].lstrip().startswith("# ")]
    if len(rows) > MOST_ROWS:
        raise UsageError(f"holds {len(rows)} rows", where=file, hint=f"at most {MOST_ROWS}")
    return rows


def _row_spectrum(name: str, row: list[str], bands: list[tuple[int, int]], where: str, delimiter: str) -> Colour:
    values = [_float(row[i] if i < len(row) else "", str(nm), where, delimiter) for i, nm in bands]
    return of_spectrum(name, np.array([nm for _, nm in bands]), np.array(values), where=where)


def _row_colour(name: str, cells: dict[str, str], where: str, delimiter: str) -> Colour:
    if cells.get("hex"):
        return _of_srgb(name, parse_hex(shown(cells["hex"]), what=where))
    lab = [cells.get(key, cells.get(f"{key}*")) for key in ("l", "a", "b")]
    if any(value is None for value in lab):
        raise UsageError(
            "no colour columns", where=where, hint="a header with name and hex, or L, a, b, or 400, 410, ... 700"
        )
    light = _LIGHT.fullmatch(cells.get("light") or "D65/2")
    if not light:
        raise UsageError(f'light is "{shown(cells["light"])}"', where=where, hint="write it as D50/2 or D65/10")
    numbers = [_float(str(value), key, where, delimiter) for key, value in zip("Lab", lab, strict=True)]
    return of_lab(name, np.array(numbers), what=where, light=(light[1].upper(), light[2]))


def _float(text: str, column: str, where: str, delimiter: str) -> float:
    try:
        value = float(text.replace(",", ".") if delimiter != "," else text)
    except ValueError:
        raise UsageError(f'column {column} is "{shown(text)}"', where=where, hint="a number") from None
    if not math.isfinite(value):
        raise UsageError(f"column {column} is {shown(text)}", where=where, hint="a finite number")
    return value
