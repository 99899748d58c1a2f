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
CHUNK = 1 << 18
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


def unexplained_of(
    seen: U8,
    at: Array,
    shape: tuple[int, int],
    *,
    colours: Sequence[RGB8],
    planes: Sequence[U8],
    ground: RGB8,
    space: str,
) -> U8:
    """Return ``shape`` uint8: ΔE00 x 8 between the plates' colours over the garment and the picture.

    Compared are the mixed and tonal pixels, flat indices ``at`` with picture colours ``seen`` (n, 3). Solid pixels
    differ by the merging of near colours alone: at most MERGE_DE00, unless the person asked for fewer inks.
    """
    linear = space == "linear"
    table = linear_table() if linear else np.arange(256, dtype=np.float32) / 255
    out = np.zeros(shape, np.uint8)
    inks = table[np.array(colours, np.uint8).reshape(-1, 3)]
    bare = table[np.array(ground)]
    for start in range(0, len(at), CHUNK):
        some = at[start : start + CHUNK]
        share = np.zeros((len(some), len(inks)), np.float32)
        for k, plane in enumerate(planes):
            share[:, k] = plane.ravel()[some]
        share /= 255
        mixed = np.clip(share @ inks + np.clip(1 - share.sum(1), 0, 1)[:, None] * bare, 0, 1)
        lab = linear_to_lab(mixed if linear else srgb_to_linear(mixed))
        error = delta_e_2000(lab, srgb8_to_lab(seen[start : start + CHUNK]))
        out.ravel()[some] = np.clip(np.rint(error * 8), 0, 255)
    return out
