"""Lengths and rulings: the one place that converts between mm, inch, point, pixel and thread counts.

Lengths are mm inside sepkit. 1 in = 25.4 mm exactly; 1 pt = 1/72 in (PDF, ISO 32000).
"""

from __future__ import annotations

import math
import re

from sepkit.errors import UsageError

MM_PER_INCH = 25.4
PT_PER_INCH = 72.0

_UNIT_MM = {
    "mm": 1.0,
    "cm": 10.0,
    "m": 1000.0,
    "in": MM_PER_INCH,
    "inch": MM_PER_INCH,
    '"': MM_PER_INCH,
    "pt": MM_PER_INCH / PT_PER_INCH,
    "um": 0.001,
    "µm": 0.001,
}
_LENGTH = re.compile(r'^\s*([-+]?\d+(?:[.,]\d+)?|[-+]?[.,]\d+)\s*(mm|cm|m|inch|in|"|pt|um|µm)?\s*$', re.IGNORECASE)


def parse_length_mm(text: str, *, what: str = "length", least_mm: float = 0.0, most_mm: float = 3000.0) -> float:
    """Return a length in mm from text such as ``300mm``, ``0.35 mm``, ``12in``, ``1pt``; a bare number is mm.

    Raises UsageError for text that is no length, and for a length outside ``least_mm``..``most_mm``.

    >>> parse_length_mm("12in"), parse_length_mm("0,35 mm")
    (304.8, 0.35)
    """
    match = _LENGTH.match(text)
    if not match:
        raise UsageError(f'"{text}" is not a length', where=what, hint="write it as 300mm, 0.35mm or 12in")
    value = float(match[1].replace(",", ".")) * _UNIT_MM[(match[2] or "mm").lower()]
    if not (math.isfinite(value) and least_mm <= value <= most_mm):
        raise UsageError(
            f"{text.strip()} is outside {least_mm:g} to {most_mm:g} mm",
            where=what,
            hint="give a size within the range",
        )
    return round(value, 6)


def parse_size_mm(text: str, *, what: str = "size") -> tuple[float, float]:
    """Return (width, height) in mm from ``300x350mm`` or ``12x16in``.

    >>> parse_size_mm("12x16in")
    (304.8, 406.4)
    """
    parts = re.split(r"\s*[x×]\s*", text.strip().lower())
    if len(parts) != 2:
        raise UsageError(f'"{text}" is not a size', where=what, hint="write it as 300x350mm or 12x16in")
    unit = re.sub(r"^[\s\d.,+-]+", "", parts[1])
    first = parts[0] if re.search(r'[a-zµ"]$', parts[0]) else parts[0] + unit
    return parse_length_mm(first, what=what, least_mm=1.0), parse_length_mm(parts[1], what=what, least_mm=1.0)


def mm_to_px(mm: float, dpi: float) -> float:
    """Return ``mm`` as (fractional) pixels at ``dpi``.

    >>> mm_to_px(25.4, 720.0)
    720.0
    """
    return mm * dpi / MM_PER_INCH


def px_to_mm(px: float, dpi: float) -> float:
    """Return ``px`` pixels at ``dpi`` as mm."""
    return px * MM_PER_INCH / dpi


def mm_to_pt(mm: float) -> float:
    """Return ``mm`` as PDF points.

    >>> round(mm_to_pt(210.0), 2)
    595.28
    """
    return mm * PT_PER_INCH / MM_PER_INCH


def threads_per_cm_to_tpi(threads_per_cm: float) -> float:
    """Return a mesh count per inch.

    >>> round(threads_per_cm_to_tpi(43))
    109
    """
    return threads_per_cm * MM_PER_INCH / 10.0


def parse_hex(text: str, *, what: str = "colour") -> tuple[int, int, int]:
    """Return 8-bit sRGB from ``#rrggbb`` or ``#rgb``.

    >>> parse_hex("#1a1a1c")
    (26, 26, 28)
    """
    digits = text.strip().lstrip("#")
    if len(digits) == 3:
        digits = "".join(c * 2 for c in digits)
    if not re.fullmatch(r"[0-9a-fA-F]{6}", digits):
        raise UsageError(f'"{text}" is not a colour', where=what, hint="write it as #rrggbb")
    return int(digits[:2], 16), int(digits[2:4], 16), int(digits[4:], 16)


def to_hex(rgb: tuple[int, int, int]) -> str:
    """Return ``#rrggbb`` for 8-bit sRGB.

    >>> to_hex((26, 26, 28))
    '#1a1a1c'
    """
    return "#{:02x}{:02x}{:02x}".format(*(int(v) for v in rgb))
