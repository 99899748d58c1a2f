"""Films on sheets and rolls: where the art lies, and how a film that is too large is cut into tiles.

In: the film's size in pixels, its dpi, a sheet size in mm (a roll has a width and no height). Out: tiles, the same for
every film of a job, so that all register. Sheet sizes: ISO 216 and the usual inkjet widths (common practice).
Tiles overlap by 12 mm (8 to 15 mm is common practice) and are cut in the middle of the overlap; where the ink along
each column and row is known, the overlap moves to where the cut crosses least ink, as long as no tile becomes a sliver.
"""

from __future__ import annotations

import math
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from sepkit.errors import UsageError, near_names
from sepkit.film.marks import BOTTOM_MM, LEAST_PAGE_WIDTH_MM, TOP_MM
from sepkit.film.page import PagePlace, Tile
from sepkit.units import parse_length_mm, parse_size_mm

if TYPE_CHECKING:
    from sepkit.model import F64

SHEETS_MM: dict[str, tuple[float, float]] = {
    "A4": (210.0, 297.0),
    "A3": (297.0, 420.0),
    "A3+": (329.0, 483.0),
    "A2": (420.0, 594.0),
    "A1": (594.0, 841.0),
    "Letter": (215.9, 279.4),
    "Tabloid": (279.4, 431.8),
    "13x19": (330.2, 482.6),
    "17x22": (431.8, 558.8),
}
LEAST_SIDE_MM = 6.0
OVERLAP_MM = 12.0
MOST_TILES = 64
LEAST_SHARE = 0.7
"""No tile adds less of the film than this share of an even cut."""
AS_GOOD = 0.02
"""Cuts whose ink differs by less than this share of the fullest are as good as one another: the most even is taken."""


@dataclass(frozen=True, slots=True)
class Sheet:
    """A sheet of film, or a roll when ``height_mm`` is None."""

    name: str
    width_mm: float
    height_mm: float | None

    @property
    def art_mm(self) -> tuple[float, float]:
        """The largest art that fits beside the furniture; a roll is as long as it needs to be."""
        height = math.inf if self.height_mm is None else self.height_mm - TOP_MM - BOTTOM_MM
        return self.width_mm - 2 * LEAST_SIDE_MM, height


def parse_sheet(text: str) -> Sheet:
    """Return a sheet from ``A3``, ``13x19in`` or ``329x483mm``, upright. Raises UsageError."""
    for name, (width, height) in SHEETS_MM.items():
        if text.strip().lower() == name.lower():
            return Sheet(name, width, height)
    if "x" not in text.lower() and "×" not in text:
        raise UsageError(f'"{text}" is no sheet', where="--sheet", hint=near_names(text, SHEETS_MM) + " or 329x483mm")
    width, height = parse_size_mm(text, what="--sheet")
    return Sheet(text.strip(), width, height)


def parse_roll(text: str) -> Sheet:
    """Return a roll from its width, ``432mm`` or ``17in``. Raises UsageError."""
    width = parse_length_mm(text, what="--roll", least_mm=100.0, most_mm=2000.0)
    return Sheet(f"roll {width:g} mm", width, None)


def plan_tiles(
    width_px: int,
    height_px: int,
    *,
    dpi: float,
    sheet: Sheet,
    ink_across: F64 | None = None,
    ink_down: F64 | None = None,
) -> tuple[Tile, ...]:
    """Return the tiles that carry a film, row by row; one tile when it fits.

    ``ink_across`` is the ink (any unit) of each column of the art, over all plates, ``ink_down`` of each row: any
    number of samples from the left or top edge to the other.
    Raises UsageError for a sheet smaller than its margins.
    """
    room_w, room_h = sheet.art_mm
    if room_w < 2 * OVERLAP_MM or room_h < 2 * OVERLAP_MM or sheet.width_mm < LEAST_PAGE_WIDTH_MM:
        need = f"{LEAST_PAGE_WIDTH_MM:g} x {TOP_MM + BOTTOM_MM + 2 * OVERLAP_MM:g} mm"
        raise UsageError(
            f"{sheet.name} is smaller than a film's margins, which need {need}",
            where="sheet",
            hint="take a larger sheet, or leave the sheet out for films at their own size",
        )
    columns = _cuts(width_px, _px(room_w, dpi), _px(OVERLAP_MM, dpi), ink_across)
    rows = _cuts(height_px, height_px if math.isinf(room_h) else _px(room_h, dpi), _px(OVERLAP_MM, dpi), ink_down)
    if len(columns) * len(rows) > MOST_TILES:
        raise UsageError(f"{len(columns) * len(rows)} tiles a film", where="sheet", hint="take a larger sheet")
    tiles: list[Tile] = []
    for y0, y1 in rows:
        for x0, x1 in columns:
            tiles.append(_tile((x0, x1, columns), (y0, y1, rows), dpi, sheet, len(tiles) + 1, len(columns) * len(rows)))
    return tuple(tiles)


def _tile(
    across: tuple[int, int, list[tuple[int, int]]],
    down: tuple[int, int, list[tuple[int, int]]],
    dpi: float,
    sheet: Sheet,
    number: int,
    of: int,
) -> Tile:
    x0, x1, columns = across
    y0, y1, rows = down
    widest = max(b - a for a, b in columns)
    page_w = _px(sheet.width_mm, dpi)
    tallest = max(b - a for a, b in rows)
    page_h = tallest + _px(TOP_MM, dpi) + _px(BOTTOM_MM, dpi)
    if sheet.height_mm is not None:
        page_h = max(page_h, _px(sheet.height_mm, dpi))
    # The widest tile is centred and the others start at the same place: one origin for all pages.
    place = PagePlace(page_w, page_h, (page_w - widest) // 2, _px(TOP_MM, dpi))
    return Tile(
        x0, y0, x1 - x0, y1 - y0, place, number, of, _seams(x0, x1, columns), _seams(y0, y1, rows), columns=len(columns)
    )


def _seams(start: int, stop: int, spans: list[tuple[int, int]]) -> tuple[int, ...]:
    """Return where to cut inside a span: the middle of its overlap with each neighbour."""
    out = []
    for a, b in spans:
        low, high = max(a, start), min(b, stop)
        if (a, b) != (start, stop) and low < high:
            out.append((low + high) // 2 - start)
    return tuple(out)


def _cuts(length: int, room: int, overlap: int, ink: F64 | None) -> list[tuple[int, int]]:
    """Return spans that cover ``length``, each at most ``room``, neighbours sharing ``overlap``."""
    if length <= room:
        return [(0, length)]
    count = math.ceil((length - overlap) / (room - overlap))
    slack = count * (room - overlap) + overlap - length
    spans, start = [], 0
    share = (length - overlap) / count
    least, most = min(math.ceil(LEAST_SHARE * share), room - overlap), room - overlap
    for k in range(count - 1):
        even, rest = round(share * (k + 1)), count - 1 - k
        low = max(start + least, length - overlap - rest * most)
        high = min(start + most, length - overlap - rest * least)
        cut = _least_ink(ink, length, overlap, low, high, even) if slack > 0 else high
        spans.append((start, cut + overlap))
        start = cut
    return [*spans, (start, length)]


def _least_ink(ink: F64 | None, length: int, overlap: int, low: int, high: int, even: int) -> int:
    """Return where the overlap starts so that its middle crosses least ink, the nearest to ``even`` of equals."""
    even = min(max(even, low), high)
    if ink is None:
        return even
    at = np.arange(low, high + 1)
    middle = np.minimum(((at + overlap / 2) / length * len(ink)).astype(np.int64), len(ink) - 1)
    cost = np.asarray(ink, np.float64)[middle]
    best = cost <= cost.min() + AS_GOOD * float(np.max(ink))
    return int(at[best][np.argmin(np.abs(at[best] - even))])


def _px(mm: float, dpi: float) -> int:
    return round(mm * dpi / 25.4)
