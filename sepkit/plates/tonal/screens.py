"""The screens of a tonal picture: inks chosen, every pixel's dots found, flat parts kept solid.

In: the picture as it lies on the cloth, what the separation found (where it is tone, its flat colours), the bench.
Out: areas that are screens, in print order, the wishes that print them as they are, and what was weighed.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING, Any

import numpy as np

from sepkit.colorimetry.names import distinct_words
from sepkit.colorimetry.spectral import reflectance_to_srgb8
from sepkit.colorimetry.srgb import as_rgb8, srgb8_to_lab
from sepkit.coverage.channels import greatest, pixels_where
from sepkit.coverage.parts import Parts
from sepkit.decisions import AreaWish
from sepkit.inks.layers import printed_reflectance
from sepkit.model import InkArea
from sepkit.plates.tonal.calm import calmed
from sepkit.plates.tonal.candidates import candidates_of, with_missed
from sepkit.plates.tonal.choose import DOTS_IN_FLAT, FLAT_WEIGHT, ScreenSet, Task, Weighed, screen_sets
from sepkit.plates.tonal.cloud import cloud_of
from sepkit.plates.tonal.goal import goal_of
from sepkit.plates.tonal.metric import Wanted, light_to_lab
from sepkit.plates.tonal.optics import stack_light
from sepkit.plates.tonal.price import chosen_set
from sepkit.plates.tonal.table import Gathered, ToneTable, tone_table

if TYPE_CHECKING:
    from sepkit.model import F32, RGB8, U8, Bool
    from sepkit.plates.bench import Bench
    from sepkit.plates.tonal.cloud import Cloud
    from sepkit.plates.tonal.goal import Goal

Array = np.ndarray[Any, np.dtype[Any]]

LIGHT_CLOTH_L = 85.0
"""Cloth as light as this needs no white under its inks."""
NAMED_CHROMA = 0.5
"""With inks that a person named, colours may go astray by so much more than lightness."""
FLAT_LEVELS = 2.0
"""Root mean square by which a picture leaves a colour that is flat, its grain calmed, in levels."""
SOLID_GOOD_DE00 = 5.0
"""A flat colour is printed solid where some inks over each other come this near to it; else in dots."""
PAPER_SHARE = 0.5
"""What is left open along more of the picture's border is what the art lies on, such as paper."""
GOES_ON_LEVELS, GOES_ON_SHARE = 6.0, 0.25
"""What is left open is a part of the tones where the picture goes on without an edge along so much of its rim: its end
would be seen as a step, up to the ΔE00 6 from the cloth within which a separation leaves flat colours open."""
NO_DOT = 0.012
"""Flat tints below this are left open."""
FULL_DOT = 0.06
"""In tones tints come in gradually up to this one, so that nothing begins with a step; the least are open."""
BAND_ROWS = 128


@dataclass(frozen=True, slots=True, eq=False)
class Picture:
    """A tonal picture on cloth."""

    seen: U8
    """(h, w, 3) sRGB over the cloth."""
    printed: Bool
    """(h, w) where the art is not transparent."""
    tone: Bool
    """(h, w) where it is tone."""
    areas: tuple[InkArea, ...]
    """What the separation found: its flat colours, and the colours that its tones lie between."""


@dataclass(frozen=True, slots=True, eq=False)
class TonalScreens:
    """Screens in print order, as areas, the bench that prints them as they are, and what was weighed."""

    areas: tuple[InkArea, ...]
    bench: Bench
    weighed: Weighed
    bare_joined: bool = False
    """Whether all that the separation left open is printed, a part of the tones."""


def tonal_screens(picture: Picture, bench: Bench) -> TonalScreens:
    """Return the screens of a picture with tone in it."""
    calm = calmed(picture.seen)
    picture, flats = _parted(picture, calm)
    bare = _left_bare(picture, flats)
    joined = _bare_tones(bare, picture.printed, calm)
    picture = replace(picture, tone=picture.tone | joined)
    cloud = cloud_of(picture.seen, picture.tone & picture.printed)
    goal = goal_of(cloud, bench)
    task = _task(cloud, flats, bench, goal)
    candidates = with_missed(candidates_of(bench, _colours_to_mix(picture)), task, bench)
    wishes = bench.wishes
    tried = screen_sets(task, candidates, most=most_tried(bench), must_all=bool(wishes.inks.named))
    chosen = chosen_set(tried, bench)
    stacks = stack_light(chosen.films, task.cloth)
    table = tone_table(
        Gathered.of(calm, picture.tone & picture.printed),
        stacks,
        coats=np.array([film.coats for film in chosen.films], float),
        known=(task.cloud.lab, chosen.dots),
        chroma=task.chroma,
        goal=goal,
    )
    planes = _planes(picture, calm, table, flats, stacks)
    weighed = Weighed(tuple(tried), chosen)
    areas, bench = as_areas(chosen, planes, bench)
    return TonalScreens(
        areas, replace(bench, weighed=weighed), weighed, bool(joined.any() and np.array_equal(joined, bare))
    )


@dataclass(frozen=True, slots=True, eq=False)
class SmallPicture:
    """A small picture of tones, gathered once for all sets of screens that are tried on it."""

    seen: U8
    """(h, w, 3) the art on its cloth."""
    printed: Bool
    """(h, w) where it is."""
    calm: Array
    gathered: Gathered
    cloud: Cloud

    @staticmethod
    def of(seen: U8, printed: Bool) -> SmallPicture:
        """Return it, calmed."""
        calm = calmed(seen)
        return SmallPicture(seen, printed, calm, Gathered.of(calm, printed), cloud_of(seen, printed))


def set_screens(one: ScreenSet, small: SmallPicture, bench: Bench) -> tuple[tuple[InkArea, ...], Bench]:
    """Return the areas that print a small picture with one of the sets that were weighed, and the bench for them.

    Flat colours are in dots as well.
    """
    seen, printed = small.seen, small.printed
    stacks = stack_light(one.films, bench.garment.reflectance)
    bits = (np.arange(len(stacks))[:, None] >> np.arange(len(one.films)) & 1).astype(float)
    table = tone_table(
        small.gathered,
        stacks,
        coats=np.array([film.coats for film in one.films], float),
        known=(light_to_lab(stacks), bits * 0.9 + 0.05),
        chroma=NAMED_CHROMA if bench.wishes.inks.named else 1.0,
        goal=goal_of(small.cloud, bench),
    )
    planes = _planes(Picture(seen, printed, np.ones_like(printed), ()), small.calm, table, [], stacks)
    return as_areas(one, planes, replace(bench, wishes=replace(bench.wishes, areas={})))


@dataclass(frozen=True, slots=True, eq=False)
class _Flat:
    """A flat colour of the art, its plane, and the share of the picture that it fills."""

    srgb: RGB8
    coverage: U8
    share: float


def _parted(picture: Picture, calm: Array) -> tuple[Picture, list[_Flat]]:
    """Return the picture with all as tone that is none of its flat colours, and these.

    In a small or compressed gradient a separation finds flat colours that are steps of it: where the picture wanders
    about a colour, it is a tone.
    """
    flats, tone = [], picture.tone
    for area in picture.areas:
        solid = (area.coverage == 255) & ~picture.tone
        count = np.count_nonzero(solid)
        if count:
            away = greatest(np.abs(pixels_where(calm, solid) - np.array(area.srgb, np.float32)))
            if float(np.sqrt((away * away).mean())) <= FLAT_LEVELS:
                flats.append(_Flat(area.srgb, area.coverage, count / area.coverage.size))
                continue
        tone = tone | (area.coverage > 0)
    return replace(picture, tone=tone), flats


def _left_bare(picture: Picture, flats: Sequence[_Flat]) -> Bool:
    """Return (h, w) what the separation left open: no tone and no flat colour."""
    bare = picture.printed & ~picture.tone
    for flat in flats:
        bare &= flat.coverage == 0
    return bare


def _bare_tones(bare: Bool, printed: Bool, calm: Array) -> Bool:
    """Return (h, w) the parts of ``bare`` that are tones: left open as near the cloth, they go on beside it.

    Paper round a picture is none, where it lies along most of the outline of what is ``printed``.
    """
    if not bare.any() or bare[_outline(printed)].mean() > PAPER_SHARE:
        return np.zeros_like(bare)
    parts = Parts.of(bare)
    rim, smooth = np.zeros((2, parts.count + 1))
    for axis in (0, 1):
        here, beside = ([slice(None)] * 2 for _ in range(2))
        here[axis], beside[axis] = slice(None, -1), slice(1, None)
        one, other = tuple(here), tuple(beside)
        rows, columns = np.nonzero((bare[one] != bare[other]) & printed[one] & printed[other])
        past = ~bare[one][rows, columns]  # the bare one is the second
        part = parts.at(rows + past * (axis == 0), columns + past * (axis == 1))
        step = np.abs(calm[one][rows, columns] - calm[other][rows, columns]).max(axis=1, initial=0.0)
        rim += np.bincount(part, minlength=len(rim))
        smooth += np.bincount(part[step <= GOES_ON_LEVELS], minlength=len(rim))
    joined = smooth > GOES_ON_SHARE * rim
    joined[0] = False
    return parts.mask(joined)


def _outline(printed: Bool) -> Bool:
    """Return the pixels of a mask that have none of it, or the picture's edge, on one of four sides."""
    wide = np.pad(printed, 1)
    return printed & ~(wide[:-2, 1:-1] & wide[2:, 1:-1] & wide[1:-1, :-2] & wide[1:-1, 2:])


def _task(cloud: Cloud, flats: Sequence[_Flat], bench: Bench, goal: Goal) -> Task:
    root = np.sqrt([flat.share for flat in flats])
    total = sum(flat.share for flat in flats)
    weight = root / max(root.sum(), 1e-9) * FLAT_WEIGHT * min(1.0, 5 * total)
    garment = bench.garment
    return Task(
        replace(cloud, lab=goal(cloud.lab)),
        srgb8_to_lab(np.array([flat.srgb for flat in flats], np.uint8).reshape(-1, 3)).astype(float),
        weight,
        garment.reflectance,
        bench.base_ink,
        base=bench.wishes.base.every != "never" and garment.lab[0] < LIGHT_CLOTH_L,
        chroma=NAMED_CHROMA if bench.wishes.inks.named else 1.0,
    )


def _colours_to_mix(picture: Picture) -> list[RGB8]:
    """Return the colours of the art's areas, those that fill most first."""
    return [area.srgb for area in sorted(picture.areas, key=lambda one: -int(one.coverage.sum(dtype=np.int64)))]


def most_tried(bench: Bench) -> int:
    """Return how many screens are tried at most."""
    from sepkit.plates.tonal.choose import MOST_SCREENS

    wishes = bench.wishes
    most = MOST_SCREENS if wishes.inks.count is None else wishes.inks.count + 1
    return most if wishes.most_screens is None else min(most, wishes.most_screens)


def _planes(picture: Picture, calm: Array, table: ToneTable, flats: Sequence[_Flat], stacks: Array) -> list[Array]:
    """Return for each screen its plane (h, w) uint8 and where it is tone."""
    count = table.screens
    solid, dotted = _flat_dots(flats, stacks, table)
    planes = [np.zeros(picture.tone.shape, np.uint8) for _ in range(count)]
    tones = [picture.tone.copy() for _ in range(count)]
    where = picture.tone & picture.printed
    for start in range(0, len(where), BAND_ROWS):
        rows = slice(start, start + BAND_ROWS)
        here = where[rows]
        dots = _levels(table.dots(pixels_where(calm[rows], here)))
        outside = ~picture.tone[rows]
        for k, plane in enumerate(planes):
            plane[rows][here] = dots[k]
            total = np.zeros(here.shape, np.float32)
            for flat, vector, in_dots in zip(flats, solid, dotted, strict=True):
                if vector[k] > 0:
                    total += flat.coverage[rows] * np.float32(vector[k])
                    if in_dots and 0 < vector[k] < 1:
                        tones[k][rows] |= outside & (flat.coverage[rows] > 127)
            plane[rows][outside] = np.rint(np.minimum(total, 255)).astype(np.uint8)[outside]
    return [np.stack([plane, tone & (plane > 0)]) for plane, tone in zip(planes, tones, strict=True)]


def _levels(dots: F32) -> U8:
    """Return dots 0..1 as 8-bit coverage; traces that no mesh holds are open, and gaps like them solid."""
    out: U8 = np.rint(dots * 255).astype(np.uint8)
    trace = (dots > 0) & (dots < FULL_DOT)
    out[trace] = np.rint(_eased(dots[trace]) * 255)
    gaps = 1 - dots
    trace = (gaps > 0) & (gaps < FULL_DOT)
    out[trace] = np.rint((1 - _eased(gaps[trace])) * 255)
    return out


def _eased(traces: F32) -> F32:
    """Return what is left of traces: they come in gradually."""
    t = traces / FULL_DOT
    return np.asarray(traces * t * t * (3 - 2 * t), np.float32)


def _flat_dots(flats: Sequence[_Flat], stacks: Array, table: ToneTable) -> tuple[list[Array], list[bool]]:
    """Return each flat colour's coverage of every screen, and whether it is in dots."""
    from sepkit.plates.tonal.solve import INK_PRICE, solve_dots

    if not flats:
        return [], []
    count = table.screens
    wanted = Wanted.of(srgb8_to_lab(np.array([flat.srgb for flat in flats], np.uint8)).astype(float))
    away = wanted.away(stacks[:, None, :])
    square = (away * away).sum(-1)
    bits = (np.arange(len(stacks))[:, None] >> np.arange(count) & 1).astype(float)
    best = (square + INK_PRICE * bits.sum(1)[:, None]).argmin(axis=0)
    dots = solve_dots(stacks, wanted, start=bits[best] * 0.9 + 0.05, steps=25)
    from sepkit.plates.tonal.optics import mean_light

    by_dots = np.sqrt((wanted.away(mean_light(dots, stacks)) ** 2).sum(-1))
    vectors, dotted = [], []
    for f, stack in enumerate(best):
        solid = float(np.sqrt(square[stack, f]))
        use_dots = solid > SOLID_GOOD_DE00 and by_dots[f] + DOTS_IN_FLAT * SOLID_GOOD_DE00 / solid < solid
        vectors.append(np.where(dots[f] < NO_DOT, 0, dots[f]) if use_dots else bits[stack])
        dotted.append(bool(use_dots))
    return vectors, dotted


def as_areas(chosen: ScreenSet, planes: Sequence[Array], bench: Bench) -> tuple[tuple[InkArea, ...], Bench]:
    """Return the screens of a set as areas in print order, and the bench that prints them as they are.

    ``planes`` hold for each screen its coverage (h, w) uint8 and where it is tone.
    """
    areas: list[InkArea] = []
    wishes: dict[RGB8, AreaWish] = {}
    for place, (plane, tone) in zip(chosen.places, planes, strict=True):
        if not plane.any():
            continue
        film = place.film
        seen = printed_reflectance([(film.ink, float(film.coats))], bench.white_cloth)
        srgb = _unlike(as_rgb8(reflectance_to_srgb8(seen)), wishes)
        mask = tone.astype(bool)
        areas.append(InkArea(srgb, np.ascontiguousarray(plane), mask if mask.any() else None))
        name = {"base": "underbase", "top": "highlight white"}.get(place.role, "" if place.mixed else film.ink.name)
        wishes[srgb] = AreaWish(ink=film.ink, coats=film.coats, name=name)
    wishes = _told_apart(wishes)
    kept = replace(bench.wishes, solved=True, areas={**wishes, **bench.wishes.areas})
    return tuple(areas), replace(bench, wishes=kept)


def _told_apart(wishes: dict[RGB8, AreaWish]) -> dict[RGB8, AreaWish]:
    """Return the wishes, a mix that would be called as an ink of the shelf is with a name of its own."""
    taken = {wish.name for wish in wishes.values()}
    words = dict(zip(wishes, distinct_words(list(wishes)), strict=True))
    return {
        srgb: replace(wish, name=f"mixed {words[srgb]}") if not wish.name and words[srgb] in taken else wish
        for srgb, wish in wishes.items()
    }


def _unlike(srgb: RGB8, taken: dict[RGB8, AreaWish]) -> RGB8:
    """Return the colour, or one a level beside it: areas are told apart by it."""
    r, g, b = srgb
    while (r, g, b) in taken:
        b = b - 1 if b > 0 else b + 2
    return r, g, b
