"""How all films of a print are made."""

from __future__ import annotations

from dataclasses import dataclass

from sepkit.film.tone import NO_GAIN, DotGain, SmallTones


@dataclass(frozen=True, slots=True)
class FilmMaking:
    """Resolution, and what acts on tones and on the page."""

    dpi: float
    gain: DotGain = NO_GAIN
    small: SmallTones = "fewer"
    mirror: bool = False
    all_colours: bool = False
    """Solid in all colours of the film printer instead of black alone."""
