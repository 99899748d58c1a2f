"""What records of an earlier sepkit leave out, taken from what they say: printed colours and the garment's colour."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from sepkit.colorimetry.upsampling import srgb8_to_reflectance
from sepkit.inks.identify import ink_from_swatch
from sepkit.model import GARMENT_SHAPES, Garment
from sepkit.units import parse_hex

if TYPE_CHECKING:
    from collections.abc import Mapping

    from sepkit.model import Ink

SOURCE = "the printed colour in a record without K and S"


def ink_of(entry: Mapping[str, Any]) -> Ink:
    """Return the ink of a plate by its name and the colour that it prints."""
    name = str(entry["ink"])
    return ink_from_swatch(name, parse_hex(name if name.startswith("#") else entry["print_srgb"]), source=SOURCE)


def garment_of(entry: Mapping[str, Any], *, lab: tuple[float, float, float]) -> Garment:
    """Return a garment of its colour, shape and weight."""
    srgb, shape = parse_hex(entry["srgb"]), entry.get("shape", "tee")
    shapes = {known: known for known in GARMENT_SHAPES}
    return Garment(
        name=str(entry["name"]),
        shape=shapes[shape],
        srgb=srgb,
        lab=lab,
        reflectance=np.array(srgb8_to_reflectance(srgb), np.float64),
        weight_g_m2=float(entry.get("weight_g_m2", 180.0)),
        cotton_share=1.0,
        polyester_share=0.0,
        fleece=shape == "hoodie",
        hood=shape == "hoodie",
    )
