"""Tonal art: its screens solved together, and what to tell of them.

In: the art, what the separation found, the bench. Out: areas that are screens, the bench that prints them so.
"""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from sepkit.colorimetry.names import colour_word
from sepkit.inks.transparent import is_process
from sepkit.intake.kinds import CODE
from sepkit.model import Finding
from sepkit.plates.tonal.screens import Picture, tonal_screens
from sepkit.separation.noise import composite

if TYPE_CHECKING:
    from sepkit.model import Artwork, FlatSeparation
    from sepkit.plates.bench import Bench
    from sepkit.plates.tonal.choose import Place, ScreenSet, Weighed
    from sepkit.plates.tonal.screens import TonalScreens

ANSWERED = ("unexplained", "tones", "merged-colours", "fewer-colours", "unused-ink")
"""Findings of the separation that the chosen inks answer."""
OF_BARE = ("garment-colour", "enclosed-open")
"""Findings of what is left open."""


def solved_tones(art: Artwork, flat: FlatSeparation, bench: Bench) -> tuple[FlatSeparation, Bench]:
    """Return the screens of a tonal picture as areas, and the bench that prints them as they are."""
    tone = np.logical_or.reduce([area.tone for area in flat.areas if area.tone is not None])
    seen = composite(art.rgb, art.alpha, bench.garment.srgb)
    found = tonal_screens(Picture(seen, art.alpha > 0, tone, flat.areas), bench)
    answered = (*ANSWERED, *OF_BARE) if found.bare_joined else ANSWERED
    told = [_kind(one, found) if one.code == CODE else one for one in flat.findings if one.code not in answered]
    return replace(
        flat, areas=found.areas, unexplained=None, findings=(*told, *set_findings(found.weighed))
    ), found.bench


def _kind(told: Finding, found: TonalScreens) -> Finding:
    """Return the finding of the kind of art with the inks that print it."""
    return replace(told, text=f"{told.text.split(':')[0]}: {_words(found.weighed.chosen)}, in dots that overlap")


def set_findings(weighed: Weighed) -> tuple[Finding, ...]:
    """Tell what other numbers of screens would give, and which inks are estimates or to be mixed."""
    chosen = weighed.chosen
    out = []
    others = [f"{len(one.places)} ΔE00 {one.loss:.1f} ({_words(one)})" for one in weighed.tried if one is not chosen]
    if others:
        out.append(
            Finding(
                "tonal-inks",
                "info",
                f"{_count(chosen)} for what they print together",
                "--screens N takes another number of them",
                more=f"{_words(chosen)}: seen error ΔE00 {chosen.loss:.1f}; others: {'; '.join(others)}",
            )
        )
    films = [place.film.ink for place in chosen.places]
    clear = [ink.name for ink in films if ink.status == "estimated" and is_process(ink)]
    if clear:
        out.append(
            Finding(
                "process-inks-estimated",
                "info",
                "process inks are taken as they usually are, no maker's",
                "sepkit ink measure takes your own",
                more=f"{', '.join(clear)}: transparent",
            )
        )
    return tuple(out)


def _count(one: ScreenSet) -> str:
    return "1 screen chosen" if len(one.places) == 1 else f"{len(one.places)} screens chosen"


def _words(one: ScreenSet) -> str:
    """Return the inks in print order in words."""
    role = {"base": " as base", "top": " on top", "colour": ""}
    return ", ".join(f"{_called(place)}{role[place.role]}" for place in one.places)


def _called(place: Place) -> str:
    return f"{colour_word(place.film.ink.srgb)} (mixed)" if place.mixed else place.film.ink.name
