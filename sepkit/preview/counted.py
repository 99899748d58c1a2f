"""How far a print is from its art, by what its pixels are and not by what they look like.

In: plates, garment, the art's sRGB and alpha. Out: the Difference that seen.py finds pixel by pixel. Pixels are
counted by pairs (combination of coverages, colour of the art) in windows, which are kept: another ink, or a change in
one place, counts little anew, and a few thousand colours are mixed for the rest.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

import numpy as np

from sepkit.coverage.keep import kept, kept_as
from sepkit.coverage.windows import Window, known_by, windows_of
from sepkit.preview.difference import Difference, Pairs
from sepkit.preview.keys import packed_keys
from sepkit.preview.seen import art_colours
from sepkit.preview.stack import colours_of_keys, shown_of, tone_levels, unpacked

if TYPE_CHECKING:
    from sepkit.model import U8, Garment, Plate
    from sepkit.preview.attainable import Attainable
    from sepkit.preview.stack import Shown, ToneCurve

Array = np.ndarray[Any, np.dtype[Any]]
ART, INK = np.uint32(1 << 24), np.uint32(1 << 25)
"""Beside an art's packed colour: whether art is there, and whether anything prints."""


def counted_difference(
    plates: Sequence[Plate],
    garment: Garment,
    rgb: U8,
    alpha: U8,
    *,
    tone_curve: ToneCurve | None = None,
    attainable: Attainable | None = None,
) -> Difference:
    """Return how far plates on a garment are from the art, ΔE00 over art and ink, as ``seen_print`` does."""
    curves = tone_levels(plates, tone_curve)
    shown = shown_of(plates, curves)
    bases = [kept(_known_windows, plate.printed) if plate.is_base else () for plate in plates]
    levels = tuple(None if one is None else one.tobytes() for one in curves)
    drawn = (garment.srgb, tuple(map(_drawn_as, plates)), levels)
    arrays = [rgb, alpha, *_planes(plates)]

    def of(at: int, window: Window) -> tuple[Array, Array, Array]:
        key = ("counted", at, drawn, tuple(known[at] for known in bases if known))
        return kept_as(key, arrays, lambda: _counted(plates, shown, (rgb, alpha, garment), window))

    found = [of(at, window) for at, window in enumerate(windows_of(alpha.shape))]
    keys, art, counts = (np.concatenate([one[k] for one in found]) for k in range(3))
    there = (art & (ART | INK)) > 0
    colours, back = np.unique(keys[there], return_inverse=True)
    printed = colours_of_keys(colours, plates, garment)
    pairs = Pairs()
    pairs.add_counted(unpacked(art[there]), unpacked(printed)[back], counts[there])
    return pairs.difference(attainable)


def _drawn_as(plate: Plate) -> tuple[Any, ...]:
    return plate.role, plate.trap_mm > 0, plate.is_base, plate.tone is None, plate.also_base is None


def _planes(plates: Sequence[Plate]) -> list[Any]:
    """Return the planes that are known as they are; of a base what prints is known by its windows."""
    every = [(p.coverage, None if p.is_base else p.printed, p.tone, p.also_base) for p in plates]
    return [plane for four in every for plane in four if plane is not None]


def _known_windows(plane: U8) -> tuple[bytes, ...]:
    return tuple(known_by(plane[window]) for window in windows_of(plane.shape))


def _counted(
    plates: Sequence[Plate], shown: Shown, art: tuple[U8, U8, Garment], window: Window
) -> tuple[Array, Array, Array]:
    """Return the pairs of a window: combinations, colours of the art with what is there, and how many pixels."""
    printed = [plate.printed[window] for plate in plates]
    masks = [None if plate.tone is None else plate.tone[window] for plate in plates]
    keys = packed_keys(shown(window, printed, masks), masks).reshape(-1)
    rgb, alpha, garment = art
    laid = art_colours(np.ascontiguousarray(rgb[window]), np.ascontiguousarray(alpha[window]), garment.srgb)
    colours = laid.reshape(-1)
    inked = printed[0] > 0
    for plane in printed[1:]:
        inked |= plane > 0
    colours |= inked.reshape(-1) * INK
    starts = np.concatenate([[0], np.flatnonzero((keys[1:] != keys[:-1]) | (colours[1:] != colours[:-1])) + 1])
    lengths = np.diff(np.append(starts, keys.size))
    distinct, back = np.unique(keys[starts], return_inverse=True)
    both = (back.astype(np.uint64) << np.uint64(32)) | colours[starts]
    pairs, at = np.unique(both, return_inverse=True)
    counts = np.bincount(at, weights=lengths, minlength=len(pairs))
    return distinct[(pairs >> np.uint64(32)).astype(np.intp)], (pairs & np.uint64(0xFFFFFFFF)).astype(np.uint32), counts
