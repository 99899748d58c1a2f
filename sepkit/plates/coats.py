"""How each ink goes on this garment: straight, twice, or on a white base; decided by predicted colour.

Each option's colour comes from inks/layers on the garment's own cloth. What the person means by an ink's colour lies
between its opaque film (the pot, the swatch) and one coat on white cloth (fibres show a little), so ΔE00 is taken to
the nearest point between the two. Nobody means the opaque film of a transparent ink: there one coat on white counts.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

import numpy as np

from sepkit.colorimetry.difference import delta_e_2000
from sepkit.colorimetry.spectral import reflectance_to_lab, reflectance_to_srgb8
from sepkit.colorimetry.srgb import as_rgb8, srgb8_to_lab
from sepkit.decisions import CoatOption, Help
from sepkit.errors import UsageError
from sepkit.inks.bands import weak_end
from sepkit.inks.identify import ink_from_reflectance
from sepkit.inks.layers import masstone, printed_reflectance
from sepkit.inks.transparent import is_transparent

if TYPE_CHECKING:
    from sepkit.decisions import CoatChoice
    from sepkit.inks.bands import InkBand
    from sepkit.model import F64, RGB8, Ink

SECOND_COAT_COST = 1.5
ON_BASE_COST = 0.1
"""Press effort in screens: a second coat of one ink is a flash, a stroke and a thicker film to cure."""
OPAQUE_COATS = 30.0
MEANT_STEPS = 7
WORTH_TRYING_DE00 = 0.5
BASE_TINTS = (0.6, 0.7, 0.8, 0.9)
"""Tints of a lighter base, lightest first: 60 to 80 % keep a soft hand (common practice)."""


@dataclass(frozen=True, slots=True, eq=False)
class Ground:
    """What lies under an ink: the base ink, the cloth, and the white cloth on which the ink's colour is meant."""

    base: Ink
    cloth: F64
    """(31,) reflectance of the garment in air, 0..1."""
    white_cloth: F64
    """(31,) reflectance in air, 0..1."""

    def under(self, base_coats: int) -> list[tuple[Ink, float]]:
        """Return the films under an ink on a base of so many coats."""
        return [(self.base, float(base_coats))] if base_coats else []

    def seen(self, films: Sequence[tuple[Ink, float]], *, base_coats: int = 0) -> F64:
        """Return the reflectance (31,) of films on the cloth, or on a base of so many coats."""
        return printed_reflectance([*self.under(base_coats), *films], self.cloth)


def choke_share_where_fine(choice: CoatChoice, *, base_srgb: RGB8) -> float:
    """Return how much of the register error (0..1) the base is worth choking where a choke would take most of it.

    A rim of ink without base is there on every print and costs A, its ΔE00 from the ink on its base; a base that peeks
    out costs B, its ΔE00 from that ink, only where the press is off. For an error even within ±e a choke c leaves
    (e - c)² / 4e of base in sight on average, so c A + B (e - c)² / 4e is least at c = e (1 - 2 A / B).

    >>> from sepkit.decisions import CoatChoice, CoatOption as Way
    >>> ways = (Way("straight", 0, 1, (60, 50, 20), 20, 1), Way("on a base", 1, 1, (240, 220, 180), 1, 2))
    >>> choke_share_where_fine(CoatChoice(ways, ways[1], True, ""), base_srgb=(235, 235, 230))
    0.0
    """
    chosen = choice.chosen
    straight = next(way for way in choice.options if not way.base_coats and way.coats == chosen.coats)
    based, bare, base = srgb8_to_lab(np.array([chosen.srgb, straight.srgb, base_srgb]))
    rim, peek = float(delta_e_2000(bare, based)), float(delta_e_2000(base, based))
    return max(0.0, 1 - 2 * rim / peek) if peek > 0 else 0.0


_WAYS = (
    ("straight", 0, 1, 0.0),
    ("straight, two coats", 0, 2, SECOND_COAT_COST),
    ("on a base", 1, 1, ON_BASE_COST),
    ("on a base of two coats", 2, 1, ON_BASE_COST),
)
_COATS = {1: "", 2: ", two coats", 3: ", three coats"}
MOST_COATS = len(_COATS)


def _ways(coats: int | None) -> tuple[tuple[str, int, int, float], ...]:
    """Return (label, coats of base, coats, cost) of the ways to print; only those of ``coats`` where it is wished."""
    if coats is None:
        return _WAYS
    if coats not in _COATS:
        raise UsageError(f"{coats} coats of one ink", where="coats", hint=f"give 1 to {MOST_COATS}")
    grounds = (("straight", 0, 0.0), ("on a base", 1, ON_BASE_COST), ("on a base of two coats", 2, ON_BASE_COST))
    return tuple(
        (f"{label}{_COATS[coats]}", base_coats, coats, cost + SECOND_COAT_COST * (coats - 1))
        for label, base_coats, cost in grounds
    )


def coat_options(
    ink: Ink, ground: Ground, *, coats: int | None = None, band: InkBand | None = None
) -> tuple[CoatOption, ...]:
    """Return the ways to print ``ink``, with predicted colour and ΔE00 to the colour it is meant to have.

    All four of the table, or those of so many ``coats``. Costs leave out the base's own screen and coats, which all
    inks on it share. ``band`` tells how well the ink is known; None: as inks of its kind are. Raises UsageError for
    more coats than MOST_COATS.
    """
    weak = weak_end(ink, band)
    meant, weak_meant = (meant_colours(one, ground.white_cloth) for one in (ink, weak))
    found = []
    for label, base_coats, hits, cost in _ways(coats):
        seen = ground.seen([(ink, float(hits))], base_coats=base_coats)
        de00 = nearest_de00(meant, seen)
        worst = nearest_de00(weak_meant, ground.seen([(weak, float(hits))], base_coats=base_coats))
        srgb = as_rgb8(reflectance_to_srgb8(seen))
        found.append(CoatOption(label, base_coats, hits, srgb, de00, cost, max(de00, worst)))
    return tuple(found)


def best_help(ink: Ink, choice: CoatChoice, ground: Ground, *, tolerance_de00: float) -> Help | None:
    """Return what would bring ``ink`` nearest to its meant colour beyond the chosen way, and its ΔE00; None: nothing.

    Tried, cheapest first: the other ways of the table, a second coat of the ink on the base, and the same colour in a
    more opaque mix. The first within tolerance is returned, else the best if it gains half a ΔE00 or more.
    """
    meant = meant_colours(ink, ground.white_cloth)
    coats = choice.chosen.base_coats
    tried = [Help(option.label, option.de00) for option in choice.options if option is not choice.chosen]
    for base_coats in sorted({max(coats, 1), 2}):
        words = f"two coats on a base{' of two coats' if base_coats == 2 else ''}"
        tried.append(Help(words, nearest_de00(meant, ground.seen([(ink, 2.0)], base_coats=base_coats))))
    tried += _denser(ink, meant, ground, coats)
    enough = next((found for found in tried if found.de00 <= tolerance_de00), None)
    best = enough or min(tried, key=lambda found: found.de00)
    return best if enough or best.de00 <= choice.chosen.de00 - WORTH_TRYING_DE00 else None


def _denser(ink: Ink, meant: F64, ground: Ground, base_coats: int) -> list[Help]:
    """Return what the same colour in a more opaque mix would give; nothing for an ink that is to be transparent."""
    if is_transparent(ink):
        return []
    dense = ink_from_reflectance(
        ink.name, masstone(ink), opacity="opaque", kind=ink.kind, density_g_ml=ink.density_g_ml, source=ink.source
    )
    words = "the same colour in a more opaque ink"
    return [
        Help(words + more, nearest_de00(meant, ground.seen([(dense, coats)], base_coats=base_coats)))
        for more, coats in (("", 1.0), (", two coats", 2.0))
    ]


def hides(films: Sequence[tuple[Ink, float]], *, base: tuple[Ink, float], cloth: F64, tolerance_de00: float) -> bool:
    """Return whether ``films`` (a trap and the ink over it) look the same, within tolerance, with a base under them."""
    without, with_base = (printed_reflectance([*under, *films], cloth) for under in ((), (base,)))
    return nearest_de00(reflectance_to_lab(without)[None], with_base) <= tolerance_de00


def base_share_needed(ink: Ink, ground: Ground, *, base_coats: int, tolerance_de00: float) -> float:
    """Return the lightest tint of the base, of BASE_TINTS, that keeps ``ink`` within tolerance; 1 where none does.

    Dots of base under a solid ink: the colour is the area's mean of the ink with and without base (Murray-Davies).
    """
    meant = meant_colours(ink, ground.white_cloth)
    without = ground.seen([(ink, 1.0)])
    on_base = ground.seen([(ink, 1.0)], base_coats=base_coats)
    for share in BASE_TINTS:
        if nearest_de00(meant, share * on_base + (1 - share) * without) <= tolerance_de00:
            return share
    return 1.0


def meant_colours(ink: Ink, white_cloth: F64) -> F64:
    """Return the Lab colours that pass for the ink's own: from its opaque film to one coat on white, (steps, 3)."""
    on_white = reflectance_to_lab(printed_reflectance([(ink, 1.0)], white_cloth))
    if is_transparent(ink):
        return on_white[None]
    opaque = reflectance_to_lab(printed_reflectance([(ink, OPAQUE_COATS)], white_cloth))
    meant: F64 = opaque + np.linspace(0, 1, MEANT_STEPS)[:, None] * (on_white - opaque)
    return meant


def nearest_de00(meant: F64, reflectance: F64) -> float:
    """Return ΔE00 from a printed reflectance (31,) to the nearest of the colours meant, Lab (m, 3)."""
    return float(delta_e_2000(meant, reflectance_to_lab(reflectance)).min())
