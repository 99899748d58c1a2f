"""Whether dots of a few inks stand in for solid ones: flat art of more hues than a press has screens for.

In: flat areas, the choices of solid inks and the one that would print. Out: None where solid inks do well, else the
sets of dots that were weighed and the one that is printed. Both are held against the art by one yardstick: what is seen
of the error from a metre, colour by colour (``knee.error_by_colour``): what counts is which hues are there.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from sepkit.plates.knee import error_by_colour, stand_colours
from sepkit.plates.tonal.choose import Weighed
from sepkit.plates.tonal.flat_dots import dotted_sets, parts_of
from sepkit.plates.tonal.price import chosen_set

if TYPE_CHECKING:
    from sepkit.model import InkArea, Size
    from sepkit.plates.bench import Bench
    from sepkit.plates.choices import Choice, Choices
    from sepkit.plates.tonal.flat_dots import Dotted, FlatParts

MANY_COLOURS = 7
"""Fewer colours are printed in solid inks: what a shop burns for flat art (common practice)."""
POOR_TIMES, POOR_DE00 = 1.25, 4.0
"""Solid inks are poor from so many times the error of all inks on, and from this error; dots are weighed only then."""
NEARER_TIMES, NEARER_DE00 = 0.6, 2.0
"""Dots are printed when their error beyond that of all inks is at most this part of what solid inks have, and theirs is
less by so much."""
BROAD_SHARE = 0.5
"""Of the print: where lines and letters are most of it, nothing is gained by dots."""


@dataclass(frozen=True, slots=True, eq=False)
class Instead:
    """Dots that print in the place of solid inks."""

    parts: FlatParts
    tried: tuple[Dotted, ...]
    chosen: Dotted
    solid: Choice
    """What would print in solid inks."""
    dots_de00: float
    solid_de00: float
    """What is seen of the error from the art, in dots and in solid inks."""
    small: tuple[InkArea, ...] = ()
    """The flat areas at a small size, for pictures."""

    @property
    def weighed(self) -> Weighed:
        """The sets as inks are told."""
        return Weighed(tuple(one.one for one in self.tried), self.chosen.one)


def dots_instead(areas: Sequence[InkArea], size: Size, choices: Choices, solid: Choice, bench: Bench) -> Instead | None:
    """Return the dots that print flat ``areas`` clearly nearer to the art than ``solid``; None where none do.

    They take no more screens than ``solid``: those that are worth their price, or the fewest more that are near enough.
    """
    view = choices.view
    solid_de00 = error_by_colour(view, stand_colours(view, solid.reduction.stands))
    if len(areas) < MANY_COLOURS or any(area.tone is not None for area in areas):
        return None
    if solid_de00 < POOR_DE00 or (solid.times < POOR_TIMES and not solid.hues_gone):
        return None
    parts = parts_of(areas, size)
    if parts.broad_share < BROAD_SHARE:
        return None
    tried = [one for one in dotted_sets(parts, bench) if len(one.one.places) <= solid.screens]
    if not tried:
        return None
    usual_de00 = error_by_colour(view, view.printed)
    enough = min(usual_de00 + NEARER_TIMES * (solid_de00 - usual_de00), solid_de00 - NEARER_DE00)
    best = chosen_set([one.one for one in tried], bench)
    for one in tried[next(k for k, one in enumerate(tried) if one.one is best) :]:
        dots_de00 = error_by_colour(view, one.light)
        if dots_de00 <= enough:
            return Instead(parts, tuple(tried), one, solid, dots_de00, solid_de00)
    return None
