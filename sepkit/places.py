"""Where prints go on garments and what they keep clear of: one table that job, findings, commands and preview ask.

In: the name of a place, a garment. Out: usual sizes, distances from the garment's edges, and the room there is, in mm.

Sources: trade guides give ranges and differ among themselves ("Determine Art Sizing", ASI Wearables, 2014, is one of
those compared); a distance is fashion, not physics. Each here lies inside the range that most of them share, which
stands beside it. The clearances of zip and platen edge are from trade articles. What carries no range is common
practice or, where it says so, from memory. A job file's own sizes win where the garment has room.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Literal

from sepkit.errors import UsageError, near_names

if TYPE_CHECKING:
    from sepkit.model import Garment, GarmentShape, Press

Part = Literal["front", "back", "sleeve", "inside", "hem", "hood"]
"""What of a garment carries the print; "inside" is the inside of the back, below the neck."""
Edge = Literal["collar seam", "shoulder seam", "sleeve hem", "hem's stitching", "hood's opening"]
Platen = Literal["body", "sleeve", "label"]
Size = tuple[float, float]
"""Width and height in mm."""

SEAM_MM = 50.0
"""Kept free at each side of the flat chest. Guides ask 25 mm to a seam; a trade guide to sizing asks 50 of the chest
as measured flat, and that is what a hand press needs: a platen is 20 mm narrower than the chest, a print stays 25 mm
inside its edge, and the rest is for garments that are loaded a little askew."""
RIDGE_MM = 25.0
"""From a print to any ridge under it, such as a pocket's top (common practice): ridges hold the mesh off the cloth."""
HEM_MM = 35.0
"""Kept free above the stitching or rib of the lower edge: RIDGE_MM, and 10 mm for garments that are loaded askew."""
HOOD_TOP_MM = 125.0
"""A hood hides the top of a back, so no print on it starts nearer to the collar seam (100-150, common practice)."""
POCKET_ROOM_MM = 215.0
"""Height of a print above the pocket of a hoodie (a trade guide's largest)."""
POCKET_PRINT_MM = 89.0
"""Side of a print on a chest pocket, with a pocket platen (a trade article)."""
ZIP_MM = 50.0
"""Kept free at a zip: a pull can tear the mesh (a trade article)."""
PLATEN_EDGE_MM = 25.0
"""From a print to the edge of the platen; 6 is possible but uneven (a trade article)."""
SMALL_PLATEN_EDGE_MM = 5.0
"""The same on the small platens for sleeves, labels and hoods (common practice)."""
PLATEN_IN_GARMENT_MM = 20.0
"""A platen loads when it is at least this much narrower than the flat chest (from memory)."""
PLATENS: dict[Part, Platen] = {"sleeve": "sleeve", "inside": "label", "hood": "label"}
"""What is not printed on the platen of the body."""
SMALL_PLATENS_MM: dict[Platen, Size] = {"sleeve": (110.0, 560.0), "label": (120.0, 200.0)}
CHILD_MOST_MM: Size = (230.0, 305.0)
"""Largest usual print on youth sizes (trade guides)."""


@dataclass(frozen=True, slots=True)
class Cut:
    """How a garment is cut, as far as prints and drawings care (from memory; a maker's chart says more).

    Depths count from the high point of the shoulder, where body lengths are measured.
    """

    hem_mm: float
    """From the lower edge up to its stitching, or to the seam of its rib."""
    front_neck_mm: float
    back_neck_mm: float
    front_neck_share: float = 0.0
    """The collar seam lies ``front_neck_mm`` and this share of the flat chest deep in front."""
    long_sleeves: bool = False
    pouch: bool = False
    """A pocket on it is the wide one across the front, not one on the chest."""

    def collar_seam_mm(self, half_chest_mm: float, *, front: bool) -> float:
        """Return how deep the collar seam lies in the middle of the front, or of the back."""
        return self.front_neck_mm + self.front_neck_share * half_chest_mm if front else self.back_neck_mm


CUTS: dict[GarmentShape, Cut] = {
    "tee": Cut(25.0, 60.0, 26.0, 0.092),
    "long sleeve": Cut(25.0, 60.0, 26.0, 0.092, long_sleeves=True),
    "hoodie": Cut(65.0, 78.0, 32.0, long_sleeves=True, pouch=True),
}


@dataclass(frozen=True, slots=True)
class Hang:
    """How far a print is from an edge of the garment, and which of its own sides that counts to."""

    mm: float
    edge: Edge = "collar seam"
    side: Literal["top", "bottom", "front"] = "top"
    """"front" is the side towards the face."""


@dataclass(frozen=True, slots=True)
class Place:
    """One place on a garment, with the largest usual print."""

    name: str
    part: Part
    most_mm: Size
    hang: Hang
    wearers: Literal["left", "right", "middle"] = "middle"
    """Side of the body, as its wearer says it."""
    off_centre_mm: float = 0.0
    """From the garment's centre line to the middle of the print."""
    off_side_mm: float = 0.0
    """From the side seam to the print, where it hangs by that."""
    long_sleeve: tuple[Hang, Size] | None = None
    """How it hangs and its largest size on a long sleeve, where that differs."""
    effort: float = 1.0
    """Time to load it, against a plain front (from memory)."""
    risk: float = 1.0
    """Loss against the average place: large backs go wrong more often than labels (from memory)."""
    also: tuple[str, ...] = ()
    """Other names it goes by on the command line."""


def _chest(name: str, wearers: Literal["left", "right"]) -> Place:
    # 70-100 below the collar, 75-100 off centre: in line with the seam of neck and shoulder.
    return Place(name, "front", (115, 115), Hang(85), wearers, off_centre_mm=90, risk=0.8)


def _sleeve(name: str, wearers: Literal["left", "right"], also: tuple[str, ...] = ()) -> Place:
    # Short: 25 above the hem. Long: 50-100 below the shoulder seam.
    short, long = Hang(25, "sleeve hem", "bottom"), (Hang(75, "shoulder seam"), (100.0, 410.0))
    return Place(name, "sleeve", (100, 100), short, wearers, long_sleeve=long, effort=1.4, risk=1.1, also=also)


_TABLE = (
    Place("full back", "back", (355, 530), Hang(90), effort=1.1, risk=1.4, also=("back",)),  # 75-100
    Place("oversized back", "back", (450, 560), Hang(95), effort=1.2, risk=1.7),  # 75-120 (from memory)
    Place("upper back", "back", (315, 100), Hang(50)),  # 25-75
    # 50-75 on tees, one guide 75-100; 60-90 above a hoodie's pocket.
    Place("full front", "front", (355, 430), Hang(65), risk=1.2, also=("front",)),
    Place("oversized front", "front", (405, 510), Hang(50), effort=1.1, risk=1.5),  # about 50
    Place("centre chest", "front", (200, 200), Hang(65), risk=0.9),  # 50-80
    _chest("left chest", "left"),
    _chest("right chest", "right"),
    _sleeve("left sleeve", "left", also=("sleeve",)),
    _sleeve("right sleeve", "right"),
    Place("neck label", "inside", (65, 65), Hang(28), effort=1.2, risk=0.4),  # 20-35 below seam or tape
    Place("nape", "back", (75, 75), Hang(30), risk=0.6),  # 20-40
    # 25-40 above the stitching, 40-60 from the side seam (from memory).
    Place("hem", "hem", (100, 40), Hang(30, "hem's stitching", "bottom"), "left", off_side_mm=50, effort=1.2, risk=0.7),
    # 25 for the seam of the opening, and 20 clear of it.
    Place("hood side", "hood", (150, 40), Hang(45, "hood's opening", "front"), "left", effort=1.5, risk=1.1),
)
PLACES: dict[str, Place] = {place.name: place for place in _TABLE}
OTHER_NAMES: dict[str, str] = {name: place.name for place in _TABLE for name in place.also}


def place_named(name: str) -> Place:
    """Return the place of a name, or of another name that it goes by. Raises UsageError with near names."""
    found = PLACES.get(OTHER_NAMES.get(name, name))
    if found is None:
        raise UsageError(f'no placement "{name}"', where="placement", hint=near_names(name, PLACES))
    return found


def usual_place(width_mm: float, height_mm: float) -> Place:
    """Return where a print goes when nobody says: the left chest while it is narrow enough, else the front."""
    if width_mm <= PLACES["left chest"].most_mm[0]:
        return PLACES["left chest"]
    width, height = PLACES["full front"].most_mm
    return PLACES["full front" if width_mm <= width and height_mm <= height else "oversized front"]


def is_on(place: Place, garment: Garment) -> bool:
    """Tell whether a garment has the place at all."""
    return garment.hood or place.part != "hood"


def hang_of(place: Place, garment: Garment) -> Hang:
    """Return how far from which edge a print hangs on this garment: lower below a hood, otherwise on a long sleeve."""
    if place.long_sleeve is not None and CUTS[garment.shape].long_sleeves:
        return place.long_sleeve[0]
    if place.part == "back" and garment.hood:
        return Hang(max(place.hang.mm, HOOD_TOP_MM))
    return place.hang


def most_mm(place: Place, garment: Garment) -> Size:
    """Return the largest usual print at a place of this garment."""
    return place.long_sleeve[1] if place.long_sleeve and CUTS[garment.shape].long_sleeves else place.most_mm


def runs_down(place: Place, width_mm: float, height_mm: float) -> bool:
    """Tell whether a print runs down the arm: it is wide, and wider than a sleeve takes."""
    return place.part == "sleeve" and width_mm > height_mm and width_mm > place.most_mm[0]


def platen_of(place: Place) -> Platen:
    """Return which platen a place is printed on."""
    return PLATENS.get(place.part, "body")


def platen_mm(place: Place, press: Press) -> tuple[Size, float]:
    """Return the platen's size for a place, and how far a print stays from its edge."""
    width, height = SMALL_PLATENS_MM.get(platen_of(place), (press.platen_width_mm, press.platen_height_mm))
    if place.part == "hood":  # a hood's panel is loaded along the platen
        width, height = height, width
    return (width, height), PLATEN_EDGE_MM if platen_of(place) == "body" else SMALL_PLATEN_EDGE_MM


def room_mm(place: Place, garment: Garment, size: str) -> tuple[float | None, float | None]:
    """Return the widest and highest print for a place on the body of a size; None where no chart tells it.

    Width leaves SEAM_MM at both sides; height runs from where the print hangs down to HEM_MM above the hem.
    """
    cut, chest, length = CUTS[garment.shape], garment.half_chest_mm.get(size), garment.body_length_mm.get(size)
    if place.part not in ("front", "back"):
        return None, None
    width = None if chest is None else chest - 2 * SEAM_MM
    if length is None or chest is None:
        return width, None
    top = cut.collar_seam_mm(chest, front=place.part == "front") + hang_of(place, garment).mm
    return width, length - cut.hem_mm - HEM_MM - top
