"""A drawing on paper, from a picture of it to what its pens drew.

In: sRGB of a photograph or scan. Out: Drawing, cropped to what is drawn: coverage of each pen with soft true edges,
shading apart, the sheet as it was found. Lens and sensor blend in linear light, so an edge lies where half of the
paper's light is gone that the stroke takes.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from sepkit.colorimetry.srgb import linear_table
from sepkit.coverage.channels import least
from sepkit.intake import tuned
from sepkit.intake.laid import paper_and_pens
from sepkit.intake.light import evened
from sepkit.intake.pens import pens_of
from sepkit.intake.sheet import Sheet, find_sheet, straightened

if TYPE_CHECKING:
    from sepkit.intake.pens import Pens
    from sepkit.model import F32, RGB8, U8, Bool


@dataclass(frozen=True, slots=True, eq=False)
class Pen:
    """What one pen drew."""

    srgb: RGB8
    coverage: U8
    """(h, w) uint8, 0 paper, 255 solid."""
    tone: Bool | None = None
    """(h, w) where it is shading, to be halftoned."""


@dataclass(frozen=True, slots=True, eq=False)
class Drawing:
    """A drawing without its paper. All planes are cropped to what is drawn."""

    pens: tuple[Pen, ...]
    sheet: Sheet
    sheet_px: tuple[int, int]
    """(across, down) of the sheet laid flat."""
    crop: tuple[int, int, int, int]
    """Left, top, right, bottom of the drawing on it."""
    shaded: float
    """Part of the drawing that is shading, whether it is kept or not."""
    evened: U8
    """(h, w, 3) sRGB of the drawing under even light."""
    rulings: int = 0
    """Printed lines of ruled or squared paper that were painted over."""


def drawing_on_paper(rgb: U8, *, width_mm: float | None, height_mm: float | None, shading: bool) -> Drawing | None:
    """Return the drawing on the sheet in a picture; None when there is no sheet, or nothing on it.

    width_mm, height_mm: the size at which the drawing prints; one is enough, both None counts pixels alone.
    ``shading``: keep broad pencil shading as a tone.
    """
    sheet = find_sheet(rgb)
    if sheet is None:
        return None
    flat, rulings = paper_and_pens(evened(straightened(rgb, sheet)), sheet)
    dark = _darkness(flat)
    full, noise = _levels(dark)
    if full <= 0:
        return None
    core = dark > max(tuned.PAPER.core_share * full, tuned.PAPER.least_core, tuned.PAPER.noise_times * noise)
    box = _box(core)
    if box is None:
        return None
    pixel_mm = _pixel_mm(box, width_mm, height_mm)
    pens = pens_of(flat, dark, core, pixel_mm2=pixel_mm**2)
    covers = _covers(flat, pens, core, pixel_mm=pixel_mm)
    kept = np.maximum.reduce(covers)
    box = _box(kept > 127)
    if box is None:
        return None
    pixel_mm = _pixel_mm(box, width_mm, height_mm)
    shade = _shading(dark, kept, full, pixel_mm=pixel_mm)
    if shading and shade is not None:
        both = np.maximum(kept, np.where(shade > 0, 255, 0).astype(np.uint8))
        box = _box(both > 127) or box
    left, top, right, bottom = box
    here = np.s_[top:bottom, left:right]
    size = flat.shape[1], flat.shape[0]
    shaded = 0.0 if shade is None else float((shade[here] > 0).mean())
    made = [
        _pen(pens, k, cover[here], shade[here] if shading and shade is not None else None)
        for k, cover in enumerate(covers)
    ]
    return Drawing(tuple(made), sheet, size, box, shaded, np.ascontiguousarray(flat[here]), rulings)


def _darkness(flat: U8) -> F32:
    """Return (h, w) 0..1: the linear light that is gone, of the channel that lost most; noise smoothed."""
    from scipy.ndimage import gaussian_filter

    lit = linear_table()[least(flat)]
    return np.asarray(gaussian_filter(1 - lit, tuned.PAPER.smooth_px), np.float32)


def _levels(dark: F32) -> tuple[float, float]:
    """Return how dark a full stroke is, 0 when nothing is drawn, and the paper's noise (standard deviation)."""
    from scipy.ndimage import maximum_filter

    paper = dark[dark < 0.15]
    noise = 1.4826 * float(np.median(np.abs(paper - np.median(paper)))) if paper.size else 0.0
    least = max(tuned.PAPER.least_core, tuned.PAPER.noise_times * noise)
    peaks = dark[(dark > least) & (dark == maximum_filter(dark, 5))]
    return (float(np.percentile(peaks, 75)) if len(peaks) >= 20 else 0.0), noise


def _covers(flat: U8, pens: Pens, core: Bool, *, pixel_mm: float) -> list[U8]:
    """Return the coverage of each pen, marks too small to print left out."""
    from scipy.ndimage import gaussian_filter, maximum_filter

    limits, table = tuned.PAPER, linear_table()
    out = []
    for k, taken in enumerate(pens.taken):
        weight = taken / float(taken @ taken)
        amount = sum((1 - table[flat[..., c]]) * weight[c] for c in range(3))
        amount = gaussian_filter(np.asarray(amount, np.float32), limits.smooth_px)
        amount[pens.which != k] = 0
        level = np.clip(maximum_filter(amount, 2 * limits.level_px + 1), limits.thin_level, 1.0)
        share = np.clip(0.5 + (amount / level - 0.5) * limits.edge_gain, 0, 1)
        out.append(np.rint(share * 255).astype(np.uint8))
    drawn = _drawn(np.maximum.reduce(out), core, pixel_mm=pixel_mm)
    return [np.where(drawn, cover, np.uint8(0)) for cover in out]


def _drawn(cover: U8, core: Bool, *, pixel_mm: float) -> Bool:
    """Return where marks are drawn: they hold a stroke's core and are large enough to print; with their soft edges."""
    from scipy.ndimage import binary_dilation, label

    parts, count = label(cover > 127, np.ones((3, 3), int))
    size = np.bincount(parts.ravel(), minlength=count + 1)
    cores = np.bincount(parts[core], minlength=count + 1)
    least = max(tuned.PAPER.least_px, tuned.PAPER.least_mm2 / pixel_mm**2)
    kept = (size >= least) & (cores >= 2)
    kept[0] = False
    return np.asarray(binary_dilation(kept[parts], np.ones((3, 3), bool), iterations=2))


def _shading(dark: F32, kept: U8, full: float, *, pixel_mm: float) -> F32 | None:
    """Return (h, w) 0..1 the tone of broad shading beside the strokes; None when there is too little."""
    from scipy.ndimage import binary_dilation, gaussian_filter, label

    limits = tuned.PAPER
    sigma = max(1.0, limits.shade_mm / 2 / pixel_mm)
    free = ~binary_dilation(kept > 40, np.ones((3, 3), bool), iterations=2)
    weight = gaussian_filter(free.astype(np.float32), sigma)
    wash = gaussian_filter(np.where(free, dark, 0), sigma) / np.maximum(weight, 1e-3)
    paper = float(np.median(dark[free])) if free.any() else 0.0
    broad = (wash - paper > limits.shade_dark) & (weight > 0.15)
    parts, count = label(broad)
    size = np.bincount(parts.ravel(), minlength=count + 1) * pixel_mm**2
    large = size >= (3 * limits.shade_mm) ** 2
    large[0] = False
    if size[large].sum() < limits.shade_mm2:
        return None
    return np.asarray(np.where(large[parts], np.clip((wash - paper) / full, 0, 1), 0), np.float32)


def _pen(pens: Pens, k: int, cover: U8, shade: F32 | None) -> Pen:
    """Return a pen's planes; shading goes to the first, which drew most."""
    if shade is None or k:
        return Pen(pens.colour(k), cover)
    wash = np.rint(shade * 255).astype(np.uint8)
    tone = (wash > cover) & (wash > 0)
    return Pen(pens.colour(k), np.maximum(cover, wash), tone if tone.any() else None)


def _box(mask: Bool) -> tuple[int, int, int, int] | None:
    """Return left, top, right, bottom of what is True."""
    rows, columns = np.flatnonzero(mask.any(axis=1)), np.flatnonzero(mask.any(axis=0))
    if not len(rows):
        return None
    return int(columns[0]), int(rows[0]), int(columns[-1]) + 1, int(rows[-1]) + 1


def _pixel_mm(box: tuple[int, int, int, int], width_mm: float | None, height_mm: float | None) -> float:
    left, top, right, bottom = box
    if width_mm is not None:
        return width_mm / max(1, right - left)
    if height_mm is not None:
        return height_mm / max(1, bottom - top)
    return 25.4 / 300
