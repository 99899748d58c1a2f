"""When art of one colour wants one ink: it would print as a box, vanish on the cloth, or leave only scratches.

In: sRGB, alpha, the cloth's sRGB. Out: a Proposal with the ink to ask for, or None when the art prints well as it is.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

import numpy as np

from sepkit.colorimetry.difference import delta_e_2000
from sepkit.colorimetry.names import colour_word
from sepkit.colorimetry.srgb import srgb8_to_lab
from sepkit.intake import tuned
from sepkit.intake.figure import figure_of
from sepkit.intake.parts import two_parts

if TYPE_CHECKING:
    from collections.abc import Mapping

    from sepkit.intake.parts import TwoParts
    from sepkit.model import RGB8, U8

Trouble = Literal["box", "vanishes", "scratches"]


@dataclass(frozen=True, slots=True)
class Proposal:
    """One ink for art of one colour, and what would happen without it."""

    trouble: Trouble
    ink: str
    """A name of the shelf, or #rrggbb."""
    text: str
    hint: str


@dataclass(frozen=True, slots=True)
class OneColour:
    """Art of one colour: its figure's colour, and its ground's; None where it stands on transparency."""

    figure: RGB8
    ground: RGB8 | None


def one_colour(rgb: U8, alpha: U8) -> OneColour | None:
    """Return figure and ground of art of one colour; None for any other art."""
    parts = two_parts(rgb, alpha)
    if parts is None or not parts.one_colour:
        return None
    return _one_colour(rgb, alpha, parts)


def _one_colour(rgb: U8, alpha: U8, parts: TwoParts) -> OneColour | None:
    dark_figure = figure_of(rgb, alpha, parts, light=False)
    if dark_figure.source == "shape":
        clear = bool((alpha < 128).any())
        colour = parts.dark if parts.dark_share >= 0.5 else parts.light
        return OneColour(colour, None) if clear else None
    if dark_figure != figure_of(rgb, alpha, parts, light=True):
        return None  # two colours on transparency, or halves: the ink would decide, so the art is not of one colour
    return OneColour(parts.dark, parts.light) if dark_figure.source == "dark" else OneColour(parts.light, parts.dark)


def proposed_ink(art: OneColour, cloth: RGB8, *, shelf: Mapping[str, RGB8], dropped: bool) -> Proposal | None:
    """Return the one ink to propose on a cloth; None when figure and cloth go well together.

    ``shelf``: names and colours of inks, black and white among them. ``dropped``: the ground is left open already.
    """
    limits = tuned.CLOTHS
    figure, ground = colour_word(art.figure), "" if art.ground is None else colour_word(art.ground)
    seen = _apart(art.figure, cloth) > limits.vanish_de00
    boxed = art.ground is not None and _apart(art.ground, cloth) > limits.box_de00
    if seen and (not boxed or dropped):
        return None
    if seen:
        ink = _nearest(art.figure, shelf)
        text = f"art of one colour, {figure} on {ground}: the {ground} ground prints as a box"
        return Proposal("box", ink, text, f"--one-ink {_quoted(ink)} prints the {figure} alone")
    ink = "white" if srgb8_to_lab(np.array(cloth, np.uint8))[0] < 60 else "black"
    hint = f"--one-ink {ink} prints it in {ink}, or name another ink"
    if not boxed:
        text = f"art of one colour, {figure}: it vanishes on this cloth"
        return Proposal("vanishes", ink, text, hint)
    if dropped:
        text = (
            f"art of one colour, {figure} on {ground}: the {figure} is the cloth's, and only specks and scratches print"
        )
        return Proposal("scratches", ink, text, hint)
    text = f"art of one colour, {figure} on {ground}: the {ground} prints as a box, and the {figure} stays cloth"
    return Proposal("box", ink, text, hint)


def _apart(one: RGB8, other: RGB8) -> float:
    return float(delta_e_2000(srgb8_to_lab(np.array(one, np.uint8)), srgb8_to_lab(np.array(other, np.uint8))))


NEAR_INK_DE00 = 12.0
"""An ink of the shelf this near to the figure is proposed by its name, else the colour itself (common practice)."""


def _nearest(colour: RGB8, shelf: Mapping[str, RGB8]) -> str:
    name = min(shelf, key=lambda one: _apart(colour, shelf[one]))
    return name if _apart(colour, shelf[name]) <= NEAR_INK_DE00 else "#{:02x}{:02x}{:02x}".format(*colour)


def _quoted(ink: str) -> str:
    """Return the ink as a shell takes it."""
    return f'"{ink}"' if ink.startswith("#") or " " in ink else ink
