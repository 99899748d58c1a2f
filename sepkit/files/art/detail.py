"""At which resolution a vector page is rendered: as fine as its detail needs, at most the film's.

In: a Drawing and its print width. Out: pixels and a finding with the dpi used.
Soft coverage carries an edge to a small part of a pixel, so that BASE_DPI is enough for anything wider than about
two and a half pixels; finer lines and gaps have no pixel of their own colour and need more. They are found by opening
and closing with a 3 x 3 window (Serra, Image Analysis and Mathematical Morphology, 1982): what these remove is thin.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from sepkit.errors import ArtworkError
from sepkit.files.art.picture import SIDE_LIMIT_PX, Drawing
from sepkit.model import Finding
from sepkit.units import MM_PER_INCH

if TYPE_CHECKING:
    from sepkit.model import U8

BASE_DPI = 300.0
"""Usual resolution of art at print size (common practice)."""
FINER = 1.6
"""Step from one tried resolution to the next."""
MOST_PIXELS = 40_000_000
THIN_SHARE = 0.01
"""Share of edge pixels that may be thin before a finer rendering is tried; corners of fair shapes stay below."""
_LEAST_CONTRAST = 40
_ROWS = 512


def render_in_detail(drawing: Drawing, where: str, *, width_mm: float, film_dpi: float) -> tuple[U8, Finding]:
    """Render a page; return (h, w, 4) pixels and a finding "rendered" with the dpi.

    Raises ArtworkError when the page is so long and narrow that it cannot be rendered.
    """
    cap = _most_width_px(drawing.aspect)
    film_px = width_mm * film_dpi / MM_PER_INCH
    most = max(min(round(film_px), cap), 1)
    start = max(width_mm * BASE_DPI / MM_PER_INCH, drawing.image_px)
    width_px = max(min(round(start), most), 1)
    if max(most * drawing.aspect, 1) > SIDE_LIMIT_PX or width_px * drawing.aspect < 0.5:
        raise ArtworkError("is too long and narrow to render", where=where, hint="crop the page to the art")
    pixels = drawing.render(width_px)
    while width_px < most and thin_share(pixels) > THIN_SHARE:
        width_px = min(round(width_px * FINER), most)
        pixels = drawing.render(width_px)
    dpi = width_px * MM_PER_INCH / width_mm
    limited = width_px == cap < film_px and thin_share(pixels) > THIN_SHARE
    if limited:
        return pixels, Finding(
            "rendered",
            "warn",
            f"rendered at {dpi:.0f} dpi, the most here; some lines are finer",
            "split the art, or print it smaller",
        )
    return pixels, Finding("rendered", "info", f"vector art rendered at {dpi:.0f} dpi")


def thin_share(pixels: U8) -> float:
    """Return the share of edge pixels of (h, w, 4) pixels that belong to lines or gaps under about 2.5 pixels wide."""
    thin = edges = 0
    height = pixels.shape[0]
    for top in range(0, height, _ROWS):
        first, last = max(top - 2, 0), min(top + _ROWS + 2, height)
        inner = slice(top - first, top - first + min(_ROWS, height - top))
        band = pixels[first:last]
        alpha = band[..., 3]
        thin_here = np.zeros(alpha.shape, bool)
        edge_here = np.zeros(alpha.shape, bool)
        for channel in range(4):
            plane = alpha
            if channel < 3:  # weighted by alpha: colour where nothing shows is no detail
                plane = ((band[..., channel].astype(np.uint16) * alpha + 127) // 255).astype(np.uint8)
            low, high = _extreme(plane, np.minimum), _extreme(plane, np.maximum)
            opened, closed = _extreme(low, np.maximum), _extreme(high, np.minimum)
            contrast = _extreme(high, np.maximum) - _extreme(low, np.minimum)
            removed = np.maximum(plane - opened, closed - plane)
            clear = contrast > _LEAST_CONTRAST
            edge_here |= clear
            thin_here |= clear & (removed > (contrast >> 1) + (contrast >> 3))
        thin += int(np.count_nonzero(thin_here[inner]))
        edges += int(np.count_nonzero(edge_here[inner]))
    return thin / edges if edges else 0.0


def _extreme(plane: U8, pick: np.ufunc) -> U8:
    """Return the least or greatest of each 3 x 3 window; the border repeats."""
    padded = np.pad(plane, 1, mode="edge")
    rows = pick(pick(padded[:-2], padded[1:-1]), padded[2:])
    result: U8 = pick(pick(rows[:, :-2], rows[:, 1:-1]), rows[:, 2:])
    return result


def _most_width_px(aspect: float) -> int:
    return max(int(min((MOST_PIXELS / aspect) ** 0.5, SIDE_LIMIT_PX, SIDE_LIMIT_PX / aspect)), 1)
