"""Our own drawings of garments as outlines in millimetres: tee, long sleeve, hoodie, from the front and the back.

In: a Body, from shape, flat half-chest and body length in mm. Out: GarmentDrawing: cloth parts from back to front,
seams, folds, and the edges that prints are measured from. x runs to the right from the centre line, y down from the
high point of the shoulder.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from sepkit.places import CUTS, Cut
from sepkit.preview.drawing import (
    Fold,
    GarmentDrawing,
    Part,
    Point,
    Seam,
    ahead,
    both,
    closed,
    curve,
    full,
    mirror,
    mirrored,
)

if TYPE_CHECKING:
    from sepkit.model import F64, GarmentShape

COLLAR_MM = 20.0
CUFF_MM = 65.0
"""Rib at the end of a fleece sleeve."""
STITCH_ROWS_MM = 5.0
"""Two rows of stitches lie so far apart, the upper one at the ridge of the hem."""


@dataclass(frozen=True, slots=True)
class Body:
    """Key points of a garment, from its shape, chest and length."""

    shape: GarmentShape
    chest: float
    length: float

    @property
    def cut(self) -> Cut:
        """What prints and drawings share of how it is cut."""
        return CUTS[self.shape]

    @property
    def hooded(self) -> bool:
        """Whether it is drawn with hood, pocket and ribs."""
        return self.shape == "hoodie"

    @property
    def neck(self) -> float:
        """Half the width of the neck."""
        return 52 + 0.078 * self.chest

    @property
    def shoulder(self) -> Point:
        """Where the shoulder seam meets the sleeve."""
        return (0.447 * self.chest, 0.078 * self.chest)

    @property
    def underarm(self) -> Point:
        """Where the sleeve's seam meets the side."""
        return (self.chest / 2, 0.40 * self.chest + 34)

    @property
    def front_seam(self) -> float:
        """Depth of the collar seam in front."""
        return self.cut.collar_seam_mm(self.chest, front=True)

    @property
    def back_seam(self) -> float:
        """Depth of the collar seam at the back."""
        return self.cut.collar_seam_mm(self.chest, front=False)

    @property
    def hem_half(self) -> float:
        """Half the width of the lower edge."""
        return self.chest * (0.475 if self.hooded else 0.492)

    @property
    def short_sleeve(self) -> tuple[float, float]:
        """Length of a short sleeve along its outer edge, and width of its hem, flat."""
        return 0.20 * self.chest + 98, 0.2 * self.chest + 58

    @property
    def long_sleeve(self) -> tuple[float, float]:
        """Length of a long sleeve without its cuff, and width at the cuff, flat."""
        return 0.16 * self.chest + 505, 104.0 if self.hooded else 88.0

    @property
    def cuff(self) -> float:
        """Length of a long sleeve's cuff."""
        return CUFF_MM if self.hooded else 26.0


def draw_whole(body: Body, *, front: bool) -> GarmentDrawing:
    """Return the front or the back of a garment laid flat."""
    right, armhole = sleeve(body)
    parts: list[Part] = [*right, *[mirrored(part) for part in right]]
    seam_y = body.front_seam if front else body.back_seam
    seams: list[Seam] = []
    if front and not body.hooded:
        parts.append(back_inside(body, body.front_seam))
    parts.append(Part("body", body_outline(body, seam_y, armhole), casts=0.35))
    if body.hooded:
        hood, hood_seams = _hood(body, front=front)
        parts += hood
        seams += hood_seams
        parts.append(_waist_rib(body))
        if front:
            pocket, pocket_seams = _pocket(body)
            parts.append(pocket)
            seams += pocket_seams
    else:
        parts.append(collar(body, seam_y, front=front))
        seams += _hem_seams(body)
    seams += both([Seam(armhole, 1.0)])
    if not body.cut.long_sleeves:
        seams += both([Seam(_sleeve_hem(body, inset), 0.6, stitched=True) for inset in (19.0, 24.0)])
    edges = {
        "collar seam": full(neckline(body, seam_y)),
        "hem's stitching": _hem_line(body, body.cut.hem_mm),
        "side seam": _side(body),
    }
    return GarmentDrawing(tuple(parts), tuple(seams), tuple(folds(body)), edges)


def body_outline(body: Body, seam_y: float, armhole: F64) -> F64:
    """Return the outline of the body with its neckline ``seam_y`` deep."""
    side = _side(body)
    hem_y = float(side[-1, 1])
    hem = curve((body.hem_half, hem_y), (body.hem_half * 0.5, hem_y + 7), (0, hem_y + 7), (0, hem_y + 7))
    right = np.vstack([neckline(body, seam_y), armhole, side, hem])
    return closed(right)


def _side(body: Body) -> F64:
    """Return the side from the underarm down to the lower edge, or to the rib under it."""
    hem_y = body.length - (body.cut.hem_mm - 6 if body.hooded else 0)
    under = body.underarm
    return curve(under, (under[0] - 5, under[1] + 150), (body.hem_half - 1, hem_y - 150), (body.hem_half, hem_y))


def neckline(body: Body, depth: float, *, inset: float = 0.0) -> F64:
    """From the centre of the neck to the shoulder point, at the collar seam (inset 0) or further in."""
    half = body.neck - inset * 0.86
    top = -inset * 0.16
    low = depth - inset
    return curve((0, low), (half * 0.62, low), (half * 0.93, top + (low - top) * 0.55), (half, top))


def collar(body: Body, seam_y: float, *, front: bool) -> Part:
    """Return the ribbed collar inside a neckline ``seam_y`` deep."""
    outer = neckline(body, seam_y)
    inner = neckline(body, seam_y, inset=COLLAR_MM) if front else back_edge(body)
    ring = np.vstack([mirror(outer)[::-1], outer[1:], inner[::-1], mirror(inner)[1:]])
    edges = (np.vstack([mirror(outer)[::-1], outer[1:]]), np.vstack([mirror(inner)[::-1], inner[1:]]))
    return Part("collar", ring, light=0.97, ribs=edges, casts=0.45)


def back_edge(body: Body) -> F64:
    """Top edge of the collar at the back of the neck."""
    half, top = body.neck - COLLAR_MM * 0.86, -COLLAR_MM * 0.16
    return curve((0, 7.0), (half * 0.5, 7.0), (half * 0.85, 3.0), (half, top))


def back_inside(body: Body, depth: float) -> Part:
    """Inside of the back, seen through the neck."""
    top = back_edge(body)
    low = neckline(body, depth, inset=COLLAR_MM - 6)
    outline = np.vstack([mirror(top)[::-1], top[1:], low[::-1], mirror(low)[1:]])
    return Part("inside", outline, light=0.62)


def sleeve(body: Body) -> tuple[list[Part], F64]:
    """Return the wearer's left sleeve (right in the front view) and its armhole, shoulder to underarm."""
    shoulder, under = body.shoulder, body.underarm
    armhole = curve(shoulder, (shoulder[0] - 14, under[1] * 0.48), (under[0] - 42, under[1] * 0.86), under)
    if not body.cut.long_sleeves:
        outer, inner = _short_hem(body)
        top = curve(shoulder, (shoulder[0] + 62, shoulder[1] + 26), (outer[0] - 50, outer[1] - 46), outer)
        bottom = curve(inner, (inner[0] - 22, inner[1] - 22), (under[0] + 20, under[1] + 14), under)
        hem = _sleeve_hem(body, 0.0)
        return [Part("sleeve", np.vstack([top, hem, bottom, armhole[::-1]]))], armhole
    return _long_sleeve(body, armhole), armhole


def _short_hem(body: Body) -> tuple[Point, Point]:
    reach, width = body.short_sleeve
    outer = ahead(body.shoulder, 37, reach)
    return outer, ahead(outer, 115, width)


def _sleeve_hem(body: Body, inset: float) -> F64:
    outer, inner = _short_hem(body)
    a, b = ahead(outer, 212, inset), ahead(inner, 212, inset)
    middle = ahead(((a[0] + b[0]) / 2, (a[1] + b[1]) / 2), 28, 7)
    return curve(a, middle, middle, b)


def _long_sleeve(body: Body, armhole: F64) -> list[Part]:
    shoulder, under = body.shoulder, body.underarm
    reach, cuff_width = body.long_sleeve
    cuff_half = cuff_width / 2
    end = ahead(shoulder, _arm_deg(), reach)
    across = _arm_deg() + 90
    outer, inner = ahead(end, across, -cuff_half), ahead(end, across, cuff_half)
    top = curve(shoulder, ahead(shoulder, 40, 78), ahead(outer, _arm_deg() + 180, reach * 0.45), outer)
    back = ahead(inner, _arm_deg() + 180, reach * 0.42)
    bottom = curve(inner, (back[0] + 3, back[1]), (under[0] + 24, under[1] + 48), under)
    hem = curve(outer, ahead(end, _arm_deg(), 5), ahead(end, _arm_deg(), 5), inner)
    arm = Part("sleeve", np.vstack([top, hem, bottom, armhole[::-1]]))
    far = ahead(end, _arm_deg(), body.cuff)
    near_edge = np.array([ahead(outer, 0, 0.0), ahead(inner, 0, 0.0)])
    far_edge = np.array([ahead(far, across, -cuff_half * 0.88), ahead(far, across, cuff_half * 0.88)])
    steps = np.linspace(0, 1, 25)[:, None]
    edges = (near_edge[0] + steps * (near_edge[1] - near_edge[0]), far_edge[0] + steps * (far_edge[1] - far_edge[0]))
    cuff = Part("cuff", np.vstack([edges[0], edges[1][::-1]]), light=0.96, ribs=edges, casts=0.2)
    return [arm, cuff]


def _arm_deg() -> float:
    return 68.0


def _hood(body: Body, *, front: bool) -> tuple[list[Part], list[Seam]]:
    half = body.neck
    seam_y = body.front_seam if front else body.back_seam
    outer = np.vstack(
        [
            curve((half + 26, 14), (half + 92, -60), (half + 70, -196), (half - 6, -262)),
            curve((half - 6, -262), (half - 40, -290), (half * 0.4, -296), (0, -296)),
        ]
    )
    base = curve((0, seam_y), (half * 0.7, seam_y), (half + 6, seam_y * 0.66), (half + 26, 14))
    shell = Part("hood", closed(np.vstack([base, outer])), casts=0.4)
    if not front:
        middle = np.array([(0.0, -296.0), (0.0, seam_y)])
        return [shell], [Seam(middle, 0.9), Seam(full(base), 1.1)]
    rim = curve((0, seam_y - 8), (half * 1.05, seam_y - 66), (half * 1.22, -238), (0, -240))
    inside = Part("hood inside", closed(rim), light=0.66)
    edge = curve((0, seam_y - 32), (half * 0.86, seam_y - 80), (half * 1.05, -218), (0, -220))
    lining = Part("hood depth", closed(edge), light=0.5)
    cords = [Seam(np.array(_cord(side, seam_y)), 5.0, strength=0.5) for side in (-1, 1)]
    return [shell, inside, lining], [
        Seam(full(base), 1.1),
        Seam(full(rim), 0.7, stitched=True),
        *cords,
    ]


def _cord(side: int, seam_y: float) -> list[Point]:
    x, y = 31.0 * side, seam_y - 17
    line = curve((x, y), (x + 9 * side, y + 22), (x - 2 * side, y + 44), (x + 4 * side, y + 66))
    return [(float(a), float(b)) for a, b in line]


def _waist_rib(body: Body) -> Part:
    upper = _hem_line(body, body.cut.hem_mm)
    lower = upper * np.array([0.965, 1.0]) + np.array([0.0, body.cut.hem_mm])
    return Part("waist", np.vstack([upper, lower[::-1]]), light=0.96, ribs=(upper, lower), casts=0.25)


def _pocket(body: Body) -> tuple[Part, list[Seam]]:
    low, high = body.length - body.cut.hem_mm + 6, body.length - body.cut.hem_mm - 205
    wide, narrow, bend = 0.315 * body.chest, 0.19 * body.chest, low - 70
    slant = curve((narrow, high), (narrow + 8, high + 70), (wide - 26, bend - 44), (wide, bend))
    right = np.vstack([np.array([(0.0, high)]), slant, np.array([(wide, low), (0.0, low + 4)])])
    return Part("pocket", closed(right), light=1.03, casts=0.4), [
        *both([Seam(slant + np.array([-5.0, 0.0]), 0.6, stitched=True)]),
        Seam(np.array([(-narrow, high + 5), (narrow, high + 5)]), 0.6, stitched=True),
    ]


def _hem_seams(body: Body) -> list[Seam]:
    rises = (body.cut.hem_mm - STITCH_ROWS_MM, body.cut.hem_mm)
    return [Seam(_hem_line(body, rise), 0.6, stitched=True) for rise in rises]


def _hem_line(body: Body, rise_mm: float) -> F64:
    """Return a line so far above the lower edge: a row of its stitches, or the seam of its rib."""
    steps = np.linspace(-1, 1, 61)
    half = body.hem_half + (0.0 if body.hooded else 0.01 * rise_mm)
    return np.stack([steps * half, body.length - rise_mm + 7 * (1 - steps**2)], axis=1)


def folds(body: Body) -> list[Fold]:
    """Soft creases of a garment laid flat: from the underarms, down the sides, across the sleeves."""
    c, ux, uy, low = body.chest, *body.underarm, body.length
    right = [
        Fold((ux - 12, uy - 8), (c * 0.23, uy + 66), 15, 0.11),
        Fold((ux - 16, uy + 20), (c * 0.28, uy + 150), 18, 0.09),
        Fold((ux - 6, uy - 34), (c * 0.30, uy - 46), 13, 0.07),
        Fold((c * 0.40, 0.62 * low), (c * 0.36, low * 0.97), 22, -0.045),
        Fold((c * 0.20, 0.70 * low), (c * 0.235, low * 0.99), 27, 0.04),
        Fold((c * 0.06, 0.80 * low), (c * 0.02, low * 0.99), 27, -0.03),
        Fold((c * 0.44, 0.60 * low), (c * 0.27, 0.57 * low), 17, 0.05),
        Fold((c * 0.36, c * 0.09), (c * 0.29, c * 0.30), 26, -0.06),
        Fold((body.neck + 10, 16), (c * 0.20, c * 0.22), 24, 0.05),
    ]
    sx, sy = body.shoulder
    if body.cut.long_sleeves:
        for k, (at, strength) in enumerate(
            ((0.16, 0.10), (0.30, -0.09), (0.46, 0.11), (0.60, -0.08), (0.74, 0.10), (0.88, 0.12), (0.95, -0.09))
        ):
            x, y = ahead((sx, sy), _arm_deg(), at * body.long_sleeve[0])
            a, b = ahead((x, y), _arm_deg() + 75 + 8 * (k % 3), -46), ahead((x, y), _arm_deg() + 75, 44)
            right.append(Fold(a, b, 13 - 3 * (at > 0.8), strength))
    else:
        right += [
            Fold((ux + 6, uy - 6), (sx + 60, sy + 76), 13, 0.10),
            Fold((ux + 20, uy + 22), (sx + 104, sy + 118), 14, -0.08),
            Fold((sx + 14, sy + 34), (sx + 96, sy + 84), 18, -0.05),
        ]
    # the left side is no mirror image of the right: cloth never lies the same twice
    left = [
        Fold(
            (-f.start[0] * 1.02, f.start[1] + 9),
            (-f.stop[0] * 0.93, f.stop[1] - 12),
            f.width_mm * 1.1,
            -f.strength * 0.9,
        )
        for f in right
    ]
    return right + left
