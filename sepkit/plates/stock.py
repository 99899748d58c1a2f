"""From a colour of the art to an ink that can stand on the table: of the shelf, else a mix that the scale can weigh.

In: colours with the share of the print that they cover, the inks of the shelf. Out: an ink for each, with what it is
mixed from and how far it is from the colour asked. What is predicted afterwards is this ink, not the wish. The recipe
is the one that `ink match` gives for the colour: the same engine, inks, batch and scale.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace
from functools import lru_cache
from typing import TYPE_CHECKING

import numpy as np

from sepkit.colorimetry.difference import delta_e_2000
from sepkit.colorimetry.names import colour_word
from sepkit.colorimetry.spectral import reflectance_to_lab
from sepkit.colorimetry.srgb import srgb8_to_lab
from sepkit.colorimetry.upsampling import srgb8_to_reflectance
from sepkit.decisions import InkChoice
from sepkit.inks.doses import weigh_out
from sepkit.inks.layers import masstone
from sepkit.inks.match import InkSet, Target, match
from sepkit.inks.mixing import mix
from sepkit.model import Finding, MixPart
from sepkit.units import to_hex

if TYPE_CHECKING:
    from sepkit.decisions import InkSource
    from sepkit.model import F64, RGB8, Ink

NEAR_BLACK_L, NEAR_BLACK_CHROMA = 24.0, 10.0
"""As dark and as grey as this, a colour is printed in stock black: nobody mixes a black (common practice)."""
NEAR_WHITE_L, NEAR_WHITE_CHROMA = 88.0, 12.0
"""As light and as grey as this, a colour is printed in stock white, unless it covers much."""
STOCK_BLACK_L, STOCK_WHITE_L, STOCK_CHROMA = 20.0, 90.0, 6.0
"""Which inks of a shelf are a black and a white."""
MUCH_COVER = 0.2
"""Of all ink: so much of an off-white is seen as a colour of its own, and worth a mix."""
OFF_WHITE_CHROMA = 5.0
"""Below it a white has no tint worth mixing: no ink is whiter than the pot's."""
MOST_INKS_MIXED = 3
BATCH_G, SCALE_STEP_G = 500.0, 0.1
"""As `ink match` takes them when nothing is told."""
RECIPES_RANKED = 5


def stock_inks(
    colours: Mapping[RGB8, float],
    shelf: Sequence[Ink],
    *,
    tolerance_de00: float,
    most: int = MOST_INKS_MIXED,
    scale_step_g: float = SCALE_STEP_G,
) -> dict[RGB8, InkChoice]:
    """Return an ink for each colour; ``colours`` maps sRGB to its share of all ink, 0..1.

    ``shelf`` are inks that are not mixed from others, at least one. ``most`` inks go into a mix: fewer are found
    sooner, and only three give what `ink match` gives.
    """
    labs = [reflectance_to_lab(masstone(ink)) for ink in shelf]
    return {
        srgb: _stock(srgb, share, shelf, labs, tolerance_de00)
        or _mixed(srgb, tuple(shelf), tolerance_de00, most, scale_step_g)
        for srgb, share in colours.items()
    }


def _stock(
    srgb: RGB8, share: float, shelf: Sequence[Ink], labs: Sequence[F64], tolerance_de00: float
) -> InkChoice | None:
    """Return the shelf's ink for a colour: one within tolerance, or its black or white for what is nearly so."""
    lab = srgb8_to_lab(np.array(srgb)).astype(np.float64)
    away = delta_e_2000(np.array(labs), lab)
    best = int(away.argmin())
    if away[best] <= tolerance_de00:
        return InkChoice(srgb, shelf[best], "stock", float(away[best]))
    light, chroma = float(lab[0]), float(np.hypot(lab[1], lab[2]))
    grey = [float(np.hypot(one[1], one[2])) < STOCK_CHROMA for one in labs]
    fits: list[int] = []
    if light < NEAR_BLACK_L and chroma < NEAR_BLACK_CHROMA:
        fits = [k for k, one in enumerate(labs) if grey[k] and one[0] < STOCK_BLACK_L]
    elif light > NEAR_WHITE_L and chroma < (NEAR_WHITE_CHROMA if share < MUCH_COVER else OFF_WHITE_CHROMA):
        fits = [k for k, one in enumerate(labs) if grey[k] and one[0] > STOCK_WHITE_L]
    if not fits:
        return None
    best = min(fits, key=lambda k: float(away[k]))
    return InkChoice(srgb, shelf[best], "stock", float(away[best]))


@lru_cache(maxsize=4)
def _ink_set(shelf: tuple[Ink, ...], most: int) -> InkSet:
    return InkSet(shelf, most=most)


@lru_cache(maxsize=256)
def _mixed(srgb: RGB8, shelf: tuple[Ink, ...], tolerance_de00: float, most: int, scale_step_g: float) -> InkChoice:
    lab = srgb8_to_lab(np.array(srgb)).astype(np.float64)
    target = Target(to_hex(srgb), lab, srgb8_to_reflectance(srgb))
    blend = match(_ink_set(shelf, most), target, keep=RECIPES_RANKED)[0]
    shares = [(ink, float(share)) for ink, share in zip(blend.inks, blend.mass_shares, strict=True)]
    doses = [dose for dose in weigh_out(shares, BATCH_G, scale_step_g) if dose.mass_g > 0]
    if len(doses) == 1:
        alone = doses[0].ink
        away = float(delta_e_2000(reflectance_to_lab(masstone(alone)), lab))
        return InkChoice(srgb, alone, "stock" if away <= tolerance_de00 else "nearest", away)
    ink = mix([(dose.ink, dose.mass_g) for dose in doses], name=to_hex(srgb))
    parts = tuple(MixPart(dose.ink.name, dose.mass_g / BATCH_G) for dose in doses)
    away = float(delta_e_2000(reflectance_to_lab(masstone(ink)), lab))
    how: InkSource = "mixed" if away <= tolerance_de00 else "nearest"
    return InkChoice(srgb, replace(ink, parts=parts), how, away)


def stock_findings(choices: Sequence[InkChoice]) -> tuple[Finding, ...]:
    """Return a line for each colour that cannot be mixed from the shelf, with what would mend it."""
    return tuple(
        Finding(
            "cannot-be-mixed",
            "info",
            f"{colour_word(one.srgb)} cannot be mixed here: the nearest ink prints instead",
            f"put {_missing(one)} on the shelf, or accept it",
            more=f"the nearest is ΔE00 {one.de00:.1f} from it",
        )
        for one in choices
        if one.how == "nearest" and not _is_black(one.srgb)
    )


def _is_black(srgb: RGB8) -> bool:
    """Tell whether a colour is so dark and grey that no print has it: that is told once, on the sheet."""
    light, a, b = (float(v) for v in srgb8_to_lab(np.array(srgb)))
    return light < NEAR_BLACK_L and float(np.hypot(a, b)) < NEAR_BLACK_CHROMA


def _missing(one: InkChoice) -> str:
    """Return what kind of ink would bring the colour nearer."""
    wanted = srgb8_to_lab(np.array(one.srgb)).astype(np.float64)
    got = reflectance_to_lab(masstone(one.ink))
    word = colour_word(one.srgb)
    more = float(np.hypot(*wanted[1:]) - np.hypot(*got[1:]))
    if more > abs(float(wanted[0] - got[0])):
        return f"a purer {word} ink"
    return f"a {'lighter' if wanted[0] > got[0] else 'deeper'} {word} ink"
