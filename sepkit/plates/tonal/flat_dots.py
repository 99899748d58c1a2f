"""Flat art of many colours in dots of a few inks: every broad colour a tint or an overprint, lines and letters solid.

In: flat areas, the bench. Out: sets of screens for 1, 2, ... screens, the coverage that each gives a part, and areas
that are screens. A flat colour is one colour of the cloud that inks are chosen for, so nothing is fitted to pixels:
each part has the same dots everywhere. What is fine (a line, a letter, a spot) is printed with whole inks alone.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import product
from typing import TYPE_CHECKING, Any

import numpy as np

from sepkit.colorimetry.difference import delta_e_2000
from sepkit.colorimetry.srgb import linear_to_lab, srgb8_to_lab
from sepkit.coverage.bands import row_bands
from sepkit.plates.smaller import smaller
from sepkit.plates.tonal.candidates import candidates_of
from sepkit.plates.tonal.choose import DOTS_IN_FLAT, LINE_INK_PRICE, Task, screen_sets
from sepkit.plates.tonal.cloud import AREA_POWER, Cloud
from sepkit.plates.tonal.metric import Wanted
from sepkit.plates.tonal.optics import mean_light, stack_light
from sepkit.plates.tonal.screens import LIGHT_CLOTH_L, SOLID_GOOD_DE00, as_areas, most_tried
from sepkit.plates.tonal.solve import INK_PRICE, solve_dots
from sepkit.plates.traps import trapped
from sepkit.units import mm_to_px

if TYPE_CHECKING:
    from sepkit.model import F64, RGB8, U8, Bool, InkArea, Size
    from sepkit.plates.bench import Bench
    from sepkit.plates.tonal.choose import ScreenSet

Array = np.ndarray[Any, np.dtype[Any]]

PARTED_PX = 480
"""Lines are told from broad shapes at this size."""
LINE_MM, BROAD_SHARE = 5.0, 0.5
"""A shape is broad if this share of it is wider than so many mm: nine dots of 45 lpi (as for the knee)."""
LETTER_TIMES = 1.3
"""A shape is a letter among lines up to so many times their length."""
LINE_BASES = (0.0, 0.3, 0.5, 0.7, 1.0)
"""Of a base under a line: its dots need no edge, the ink on them has it."""
LEAST_DOT, MOST_DOT = 0.06, 0.93
"""Tints below and above are left open and printed solid: a flat colour is all of one tint, that a mesh must hold."""
LOST_DE00 = 12.0
"""A line further than this from the cloth's colour is never left open."""
DARK_LINE_L = 35.0
"""Under lines as dark as this the dots beside them run on."""


@dataclass(frozen=True, slots=True, eq=False)
class Part:
    """One colour of the art, its broad shapes or its lines, and the share of the print that they fill."""

    area: int
    srgb: RGB8
    line: bool
    share: float


@dataclass(frozen=True, slots=True, eq=False)
class FlatParts:
    """Flat areas parted into broad shapes and lines."""

    parts: tuple[Part, ...]
    lines: tuple[Bool | None, ...]
    """(h, w) at a reduced size, for each area that has both: True where its lines are."""

    @property
    def broad_share(self) -> float:
        """Share of the print that dots may make."""
        return sum(part.share for part in self.parts if not part.line)


@dataclass(frozen=True, slots=True, eq=False)
class Dotted:
    """A set of screens with what it gives each part."""

    one: ScreenSet
    dots: Array
    """(parts, screens) coverage 0..1."""
    light: F64
    """(areas, 3) linear sRGB that each area comes out at, its parts averaged."""


def parts_of(areas: Sequence[InkArea], size: Size) -> FlatParts:
    """Return the parts of flat areas (h, w), at least one with ink in it."""
    from scipy.ndimage import grey_opening, label

    factor = max(1, -(-max(areas[0].coverage.shape) // PARTED_PX))
    total = max(sum(float(area.coverage.sum(dtype=np.int64)) for area in areas), 1.0)
    parts, masks = [], []
    for index, area in enumerate(areas):
        plane = smaller(area.coverage, factor)
        wide = max(2, round(LINE_MM * plane.shape[1] / size.width_mm))
        shapes, count = label(plane > 0)
        ink = np.bincount(shapes.ravel(), plane.ravel(), count + 1)
        body = np.bincount(shapes.ravel(), grey_opening(plane, (wide, wide)).ravel(), count + 1)
        solid = np.bincount(shapes.ravel(), (plane > 127).ravel(), count + 1)
        fine = (body < BROAD_SHARE * ink) & (solid > 0)  # what is nowhere solid is the soft edge of other shapes
        fine[0] = False
        fine |= _like_lines(shapes, fine)
        own = float(area.coverage.sum(dtype=np.int64)) / total
        in_lines = float(ink[fine].sum() / max(ink[1:].sum(), 1.0))
        if in_lines < 1:
            parts.append(Part(index, area.srgb, False, own * (1 - in_lines)))
        if in_lines > 0:
            parts.append(Part(index, area.srgb, True, own * in_lines))
        masks.append(fine[shapes] if 0 < in_lines < 1 else None)
    return FlatParts(tuple(parts), tuple(masks))


def _like_lines(shapes: Array, fine: Bool) -> Bool:
    """Return (n,) the shapes no larger than lines of their colour: all letters of a word are lines if most are."""
    from scipy.ndimage import find_objects

    boxes = find_objects(shapes)
    long = np.array([0, *(max(rows.stop - rows.start, columns.stop - columns.start) for rows, columns in boxes)])
    out: Bool = (long > 0) & (long <= LETTER_TIMES * np.median(long[fine])) if fine.any() else np.zeros_like(fine)
    return out


def dotted_sets(found: FlatParts, bench: Bench) -> list[Dotted]:
    """Return for 1, 2, ... screens the set that comes nearest to the parts, lines in whole inks."""
    task = _task(found, bench)
    colours = {part.srgb: 0.0 for part in found.parts if not part.line}
    for part in found.parts:
        if not part.line:
            colours[part.srgb] += part.share
    wanted = candidates_of(bench, sorted(colours, key=lambda srgb: -colours[srgb]))
    return [_dotted(found, one, task) for one in screen_sets(task, wanted, most=most_tried(bench))]


def dotted_areas(
    areas: Sequence[InkArea], found: FlatParts, dotted: Dotted, bench: Bench, *, dpi: float
) -> tuple[tuple[InkArea, ...], Bench]:
    """Return the screens of the areas as areas, and the bench that prints them so; ``dpi`` 0: without traps."""
    grown = _under_lines([area.coverage for area in areas], found, dotted, mm_to_px(bench.trap_mm, dpi))
    rows = {(part.area, part.line): vector for part, vector in zip(found.parts, dotted.dots, strict=True)}
    shape, count = areas[0].coverage.shape, dotted.dots.shape[1]
    planes = [np.zeros(shape, np.uint8) for _ in range(count)]
    tones = [np.zeros(shape, bool) for _ in range(count)]
    shares = [_line_map(mask, shape) for mask in found.lines]
    for band in row_bands(shape[0], max(1, (1 << 18) // shape[1])):
        here = slice(band.start, band.stop)
        total = np.zeros((count, band.stop - band.start, shape[1]), np.float32)
        toned = np.zeros_like(total)
        for index, plane in enumerate(grown):
            cover = plane[here].astype(np.float32)
            if not cover.any():
                continue
            lines = shares[index]
            for line in (False, True):
                vector = rows.get((index, line))
                if vector is None:
                    continue
                own = cover if lines is None else np.where(lines(here) == line, cover, np.float32(0))
                for k in np.flatnonzero(vector).tolist():
                    total[k] += own * np.float32(vector[k])
                    if vector[k] < 1:
                        toned[k] += own
        for k in range(count):
            planes[k][here] = np.rint(np.minimum(total[k], 255)).astype(np.uint8)
            tones[k][here] = (toned[k] > 127) & (planes[k][here] > 0)
    return as_areas(dotted.one, [np.stack([p, t]) for p, t in zip(planes, tones, strict=True)], bench)


def _task(found: FlatParts, bench: Bench) -> Task:
    broad = [part for part in found.parts if not part.line]
    lines = [part for part in found.parts if part.line]
    weight = np.array([part.share for part in broad]) ** AREA_POWER
    line_weight = np.array([part.share for part in lines]) ** AREA_POWER / weight.sum()
    area = np.array([part.share for part in broad])
    return Task(
        Cloud(_lab(broad), weight / weight.sum(), area / area.sum()),
        _lab(lines),
        line_weight,
        bench.garment.reflectance,
        bench.base_ink,
        base=bench.wishes.base.every != "never" and bench.garment.lab[0] < LIGHT_CLOTH_L,
        lines=True,
    )


def _lab(parts: Sequence[Part]) -> Array:
    return srgb8_to_lab(np.array([part.srgb for part in parts], np.uint8).reshape(-1, 3)).astype(float)


def _dotted(found: FlatParts, one: ScreenSet, task: Task) -> Dotted:
    stacks = stack_light(one.films, task.cloth)
    count = len(one.films)
    bits = (np.arange(len(stacks))[:, None] >> np.arange(count) & 1).astype(float)
    wanted = Wanted.of(_lab(found.parts))
    square = (wanted.away(stacks[:, None, :]) ** 2).sum(-1)
    whole = bits[(square + INK_PRICE * bits.sum(axis=1)[:, None]).argmin(axis=0)]
    lines = np.array([part.line for part in found.parts])
    if lines.any():
        whole[lines] = _line_inks(one, wanted, stacks)[lines]
    dots = solve_dots(stacks, wanted, start=whole * 0.9 + 0.05, steps=25)
    dots = np.where(dots < LEAST_DOT, 0.0, np.where(dots > MOST_DOT, 1.0, dots))
    by_dots = np.sqrt((wanted.away(mean_light(dots, stacks)) ** 2).sum(-1))
    solid = np.sqrt((wanted.away(mean_light(whole, stacks)) ** 2).sum(-1))
    gains = by_dots + DOTS_IN_FLAT * SOLID_GOOD_DE00 / np.maximum(solid, 1e-9) < solid
    in_dots = gains & (solid > SOLID_GOOD_DE00) & ~lines
    dots = np.where(in_dots[:, None], dots, whole)
    own = mean_light(dots, stacks)
    light, weight = np.zeros((len(found.lines), 3)), np.zeros((len(found.lines), 1))
    for part, colour in zip(found.parts, own, strict=True):
        light[part.area] += part.share * colour
        weight[part.area] += part.share
    return Dotted(one, dots, light / np.maximum(weight, 1e-12))


def _line_inks(one: ScreenSet, wanted: Wanted, stacks: Array) -> Array:
    """Return (parts, screens) for lines: few whole inks, a base under them whole or in dots, never open."""
    ways = np.array(list(product((0.0, 1.0), repeat=len(one.films))))
    if one.has_base and len(one.films) > 1:
        ways = np.array([(share, *way[1:]) for way in ways[: len(ways) // 2] for share in LINE_BASES])
    light = mean_light(ways, stacks)
    cost = (wanted.away(light[:, None, :]) ** 2).sum(-1) + LINE_INK_PRICE * np.maximum(ways.sum(1) - 1, 0)[:, None]
    cloth = linear_to_lab(np.clip(stacks[0], 0, 1))
    whole_edge = (ways == 1).any(axis=1)
    cost[~whole_edge] = np.where(delta_e_2000(wanted.lab, cloth) > LOST_DE00, np.inf, cost[~whole_edge])
    out: Array = ways[cost.argmin(axis=0)]
    return out


def _under_lines(planes: Sequence[U8], found: FlatParts, dotted: Dotted, trap_px: float) -> list[U8]:
    """Return the planes of the areas, those beside dark lines grown under them: no gap shows when the press is off."""
    dark = {
        part.area
        for part, vector in zip(found.parts, dotted.dots, strict=True)
        if vector.sum() == 1 and srgb8_to_lab(np.array(part.srgb))[0] < DARK_LINE_L and vector.max() == 1
    } - {part.area for part, vector in zip(found.parts, dotted.dots, strict=True) if vector.max() < 1}
    if trap_px <= 0 or not dark or len(dark) == len(planes):
        return list(planes)
    light = [0.0 if index in dark else 50.0 for index in range(len(planes))]
    others = [index for index in range(len(planes)) if index not in dark]
    not_under = dict.fromkeys(others, others) | {index: range(len(planes)) for index in dark}
    return trapped(planes, lightness=light, trap_px=trap_px, not_under=not_under)


class _LineMap:
    """A reduced mask at full size, a band at a time."""

    def __init__(self, mask: Bool, shape: tuple[int, ...]) -> None:
        self.mask, self.rows = mask, np.minimum(np.arange(shape[0]) * mask.shape[0] // shape[0], mask.shape[0] - 1)
        self.columns = np.minimum(np.arange(shape[1]) * mask.shape[1] // shape[1], mask.shape[1] - 1)

    def __call__(self, here: slice) -> Bool:
        out: Bool = self.mask[self.rows[here]][:, self.columns]
        return out


def _line_map(mask: Bool | None, shape: tuple[int, ...]) -> _LineMap | None:
    return None if mask is None else _LineMap(mask, shape)
