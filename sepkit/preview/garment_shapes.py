"""Our own drawings of garments as outlines in millimetres: tee, long sleeve, hoodie; front, back, inside neck.

In: shape, flat half-chest and body length in mm, view. Out: GarmentDrawing: cloth parts from back to front, seams,
folds and where prints go. x runs to the right from the centre line, y down from the high point of the shoulder.
Print distances are typical ones of the trade (common practice): full front 65 mm below the collar seam, back 90
(hoodies 125, below the hood), left chest 80 down and 90 off centre, sleeve 25 above the hem, neck label 25 below
the collar tape.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

import numpy as np

from sepkit.preview.drawing import (
    Anchor,
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
    from sepkit.model import F64

View = Literal["front", "back", "neck"]
Placement = Literal["front", "back", "left chest", "sleeve", "neck label"]

FRONT_DROP_MM = 65.0
BACK_DROP_MM = 90.0
HOODIE_BACK_DROP_MM = 125.0
CHEST_DROP_MM = 80.0
CHEST_OFF_CENTRE_MM = 90.0
SLEEVE_RISE_MM = 25.0
SLEEVE_START_MM = 75.0
NECK_LABEL_DROP_MM = 25.0
COLLAR_MM = 20.0
RIB_MM = 65.0


def draw_shape(shape: str, *, view: View, half_chest_mm: float, length_mm: float) -> GarmentDrawing:
    """Return the drawing of "tee", "long sleeve" or "hoodie"; an unknown shape draws a tee."""
    body = _Body(half_chest_mm, length_mm, hooded=shape == "hoodie")
    if view == "neck":
        return _inside_neck(body)
    return _whole(body, view=view, long=shape in ("long sleeve", "hoodie"))


def view_of(placement: Placement) -> View:
    """Return the side of the garment that shows a placement."""
    views: dict[str, View] = {"back": "back", "neck label": "neck"}
    return views.get(placement, "front")


@dataclass(frozen=True, slots=True)
class _Body:
    """Key points of a garment, from its chest and length."""

    chest: float
    length: float
    hooded: bool

    @property
    def neck(self) -> float:
        return 52 + 0.078 * self.chest

    @property
    def shoulder(self) -> Point:
        return (0.447 * self.chest, 0.078 * self.chest)

    @property
    def underarm(self) -> Point:
        return (self.chest / 2, 0.40 * self.chest + 34)

    @property
    def front_seam(self) -> float:
        return 78.0 if self.hooded else 60 + 0.092 * self.chest

    @property
    def back_seam(self) -> float:
        return 26.0

    @property
    def hem_half(self) -> float:
        return self.chest * (0.475 if self.hooded else 0.492)


def _whole(body: _Body, *, view: View, long: bool) -> GarmentDrawing:
    right, armhole = _sleeve(body, long=long)
    parts: list[Part] = [*right, *[mirrored(part) for part in right]]
    seam_y = body.front_seam if view == "front" else body.back_seam
    seams: list[Seam] = []
    if view == "front" and not body.hooded:
        parts.append(_back_inside(body, body.front_seam))
    parts.append(Part("body", _body_outline(body, seam_y, armhole), casts=0.35))
    if body.hooded:
        hood, hood_seams = _hood(body, view)
        parts += hood
        seams += hood_seams
        parts.append(_waist_rib(body))
        if view == "front":
            pocket, pocket_seams = _pocket(body)
            parts.append(pocket)
            seams += pocket_seams
    else:
        parts.append(_collar(body, seam_y, view))
        seams += _hem_seams(body)
    seams += both([Seam(armhole, 1.0)])
    if not long:
        seams += both([Seam(_sleeve_hem(body, inset), 0.6, stitched=True) for inset in (19.0, 24.0)])
    return GarmentDrawing(tuple(parts), tuple(seams), tuple(_folds(body, long=long)), _anchors(body, long=long))


def _body_outline(body: _Body, seam_y: float, armhole: F64) -> F64:
    hem_y = body.length - (RIB_MM - 6 if body.hooded else 0)
    under = body.underarm
    side = curve(under, (under[0] - 5, under[1] + 150), (body.hem_half - 1, hem_y - 150), (body.hem_half, hem_y))
    hem = curve((body.hem_half, hem_y), (body.hem_half * 0.5, hem_y + 7), (0, hem_y + 7), (0, hem_y + 7))
    right = np.vstack([_neckline(body, seam_y), armhole, side, hem])
    return closed(right)


def _neckline(body: _Body, depth: float, *, inset: float = 0.0) -> F64:
    """From the centre of the neck to the shoulder point, at the collar seam (inset 0) or further in."""
    half = body.neck - inset * 0.86
    top = -inset * 0.16
    low = depth - inset
    return curve((0, low), (half * 0.62, low), (half * 0.93, top + (low - top) * 0.55), (half, top))


def _collar(body: _Body, seam_y: float, view: View) -> Part:
    outer = _neckline(body, seam_y)
    inner = _neckline(body, seam_y, inset=COLLAR_MM) if view == "front" else _back_edge(body)
    ring = np.vstack([mirror(outer)[::-1], outer[1:], inner[::-1], mirror(inner)[1:]])
    edges = (np.vstack([mirror(outer)[::-1], outer[1:]]), np.vstack([mirror(inner)[::-1], inner[1:]]))
    return Part("collar", ring, light=0.97, ribs=edges, casts=0.45)


def _back_edge(body: _Body) -> F64:
    """Top edge of the collar at the back of the neck."""
    half, top = body.neck - COLLAR_MM * 0.86, -COLLAR_MM * 0.16
    return curve((0, 7.0), (half * 0.5, 7.0), (half * 0.85, 3.0), (half, top))


def _back_inside(body: _Body, depth: float) -> Part:
    """Inside of the back, seen through the neck."""
    top = _back_edge(body)
    low = _neckline(body, depth, inset=COLLAR_MM - 6)
    outline = np.vstack([mirror(top)[::-1], top[1:], low[::-1], mirror(low)[1:]])
    return Part("inside", outline, light=0.62)


def _sleeve(body: _Body, *, long: bool) -> tuple[list[Part], F64]:
    """Return the wearer's left sleeve (right in the front view) and its armhole, shoulder to underarm."""
    shoulder, under = body.shoulder, body.underarm
    armhole = curve(shoulder, (shoulder[0] - 14, under[1] * 0.48), (under[0] - 42, under[1] * 0.86), under)
    if not long:
        outer, inner = _short_hem(body)
        top = curve(shoulder, (shoulder[0] + 62, shoulder[1] + 26), (outer[0] - 50, outer[1] - 46), outer)
        bottom = curve(inner, (inner[0] - 22, inner[1] - 22), (under[0] + 20, under[1] + 14), under)
        hem = _sleeve_hem(body, 0.0)
        return [Part("sleeve", np.vstack([top, hem, bottom, armhole[::-1]]))], armhole
    return _long_sleeve(body, armhole), armhole


def _short_hem(body: _Body) -> tuple[Point, Point]:
    reach, width = 0.20 * body.chest + 98, 0.2 * body.chest + 58
    outer = ahead(body.shoulder, 37, reach)
    return outer, ahead(outer, 115, width)


def _sleeve_hem(body: _Body, inset: float) -> F64:
    outer, inner = _short_hem(body)
    a, b = ahead(outer, 212, inset), ahead(inner, 212, inset)
    middle = ahead(((a[0] + b[0]) / 2, (a[1] + b[1]) / 2), 28, 7)
    return curve(a, middle, middle, b)


def _long_sleeve(body: _Body, armhole: F64) -> list[Part]:
    shoulder, under = body.shoulder, body.underarm
    fleece = body.hooded
    reach = 0.16 * body.chest + 505
    cuff_half = 52.0 if fleece else 44.0
    end = ahead(shoulder, _arm_deg(), reach)
    across = _arm_deg() + 90
    outer, inner = ahead(end, across, -cuff_half), ahead(end, across, cuff_half)
    top = curve(shoulder, ahead(shoulder, 40, 78), ahead(outer, _arm_deg() + 180, reach * 0.45), outer)
    back = ahead(inner, _arm_deg() + 180, reach * 0.42)
    bottom = curve(inner, (back[0] + 3, back[1]), (under[0] + 24, under[1] + 48), under)
    hem = curve(outer, ahead(end, _arm_deg(), 5), ahead(end, _arm_deg(), 5), inner)
    sleeve = Part("sleeve", np.vstack([top, hem, bottom, armhole[::-1]]))
    depth = RIB_MM if fleece else 26.0
    far = ahead(end, _arm_deg(), depth)
    near_edge = np.array([ahead(outer, 0, 0.0), ahead(inner, 0, 0.0)])
    far_edge = np.array([ahead(far, across, -cuff_half * 0.88), ahead(far, across, cuff_half * 0.88)])
    steps = np.linspace(0, 1, 25)[:, None]
    edges = (near_edge[0] + steps * (near_edge[1] - near_edge[0]), far_edge[0] + steps * (far_edge[1] - far_edge[0]))
    cuff = Part("cuff", np.vstack([edges[0], edges[1][::-1]]), light=0.96, ribs=edges, casts=0.2)
    return [sleeve, cuff]


def _arm_deg() -> float:
    return 68.0


def _hood(body: _Body, view: View) -> tuple[list[Part], list[Seam]]:
    half = body.neck
    seam_y = body.front_seam if view == "front" else body.back_seam + 6
    outer = np.vstack(
        [
            curve((half + 26, 14), (half + 92, -60), (half + 70, -196), (half - 6, -262)),
            curve((half - 6, -262), (half - 40, -290), (half * 0.4, -296), (0, -296)),
        ]
    )
    base = curve((0, seam_y), (half * 0.7, seam_y), (half + 6, seam_y * 0.66), (half + 26, 14))
    shell = Part("hood", closed(np.vstack([base, outer])), casts=0.4)
    if view == "back":
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


def _waist_rib(body: _Body) -> Part:
    top, low = body.length - RIB_MM, body.length
    steps = np.linspace(-1, 1, 61)
    bow = 7 * (1 - steps**2)
    upper = np.stack([steps * body.hem_half, top + bow], axis=1)
    lower = np.stack([steps * body.hem_half * 0.965, low + bow], axis=1)
    return Part("waist", np.vstack([upper, lower[::-1]]), light=0.96, ribs=(upper, lower), casts=0.25)


def _pocket(body: _Body) -> tuple[Part, list[Seam]]:
    low, high = body.length - RIB_MM + 6, body.length - RIB_MM - 205
    wide, narrow, bend = 0.315 * body.chest, 0.19 * body.chest, low - 70
    slant = curve((narrow, high), (narrow + 8, high + 70), (wide - 26, bend - 44), (wide, bend))
    right = np.vstack([np.array([(0.0, high)]), slant, np.array([(wide, low), (0.0, low + 4)])])
    return Part("pocket", closed(right), light=1.03, casts=0.4), [
        *both([Seam(slant + np.array([-5.0, 0.0]), 0.6, stitched=True)]),
        Seam(np.array([(-narrow, high + 5), (narrow, high + 5)]), 0.6, stitched=True),
    ]


def _hem_seams(body: _Body) -> list[Seam]:
    steps = np.linspace(-1, 1, 61)
    rows = []
    for rise in (20.0, 25.0):
        y = body.length - rise + 7 * (1 - steps**2)
        rows.append(Seam(np.stack([steps * (body.hem_half + 0.01 * rise), y], axis=1), 0.6, stitched=True))
    return rows


def _folds(body: _Body, *, long: bool) -> list[Fold]:
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
    if long:
        for k, (at, strength) in enumerate(
            ((0.16, 0.10), (0.30, -0.09), (0.46, 0.11), (0.60, -0.08), (0.74, 0.10), (0.88, 0.12), (0.95, -0.09))
        ):
            x, y = ahead((sx, sy), _arm_deg(), at * (0.16 * c + 505))
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


def _anchors(body: _Body, *, long: bool) -> dict[str, Anchor]:
    back_drop = HOODIE_BACK_DROP_MM if body.hooded else BACK_DROP_MM
    if long:
        x, y = ahead(body.shoulder, _arm_deg(), SLEEVE_START_MM)
        x += 14
        sleeve = Anchor(x, y, turn_deg=_arm_deg() - 90)
    else:
        outer, inner = _short_hem(body)
        middle = ((outer[0] + inner[0]) / 2, (outer[1] + inner[1]) / 2)
        sleeve = Anchor(*ahead(middle, 203, SLEEVE_RISE_MM - 5), turn_deg=23 - 90, by_bottom=True)
    return {
        "front": Anchor(0, body.front_seam + FRONT_DROP_MM),
        "back": Anchor(0, (body.back_seam + 6 if body.hooded else body.back_seam) + back_drop),
        "left chest": Anchor(CHEST_OFF_CENTRE_MM, body.front_seam + CHEST_DROP_MM),
        "sleeve": sleeve,
        "neck label": Anchor(0, body.back_seam + NECK_LABEL_DROP_MM),
    }


def _inside_neck(body: _Body) -> GarmentDrawing:
    """Return the neck held open: collar and inside of the back above, front collar below."""
    plain = _Body(body.chest, body.length, hooded=False)
    depth = plain.back_seam + 150
    armhole = _sleeve(plain, long=False)[1]
    top = _back_edge(plain)
    tape = _neckline(plain, plain.back_seam)
    rib = np.vstack([mirror(tape)[::-1], tape[1:], top[::-1], mirror(top)[1:]])
    edges = (np.vstack([mirror(tape)[::-1], tape[1:]]), np.vstack([mirror(top)[::-1], top[1:]]))
    parts = (
        _back_inside(plain, depth),
        Part("back collar", rib, light=0.80, ribs=edges, casts=0.2),
        Part("body", _body_outline(plain, depth, armhole), casts=0.6),
        _collar(plain, depth, "front"),
    )
    seams = (
        Seam(full(tape + np.array([0.0, 3.0])), 6.0, strength=0.12),
        Seam(full(tape + np.array([0.0, 6.0])), 0.5, stitched=True),
    )
    half = plain.neck + 62
    return GarmentDrawing(
        parts,
        seams,
        tuple(_folds(plain, long=False)),
        _anchors(plain, long=False),
        frame=(-half, -40.0, half, depth + 58),
    )
