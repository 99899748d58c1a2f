"""What to tell the person about a separation: how sharp the picture is, what stays open, what is not explained."""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

import numpy as np

from sepkit.colorimetry.difference import delta_e_2000
from sepkit.colorimetry.srgb import linear_table, linear_to_lab, srgb8_to_lab, srgb_to_linear
from sepkit.model import Finding

if TYPE_CHECKING:
    from sepkit.model import RGB8, U8, Artwork, FlatSeparation
    from sepkit.separation.noise import Character

Array = np.ndarray[Any, np.dtype[Any]]

SHARP_EDGE_PX = 1.4  # contrast over steepest step of plain antialiasing
STRIP_ROWS = 256
GOOD_DPI = 225.0  # below this at print size, edges show steps at arm's length (common practice asks 300)


def findings_of(art: Artwork, result: FlatSeparation, kind: Character, factor: float) -> tuple[Finding, ...]:
    """Return the findings of the whole separation."""
    found: list[Finding] = []
    if kind.blurred:
        real = art.dpi / (factor if factor > 1 else kind.edge_width_px / SHARP_EDGE_PX)
        need = GOOD_DPI / real
        if real < GOOD_DPI:
            found.append(
                Finding(
                    "soft-edges",
                    "warn",
                    f"this picture is about {real:.0f} dpi at this size: edges will be soft",
                    f"ask for vector art or a picture {need:.1f}x larger",
                )
            )
    for area in result.areas:
        if not area.coverage.any():
            name = area.name or "#{:02x}{:02x}{:02x}".format(*area.srgb)
            found.append(Finding("unused-ink", "warn", f'no part of the art is printed in "{name}"', "leave it out"))
    return tuple(found)


def unexplained_of(seen: U8, colours8: Sequence[RGB8], planes_of: Sequence[U8], ground: RGB8, space: str) -> U8:
    """Return (h, w) uint8: ΔE00 x 8 between the plates' colours over the garment and the picture.

    Only pixels that no single plate covers whole are compared one by one; whole pixels differ by the merging of near
    colours alone, which is at most MERGE_DE00 unless the person asked for fewer inks.
    """
    linear = space == "linear"
    table = linear_table() if linear else np.arange(256, dtype=np.float32) / 255
    colours = table[np.array(colours8, np.uint8).reshape(-1, 3)]
    out = np.zeros(seen.shape[:2], np.uint8)
    for start in range(0, len(seen), STRIP_ROWS):
        rows = slice(start, start + STRIP_ROWS)
        planes = np.stack([p[rows] for p in planes_of]) if planes_of else np.zeros((0, 1, 1), np.uint8)
        part = ((planes > 0) & (planes < 255)).any(axis=0)
        if not part.any():
            continue
        share = planes[:, part].T.astype(np.float32) / 255
        mixed = share @ colours + np.clip(1 - share.sum(1), 0, 1)[:, None] * table[np.array(ground)]
        mixed = np.clip(mixed, 0, 1)
        error = delta_e_2000(linear_to_lab(mixed if linear else srgb_to_linear(mixed)), srgb8_to_lab(seen[rows][part]))
        out[rows][part] = np.clip(np.rint(error * 8), 0, 255)
    return out
