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

from sepkit.coverage.bitmaps import SURE_PX, grown, printing, set_at, sure_disc, surely_reached, within
from sepkit.coverage.blocks import cell_range
from sepkit.coverage.keep import kept
from sepkit.coverage.reach import choke_blocks, choked_at, meets_border, spread, spread_at
from sepkit.coverage.squares import sums_of_squares
from sepkit.coverage.sums import above_at, raised, summed

if TYPE_CHECKING:
    from sepkit.coverage.blocks import Batch
    from sepkit.coverage.sums import Patch
    from sepkit.model import U8, U32, Bool

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
    kept_thin: U32
    """Flat indices, rising, where a stroke kept less than the full choke."""


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
    run_on: Sequence[Patch] = (),
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
    under = [(at, kept(_drawn_in_at, printed, choke_px, tone, at, values)) for at, values in run_on]
    drawn_in, thin, back = union, np.zeros(0, np.uint32), []
    if choke_px > 0:
        asked = _Asked(union, printed, choke_px, tone)
        drawn_in, thin = kept(_drawn_in, union, printed, choke_px, tone, [area.coverage for area in own_colour])
        back = _fine_given_back(asked, drawn_in, needing)
        thin = kept(_joined, [thin, *(at for at, _ in back)])
    return Base(union, kept(raised, drawn_in, [*back, *under]), tone, thin)


@dataclass(frozen=True, slots=True, eq=False)
class _Asked:
    """What a choke is asked of: the base before it, all that prints, the distance, the base's tones."""

    union: U8
    printed: U8
    choke_px: float
    tone: Bool | None


def under_traps(
    coverages: Sequence[U8], traps: Sequence[U8], tones: Sequence[Bool | None], hidden: Sequence[tuple[int, int]]
) -> tuple[Patch, ...]:
    """Return where traps lie under inks that hide them and a base: ``hidden`` lists (based ink, ink over its trap).

    Dots hide nothing, so tones of any ink are left out.
    """
    masks = [mask for mask in tones if mask is not None]
    tone = np.logical_or.reduce(masks) if masks else None
    grown_at = {based: above_at(traps[based], coverages[based]) for based, _ in hidden}
    out = []
    for based, over in hidden:
        at = grown_at[based]
        at = at if tone is None else at[~tone.reshape(-1)[at]]
        both = summed([coverages[k].reshape(-1)[at][None] for k in (based, over)])[0]
        out.append((at, np.minimum(traps[based].reshape(-1)[at], both)))
    return tuple(out)


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


def _drawn_in(union: U8, printed: U8, choke_px: float, tone: Bool | None, own_colour: Sequence[U8]) -> tuple[U8, U32]:
    """Return the base choked from bare garment, but for its own colour; and where strokes kept less than that."""
    out = union.copy()

    def lower(blocks: Batch, choked: U8) -> None:
        blocks.put(out, np.minimum(blocks.own_of(union), choked))

    some = cell_range(union)[1] > 0
    choke_blocks(printed, choke_px, lower, tone=tone, cells=some, bare=meets_border(printed))
    thin = _kept_thin(_Asked(union, printed, choke_px, tone), out)
    out = raised(out, [thin])
    for coverage in own_colour:
        np.maximum(out, coverage, out=out)
    return out, thin[0]


def _drawn_in_at(printed: U8, choke_px: float, tone: Bool | None, at: U32, values: U8) -> U8:
    """Return values of a plane at flat indices, no more than is left there of all that prints when it is choked."""
    return np.minimum(values, choked_at(printed, choke_px, at, tone=tone))


def _kept_thin(asked: _Asked, drawn_in: U8) -> Patch:
    """Return strokes that lost all their base with what they keep: half the choke, and none where that fails too.

    What lies within reach of a pixel that prints kept some base for sure, so distances are taken elsewhere alone; not
    in tones, which spread as strong as they are.
    """
    union, choke_px, width = asked.union, asked.choke_px, asked.union.shape[1]
    reach_px = 1.5 * choke_px + 1
    lost = printing(union)
    left = printing(drawn_in)
    lost &= ~(grown(left, sure_disc(reach_px, cover=PRINTS)) if asked.tone is None else left)
    at = set_at(lost, width)
    if len(at):
        at = at[spread_at(drawn_in, reach_px, at, tone=asked.tone) < 128]
    asks = union.reshape(-1)[at]
    half = np.minimum(asks, choked_at(asked.printed, 0.5 * choke_px, at, tone=asked.tone))
    if len(at):
        alone = np.zeros_like(union)
        alone.reshape(-1)[at] = half
        still = spread_at(alone, 0.75 * choke_px + 1, at) < 128
        half[still] = np.maximum(half[still], asks[still])
    return at, half


def _fine_given_back(asked: _Asked, drawn_in: U8, needing: Sequence[BaseArea]) -> list[Patch]:
    """Return what inks get back that are not worth the whole choke where the art is fine."""
    lowest = min(area.fine_choke for area in needing)
    if lowest >= 1:
        return []
    taken = kept(above_at, asked.union, drawn_in)
    worn = kept(_worn_at, asked.union, drawn_in, asked.choke_px, taken)
    holed = worn
    if lowest <= HOLE_SHARE:
        beside = kept(_beside_pinholes, asked.printed, asked.choke_px)
        holed = kept(_joined, [worn, kept(_of_mask, beside, taken)])
    return [
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


def _given_back(
    coverage: U8, fine: U32, base: tuple[U8, U8, Bool | None, U8], choke_px: float, share: float
) -> tuple[U32, U8]:
    """Return what an ink gets back that is worth ``share`` of the choke.

    ``fine`` is where the choke took some of fine art; ``base`` what it is asked of: base, all that prints, tones, and
    drawn in.
    """
    union, printed, tone, drawn_in = base
    at = fine[coverage.reshape(-1)[fine] > 0]
    back = union.reshape(-1)[at]
    if share and len(at):
        np.minimum(back, choked_at(printed, share * choke_px, at, tone=tone), out=back)
    more = back > drawn_in.reshape(-1)[at]
    return at[more], back[more]


def _joined(some: Sequence[U32]) -> U32:
    """Return all flat indices of several lists, each once, rising."""
    at = np.sort(np.concatenate(some))  # many times as fast as np.unique
    first = np.ones(len(at), bool)
    np.not_equal(at[1:], at[:-1], out=first[1:])
    return at[first]


def _of_mask(mask: Bool, at: U32) -> U32:
    """Return those of some flat indices that lie in a mask."""
    return at[mask.reshape(-1)[at]]


def _worn_at(union: U8, drawn_in: U8, choke_px: float, taken: U32) -> U32:
    """Return where, of the pixels ``taken`` from, the choke took more than FINE_LOSS of the base round about.

    It is judged in blocks of a choke.
    """
    width, step = union.shape[1], max(1, round(choke_px))
    asked = _block_sums(union, step)
    block = taken // np.uint32(width * step) * np.uint32(asked.shape[1]) + taken % np.uint32(width) // np.uint32(step)
    lost = (union.reshape(-1)[taken] - drawn_in.reshape(-1)[taken]).astype(np.float64)
    left = asked - np.bincount(block, lost, asked.size).astype(np.uint32).reshape(asked.shape)
    about = sums_of_squares(asked, FINE_WINDOW)
    worn = sums_of_squares(left, FINE_WINDOW) < (1 - FINE_LOSS) * about
    return np.asarray(taken[worn.reshape(-1)[block]])


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
