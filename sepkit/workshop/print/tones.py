"""Tonal art: its screens solved together, and what to tell of them.

In: the art, what the separation found, the bench. Out: areas that are screens, the bench that prints them so.
"""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

from sepkit.model import Finding
from sepkit.plates.tonal.screens import Picture, tonal_screens
from sepkit.separation.noise import composite

if TYPE_CHECKING:
    from sepkit.model import Artwork, FlatSeparation
    from sepkit.plates.bench import Bench
    from sepkit.plates.tonal.choose import ScreenSet
    from sepkit.plates.tonal.screens import TonalScreens


def solved_tones(art: Artwork, flat: FlatSeparation, bench: Bench) -> tuple[FlatSeparation, Bench]:
    """Return the screens of a tonal picture as areas, and the bench that prints them as they are."""
    tone = np.logical_or.reduce([area.tone for area in flat.areas if area.tone is not None])
    seen = composite(art.rgb, art.alpha, bench.garment.srgb)
    found = tonal_screens(Picture(seen, art.alpha > 0, tone, flat.areas), bench)
    areas = replace(flat, areas=found.areas, unexplained=None)
    return replace(areas, findings=(*flat.findings, *_told(found))), found.bench


def _told(found: TonalScreens) -> tuple[Finding, ...]:
    out = [
        Finding(
            "tonal-inks",
            "info",
            f"inks chosen for what they print together: {_words(found.chosen)}; seen error ΔE00 {found.chosen.loss:.1f}",
            "; ".join(
                f"{len(one.places)} screens {one.loss:.1f} ({_words(one)})" for one in found.tried if one is not found.chosen
            ),
        )
    ]
    process = [place.film.ink.name for place in found.chosen.places if place.film.ink.name.startswith("process")]
    if process:
        out.append(
            Finding(
                "process-inks-estimated",
                "info",
                f"{', '.join(process)}: transparent inks as they usually are, not any maker's",
                "sepkit ink measure takes your own",
            )
        )
    return tuple(out)


def _words(one: ScreenSet) -> str:
    names = {"base": " as base", "top": " on top", "colour": ""}
    return ", ".join(f"{place.film.ink.name}{names[place.role]}" for place in one.places)
