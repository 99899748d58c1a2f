"""What colours a print is to make of a picture: its own, or for a grey picture in coloured inks those of a duotone.

In: the picture's weighted colours, the bench. Out: a map of Lab. A grey picture that a person wants in inks that are
not grey can't have its colours: its lightness is led along the way from the cloth over each ink alone to all of them,
so that light inks carry the lights and the darkest the darks (a duotone as printers make it; common practice).
"""

from __future__ import annotations

from collections.abc import Callable
from typing import TYPE_CHECKING, Any

import numpy as np

from sepkit.colorimetry.spectral import reflectance_to_lab
from sepkit.plates.tonal.candidates import candidates_of
from sepkit.plates.tonal.metric import light_to_lab
from sepkit.plates.tonal.optics import Film, stack_light

if TYPE_CHECKING:
    from sepkit.plates.bench import Bench
    from sepkit.plates.tonal.cloud import Cloud

Array = np.ndarray[Any, np.dtype[Any]]
Goal = Callable[[Array], Array]
"""Lab (m, 3) of the picture to Lab (m, 3) that is to be printed."""

GREY_CHROMA = 5.0
"""A picture whose colours have less, on average, is grey."""
INK_CHROMA = 12.0
"""An ink with more is a colour."""


def goal_of(cloud: Cloud, bench: Bench) -> Goal:
    """Return what is to be printed of the picture's colours."""
    grey = float(np.hypot(cloud.lab[:, 1], cloud.lab[:, 2]) @ cloud.area) < GREY_CHROMA
    if not (grey and len(bench.wishes.inks.named) > 1):
        return np.asarray
    cloth = bench.garment.reflectance
    films = [Film(one.ink) for one in candidates_of(bench, [])]
    alone = np.array([light_to_lab(stack_light([film], cloth))[-1] for film in films])
    if float(np.hypot(alone[:, 1], alone[:, 2]).max()) < INK_CHROMA:
        return np.asarray
    order = np.argsort(-alone[:, 0])
    last = light_to_lab(stack_light([films[k] for k in order], cloth))[-1]
    way = np.vstack([reflectance_to_lab(cloth), alone[order], last])
    way = way[np.argsort(way[:, 0])]
    low, high = float(cloud.lab[:, 0].min()), float(cloud.lab[:, 0].max())

    def led(lab: Array) -> Array:
        share = np.clip((lab[:, 0] - low) / max(high - low, 1e-6), 0, 1)
        light = way[0, 0] + share * (way[-1, 0] - way[0, 0])
        return np.stack([np.interp(light, way[:, 0], way[:, k]) for k in range(3)], axis=1)

    return led
