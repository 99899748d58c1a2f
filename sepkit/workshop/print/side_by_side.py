"""One art on several garments: the prints side by side, and whether one set of films could serve them.

In: planned prints of one art. Out: a picture and findings.
Two garments share films when their ink screens carry the same shapes: then only the base differs. A film set made for
a dark garment and printed on a light one (or the other way round) with an ink that shows there may give a negative: a
drawing shaded with white ink has its lights where there is ink, and on white cloth dark ink goes to the lights. An ink
that only shades others, dots over theirs, keeps its colour: they carry the drawing, and the cloth does not swallow it.
It is measured: the rank correlation of lightness between art and such a print, over the art; below zero it is a
negative.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from itertools import combinations
from typing import TYPE_CHECKING, Any

import numpy as np

from sepkit.colorimetry.difference import delta_e_2000
from sepkit.colorimetry.srgb import srgb8_to_lab
from sepkit.inks.identify import ink_from_swatch
from sepkit.model import Finding
from sepkit.preview.ladder import Step, ladder_sheet
from sepkit.preview.seen import art_on_garment, reduced
from sepkit.preview.stack import printed_rgb
from sepkit.units import to_hex

if TYPE_CHECKING:
    from sepkit.model import F64, RGB8, U8, Garment, Plate
    from sepkit.workshop.print.plan import PlannedPrint

Array = np.ndarray[Any, np.dtype[Any]]

PANEL_PX = 700
SHOWS_DE00 = 10.0
"""An ink nearer than this to the cloth is not seen on it, and a printer would change it."""
SAME_SHAPE = 0.02
"""Two screens whose areas differ by less than this share of their ink are the same film."""
NEGATIVE_BELOW = -0.2
"""Rank correlation of lightness below which a print reads as a negative; above zero by as much it reads as the art."""
SAMPLES = 40_000
LEAST_ALPHA = 13
"""Alpha from which a pixel is art: a twentieth."""
DARK_INK: RGB8 = (26, 24, 26)
LIGHT_INK: RGB8 = (240, 240, 236)
MIDDLE_L = 50.0
SHADE_SHARE = 0.5
"""An ink of which so much lies over inks that show is their shade."""


def side_by_side(prints: Sequence[PlannedPrint]) -> U8:
    """Return the prints of one art side by side.

    A print that one garment's films would make a negative of on another garment is shown too.
    """
    steps = []
    for planned in prints:
        separation = planned.separation
        names = ", ".join(plate.name for plate in separation.plates)
        count = "1 screen" if len(separation.plates) == 1 else f"{len(separation.plates)} screens"
        steps.append(
            Step(
                reduced(planned.seen.printed, most_px=PANEL_PX),
                separation.garment.name,
                (
                    f"dE00 {separation.mean_de00:.1f} on average",
                    f"{count}: {names}",
                ),
                tuple(plate.print_srgb for plate in separation.plates if plate.role != "underbase"),
                marked=True,
            )
        )
    for found in (_negative(one, other) for one, other in combinations(prints, 2)):
        if found is not None:
            _, made, onto = found
            garment = onto.separation.garment
            words = f"films made for {made.separation.garment.name}, with an ink that shows: a negative"
            picture = reduced(print_on_other(made, garment), most_px=PANEL_PX)
            steps.append(Step(picture, f"not so: on {garment.name}", (words,)))
    source = prints[0].separation.artwork.source
    return ladder_sheet(steps, title=f"{source} on {len(prints)} garments", panel_px=PANEL_PX)


def print_on_other(made: PlannedPrint, onto: Garment) -> U8:
    """Return the picture of ``made``'s films on another garment, with inks that show there; its base is left out."""
    plates = [
        plate if rgb is None else replace(plate, ink=ink_from_swatch(to_hex(rgb), rgb))
        for plate, rgb in _shown(made.separation.plates, onto)
    ]
    return printed_rgb(plates, onto)


def film_set_findings(prints: Sequence[PlannedPrint]) -> tuple[Finding, ...]:
    """Return, for each two garments, whether one film set serves both, or would give a negative."""
    found = (_pair(one, other) for one, other in combinations(prints, 2))
    return tuple(finding for finding in found if finding is not None)


def _pair(one: PlannedPrint, other: PlannedPrint) -> Finding | None:
    first, second = one.separation.garment.name, other.separation.garment.name
    if same_films(one.separation.plates, other.separation.plates):
        based = [
            p.separation.garment.name for p in (one, other) if any(q.role == "underbase" for q in p.separation.plates)
        ]
        base = f"; only {based[0]} has a base besides" if len(based) == 1 else ""
        return Finding(
            "one-film-set",
            "info",
            f"the inks' areas are the same on {first} and {second}{base}",
            "one set of ink films serves both: make traps for more screens",
        )
    worst = _negative(one, other)
    if worst is None:
        return None
    made, onto = worst[1].separation.garment.name, worst[2].separation.garment.name
    return Finding(
        "negative-on-other-garment",
        "warn",
        f"films made for {made} would print a negative on {onto}",
        "use the films made for each garment; look at side-by-side.png",
        more="light and dark change places",
    )


def _negative(one: PlannedPrint, other: PlannedPrint) -> tuple[float, PlannedPrint, PlannedPrint] | None:
    """Return (correlation, films made for, garment of) where one film set on the other's garment is a negative."""
    if same_films(one.separation.plates, other.separation.plates):
        return None
    worst = min(
        ((likeness(made, onto.separation.garment), made, onto) for made, onto in ((one, other), (other, one))),
        key=lambda found: found[0],
    )
    return worst if worst[0] <= NEGATIVE_BELOW else None


def same_films(one: Sequence[Plate], other: Sequence[Plate]) -> bool:
    """Return whether two prints have the same ink screens but for their bases and traps."""
    a, b = _by_colour(one), _by_colour(other)
    if len(a) != len(b):
        return False
    left = list(b)
    for plate in a:
        lab = srgb8_to_lab(np.array(plate.art_srgb, np.uint8))
        near = min(left, key=lambda p: float(delta_e_2000(lab, srgb8_to_lab(np.array(p.art_srgb, np.uint8)))))
        apart = np.abs(plate.coverage.astype(np.int16) - near.coverage).sum(dtype=np.int64)
        if apart > SAME_SHAPE * max(1, int(plate.coverage.sum(dtype=np.int64))):
            return False
        left.remove(near)
    return True


def likeness(made: PlannedPrint, onto: Garment) -> float:
    """Return how the lightness of ``made``'s films printed on another garment follows the art's, -1..1.

    Inks that would not show on that garment are changed, as a printer would, for one that does: dark on light cloth,
    light on dark.
    """
    separation = made.separation
    art = separation.artwork
    at = _sample(art.alpha >= LEAST_ALPHA)
    if at.size < 2:
        return 1.0
    cloth = srgb8_to_lab(np.array(onto.srgb, np.uint8))
    plates = _shown(separation.plates, onto)
    # Where every ink keeps its colour, art that is see-through shows the other cloth, as it is meant to.
    ground = onto.srgb if all(changed is None for _, changed in plates) else separation.garment.srgb
    seen = art_on_garment(art.rgb.reshape(-1, 3)[at][None], art.alpha.reshape(-1)[at][None], ground)
    want = srgb8_to_lab(seen[0])[:, 0]
    got = np.full(at.size, float(cloth[0]))
    for plate, changed in plates:
        lab = srgb8_to_lab(np.array(changed or plate.art_srgb or plate.print_srgb, np.uint8))
        share = plate.coverage.ravel()[at] / 255
        got = got * (1 - share) + float(lab[0]) * share
    return rank_correlation(want, got)


def _shown(plates: Sequence[Plate], onto: Garment) -> list[tuple[Plate, RGB8 | None]]:
    """Return the ink screens, each with the colour a printer would change its ink to; None where it keeps its own."""
    cloth = srgb8_to_lab(np.array(onto.srgb, np.uint8))
    inks = [plate for plate in plates if plate.role != "underbase"]
    labs = [srgb8_to_lab(np.array(plate.art_srgb or plate.print_srgb, np.uint8)) for plate in inks]
    shows = [float(delta_e_2000(lab, cloth)) >= SHOWS_DE00 for lab in labs]
    other = DARK_INK if cloth[0] > MIDDLE_L else LIGHT_INK
    carriers = [plate for plate, seen in zip(inks, shows, strict=True) if seen]
    return [
        (plate, None if seen or _shades(plate, carriers) else other) for plate, seen in zip(inks, shows, strict=True)
    ]


def _shades(plate: Plate, carriers: Sequence[Plate]) -> bool:
    """Return whether most of a plate lies over inks that show."""
    if not carriers:
        return False
    under = np.maximum.reduce([one.coverage for one in carriers])
    over = np.minimum(plate.coverage, under).sum(dtype=np.int64)
    return bool(over >= SHADE_SHARE * plate.coverage.sum(dtype=np.int64))


def rank_correlation(a: Array, b: Array) -> float:
    """Return Spearman's rank correlation of two samples, ties at their mean rank; 1 where one does not vary.

    >>> rank_correlation(np.array([1.0, 2.0, 3.0]), np.array([9.0, 5.0, 1.0]))
    -1.0
    """
    x, y = _ranks(a), _ranks(b)
    x, y = x - x.mean(), y - y.mean()
    size = float(np.sqrt((x @ x) * (y @ y)))
    return 1.0 if size == 0 else round(float(x @ y) / size, 12)


def _ranks(values: Array) -> F64:
    found, back, count = np.unique(np.round(values, 3), return_inverse=True, return_counts=True)
    middle = np.cumsum(count) - (count - 1) / 2
    ranks: F64 = middle[back].astype(np.float64)
    return ranks if len(found) > 1 else np.zeros(len(values))


def _by_colour(plates: Sequence[Plate]) -> list[Plate]:
    return [plate for plate in plates if plate.role != "underbase" and plate.art_srgb is not None]


def _sample(mask: Array) -> Array:
    """Return flat places of at most SAMPLES pixels of the mask, evenly taken."""
    at = np.flatnonzero(mask)
    return at[:: max(1, len(at) // SAMPLES)]
