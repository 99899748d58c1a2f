"""Plates averaged down, for what is looked at and not printed."""

from __future__ import annotations

from dataclasses import replace
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from sepkit.model import U8, Plate


def smaller_plate(plate: Plate, *, most_px: int) -> Plate:
    """Return a plate whose planes have no side above ``most_px``."""
    factor = max(1, -(-max(plate.printed.shape) // most_px))
    if factor == 1:
        return plate
    return replace(
        plate,
        coverage=_less(plate.coverage, factor),
        printed=_less(plate.printed, factor),
        tone=None if plate.tone is None else _less(plate.tone.astype(np.uint8) * np.uint8(255), factor) > 127,
        also_base=None if plate.also_base is None else _less(plate.also_base, factor),
    )


def _less(plane: U8, factor: int) -> U8:
    from PIL import Image

    return np.asarray(Image.fromarray(plane).reduce(factor))
