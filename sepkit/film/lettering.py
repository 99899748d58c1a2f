"""Lettering for film margins: our own single-stroke letters, so that a film needs no font.

In: text, position and height in mm. Out: polylines in mm (x right, y down). Letters stand on a grid 4 wide and 6 high
(capitals), descenders 2; a letter is written as strokes of points, each point two digits: x 0-4 and y 0-8, where 2 is
the baseline, 6 the height of small letters and 8 that of capitals.
"""

from __future__ import annotations

import unicodedata
from functools import lru_cache

Point = tuple[float, float]
Polyline = tuple[Point, ...]

CAP_UNITS = 6.0
ADVANCE_UNITS = 6.0
BASELINE = 2

_CAPITALS = {
    "A": "02 28 42|14 34",
    "B": "02 08 38 47 46 35 05|35 44 43 32 02",
    "C": "47 38 18 07 03 12 32 43",
    "D": "02 08 28 46 44 22 02",
    "E": "48 08 02 42|05 35",
    "F": "48 08 02|05 35",
    "G": "47 38 18 07 03 12 32 43 45 25",
    "H": "02 08|42 48|05 45",
    "I": "12 32|18 38|22 28",
    "J": "48 43 32 12 03",
    "K": "02 08|48 05 42",
    "L": "08 02 42",
    "M": "02 08 25 48 42",
    "N": "02 08 42 48",
    "O": "12 03 07 18 38 47 43 32 12",
    "P": "02 08 38 47 46 35 05",
    "Q": "12 03 07 18 38 47 43 32 12|24 42",
    "R": "02 08 38 47 46 35 05|25 42",
    "S": "47 38 18 07 06 15 35 44 43 32 12 03",
    "T": "08 48|28 22",
    "U": "08 03 12 32 43 48",
    "V": "08 22 48",
    "W": "08 12 25 32 48",
    "X": "02 48|08 42",
    "Y": "08 25 48|25 22",
    "Z": "08 48 02 42",
}
_SMALL = {
    "a": "45 36 16 05 03 12 32 43|46 42",
    "b": "08 02|03 12 32 43 45 36 16 05",
    "c": "45 36 16 05 03 12 32 43",
    "d": "48 42|45 36 16 05 03 12 32 43",
    "e": "04 44 45 36 16 05 03 12 32 43",
    "f": "38 28 17 12|06 36",
    "g": "45 36 16 05 03 12 32 43|46 41 30 10 01",
    "h": "08 02|05 16 36 45 42",
    "i": "26 22|27 28",
    "j": "36 31 20 10|37 38",
    "k": "08 02|36 04 42",
    "l": "18 28 22|12 32",
    "m": "02 06|05 16 25 22|25 36 45 42",
    "n": "06 02|05 16 36 45 42",
    "o": "12 03 05 16 36 45 43 32 12",
    "p": "06 00|05 16 36 45 43 32 12 03",
    "q": "46 40|45 36 16 05 03 12 32 43",
    "r": "06 02|05 16 36",
    "s": "45 36 16 05 14 34 43 32 12 03",
    "t": "18 13 22 32|06 36",
    "u": "06 03 12 32 43|46 42",
    "v": "06 22 46",
    "w": "06 12 25 32 46",
    "x": "02 46|06 42",
    "y": "06 22|46 22 10",
    "z": "06 46 02 42",
}
_OTHERS = {
    "0": "12 03 07 18 38 47 43 32 12|03 47",
    "1": "17 28 22|12 32",
    "2": "07 18 38 47 46 02 42",
    "3": "08 48 25 35 44 43 32 12 03",
    "4": "32 38 04 44",
    "5": "48 08 05 35 44 43 32 12 03",
    "6": "47 38 18 07 03 12 32 43 44 35 05",
    "7": "08 48 12",
    "8": "15 06 07 18 38 47 46 35 15 04 03 12 32 43 44 35",
    "9": "03 12 32 43 47 38 18 07 06 15 45",
    " ": "",
    "-": "15 35",
    ".": "22 23",
    ",": "23 11",
    ":": "22 23|25 26",
    ";": "23 11|25 26",
    "/": "02 48",
    "\\": "08 42",
    "(": "38 27 23 32",
    ")": "18 27 23 12",
    "[": "38 28 22 32",
    "]": "18 28 22 12",
    "%": "02 48|08 18 17 07 08|33 43 42 32 33",
    "#": "12 18|32 38|04 44|06 46",
    "+": "05 45|23 27",
    "_": "02 42",
    "=": "04 44|06 46",
    "'": "28 27",
    '"': "18 17|38 37",
    "!": "28 24|22 23",
    "?": "07 18 38 47 46 25 24|22 23",
    "&": "42 06 07 18 27 26 04 03 12 22 44",
    "*": "23 27|14 36|16 34",
    "<": "47 05 43",
    ">": "07 45 03",
    "@": "34 36 16 14 34 44 47 38 18 07 03 12 42",
    "°": "17 18 28 27 17",
    "×": "13 35|15 33",
    "µ": "00 06|03 12 32 43|46 42",
    "μ": "00 06|03 12 32 43|46 42",
    "·": "24 25",
    "|": "20 28",
    "~": "04 15 34 45",
    "–": "05 45",
    "—": "05 45",
    "’": "28 27",
    "•": "24 25",
}
_ACCENTS = {
    "\u0300": "18 27",
    "\u0301": "27 38",
    "\u0302": "17 28 37",
    "\u0303": "07 18 37 48",
    "\u0308": "17 18|37 38",
    "\u030a": "17 18 38 37 17",
    "\u030c": "18 27 38",
    "\u0304": "17 37",
    "\u0306": "18 27 38",
    "\u030b": "17 28|37 48",
    "\u0307": "27 28",
}
_BELOW = {"\u0327": "22 21 10", "\u0328": "32 31 40", "\u0323": "20 21"}
_SPELLED = {"ß": "ss", "æ": "ae", "Æ": "AE", "œ": "oe", "Œ": "OE", "ø": "o", "Ø": "O", "ł": "l", "Ł": "L", "đ": "d"}
_UNKNOWN = "02 08 48 42 02|02 48"


def text_width_mm(text: str, height_mm: float) -> float:
    """Return how wide ``text`` runs when its capitals are ``height_mm`` high."""
    return max(0.0, len(_letters(text)) * ADVANCE_UNITS - 2) * height_mm / CAP_UNITS


def text_strokes(text: str, *, x_mm: float, y_mm: float, height_mm: float) -> list[Polyline]:
    """Return the strokes of ``text`` with its baseline's left end at (x, y); letters we lack become a crossed box."""
    unit = height_mm / CAP_UNITS
    out: list[Polyline] = []
    for k, strokes in enumerate(_letters(text)):
        left = x_mm + k * ADVANCE_UNITS * unit
        out += [tuple((left + px * unit, y_mm - (py - BASELINE) * unit) for px, py in s) for s in strokes]
    return out


def _letters(text: str) -> list[tuple[Polyline, ...]]:
    """Return a glyph per letter, accents joined to the letter before."""
    spelled = "".join(_SPELLED.get(c, c) for c in " ".join(text.split()))
    out: list[tuple[Polyline, ...]] = []
    capital = False
    for char in unicodedata.normalize("NFD", spelled):
        if unicodedata.combining(char):
            if out:
                out[-1] += _accent(char, capital)
            continue
        out.append(_glyph(char))
        capital = char in _CAPITALS or char in "bdfhklt"
    return out


@lru_cache(maxsize=256)
def _glyph(char: str) -> tuple[Polyline, ...]:
    code = _CAPITALS.get(char) or _SMALL.get(char)
    return _strokes(code if code is not None else _OTHERS.get(char, _UNKNOWN))


def _accent(char: str, capital: bool) -> tuple[Polyline, ...]:
    if char in _BELOW:
        return _strokes(_BELOW[char])
    lift = 2 if capital else 0
    return tuple(tuple((x, y + lift) for x, y in s) for s in _strokes(_ACCENTS.get(char, "")))


def _strokes(code: str) -> tuple[Polyline, ...]:
    return tuple(tuple((float(p[0]), float(p[1])) for p in stroke.split()) for stroke in code.split("|") if stroke)
