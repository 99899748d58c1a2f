"""How a plate goes on film: tones against the press's dot gain, with the smallest dot of its mesh.

In: how films are made, a plate's dots and mesh. Out: FilmSettings, and what tints asked of a plate print as.
"""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

from sepkit.film.rows import FilmSettings, noise_dot_px
from sepkit.film.tone import NO_GAIN, printed_of_asked
from sepkit.press.mesh import tone_limits

if TYPE_CHECKING:
    from collections.abc import Callable

    from sepkit.film.making import FilmMaking
    from sepkit.model import F64, Halftone, Mesh, Plate


def film_settings(making: FilmMaking, mesh: Mesh, halftone: Halftone | None) -> FilmSettings:
    """Return the film settings of a plate: those for tones only where it has dots."""
    settings = FilmSettings(dpi=making.dpi, mirror=making.mirror)
    if halftone is None:
        return settings
    return replace(settings, gain=making.gain, limits=tone_limits(mesh, small=making.small))


def tone_curve(making: FilmMaking) -> Callable[[Plate, F64], F64] | None:
    """Return what tints asked of a plate print as, from the films made so; None without a gain: they print as asked."""
    if making.gain == NO_GAIN:
        return None

    def curve(plate: Plate, asked: F64) -> F64:
        if plate.halftone is None:
            return asked
        settings = film_settings(making, plate.mesh, plate.halftone)
        noise_um = noise_dot_px(settings) * 25400 / settings.dpi
        return printed_of_asked(asked, settings.gain, settings.limits, plate.halftone, noise_um=noise_um)

    return curve
