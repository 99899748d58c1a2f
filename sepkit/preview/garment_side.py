"""A garment from its wearer's side: the sleeve laid flat with its outer line in the middle, a hood's side panel above.

In: a Body. Out: GarmentDrawing of the left side, its front at the left of the picture; x runs to the right from the
line of the arm, y down from the high point of the shoulder. Prints on sleeves and hoods are shown here, since the front
view folds them round the edge. Sleeve and hood are true in size; the body behind is only a backdrop.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from sepkit.preview.drawing import Fold, GarmentDrawing, Part, Seam, curve, mirror

if TYPE_CHECKING:
    from sepkit.model import F64
    from sepkit.preview.garment_shapes import Body

CAP_MM = 130.0
"""Height of a sleeve's cap, from the shoulder seam down to where the sleeve is widest."""
OPENING_HEM_MM = 25.0
"""Width of the hem round a hood's opening."""


def draw_side(body: Body) -> GarmentDrawing:
    """Return the wearer's left side."""
    arm, cap = _sleeve(body)
    parts = [Part("body", _outline(body), casts=0.35)]
    seams: list[Seam] = []
    edges: dict[str, F64] = {"shoulder seam": cap, "sleeve hem": arm[0].outline[-2:]}
    if body.hooded:
        opening, hood, hood_seams = _hood()
        parts += [_rib(body), *hood]
        seams += hood_seams
        edges["hood's opening"] = opening
    else:
        parts += _collar()
        seams += [Seam(_across(body, rise), 0.6, stitched=True) for rise in (20.0, 25.0)]
    parts += arm
    seams.append(Seam(cap, 1.0))
    if not body.cut.long_sleeves:
        hem = arm[0].outline[-2:]
        seams += [Seam(hem - np.array([0.0, rise]), 0.6, stitched=True) for rise in (19.0, 24.0)]
    return GarmentDrawing(tuple(parts), tuple(seams), tuple(_folds(body)), edges)


def _depth(body: Body) -> float:
    """Half the width of the body from the side."""
    return 0.27 * body.chest


def _outline(body: Body) -> F64:
    d, low = _depth(body), body.length - (body.cut.hem_mm - 6 if body.hooded else 0)
    return np.vstack(
        [
            _neck(),
            curve((66, 10), (d * 0.66, 34), (d - 4, 96), (d, 230)),
            curve((d, 230), (d - 2, 380), (d - 8, low - 150), (d - 10, low)),
            curve((d - 10, low), (40, low + 6), (-40, low + 6), (8 - d, low)),
            curve((8 - d, low), (4 - d, low - 180), (-d, 400), (-d, 250)),
            curve((-d, 250), (-d, 176), (-d * 0.78, 124), (-80, 88)),
        ]
    )


def _neck() -> F64:
    """From the front's collar seam over the shoulder to the back's."""
    return curve((-80, 88), (-66, 34), (-6, -14), (66, 10))


def _collar() -> list[Part]:
    """Return the far side's inside and the near side's rib."""
    lower = _neck()
    upper = curve((-71, 70), (-54, 20), (0, -32), (58, -8))
    far = curve((-71, 70), (-40, -2), (14, -44), (58, -8))
    return [
        Part("inside", np.vstack([upper, far[::-1]]), light=0.62),
        Part("collar", np.vstack([lower, upper[::-1]]), light=0.97, ribs=(lower, upper), casts=0.3),
    ]


def _sleeve(body: Body) -> tuple[list[Part], F64]:
    """Return the sleeve, its cuff with it, and the seam of its cap. The outline ends with the hem, right to left."""
    top = body.shoulder[1]
    reach, hem_width = body.long_sleeve if body.cut.long_sleeves else body.short_sleeve
    low, half = top + reach, hem_width / 2
    wide = max(0.1 * body.chest + 44, half)
    right = curve((0, top), (wide * 0.55, top), (wide, top + 46), (wide, top + CAP_MM))
    down = curve((wide, top + CAP_MM), (wide, top + CAP_MM + 0.3 * reach), (half, low - 0.3 * reach), (half, low))
    if not body.cut.long_sleeves:
        down = np.array([(wide, top + CAP_MM), (half, low)])
    cap = np.vstack([mirror(right)[::-1], right[1:]])
    outline = np.vstack([mirror(down)[::-1], cap[1:-1], down, [(half, low), (-half, low)]])
    arm = Part("sleeve", outline, light=1.02, casts=0.55)
    if not body.cut.long_sleeves:
        return [arm], cap
    steps = np.linspace(1, -1, 25)
    near = np.stack([steps * half, np.full(25, low)], axis=1)
    far = np.stack([steps * half * 0.88, np.full(25, low + body.cuff)], axis=1)
    cuff = Part("cuff", np.vstack([near, far[::-1]]), light=0.96, ribs=(near, far), casts=0.3)
    return [arm, cuff], cap


def _across(body: Body, rise_mm: float) -> F64:
    d, low = _depth(body), body.length - rise_mm
    return curve((d - 10, low), (40, low + 6), (-40, low + 6), (8 - d, low))


def _rib(body: Body) -> Part:
    upper = _across(body, body.cut.hem_mm)
    lower = upper * np.array([0.93, 1.0]) + np.array([0.0, body.cut.hem_mm])
    return Part("waist", np.vstack([upper, lower[::-1]]), light=0.96, ribs=(upper, lower), casts=0.25)


def _hood() -> tuple[F64, list[Part], list[Seam]]:
    """Return the edge of the opening, the panel and its seams."""
    opening = curve((-82, 84), (-112, 4), (-118, -160), (-72, -268))
    over = curve((-72, -268), (-20, -318), (84, -306), (116, -206))
    back = curve((116, -206), (142, -120), (104, -40), (66, 12))
    base = curve((66, 12), (34, 46), (-30, 84), (-82, 84))
    shell = Part("hood", np.vstack([opening, over, back, base]), casts=0.4)
    hem = opening + np.array([OPENING_HEM_MM, 0.0])
    cord = curve((-74, 74), (-84, 100), (-70, 126), (-76, 152))
    return (
        opening,
        [shell],
        [Seam(base, 1.1), Seam(hem[1:-2], 0.7, stitched=True), Seam(cord, 5.0, strength=0.5)],
    )


def _folds(body: Body) -> list[Fold]:
    d, low = _depth(body), body.length
    reach = (body.long_sleeve if body.cut.long_sleeves else body.short_sleeve)[0]
    top = body.shoulder[1]
    out = [
        Fold((-d, 0.50 * low), (-d * 0.4, 0.62 * low), 18, 0.07),
        Fold((d, 0.44 * low), (d * 0.5, 0.60 * low), 18, -0.06),
        Fold((d * 0.62, 0.66 * low), (d * 0.70, 0.97 * low), 22, 0.05),
        Fold((-d * 0.66, 0.70 * low), (-d * 0.60, 0.97 * low), 22, -0.04),
        Fold((-60, top + 40), (-78, top + 120), 16, 0.06),
        Fold((58, top + 52), (80, top + 118), 16, -0.06),
    ]
    if body.cut.long_sleeves:
        for at, strength in ((0.34, 0.07), (0.46, -0.07), (0.58, 0.08), (0.84, 0.10), (0.93, -0.09)):
            y = top + at * reach
            out.append(Fold((-70 + 30 * at, y - 10), (64 - 20 * at, y + 14), 14, strength))
    return out
