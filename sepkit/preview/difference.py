"""How far a print is from its art: ΔE00 over pixels that are art or ink.

In: pictures on one pixel grid, as uint8 sRGB or as packed colours in bands. Out: the difference in numbers, and ΔE00
per pixel. Each pair of colours is computed once, however many pixels have it; runs of one pair are counted as one.
Bare garment beside the print would only flatter the mean, so it is left out.
"""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import TYPE_CHECKING, Any

import numpy as np

from sepkit.colorimetry.difference import delta_e_2000
from sepkit.colorimetry.srgb import srgb8_to_lab
from sepkit.coverage.bands import row_bands
from sepkit.coverage.channels import pack
from sepkit.preview.stack import packed

if TYPE_CHECKING:
    from sepkit.model import F64, U8, Bool
    from sepkit.preview.attainable import Attainable

Array = np.ndarray[Any, np.dtype[Any]]

BAND_PIXELS = 1 << 19
FAR_DE00 = 5.0


@dataclass(frozen=True, slots=True)
class Difference:
    """How far a print is from its art, in ΔE00."""

    mean_de00: float
    p95_de00: float
    worst_de00: float
    far_share: float
    """Share of the area above ΔE00 5."""
    pixels: int
    unreachable_de00: float = 0.0
    """What no ink of the shelf can be on this cloth, on average: the art against what it comes out as at best."""


@dataclass(slots=True)
class Pairs:
    """Counts pairs of packed colours, band after band."""

    found: list[Array] = field(default_factory=list)
    counts: list[Array] = field(default_factory=list)

    def add(self, art: Array, printed: Array) -> None:
        """Count the pixels of a band, packed (h, w) uint32, whose fourth byte is above 0 in either."""
        a, b = art.reshape(-1), printed.reshape(-1)
        if not a.size:
            return
        ends = np.flatnonzero((a[1:] != a[:-1]) | (b[1:] != b[:-1]))
        starts = np.concatenate([[0], ends + 1])
        length = np.diff(np.append(starts, a.size))
        one, other = (v[starts].view(np.uint8).reshape(-1, 4) for v in (a, b))
        counts = (one[:, 3] | other[:, 3]) > 0
        keys = _pair_keys(one[counts, :3], other[counts, :3])
        found, back = np.unique(keys, return_inverse=True)
        self.found.append(found)
        self.counts.append(np.bincount(back, weights=length[counts], minlength=len(found)))

    def add_counted(self, art_rgb: U8, printed_rgb: U8, counts: Array) -> None:
        """Count pairs of colours, (n, 3) uint8 each, that so many pixels have."""
        keys, back = np.unique(_pair_keys(art_rgb, printed_rgb), return_inverse=True)
        self.found.append(keys)
        self.counts.append(np.bincount(back, weights=counts, minlength=len(keys)))

    def difference(self, attainable: Attainable | None = None) -> Difference:
        """Return the difference over all that was counted, from the art, or from what of it is ``attainable``."""
        if not sum(map(len, self.found)):
            return Difference(0.0, 0.0, 0.0, 0.0, 0)
        keys, back = np.unique(np.concatenate(self.found), return_inverse=True)
        weight = np.bincount(back, weights=np.concatenate(self.counts))
        de00 = _pair_de00(keys, attainable)
        order = np.argsort(de00)
        reached = np.cumsum(weight[order])
        total = float(reached[-1])
        p95 = float(de00[order][np.searchsorted(reached, 0.95 * total)])
        mean = float(de00 @ weight / total)
        far = float(weight[de00 > FAR_DE00].sum() / total)
        beyond = 0.0 if attainable is None else float(_unreachable(keys, attainable) @ weight / total)
        return Difference(mean, p95, float(de00.max()), far, int(total), beyond)


def difference_stats(
    art_rgb: U8, printed_rgb: U8, *, where: Bool | None = None, attainable: Attainable | None = None
) -> Difference:
    """Return the ΔE00 between art, or what of it is ``attainable``, and print over ``where`` (art or ink; None: all).

    Raises ValueError when the pictures differ in size.
    """
    _same_size(art_rgb, printed_rgb)
    pairs = Pairs()
    for band in row_bands(len(art_rgb), max(1, BAND_PIXELS // max(art_rgb.shape[1], 1))):
        rows = slice(band.start, band.stop)
        art = packed(art_rgb[rows])
        art.view(np.uint8).reshape(*art.shape, 4)[..., 3] = 1 if where is None else where[rows]
        pairs.add(art, packed(printed_rgb[rows]))
    return pairs.difference(attainable)


def difference_map(art_rgb: U8, printed_rgb: U8, attainable: Attainable | None = None) -> F64:
    """Return ΔE00 per pixel, (h, w), from the art or from what of it is ``attainable``."""
    _same_size(art_rgb, printed_rgb)
    every = _pair_keys(art_rgb, printed_rgb).reshape(-1)
    if not every.size:
        return np.zeros(art_rgb.shape[:2])
    starts = np.concatenate([[0], np.flatnonzero(every[1:] != every[:-1]) + 1])
    keys, back = np.unique(every[starts], return_inverse=True)
    runs = _pair_de00(keys, attainable)[back]
    out: F64 = np.repeat(runs, np.diff(np.append(starts, every.size))).reshape(art_rgb.shape[:2])
    return out


def _pair_keys(a: U8, b: U8) -> Array:
    return pack(a).astype(np.uint64) << np.uint64(24) | pack(b)


def _pair_de00(keys: Array, attainable: Attainable | None = None) -> F64:
    out = np.empty(len(keys))
    for start in range(0, len(keys), BAND_PIXELS):
        part = keys[start : start + BAND_PIXELS]
        art, printed = _labs(part)
        wanted = art if attainable is None else attainable.nearest(art)
        out[start : start + len(part)] = delta_e_2000(wanted, printed)
    return out


def _unreachable(keys: Array, attainable: Attainable) -> F64:
    """Return how far each pair's art is from what it comes out as at best."""
    out = np.empty(len(keys))
    for start in range(0, len(keys), BAND_PIXELS):
        art, _ = _labs(keys[start : start + BAND_PIXELS])
        out[start : start + len(art)] = delta_e_2000(art, attainable.nearest(art))
    return out


def _labs(keys: Array) -> tuple[Any, Any]:
    """Return the Lab of both colours of packed pairs."""
    rgb = np.stack([(keys >> np.uint64(8 * k)) & np.uint64(255) for k in range(5, -1, -1)], axis=1).astype(np.uint8)
    return srgb8_to_lab(rgb[:, :3]), srgb8_to_lab(rgb[:, 3:])


def _same_size(a: U8, b: U8) -> None:
    if a.shape != b.shape or a.ndim != 3 or a.shape[2] != 3:
        raise ValueError(f"pictures of one size are compared, got {a.shape} and {b.shape}")
