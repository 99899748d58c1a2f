"""Where prints go on a garment: usual and largest sizes, distance from the collar, what is in the way.

In: a placement's name. Out: a Placement in mm. Sizes and distances are common practice of trade guides, which differ
among themselves; they are starting points, and a job file's own sizes win where the garment has room.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

Place = Literal["front", "back", "sleeve", "inside", "hem", "hood"]


@dataclass(frozen=True, slots=True)
class Placement:
    """One place on a garment. ``most_*`` is the largest usual print, ``collar_mm`` collar seam to top of print."""

    name: str
    place: Place
    most_width_mm: float
    most_height_mm: float
    collar_mm: float
    minutes_factor: float = 1.0
    """Loading effort against a plain front."""
    risk: float = 1.0
    """Loss against the average placement: large backs go wrong more often than labels (from memory)."""


_ALL = (
    Placement("full back", "back", 355, 530, 90, 1.1, 1.4),
    Placement("oversized back", "back", 450, 560, 95, 1.2, 1.7),
    Placement("upper back", "back", 315, 100, 50, 1.0, 1.0),
    Placement("full front", "front", 355, 430, 60, 1.0, 1.2),
    Placement("oversized front", "front", 405, 510, 50, 1.1, 1.5),
    Placement("centre chest", "front", 200, 200, 65, 1.0, 0.9),
    Placement("left chest", "front", 115, 115, 85, 1.0, 0.8),
    Placement("right chest", "front", 115, 115, 85, 1.0, 0.8),
    Placement("left sleeve", "sleeve", 100, 410, 0, 1.4, 1.1),
    Placement("right sleeve", "sleeve", 100, 410, 0, 1.4, 1.1),
    Placement("neck label", "inside", 65, 65, 28, 1.2, 0.4),
    Placement("nape", "back", 75, 75, 30, 1.0, 0.6),
    Placement("hem", "hem", 100, 40, 0, 1.2, 0.7),
    Placement("hood side", "hood", 150, 40, 0, 1.5, 1.1),
)
PLACEMENTS: dict[str, Placement] = {placement.name: placement for placement in _ALL}

SEAM_MM = 50.0
"""Kept free at each side of the body, from the flat half-chest."""
HEM_MM = 60.0
"""Kept free above the hem stitching."""
HOOD_DROP_MM = 40.0
"""A hood hides the top of a back: the print starts this much lower (common practice)."""
POCKET_HEIGHT_MM = 215.0
"""Room on a hoodie's front above its pocket."""
PLATEN_EDGE_MM = 25.0
"""From a print to the platen's edge."""
PLATEN_IN_GARMENT_MM = 20.0
"""A platen loads when it is at least this much narrower than the flat chest."""
SLEEVE_PLATEN_MM = (110.0, 560.0)
LABEL_PLATEN_MM = (120.0, 200.0)
CHILD_MOST_MM = (230.0, 305.0)
"""Largest usual print on youth sizes."""
ZIP_CLEAR_MM = 50.0


def collar_mm(placement: Placement, shape: str) -> float:
    """Return the distance from the collar seam to the top of the print on a garment of ``shape``."""
    drop = HOOD_DROP_MM if shape == "hoodie" and placement.place == "back" else 0.0
    return placement.collar_mm + drop
