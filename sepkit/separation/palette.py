"""Which colours the art was drawn in.

In: the picture, its noise class, pixel pitch. Out: a list of :class:`Member`, each a flat colour with its area, before
anyone decides which of them become inks. A colour counts when flat areas of it add up to a size worth a screen.
"""

from __future__ import annotations

import itertools
from collections.abc import Iterator
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

import numpy as np

from sepkit.colorimetry.difference import delta_e_2000
from sepkit.colorimetry.srgb import srgb8_to_lab
from sepkit.coverage.bands import row_bands
from sepkit.coverage.channels import pack, total
from sepkit.separation import tuned_colours as tuned
from sepkit.separation.cores import NONE, STRIP_ROWS, deep
from sepkit.separation.edge_columns import strips
from sepkit.separation.noise import range3, sample_bands
from sepkit.separation.unmix import blend_levels, luma_first
from sepkit.threads import each

if TYPE_CHECKING:
    from sepkit.model import RGB8, U8

Array = np.ndarray[Any, np.dtype[Any]]

TABLE_PX = 200_000  # from so many pixels on a table of all colours beats sorting them
HALVES = ((0, 2), (1, 2))
"""Parts of a picture that two threads work on."""
MAX_MEMBERS = 28  # masks are 32 bits wide; flat art with more colours is tonal art


@dataclass(frozen=True, slots=True)
class Member:
    """One flat colour: representative sRGB, pixels that carry it flat, the exact colours merged into it."""

    rgb: RGB8
    pixels: int
    exact: tuple[int, ...] = ()
    """Packed 0xRRGGBB values of clean art; empty in noisy art."""


def unpack(keys: Array) -> U8:
    """Return (n, 3) uint8 of packed 0xRRGGBB."""
    keys = np.asarray(keys, np.uint32)
    return np.stack([keys >> 16 & 255, keys >> 8 & 255, keys & 255], axis=-1).astype(np.uint8)


def distinct(keys: Array) -> tuple[Array, Array]:
    """Return the different values of an array of packed colours, rising, and for each pixel the place of its own.

    >>> values, place = distinct(np.array([7, 3, 7], np.uint32))
    >>> values.tolist(), place.tolist()
    ([3, 7], [1, 0, 1])
    """
    if keys.size < TABLE_PX:
        values, place = np.unique(keys, return_inverse=True)
        return values, place.reshape(keys.shape)
    seen = np.zeros(1 << 24, bool)  # a table of all colours needs no sorting; what it does not touch takes no memory
    seen[keys] = True
    values = np.flatnonzero(seen).astype(np.uint32)
    number = np.empty(1 << 24, np.int32)
    number[values] = np.arange(len(values), dtype=np.int32)
    return values, number[keys]


def de00_to(rgb: Array, one: Array) -> Array:
    """Return ΔE00 of (n, 3) sRGB to one sRGB."""
    return delta_e_2000(srgb8_to_lab(np.asarray(rgb, np.uint8)), srgb8_to_lab(np.asarray(one, np.uint8)))


def clean_members(keys: Array, counts: Array, *, floor_px: float) -> list[Member]:
    """Merge exact flat colours (packed, with pixel counts) closer than ``Art.merge_de00``, biggest first."""
    order = np.argsort(-counts, kind="stable")
    keys, counts = keys[order], counts[order]
    seen = counts >= max(min(tuned.FLATS.least_seen_px, floor_px), floor_px * tuned.FLATS.seen_part)
    keys, counts = keys[seen], counts[seen]
    rgb = unpack(keys)
    free = np.ones(len(keys), bool)
    found: list[Member] = []
    for i in range(len(keys)):
        if not free[i]:
            continue
        close = free & (de00_to(rgb, rgb[i]) < tuned.CLEAN.merge_de00)
        free &= ~close
        total = int(counts[close].sum())
        if total >= floor_px:
            r, g, b = (int(x) for x in rgb[i])
            found.append(Member((r, g, b), total, tuple(int(k) for k in keys[close])))
        if len(found) > 4 * MAX_MEMBERS:
            break
    return sorted(found, key=lambda m: -m.pixels)


def noisy_members(keys: Array, counts: Array, *, floor_px: float) -> list[Member]:
    """Peel modes off the colour counts of flat pixels of a noisy picture, biggest first; packed colours rise."""
    levels = np.ascontiguousarray(unpack(keys).T, np.float32)
    left = counts.astype(np.float64).copy()
    found: list[Member] = []
    while len(found) < 4 * MAX_MEMBERS and left.size:
        top = int(left.argmax())
        if left[top] <= 0:
            break
        one, near = _mode(levels, left, top)
        total = float(left[near].sum())
        left[near] = 0
        if total >= floor_px:
            if not _is_known(one, found):
                found.append(Member((int(one[0]), int(one[1]), int(one[2])), int(total)))
        elif counts[top] < floor_px * tuned.FLATS.mode_part:
            break
    return sorted(found, key=lambda m: -m.pixels)


def _mode(levels: Array, left: Array, top: int) -> tuple[U8, Array]:
    """Return the (3,) colour of the mode about ``levels[:, top]``, of (3, n), and the places of those that are its."""
    centre = levels[:, top]
    for _ in range(3):  # steps of a mean shift, which settles at once on flat areas
        near = _near(levels, centre)
        centre = _weighted_median(levels[:, near], left[near])
    return np.rint(centre).astype(np.uint8), near if (near == top).any() else np.append(near, top)


def _near(levels: Array, centre: Array) -> Array:
    """Return the places of colours (3, n), red rising, within ``Flats.peel_levels`` of one: red tells most apart."""
    reach = tuned.FLATS.peel_levels
    first = int(np.searchsorted(levels[0], centre[0] - reach, "left"))
    last = int(np.searchsorted(levels[0], centre[0] + reach, "right"))
    away = sum((one[first:last] - level) ** 2 for one, level in zip(levels, centre, strict=True))
    return np.asarray(first + np.flatnonzero(away <= reach**2))


def _is_known(one: U8, found: list[Member]) -> bool:
    """Tell whether a noisy colour is one of those found."""
    known = np.array([m.rgb for m in found], np.uint8).reshape(-1, 3)
    return bool(len(known)) and bool(
        de00_to(known, one).min() < tuned.NOISY.merge_de00
        or np.linalg.norm(known.astype(np.float64) - one, axis=1).min() < tuned.FLATS.merge_levels
    )


def floor_pixels(floor_mm2: float, pixel_mm2: float) -> float:
    """Return the least area in pixels: so many mm2 at print size, but never a handful of pixels of coarse art."""
    return max(floor_mm2 / pixel_mm2, tuned.FLATS.floor_px)


def find_clean_members(rgb: U8, alpha: U8, skip: Array | None, *, pixel_mm2: float) -> list[Member]:
    """Return the exact flat colours (whole 3x3 neighbourhoods) of the opaque picture outside ``skip``."""
    keys: list[Array] = [np.zeros(0, np.uint32)]
    counts: list[Array] = [np.zeros(0, np.int64)]
    plain = skip is not None or min(alpha.shape) < 3
    if plain:
        parts = [list(_deep_runs(rgb, alpha, skip))]
    else:
        parts = each(lambda part: list(_deep_by_columns(rgb, alpha, part)), HALVES, px=alpha.size)
    for found, times in itertools.chain.from_iterable(parts):
        keys.append(found)
        counts.append(times)
    every, place = np.unique(np.concatenate(keys), return_inverse=True)
    total = np.bincount(place, np.concatenate(counts), len(every)).astype(np.int64)
    floor_px = min(floor_pixels(tuned.CLEAN.floor_mm2, pixel_mm2), alpha.size / 8)  # tiny art has colours too
    return clean_members(every, total, floor_px=floor_px)[:MAX_MEMBERS]


def _deep_runs(rgb: U8, alpha: U8, skip: Array | None) -> Iterator[tuple[Array, Array]]:
    """Yield the exact colours of whole 3x3 neighbourhoods, opaque and outside ``skip``, and how often each comes."""
    for band in row_bands(len(alpha), STRIP_ROWS, halo=1):
        outer = slice(band.outer_start, band.outer_stop)
        key = pack(rgb[outer])
        flat = deep(key) if min(alpha.shape) >= 3 else np.ones(key.shape, bool)
        flat &= alpha[outer] == 255
        if skip is not None:
            flat &= ~skip[outer]
        yield _runs(key[band.inner][flat[band.inner]])


def _deep_by_columns(rgb: U8, alpha: U8, part: tuple[int, int]) -> Iterator[tuple[Array, Array]]:
    """Yield the same of a part of it: columns that do not change from one of their rows, the others as such."""
    width = alpha.shape[1]
    for strip in strips(rgb, alpha, part):
        band = strip.band
        outer = slice(band.outer_start, band.outer_stop)
        near, wide = strip.beside(1), strip.beside(2)
        calm = np.ones(width, bool)
        calm[near] = False
        row = pack(rgb[band.start])
        calm[1:-1] &= (row[1:-1] == row[:-2]) & (row[1:-1] == row[2:]) & (alpha[band.start, 1:-1] == 255)
        calm[[0, -1]] = False
        inside = min(band.stop, len(alpha) - 1) - max(band.start, 1)  # a border row has no whole neighbourhood
        found, times = _runs(row[calm])
        yield found, times * inside
        if near.size:
            key = pack(rgb[outer][:, wide])
            flat = deep(key) & (alpha[outer][:, wide] == 255)
            own = np.isin(wide, near) & (wide > 0) & (wide < width - 1)
            yield _runs(key[band.inner][flat[band.inner] & own])


def _runs(keys: Array) -> tuple[Array, Array]:
    """Return the first of each run of equal keys and how long it is."""
    starts = np.flatnonzero(np.diff(keys, prepend=~keys[:1]))
    return keys[starts], np.diff(starts, append=len(keys))


def find_noisy_members(
    rgb: U8, alpha: U8, skip: Array | None, *, pixel_mm2: float, calm_only: bool = False
) -> list[Member]:
    """Return the colours of calm opaque areas outside ``skip``, then those of smaller, less calm ones."""
    flats = tuned.FLATS
    ranges = (flats.flat_range_levels, flats.small_range_levels, flats.smallest_range_levels)
    spread = range3(rgb)
    usable = alpha == 255
    if skip is not None:
        usable &= ~skip
    floor_px = floor_pixels(tuned.NOISY.floor_mm2, pixel_mm2)
    found: list[Member] = []
    packed = pack(rgb)
    for limit in ranges[:1] if calm_only else ranges:
        keys, counts = np.unique(packed[usable & (spread <= limit)], return_counts=True)
        more = noisy_members(keys, counts, floor_px=floor_px)
        found += more if not found else _restless(more, found)
    return sorted(found, key=lambda m: -m.pixels)[:MAX_MEMBERS]


def is_drawn(rgb: U8, alpha: U8, *, pixel_mm2: float) -> bool:
    """Tell whether the colours of a few areas make up most of a restless picture: small drawn art after JPEG.

    Most pixels of small art lie beside an edge and are restless; the calmer half of them, whatever that is in the
    picture, are yet near one of its colours. Those of photographs are near many, or near none. Grain without any calm
    pixel is never drawn.
    """
    kinds = tuned.KINDS
    bands = sample_bands(*alpha.shape)
    rgb, alpha = np.concatenate([rgb[b] for b in bands]), np.concatenate([alpha[b] for b in bands])
    opaque = alpha == 255
    spread = range3(rgb)
    if not opaque.any() or (spread <= tuned.FLATS.flat_range_levels)[opaque].mean() < kinds.drawn_calm_share:
        return False
    members = find_noisy_members(rgb, alpha, None, pixel_mm2=pixel_mm2)[: kinds.drawn_colours]
    calmer = opaque & (spread <= np.median(spread[opaque]))
    return bool((label_noisy(rgb, alpha, members) == NONE)[calmer].mean() <= kinds.drawn_off_share)


def _restless(more: list[Member], found: list[Member]) -> list[Member]:
    """Return those colours of small noisy areas that are neither near a calm area's colour nor a mix of two."""
    art, new = tuned.NOISY, list[Member]()
    for member in more:
        known = np.array([m.rgb for m in [*found, *new]], np.uint8)
        one = np.array(member.rgb, np.uint8)
        apart = de00_to(known, one).min() >= art.part_merge_de00
        if len(known) < MAX_MEMBERS and apart and blend_levels(one[None], known, "encoded")[0] > art.blend_levels:
            new.append(member)
    return new


def label_clean(rgb: U8, alpha: U8, members: list[Member]) -> U8:
    """Return (h, w) member numbers where an opaque pixel is exactly a member's colour, NONE elsewhere."""
    label = np.empty(alpha.shape, np.uint8)

    def work(half: tuple[int, int]) -> None:
        for strip in strips(rgb, alpha, half):
            rows, columns = slice(strip.band.start, strip.band.stop), np.flatnonzero(strip.changes)
            part = label[rows]
            part[:] = _labels(pack(rgb[strip.band.start]), alpha[strip.band.start], members)
            if columns.size:
                part[:, columns] = _labels(pack(rgb[rows][:, columns]), alpha[rows][:, columns], members)

    each(work, HALVES, px=alpha.size)
    return label


def _labels(key: Array, alpha: U8, members: list[Member]) -> U8:
    """Return the member numbers of packed colours, NONE where there is none or the pixel is not opaque."""
    label = np.full(key.shape, NONE, np.uint8)
    for number, member in enumerate(members):
        for exact in member.exact:
            label[key == exact] = number
    label[alpha < 255] = NONE
    return label


def _noisy_space(rgb: Array) -> Array:
    """(n, 3) in 8-bit levels with chroma weakened, since compression smears it."""
    opaque = np.concatenate([rgb.astype(np.float32), np.zeros((len(rgb), 1), np.float32)], axis=1)
    return luma_first(opaque, tuned.FLATS.label_chroma)[:, :3]


def label_noisy(rgb: U8, alpha: U8, members: list[Member]) -> U8:
    """Return (h, w) nearest member within ``Flats.label_levels``, NONE elsewhere."""
    label = np.full(alpha.shape, NONE, np.uint8)
    if not members:
        return label
    colours = np.array([m.rgb for m in members], np.uint8)
    keys, place = distinct(pack(rgb))
    distance = total((_noisy_space(unpack(keys))[:, None] - _noisy_space(colours)[None]) ** 2)
    best = distance.argmin(1).astype(np.uint8)
    best[distance.min(1) > tuned.FLATS.label_levels**2] = NONE
    label[...] = best[place]
    label[alpha < 255] = NONE
    return label


def _weighted_median(levels: Array, weights: Array) -> Array:
    """Return the weighted median (3,) of (3, n) whole 8-bit levels; weights are counts, so sums are exact."""
    out = np.empty(3, np.float32)
    for c, level in enumerate(levels):
        total = np.cumsum(np.bincount(level.astype(np.uint8), weights, minlength=256))
        out[c] = min(np.searchsorted(total, total[-1] / 2), 255)
    return out
