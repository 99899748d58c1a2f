"""What the press rooms hand each other: items to place on screens, screens as planned, steps. Lengths in mm.

Frame coordinates: the origin is the inside top left corner of the frame as seen from the squeegee side, x to the
right, y down from end A to end B. End A is the end that is clamped when the frame is not turned. An item of rotation
180 is printed with the frame turned (end B to the clamp); its art then stands upright on the garment. Art is never
mirrored.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from sepkit.jobs import (
    Blade,
    FilmPrinter,
    GarmentLine,
    HeatPress,
    Job,
    Leftover,
    Money,
    Print,
    Screen,
    Spoilage,
)
from sepkit.model import Mesh

__all__ = [
    "Blade",
    "FilmPrinter",
    "FrameEnd",
    "GangItem",
    "GangRules",
    "GarmentLine",
    "HeatPress",
    "Job",
    "Leftover",
    "Money",
    "PlacedItem",
    "Print",
    "Rotation",
    "Screen",
    "ScreenPlan",
    "Spoilage",
]

Rotation = Literal[0, 90, 180, 270]
FrameEnd = Literal["A", "B"]


@dataclass(frozen=True, slots=True)
class GangItem:
    """One film image that needs a place on a screen."""

    name: str
    """Unique in the job, such as "back/white"."""
    width_mm: float
    height_mm: float
    ink_family: str
    """Items share a screen only within a family; inks of one family may be washed for one another."""
    mesh: Mesh
    may_turn_90: bool = False
    ink: str = ""
    load: str = ""
    """Items of the same load (base and colours of one print) must be on different screens: they print in register
    while the garment stays down. Empty: no such bond."""


@dataclass(frozen=True, slots=True)
class GangRules:
    """Clearances on a frame (common practice); the blade must clear its neighbours."""

    lane_mm: float = 50.0
    """Tape lane between two prints."""
    edge_mm: float = 60.0
    """From a side of the frame to a print."""
    ends_mm: float = 80.0
    """From either end of the frame to a print: room for the ink bead."""
    blade_over_mm: float = 13.0
    """How far the blade stands over the image at each side."""
    blade_clear_mm: float = 10.0
    """How far the blade stays from an open neighbour."""
    platen_reach_mm: float | None = None
    """Farthest that an image's far edge may lie from the clamped end to land on the platen; None: no limit."""
    platen_width_mm: float | None = None
    """Images stay on a platen of this width under the frame's centre line; None: no limit."""
    blades: tuple[Blade, ...] = ()
    """Blades owned; empty: any width."""
    most_exact: int = 8
    """Up to so many items the search is exact."""


@dataclass(frozen=True, slots=True)
class PlacedItem:
    """An item on a frame: the top left corner and size of its rectangle as it lies there (after its rotation)."""

    item: GangItem
    x_mm: float
    y_mm: float
    width_mm: float
    height_mm: float
    rotation: Rotation
    end: FrameEnd
    """The frame end at the clamp when this item prints: "B" when the frame is turned."""
    blade_mm: float = 0.0
    """Width of the blade to use; 0 when none is known."""
    shift_mm: float = 0.0
    """How far its centre lies right of the frame's centre line when it prints: the garment moves by as much."""


@dataclass(frozen=True, slots=True)
class ScreenPlan:
    """One frame with all that is exposed on it."""

    number: int
    screen: Screen
    mesh: Mesh
    ink_family: str
    placed: tuple[PlacedItem, ...]
    exact: bool = True
    """The number of screens is proven to be the least."""
    least_screens: int = 0
    """Lower bound for the screens of this mesh and family."""
