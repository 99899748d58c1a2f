"""The picture as it is separated: on its own grid, its soft shadows settled, with what kind of picture it is.

In: an :class:`~sepkit.model.Artwork`, the garment's sRGB, what becomes of soft shadows. Out: a :class:`Picture`.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

import numpy as np

from sepkit.coverage.channels import pixels_at
from sepkit.separation import grid, palette, tones
from sepkit.separation.chroma import restore_chroma
from sepkit.separation.noise import Character, character, composite
from sepkit.separation.shares import Pixels

if TYPE_CHECKING:
    from sepkit.model import RGB8, U8, Artwork, SoftRule

Array = np.ndarray[Any, np.dtype[Any]]


@dataclass(frozen=True, slots=True, eq=False)
class Picture(Pixels):
    """Pixels to separate, and what is known of them."""

    veil: Array | None
    """(h, w) bool: broad half-transparent areas, which are tones; None when there are none."""
    kind: Character
    pixel_mm2: float
    ground: RGB8
    raw: U8
    """The same before chroma was restored: flat areas are calmest here, and window sums true."""

    def seen(self) -> U8:
        """Return the picture over the garment, as a viewer shows it."""
        return composite(self.rgb, self.alpha, self.ground)

    def seen_at(self, at: Array) -> U8:
        """Return (n, 3) the same at flat indices."""
        return composite(pixels_at(self.rgb, at), self.alpha.ravel()[at], self.ground)


def picture_of(art: Artwork, ground: RGB8, kind: Character, factor: float, soft: SoftRule) -> Picture:
    """Return what to separate: on its own grid where it was enlarged, its soft shadows settled as the person wants."""
    rgb, alpha, pixel_mm2 = art.rgb, art.alpha, (25.4 / art.dpi) ** 2
    if factor > 1:
        height, width = alpha.shape
        small = (round(height / factor), round(width / factor))
        rgb, alpha = grid.shrink_rgba(rgb, alpha, small)
        pixel_mm2 *= height * width / (small[0] * small[1])
        kind = character(rgb, alpha, ground)
    if kind.restless and palette.is_drawn(rgb, alpha, pixel_mm2=pixel_mm2):
        kind = replace(kind, drawn=True)
    raw = rgb
    if kind.noisy and not kind.photograph and alpha.min() == 255:
        rgb = restore_chroma(raw)
    veil = tones.soft_alpha(alpha, edge_width_px=kind.edge_width_px, pixel_mm2=pixel_mm2)
    alpha = tones.settle_alpha(alpha, veil, soft)
    return Picture(rgb, alpha, veil if soft == "tone" else None, kind, pixel_mm2, ground, raw)
