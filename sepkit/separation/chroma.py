"""Give chroma back the sharpness that subsampling took: 4:2:0 JPEG keeps luma per pixel, chroma per four.

In: (h, w, 3) uint8 sRGB of a noisy picture. Out: the same with chroma that follows luma again. In a small window two
colours meet, so chroma is nearly a linear function of luma; the slope is fitted between chroma as it is and luma as
smeared as chroma was, then applied to the luma detail that chroma lost. How much was lost is measured on the picture:
art with full chroma comes back unchanged. YCbCr per ITU-R BT.601.
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import TYPE_CHECKING, Any

import numpy as np

from sepkit.coverage.bands import row_bands
from sepkit.separation import tuned_colours as tuned

if TYPE_CHECKING:
    from sepkit.coverage.bands import Band
    from sepkit.model import U8

Array = np.ndarray[Any, np.dtype[Any]]
Split = tuple[Array, Array, Array]
"""Luma, chroma, and the chroma detail that luma promises."""

BAND_ROWS = 512  # rows worked on at once
KEPT_PX = 4_000_000  # pictures of fewer pixels hold what was asked of bands, 20 bytes a pixel, until they are done
SAMPLE_BANDS = 4  # about so many bands are asked how much chroma was lost


def restore_chroma(rgb: U8, gain: float | None = None) -> U8:
    """Return the picture with chroma as sharp as its luma; ``gain`` is how much of its detail it lost, if known."""
    bands = list(row_bands(len(rgb), BAND_ROWS, halo=2 * tuned.CHROMA.window_px))
    known: dict[int, Split] = {}
    if gain is None:
        sampled = range(0, len(bands), max(1, len(bands) // SAMPLE_BANDS))
        parts = ((k, _split(_outer(rgb, bands[k]))) for k in sampled)
        if rgb.shape[0] * rgb.shape[1] <= KEPT_PX:
            known = dict(parts)
            parts = ((k, known[k]) for k in sampled)
        gain = _lost_share(part for _, part in parts)
    if gain < tuned.CHROMA.least_gain:
        return rgb
    out = np.empty_like(rgb)
    for k, band in enumerate(bands):
        luma, chroma, detail = known.pop(k) if k in known else _split(_outer(rgb, band))
        out[band.start : band.stop] = _join(luma, chroma + np.float32(gain) * detail)[band.inner]
    return out


def chroma_as_drawn(raw: U8, drawn: U8, gain: float) -> U8:
    """Return (h, w, 3) ``raw`` with the chroma detail of ``drawn``, what it was taken for, in place of what was lost.

    Where that is right, its chroma less the same smeared is what compression took, and the sum is the art plus noise.
    Where it is not, the two differ, and what explains the sum better is another mixture (back-projection: Irani and
    Peleg 1991, doi 10.1016/1049-9652(91)90045-L).
    """
    bands = list(row_bands(len(raw), BAND_ROWS, halo=2 * tuned.CHROMA.window_px))
    out = np.empty_like(raw)
    for band in bands:
        outer = slice(band.outer_start, band.outer_stop)
        luma, chroma = _ycc(raw[outer].astype(np.float32))
        _, wanted = _ycc(drawn[outer].astype(np.float32))
        out[band.start : band.stop] = _join(luma, chroma + np.float32(gain) * (wanted - _smear(wanted)))[band.inner]
    return out


def taken_share(raw: U8, drawn: U8) -> float:
    """Return how much chroma detail of what it was taken for a picture lacks, 0 to 1.

    After 4:2:0 it lacks 0.85 of what a Gaussian blur takes, which counts as all; with full chroma 0.1.
    """
    lack = have = 0.0
    bands = list(row_bands(len(raw), BAND_ROWS, halo=0))
    for band in bands[:: max(1, len(bands) // SAMPLE_BANDS)]:
        rows = slice(band.start, band.stop)
        _, chroma = _ycc(raw[rows].astype(np.float32))
        _, wanted = _ycc(drawn[rows].astype(np.float32))
        detail = wanted - _smear(wanted)
        lack += float(((wanted - chroma) * detail).sum())
        have += float((detail * detail).sum())
    return float(np.clip(lack / have / tuned.CHROMA.halved_share, 0, 1)) if have > 0 else 0.0


def _outer(rgb: U8, band: Band) -> Array:
    return rgb[band.outer_start : band.outer_stop].astype(np.float32)


def _lost_share(parts: Iterable[Split]) -> float:
    """1 when chroma holds none of the luma detail that its slope promises, 0 when it holds all."""
    have = want = 0.0
    for _, chroma, detail in parts:
        fine = chroma - _smear(chroma)
        have += float((fine * detail).sum())
        want += float((detail * detail).sum())
    return float(np.clip(1 - have / want, 0, 1)) if want > 0 else 0.0


def _split(rgb: Array) -> Split:
    """Luma (h, w), chroma (2, h, w) as colour differences, and the chroma detail that luma promises."""
    from scipy import ndimage

    luma, chroma = _ycc(rgb)
    soft = _smear(luma[None])[0]

    def mean(plane: Array) -> Array:
        return np.asarray(ndimage.uniform_filter(plane, tuned.CHROMA.window_px, mode="nearest"))

    middle = mean(soft)
    variance = mean(soft * soft) - middle * middle
    slope = np.stack([mean(soft * c) - middle * mean(c) for c in chroma]) / (
        variance + tuned.CHROMA.calm_variance_levels2
    )
    return luma, chroma, slope * (luma - soft)


def _ycc(rgb: Array) -> tuple[Array, Array]:
    """Luma (h, w) and chroma (2, h, w) as colour differences."""
    luma = rgb @ np.array([0.299, 0.587, 0.114], np.float32)
    return luma, np.stack([rgb[..., 2] - luma, rgb[..., 0] - luma])


def _smear(planes: Array) -> Array:
    from scipy import ndimage

    return np.stack([ndimage.gaussian_filter(p, tuned.CHROMA.smear_px, mode="nearest", truncate=3) for p in planes])


def _join(luma: Array, chroma: Array) -> U8:
    blue, red = chroma[0] + luma, chroma[1] + luma
    green = (luma - 0.299 * red - 0.114 * blue) / 0.587
    return np.asarray(np.clip(np.rint(np.stack([red, green, blue], axis=-1)), 0, 255).astype(np.uint8))
