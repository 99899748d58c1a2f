"""Small plates, inks and garments for the preview's tests."""

from __future__ import annotations

import numpy as np

from sepkit.colorimetry.spectral import reflectance_to_lab, reflectance_to_srgb8
from sepkit.colorimetry.srgb import as_rgb8
from sepkit.model import Garment, Ink, Mesh, Plate


def ink(name: str, *, absorption: float = 0.5, scattering: float = 2.0) -> Ink:
    return Ink(name, np.full(31, absorption), np.full(31, scattering), 1.2, "plastisol", "estimated", (128, 128, 128))


def garment(reflectance: float = 0.02, *, shape: str = "tee") -> Garment:
    cloth = np.full(31, reflectance)
    lab = tuple(float(v) for v in reflectance_to_lab(cloth))
    srgb = as_rgb8(reflectance_to_srgb8(cloth))
    return Garment("plain", shape, srgb, lab, cloth, 180, 1, 0)  # type: ignore[arg-type]


def plate(coverage, *, name="red", role="colour", of="red", printed=None, tone=None, coats=1) -> Plate:
    """Return a plate of an ink, or of a grey one called so."""
    return Plate(
        1,
        name,
        role,
        of if isinstance(of, Ink) else ink(of),
        None,
        (128, 128, 128),
        coverage.copy(),
        (coverage if printed is None else printed).copy(),
        tone,
        coats,
        False,
        None,
        Mesh(62, 60),
    )


def rectangle(shape, top, left, bottom, right):
    plane = np.zeros(shape, np.uint8)
    plane[top:bottom, left:right] = 255
    return plane
