"""Flat colours and tones of a picture: which colours it was drawn in, what they explain, and what is tone.

In: a :class:`~.picture.Picture`. Out: the (h, w) bool tone map, the members outside it, and what they explain.
"""

from __future__ import annotations

import math
from dataclasses import replace
from typing import TYPE_CHECKING, Any

import numpy as np

from sepkit.colorimetry.srgb import as_rgb8
from sepkit.separation import palette, tones, tuned_colours
from sepkit.separation import tuned_mixing as tuned
from sepkit.separation.buried import without_buried_spots
from sepkit.separation.chroma import chroma_as_drawn, restore_chroma, taken_share
from sepkit.separation.cores import NONE
from sepkit.separation.edges import solve_edges
from sepkit.separation.phantoms import phantom
from sepkit.separation.shares import Members, Shares, Solved, drawn
from sepkit.separation.specks import settle_specks
from sepkit.separation.thin_inks import mixed_after_all, refine_colour, sample_strips, thin_member, worth_keeping

if TYPE_CHECKING:
    from sepkit.separation.palette import Member
    from sepkit.separation.picture import Picture

Array = np.ndarray[Any, np.dtype[Any]]
Found = tuple[Array | None, list[palette.Member], Solved]
"""Tone map, the flat colours outside it, and what those explain."""


def flats_and_tones(picture: Picture) -> Found:
    """Return the tone map, the flat colours outside it, and what those explain."""
    kind, tone = picture.kind, picture.veil
    flat = kind.asked == "flat"
    if kind.soft_share > tuned.TONES.soft_share and not flat:
        smooth = tones.tone_map(picture.seen(), picture.alpha > 0, pixel_mm2=picture.pixel_mm2, noisy=kind.noisy)
        tone = _union(tone, smooth if smooth.any() else None)
    if kind.photograph:
        return _photograph(picture, tone)
    find = palette.find_noisy_members if kind.noisy else palette.find_clean_members
    members = find(picture.raw, picture.alpha, _skip(picture, tone), pixel_mm2=picture.pixel_mm2)
    if tone is not None and not flat and _is_tonal(tone, picture):  # only large flat colours are kept beside it
        return _tonal(picture, members, tone, tone)
    if kind.noisy:
        members, solved = _with_noisy_thin(picture, members, tone)
        while (ringing := phantom(picture, solved)) is not None:
            members = [*members[:ringing], *members[ringing + 1 :]]
            solved = _edges(picture, members, tone)
        solved = _settled_chroma(picture, members, tone, solved)
        solved = settle_specks(picture, solved)
    else:
        members, solved = _with_clean_thin(picture, members, tone)
        solved = without_buried_spots(solved, pixel_mm2=picture.pixel_mm2)
    busy = tone if flat else _union(tone, _busy(solved.shares, picture))
    if busy is None or not _is_tonal(busy, picture):
        return busy, members, solved
    return _tonal(picture, members, tone, busy)


def _settled_chroma(picture: Picture, members: list[Member], tone: Array | None, solved: Solved) -> Solved:
    """Solve art that lost chroma again: with as much sharpened as it turns out to lack, then with what was drawn."""
    if picture.rgb is picture.raw:
        return solved
    raw = picture.raw
    gain = taken_share(raw, drawn(solved, raw))
    solved = _edges(replace(picture, rgb=restore_chroma(raw, gain)), members, tone)
    as_drawn = chroma_as_drawn(raw, drawn(solved, raw), gain)
    return _edges(replace(picture, rgb=as_drawn), members, tone)


def _is_tonal(busy: Array, picture: Picture) -> bool:
    """Tell whether tones make up so much of the art that small flat colours in it are none: a shadow is beside it."""
    art = picture.alpha > 0 if picture.veil is None else (picture.alpha > 0) & ~picture.veil
    count = int(np.count_nonzero(art))
    return int(np.count_nonzero(busy & art)) >= tuned.TONES.tonal_share * max(count, 1)


def _skip(picture: Picture, tone: Array | None) -> Array | None:
    """Return where no flat colour is looked for: in noisy art on the rim of tones too."""
    return tones.with_rim(tone) if picture.kind.noisy and tone is not None else tone


def _with_noisy_thin(picture: Picture, members: list[Member], tone: Array | None) -> tuple[list[Member], Solved]:
    """Add the inks that only thin lines of noisy art show, and return the members with what they explain."""
    skip = _skip(picture, tone)
    solved = _edges(picture, members, tone)
    for _ in range(tuned_colours.THIN_INKS.most_inks):
        thin = thin_member(picture, solved, skip=skip)
        if thin is None:
            break
        more = _refined(picture, [*members, thin], tone, solved.shares)
        found = _edges(picture, more, tone)
        if not worth_keeping(found, len(more) - 1):
            break
        members, solved = more, found
    return members, solved


def _with_clean_thin(picture: Picture, members: list[Member], tone: Array | None) -> tuple[list[Member], Solved]:
    """Add the inks that only thin lines of clean art show, and return the members with what they explain."""
    flats = len(members)
    solved = _edges(picture, members, tone)
    for _ in range(tuned_colours.THIN_INKS.most_inks):
        thin = thin_member(picture, solved)
        if thin is None:
            break
        members = [*members, thin]
        solved = _edges(picture, members, tone)
        mixed = mixed_after_all(members, flats, solved.members)
        if mixed is not None:
            members = [*members[:mixed], *members[mixed + 1 :]]
            solved = _edges(picture, members, tone)
    for n in range(len(members) - 2, flats - 1, -1):
        fewer = [*members[:n], *members[n + 1 :]]
        found = _edges(picture, fewer, tone)
        if thin_member(picture, found) is None:  # those found later explain what this one was found in
            members, solved = fewer, found
    return members, solved


def _refined(picture: Picture, members: list[Member], tone: Array | None, before: Shares) -> list[Member]:
    """Settle the colour of the last member, found in smeared lines; stop when the steps do not shrink.

    ``before`` are the pixels solved without it. Where they are many, strips of the picture say enough.
    """
    strips = sample_strips(picture.alpha.shape[0], len(before.at))
    outside = ~np.broadcast_to(strips[:, None], picture.alpha.shape)
    last = np.inf
    for _ in range(tuned_colours.THIN_INKS.refine_steps):
        solved = _edges(picture, members, tone, skip=None if strips.all() else outside)
        old = np.array(members[-1].rgb, np.float64)
        colour = refine_colour(picture.raw, solved, len(members) - 1, strips=strips)
        move = float(np.linalg.norm(colour - old))
        if move > tuned_colours.THIN_INKS.refine_shrink * last or move < 1:
            break
        last = move
        members = [*members[:-1], replace(members[-1], rgb=as_rgb8(colour))]
    return members


def _photograph(picture: Picture, tone: Array | None) -> Found:
    """Separate a photograph: large calm areas are flat, all else is tone."""
    skip = _skip(picture, tone)
    members = palette.find_noisy_members(picture.rgb, picture.alpha, skip, pixel_mm2=picture.pixel_mm2, calm_only=True)
    return _tonal(picture, members, tone, np.zeros(picture.alpha.shape, bool))


def _tonal(picture: Picture, members: list[Member], tone: Array | None, busy: Array) -> Found:
    """Keep the large flat colours of tonal art; what they do not explain joins ``busy``."""
    least = tuned.TONES.tonal_floor_share * np.count_nonzero(picture.alpha)
    members = [m for m in members if m.pixels >= least]
    solved = _edges(picture, members, tone)
    shares = solved.shares
    busy = busy.copy() if (again := _busy(shares, picture)) is None else busy | again
    if tone is not None:
        busy |= tone
    busy.ravel()[shares.at[shares.cost() > tuned.TONES.busy_cost]] = True
    if picture.kind.photograph:
        busy |= ~shares.core
    return busy & (picture.alpha > 0), members, solved


def _union(one: Array | None, other: Array | None) -> Array | None:
    if one is None or other is None:
        return other if one is None else one
    return one | other


def _edges(picture: Picture, members: list[Member], tone: Array | None, *, skip: Array | None = None) -> Solved:
    """Label the cores and solve the mixed pixels outside ``skip``; transparent is the last member, if there is any."""
    labels = palette.label_noisy if picture.kind.noisy else palette.label_clean
    label = labels(picture.rgb, picture.alpha, members)
    if tone is not None:
        label[tone] = NONE
    colours = np.array([m.rgb for m in members], np.uint8).reshape(-1, 3)
    alpha = np.full(len(colours), 255, np.uint8)
    if picture.alpha.min() < 255:
        label[picture.alpha == 0] = len(colours)
        colours = np.vstack([colours, np.zeros((1, 3), np.uint8)])
        alpha = np.append(alpha, np.uint8(0))
    made_of = Members(colours, alpha)
    shares = solve_edges(picture, label, made_of, noisy=picture.kind.noisy, skip=_union(tone, skip))
    return Solved(label, shares, made_of)


def _busy(shares: Shares, picture: Picture) -> Array | None:
    """Where badly explained pixels crowd: texture and photographs, which no flat colour explains."""
    tones_at = tuned.TONES
    at = shares.at[shares.cost() > tones_at.busy_cost]
    window = max(tones_at.busy_window_px, round(tones_at.busy_window_mm / math.sqrt(picture.pixel_mm2)))
    if at.size < tones_at.busy_share * window * window / 4:  # a window in a corner holds a quarter of its pixels
        return None
    from scipy import ndimage

    bad = np.zeros(picture.alpha.shape, np.float32)
    bad.ravel()[at] = 1
    crowd = ndimage.uniform_filter(bad, window) > tones_at.busy_share
    if not crowd.any():
        return None
    crowd = ndimage.uniform_filter(crowd.astype(np.float32), window) > 0
    return np.asarray(crowd & ~shares.core & (picture.alpha > 0))
