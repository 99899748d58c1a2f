"""Where the white base goes: under the inks that need it, drawn in from the edges that face bare garment.

The base is the union of the areas that need it. It is choked where it meets bare garment, so that it does not peek out
when the press is off. Joins of two inks are inside the print and stay closed. Beside a darker ink without base the base
runs on under it as far as the based ink's trap does, where it would not be seen: else a trap that shows when the press
is off would lie on bare cloth. Areas of the base's own colour are not choked: there the base is the print. Strokes that
the choke would eat keep a smaller choke, or none, and are reported.
Coverage (h, w) uint8; widths in pixels.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from sepkit.coverage.bands import row_bands
from sepkit.coverage.bitmaps import SURE_PX, surely_reached, within
from sepkit.coverage.keep import kept
from sepkit.coverage.reach import choke_on_bare, spread
from sepkit.coverage.sums import CACHED_PIXELS, least, most, summed

if TYPE_CHECKING:
    from numpy.typing import NDArray

    from sepkit.model import U8, Bool

    U32 = NDArray[np.uint32]

FINE_LOSS = 0.6
"""Where a choke takes more of the base than this, the art is fine: strokes under 3.3 chokes wide, worn texture."""
FINE_WINDOW = 5
"""The loss is judged over squares of so many chokes."""
PRINTS = 128 / 255
"""Coverage from which a pixel prints."""
HOLE_SHARE = 0.25
"""Inks worth no more choke than this have none round pinholes either: base in a pinhole is nearly the ink's colour."""


@dataclass(frozen=True, slots=True, eq=False)
class Base:
    """The base plate: what the art asks (before choke) and what is printed, and the strokes too thin to choke."""

    coverage: U8
    printed: U8
    tone: Bool | None
    kept_thin: U8
    """255 where a stroke kept less than the full choke."""


@dataclass(frozen=True, slots=True, eq=False)
class BaseArea:
    """An area that goes on the base."""

    coverage: U8
    tone: Bool | None = None
    """Where its ink is a tone: the base is a tone there too."""
    fine_choke: float = 1.0
    """The share of the choke (0..1) that it is worth where the art is fine."""


def build_base(
    needing: Sequence[BaseArea],
    *,
    choke_px: float,
    own_colour: Sequence[BaseArea] = (),
    others: Sequence[U8] = (),
    run_on: U8 | None = None,
) -> Base:
    """Return the base under the areas ``needing`` it and those of its ``own_colour``, which are not choked.

    ``others`` are the inks without base: the base is not choked towards them.
    ``run_on`` is where the base may print besides, under inks that hide it (see ``under_traps``).

    >>> art = np.zeros((12, 12), np.uint8)
    >>> art[1:11, 1:11] = 255
    >>> build_base([BaseArea(art)], choke_px=2).printed[6].tolist()
    [0, 0, 0, 255, 255, 255, 255, 255, 255, 0, 0, 0]
    """
    areas = [*needing, *own_colour]
    union = kept(summed, [area.coverage for area in areas])
    tone = kept(_union_tone, [area.tone for area in areas], union)
    printed = kept(summed, [union, *others]) if others else union
    asked = _Asked(union, printed, choke_px, tone)
    inner = asked.inner()
    drawn_in = kept(least, union, inner)
    under = None if run_on is None else kept(least, run_on, inner)
    del inner, run_on  # planes of large art: each that stays is a tenth of the memory
    thin = np.zeros_like(union)
    if choke_px > 0:
        drawn_in, thin = kept(_keep_thin, union, asked.printed, choke_px, tone, drawn_in)
        for area in own_colour:
            drawn_in = kept(most, drawn_in, kept(least, area.coverage, union))
        drawn_in, thin = _keep_fine(asked, drawn_in, needing, thin)
    if under is not None:
        drawn_in = kept(most, drawn_in, under)
    return Base(union, drawn_in, tone, thin)


@dataclass(frozen=True, slots=True, eq=False)
class _Asked:
    """What a choke is asked of: the base before it, all that prints, the distance, the base's tones."""

    union: U8
    printed: U8
    choke_px: float
    tone: Bool | None

    def inner(self) -> U8:
        """Return all that prints, drawn in from bare garment."""
        return kept(choke_on_bare, self.printed, self.choke_px, tone=self.tone)


def under_traps(
    coverages: Sequence[U8], traps: Sequence[U8], tones: Sequence[Bool | None], hidden: Sequence[tuple[int, int]]
) -> U8 | None:
    """Return where traps lie under inks that hide them and a base: ``hidden`` lists (based ink, ink over its trap).

    Dots hide nothing, so tones of any ink are left out. None where there is nothing.
    """
    masks = [mask for mask in tones if mask is not None]
    tone = np.logical_or.reduce(masks) if masks else None
    out = np.zeros_like(coverages[0])
    for based, over in hidden:
        np.maximum(out, np.minimum(traps[based], summed([coverages[based], coverages[over]])), out=out)
    if tone is not None:
        out[tone] = 0
    return out if out.any() else None


def lightened(printed: U8, planes: Sequence[U8], shares: Sequence[float]) -> tuple[U8, Bool]:
    """Return the base with a tint of ``shares`` (0..1) under each of ``planes``, and where it is a tint now.

    Only pixels that one ink fills are thinned: edges stay solid, and so does the base under shares of 1.

    >>> base = np.full((1, 3), 255, np.uint8)
    >>> ink = np.array([[255, 255, 0]], np.uint8)
    >>> lightened(base, [ink], [0.6])[0].tolist()
    [[153, 153, 255]]
    """
    out = printed.copy()
    tint = np.zeros(printed.shape, bool)
    for plane, share in zip(planes, shares, strict=True):
        if share < 1:
            here = (plane == 255) & (printed == 255)
            out[here] = round(255 * share)
            tint |= here
    return out, tint


def _union_tone(tones: Sequence[Bool | None], union: U8) -> Bool | None:
    masks = [mask for mask in tones if mask is not None]
    if not masks:
        return None
    tone = masks[0].copy()
    for mask in masks[1:]:
        tone |= mask
    tone &= union > 0
    return tone


def _keep_thin(union: U8, printed: U8, choke_px: float, tone: Bool | None, drawn_in: U8) -> tuple[U8, U8]:
    """Give strokes that lost all their base half the choke, and none where that fails too.

    What lies within reach of a pixel that prints kept some base for sure, so distances are taken elsewhere alone; not
    in tones, which spread as strong as they are.
    """
    reach_px = 1.5 * choke_px + 1
    lost = union > 127
    if tone is None:
        np.greater(lost, surely_reached(drawn_in > 127, reach_px, cover=PRINTS), out=lost)  # lost, and not reached
    if lost.any():
        lost &= spread(drawn_in, reach_px, tone=tone, only=lost) < 128
    if not lost.any():
        return drawn_in, lost.view(np.uint8)
    half = choke_on_bare(printed, 0.5 * choke_px, tone=tone, only=lost)
    np.minimum(union, half, out=half)
    half *= lost
    still = np.flatnonzero(lost)
    still = still[spread(half, 0.75 * choke_px + 1, only=lost).reshape(-1)[still] < 128]
    half.reshape(-1)[still] = np.maximum(half.reshape(-1)[still], union.reshape(-1)[still])
    thin = lost.view(np.uint8)
    thin *= np.uint8(255)
    return np.maximum(drawn_in, half, out=half), thin


def _keep_fine(asked: _Asked, drawn_in: U8, needing: Sequence[BaseArea], thin: U8) -> tuple[U8, U8]:
    """Give each ink only the choke that it is worth where the art is fine; mark in ``thin`` what was given back."""
    lowest = min(area.fine_choke for area in needing)
    if lowest >= 1:
        return drawn_in, thin
    worn = kept(_worn, asked.union, drawn_in, asked.choke_px)
    holed = worn
    if lowest <= HOLE_SHARE:
        holed = kept(_either, worn, kept(_beside_pinholes, asked.printed, asked.choke_px))
    back = [
        kept(
            _given_back,
            area.coverage,
            holed if area.fine_choke <= HOLE_SHARE else worn,
            (asked.union, asked.printed, asked.tone, drawn_in),
            asked.choke_px,
            area.fine_choke,
        )
        for area in needing
        if area.fine_choke < 1
    ]
    return kept(_with_back, drawn_in, thin, back)


def _given_back(
    coverage: U8, fine: Bool, base: tuple[U8, U8, Bool | None, U8], choke_px: float, share: float
) -> tuple[U32, U8]:
    """Return where, counted along the rows, and what an ink gets back that is worth ``share`` of the choke.

    ``fine`` is where its art is; ``base`` what the choke is asked of: base, all that prints, tones, and drawn in.
    """
    union, printed, tone, drawn_in = base
    near = coverage > 0
    near &= fine
    here = union
    if share and near.any():
        here = choke_on_bare(printed, share * choke_px, tone=tone, only=near)
    found = []
    for band in row_bands(len(union), max(1, CACHED_PIXELS // max(union.shape[1], 1))):
        rows = slice(band.start, band.stop)
        back = np.minimum(here[rows], union[rows])
        at = np.flatnonzero((back > drawn_in[rows]) & near[rows])
        found.append(((at + band.start * union.shape[1]).astype(np.uint32), back.reshape(-1)[at]))
    return np.concatenate([one for one, _ in found]), np.concatenate([one for _, one in found])


def _either(first: Bool, second: Bool) -> Bool:
    return first | second


def _with_back(drawn_in: U8, thin: U8, back: Sequence[tuple[U32, U8]]) -> tuple[U8, U8]:
    """Return the base with what inks got back, and the strokes that kept less than the full choke with it."""
    if not any(len(at) for at, _ in back):
        return drawn_in, thin
    printed, marked = drawn_in.copy(), thin.copy()
    for at, values in back:
        printed.reshape(-1)[at] = np.maximum(printed.reshape(-1)[at], values)
        marked.reshape(-1)[at] = 255
    return printed, marked


def _worn(union: U8, drawn_in: U8, choke_px: float) -> Bool:
    """Return where the choke took more than FINE_LOSS of the base round about, judged in blocks of a choke."""
    from scipy.ndimage import uniform_filter

    height, width = union.shape
    step = max(1, round(choke_px))

    def round_about(plane: U8) -> Any:
        mean = _block_sums(plane, step).astype(np.float32) / np.float32(step * step)
        return uniform_filter(mean, FINE_WINDOW, mode="constant")

    asked = round_about(union)
    worn = (asked > 0) & (round_about(drawn_in) < (1 - FINE_LOSS) * asked)
    out: Bool = np.repeat(np.repeat(worn, step, axis=0), step, axis=1)[:height, :width]
    return out


def _block_sums(plane: U8, step: int) -> Any:
    """Return the sums of blocks of ``step`` pixels, nothing beyond the border; whole rows are walked, not blocks."""
    sums: Any = plane
    for axis in (0, 1):
        lines = np.moveaxis(sums, axis, 0)
        out = np.zeros((-(-len(lines) // step), *lines.shape[1:]), np.uint32)
        for at in range(min(step, len(lines))):
            part = lines[at::step]
            out[: len(part)] += part
        sums = np.moveaxis(out, 0, axis)
    return np.ascontiguousarray(sums)


def _beside_pinholes(printed: U8, choke_px: float) -> Bool:
    """Return what a choke takes round specks of bare garment that are less than two chokes across.

    Garment within reach of a pixel that no ink comes near is no speck for sure: distances are taken elsewhere alone.
    """
    open_ = ~within(printed > 0, choke_px + 0.5 + SURE_PX)
    unsure = (printed < 128) & ~surely_reached(open_, choke_px + 1, cover=1.0)
    if not unsure.any():
        return unsure
    grown = spread(printed, choke_px, only=within(unsure, choke_px + 4))
    wide = spread(255 - grown, choke_px + 1, only=unsure)
    specks = np.where(unsure & (wide < 128), np.uint8(255), np.uint8(0))
    near: Bool = spread(specks, choke_px + 1) > 0
    return near
