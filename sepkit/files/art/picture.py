"""What the artwork readers hand to artwork.py, and the limits they share.

Picture: pixels of a raster file, already upright sRGB. Drawing: a vector page that renders at any width.
Sizes in pixels and mm, ruling of pixels in dpi.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

import numpy as np

from sepkit.errors import ArtworkError
from sepkit.model import Finding

if TYPE_CHECKING:
    from sepkit.model import U8, ArtPlate

MAX_PIXELS = 200_000_000
"""Pixels a raster file, or a picture inside a vector file, may declare; asked before anything is decoded."""

SIDE_LIMIT_PX = 65_500
"""Longest side; what 16-bit fields of raster formats hold, with room to spare for margins."""


@dataclass(frozen=True, slots=True, eq=False)
class Picture:
    """Pixels as read."""

    rgb: U8
    """(h, w, 3) sRGB, not premultiplied."""
    alpha: U8
    """(h, w), 255 = opaque."""
    dpi: tuple[float, float] | None = None
    """(across, down) as the file says; None when it says nothing."""
    findings: list[Finding] = field(default_factory=list)
    full_px: tuple[int, int] | None = None
    """(across, down) in the file, of a picture that is kept in fewer pixels; ``dpi`` goes with these."""


@dataclass(frozen=True, slots=True, eq=False)
class Brought:
    """Plates that a page brings, and what to tell of them."""

    plates: tuple[ArtPlate, ...]
    findings: tuple[Finding, ...] = ()


@dataclass(frozen=True, slots=True, eq=False)
class Drawing:
    """A vector page."""

    aspect: float
    """Height / width."""
    width_mm: float | None
    """The page's own width; None when the file gives none in physical units."""
    render: Callable[[int], U8]
    """Width in pixels -> (h, w, 4) sRGB and alpha, not premultiplied."""
    image_px: float = 0.0
    """Width in pixels at which the finest picture placed on the page keeps all its pixels; 0 when there is none."""
    findings: list[Finding] = field(default_factory=list)
    plates: Callable[[int], Brought] | None = None
    """Width in pixels -> the plates that the page brings; None when it brings none."""
    close: Callable[[], None] = lambda: None
    """Ends what draws the page; it cannot be rendered afterwards."""


def check_pixels(width: int, height: int, where: str, *, what: str = "the picture") -> None:
    """Raise ArtworkError when a declared size is empty or beyond the limits."""
    if width < 1 or height < 1:
        raise ArtworkError(f"{what} says it is {width} x {height} pixels", where=where, hint="export it again")
    if width * height > MAX_PIXELS or max(width, height) > SIDE_LIMIT_PX:
        raise ArtworkError(
            f"{what} is {width:,} x {height:,} pixels, over the limit of {MAX_PIXELS // 1_000_000} million",
            where=where,
            hint="scale it down to 300-600 dpi at print size",
        )


def turn(pixels: U8, orientation: int) -> U8:
    """Return (h, w, ...) pixels upright for an Exif orientation of 1..8."""
    steps = {
        2: lambda p: p[:, ::-1],
        3: lambda p: p[::-1, ::-1],
        4: lambda p: p[::-1],
        5: lambda p: p.swapaxes(0, 1),
        6: lambda p: p[::-1].swapaxes(0, 1),
        7: lambda p: p[::-1, ::-1].swapaxes(0, 1),
        8: lambda p: p[:, ::-1].swapaxes(0, 1),
    }
    return np.ascontiguousarray(steps[orientation](pixels)) if orientation in steps else pixels
