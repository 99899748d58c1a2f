"""Printed dots averaged out to the tones they stood for, or kept as a crisp bitmap.

In: an Artwork and the Screens found in it. Out: an Artwork. Averaging: each pixel takes the mean of one cell of the
lattice around it, in linear light, for that is what an eye from arm's length sees of dots. A square cell of a lattice,
as a filter, has a zero at each of the lattice's waves: its transfer is sinc(f · a) sinc(f · b), a and b the cell's
sides (R. N. Bracewell, The Fourier Transform and Its Applications, ch. 4 and 12), so nothing of the old ruling is left
to beat with a new screen. What is then finer than half a cell is empty, and is averaged away for the work that follows.
"""

from __future__ import annotations

import math
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any, TypeVar

import numpy as np

from sepkit.colorimetry.srgb import linear_table, linear_to_srgb
from sepkit.model import Artwork

if TYPE_CHECKING:
    from collections.abc import Sequence

    from sepkit.intake.dots import Screen
    from sepkit.model import F32, F64, RGB8, U8

Array = np.ndarray[Any, np.dtype[Any]]
T = TypeVar("T")

CELL_PX = 2.0
"""Pixels that a cell is kept in: tones of dots hold no finer detail."""
LEAST_DPI = 200.0
"""Averaged art keeps at least this much: below, its outlines would show steps."""
BAND_PX = 1024
ONE_INK_SHARE = 0.97
"""Of the variance of colour along one line, in linear light: paper and one ink."""
OUTER = (0.1, 0.9)
"""Paper and ink are what lies outside of these shares of all pixels: their means leave grain out."""
LEAST_CONTRAST = 0.1
"""Between paper and ink, linear light: less is grain alone."""
PAPER_GRAIN = 0.03
"""Tints within this of paper, or of solid, are paper, or solid."""
PAPER_QUANTILE, LEAST_PAPER = 0.98, 0.4
"""Paper of print in several inks is the light that so much of it stays under, if it is light at all."""
CRISP = 4.0
"""A kept dot's edge is drawn this many times as steep as the scanner saw it."""


@dataclass(frozen=True, slots=True, eq=False)
class OneInk:
    """Paper and the one ink on it, as a line in linear light."""

    paper: F64
    """(3,) linear light."""
    ink: F64

    def share(self, light: Array) -> Array:
        """Return how much of the ink covers (..., 3) linear light, 0..1 (Murray and Davies, 1936)."""
        axis = self.ink - self.paper
        return np.asarray(np.clip((light - self.paper) @ (axis / (axis @ axis)), 0, 1))

    @property
    def srgb(self) -> RGB8:
        """The ink's colour."""
        red, green, blue = np.rint(linear_to_srgb(np.clip(self.ink, 0, 1)) * 255).astype(int)
        return int(red), int(green), int(blue)


def one_ink_of(art: Artwork) -> OneInk | None:
    """Return paper and ink of a picture printed in one ink; None where its colours are of several."""
    sample = _sample(art)
    middle = sample.mean(axis=0)
    values, axes = np.linalg.eigh(np.cov((sample - middle).T))
    if values[-1] < ONE_INK_SHARE * values.sum():
        return None
    axis = axes[:, -1] * (-1 if axes[:, -1].sum() > 0 else 1)
    along = (sample - middle) @ axis
    low, high = np.quantile(along, OUTER)
    paper, ink = (middle + float(along[part].mean()) * axis for part in (along <= low, along >= high))
    return OneInk(paper, ink) if float((ink - paper) @ axis) > LEAST_CONTRAST else None


def averaged(art: Artwork, screens: Sequence[Screen]) -> Artwork:
    """Return the art with its dots averaged out, on fewer pixels where it has more than its tones need.

    Of one ink, its tones become coverage of that ink on a clear ground; of several, paper becomes white.
    """
    table = linear_table()
    light = np.concatenate(
        [_averaged_band(art.rgb, table, screens, top) for top in range(0, art.rgb.shape[0], BAND_PX)]
    )
    factor = _factor(screens, art.dpi)
    alpha = art.alpha
    if factor > 1:
        light = _reduced(light, factor)
        alpha = np.rint(_reduced(alpha[..., None].astype(np.float32), factor)[..., 0]).astype(np.uint8)
    one = one_ink_of(art)
    if one is not None:
        share = np.clip((one.share(light) - PAPER_GRAIN) / (1 - 2 * PAPER_GRAIN), 0, 1)
        return replace(art, rgb=_filled(one.srgb, alpha), alpha=np.rint(share * alpha).astype(np.uint8))
    paper = np.quantile(_sample(art), PAPER_QUANTILE, axis=0)
    if paper.min() > LEAST_PAPER:
        light = light / paper.astype(np.float32)
    rgb = np.rint(linear_to_srgb(np.clip(light, 0, 1)) * 255).astype(np.uint8)
    return replace(art, rgb=np.ascontiguousarray(rgb), alpha=alpha)


def kept(art: Artwork) -> Artwork | None:
    """Return the art as a crisp bitmap of its one ink on a clear ground; None where its dots are of several inks.

    Coverage is where a pixel lies between paper and ink, with an edge as steep as an outline's.
    """
    one = one_ink_of(art)
    if one is None:
        return None
    table = linear_table()
    cover = np.empty_like(art.alpha)
    for top in range(0, cover.shape[0], BAND_PX):
        share = one.share(table[art.rgb[top : top + BAND_PX]])
        band = np.clip(0.5 + (share - 0.5) * CRISP, 0, 1)
        cover[top : top + BAND_PX] = np.rint(255 * band)
    return replace(art, rgb=_filled(one.srgb, cover), alpha=np.minimum(cover, art.alpha))


def _filled(srgb: RGB8, plane: U8) -> U8:
    return np.broadcast_to(np.array(srgb, np.uint8), (*plane.shape, 3)).copy()


def ruling_energy(plane: Array, screens: Sequence[Screen], *, scale: float = 1.0) -> float:
    """Return the energy (mean square, of the plane's units) at the waves of the screens' lattices.

    ``scale`` is how many of the scan's pixels one of the plane's holds.
    """
    values = np.asarray(plane, np.float64)
    values = values - values.mean()
    y, x = np.indices(values.shape, sparse=True)
    taper = np.hanning(values.shape[0])[:, None] * np.hanning(values.shape[1])[None, :]
    total = 0.0
    for screen in screens:
        for fx, fy in (screen.cycles_px, (-screen.cycles_px[1], screen.cycles_px[0])):
            wave = np.exp(-2j * np.pi * scale * (fx * x + fy * y))
            total += 2 * abs(complex((values * taper * wave).sum() / taper.sum())) ** 2
    return total


def _averaged_band(rgb: U8, table: F32, screens: Sequence[Screen], top: int) -> F32:
    """Return rows from ``top`` in linear light, averaged; their surroundings are read along."""
    reach = 2 + math.ceil(2 * sum(1 / math.hypot(*screen.cycles_px) for screen in _twice(screens)))
    first, last = max(top - reach, 0), min(top + BAND_PX + reach, rgb.shape[0])
    out: F32 = np.empty((min(BAND_PX, rgb.shape[0] - top), rgb.shape[1], 3), np.float32)
    passes = _Passes(last - first + 2 * reach, rgb.shape[1] + 2 * reach, screens)
    for channel in range(3):
        plane = np.pad(table[rgb[first:last, :, channel]], reach, mode="symmetric")
        smooth = _filtered(plane, passes)
        out[..., channel] = smooth[reach + top - first :][: len(out), reach:-reach]
    return out


class _Passes:
    """What the means over cells let through of each wave of a plane, the same for all its channels."""

    def __init__(self, height: int, width: int, screens: Sequence[Screen]) -> None:
        from scipy.fft import next_fast_len

        self.shape = (next_fast_len(height, real=True), next_fast_len(width, real=True))
        fy = np.fft.fftfreq(self.shape[0]).astype(np.float32)[:, None]
        fx = np.fft.rfftfreq(self.shape[1]).astype(np.float32)[None, :]
        one_time: list[Array] = []
        for screen in screens:
            a, b = screen.cycles_px
            square = a * a + b * b
            one_time += [np.sinc((fx * a + fy * b) / square), np.sinc((fy * a - fx * b) / square)]
        self.shares = _twice(one_time)


def _filtered(plane: F32, passes: _Passes) -> Array:
    from scipy.fft import irfft2, rfft2

    height, width = plane.shape
    spectrum = rfft2(plane, passes.shape)
    for share in passes.shares:
        spectrum *= share
    return np.asarray(irfft2(spectrum, passes.shape)[:height, :width])


def _twice(screens: Sequence[T]) -> list[T]:
    """Return what there is for each screen twice: what screens make together, at half their ruling, goes as well."""
    return [*screens, *screens]


def _factor(screens: Sequence[Screen], dpi: float) -> int:
    cell = min(1 / math.hypot(*screen.cycles_px) for screen in screens)
    return max(1, min(int(cell / CELL_PX), int(dpi / LEAST_DPI)))


def _reduced(light: F32, factor: int) -> F32:
    """Average squares of pixels; what is left at the edges joins the last of them."""
    rows = np.arange(0, light.shape[0], factor)
    columns = np.arange(0, light.shape[1], factor)
    total = np.add.reduceat(np.add.reduceat(light, rows, axis=0), columns, axis=1)
    high = np.diff(np.append(rows, light.shape[0]))
    wide = np.diff(np.append(columns, light.shape[1]))
    return np.asarray(total / (high[:, None] * wide[None, :])[..., None], np.float32)


def _sample(art: Artwork) -> Array:
    step = max(1, int(math.sqrt(art.alpha.size / 250_000)))
    seen = art.rgb[::step, ::step].reshape(-1, 3)[art.alpha[::step, ::step].ravel() > 127]
    return np.asarray(linear_table()[seen], np.float64)
