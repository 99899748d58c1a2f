"""Art printed in one ink, whatever its colours: the coverage comes from its shape, its dark or light parts, its tones.

In: artwork and the cloth. Out: coverage (h, w) uint8. Dark art on dark cloth would come out as a negative, so tones
follow the cloth: on dark cloth the art's light parts take the ink, on light cloth its dark parts.
"""

from __future__ import annotations

from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from sepkit.colorimetry.srgb import EPSILON, KAPPA, RGB_TO_XYZ, linear_table
from sepkit.errors import ArtworkError

if TYPE_CHECKING:
    from sepkit.model import RGB8, U8, Artwork, OneInkFrom

DARK_CLOTH_L = 50.0
LIGHTNESS_STEPS = 65535
EDGE_GAIN = 2.0
"""Antialiased edges between the two lightnesses keep their place and get this much steeper."""


def one_ink_coverage(art: Artwork, *, source: OneInkFrom, cloth_lightness: float) -> U8:
    """Return the coverage of the one ink, 0 none, 255 solid. Raises ArtworkError when nothing is left."""
    if source == "shape":
        cover = art.alpha.copy()
    else:
        lightness = _lightness(art.rgb)
        inked = _toned(lightness, cloth_lightness) if source == "tone" else _parted(lightness, art.alpha, source)
        cover = np.rint(inked * art.alpha).astype(np.uint8)
    if not cover.any():
        raise ArtworkError(
            f'nothing of the art is left as one ink from "{source}"',
            where=art.source,
            hint="use one_ink_from = shape, dark, light or tone",
        )
    return cover


def write_one_ink(art: Artwork, path: Path, *, ink_srgb: RGB8, source: OneInkFrom, cloth_lightness: float) -> None:
    """Write the art as a PNG in the ink's colour, its coverage as transparency, at its printed size."""
    from PIL import Image

    cover = one_ink_coverage(art, source=source, cloth_lightness=cloth_lightness)
    rgba = np.empty((*cover.shape, 4), np.uint8)
    rgba[..., :3] = ink_srgb
    rgba[..., 3] = cover
    Image.fromarray(rgba).save(path, dpi=(art.dpi, art.dpi), compress_level=1)


def _lightness(rgb: U8) -> np.ndarray:
    """Return L* (h, w) float32 by look-ups, for whole pictures are large (ISO/CIE 11664-4, IEC 61966-2-1)."""
    linear = linear_table()
    luminance = np.zeros(rgb.shape[:2], np.float32)
    for k, weight in enumerate(RGB_TO_XYZ[1]):
        luminance += np.float32(weight) * linear[rgb[..., k]]
    steps = np.linspace(0.0, 1.0, LIGHTNESS_STEPS + 1)
    table = np.where(steps > EPSILON, 116 * np.cbrt(steps) - 16, KAPPA * steps).astype(np.float32)
    return np.asarray(table[np.rint(np.minimum(luminance, 1.0) * LIGHTNESS_STEPS).astype(np.uint16)])


def _toned(lightness: np.ndarray, cloth_lightness: float) -> np.ndarray:
    share = np.clip(lightness / 100.0, 0.0, 1.0)
    return share if cloth_lightness < DARK_CLOTH_L else 1.0 - share


def _parted(lightness: np.ndarray, alpha: U8, source: OneInkFrom) -> np.ndarray:
    """Return 0..1: the art's dark (or light) part, split between its two main lightnesses."""
    seen = lightness[alpha > 127]
    if not seen.size:
        return np.zeros_like(lightness)
    low, high = _two_means(seen)
    if high - low < 5.0:
        return np.ones_like(lightness)
    dark = np.clip(0.5 + ((low + high) / 2.0 - lightness) / (high - low) * EDGE_GAIN, 0.0, 1.0)
    return dark if source == "dark" else 1.0 - dark


def _two_means(values: np.ndarray) -> tuple[float, float]:
    """Return the means of the dark and the light half, split where both are closest to their values."""
    counts, edges = np.histogram(values, bins=101, range=(0.0, 101.0))
    middles = edges[:-1] + 0.5
    low, high = float(values.min()), float(values.max())
    for _ in range(32):
        dark = middles < (low + high) / 2.0
        sums = [(counts[part] @ middles[part], counts[part].sum()) for part in (dark, ~dark)]
        new = [float(total / count) if count else old for (total, count), old in zip(sums, (low, high), strict=True)]
        if abs(new[0] - low) + abs(new[1] - high) < 1e-6:
            break
        low, high = new
    return low, high
