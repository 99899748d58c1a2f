"""Does a print fit: screens, platen, and the smallest garment that carries it; pockets, zips and hoods in the way.

In: a print's size and place, garments with their size charts, the press and the screens owned. Out: findings that name
the size which breaks. Places and clearances are those of `sepkit.places`.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from sepkit.model import Finding
from sepkit.places import (
    CHILD_MOST_MM,
    CUTS,
    PLATEN_IN_GARMENT_MM,
    POCKET_PRINT_MM,
    POCKET_ROOM_MM,
    RIDGE_MM,
    SEAM_MM,
    ZIP_MM,
    Place,
    hang_of,
    is_on,
    most_mm,
    platen_mm,
    room_mm,
    runs_down,
)

if TYPE_CHECKING:
    from sepkit.jobs import GarmentLine, Screen
    from sepkit.model import Garment, Press
    from sepkit.press.jobs import GangRules

SLACK_MM = 0.5
"""A print is not called large for so little."""


@dataclass(frozen=True, slots=True)
class FitItem:
    """A print as it lies on its garments."""

    name: str
    place: Place
    width_mm: float
    height_mm: float
    may_turn_90: bool = False
    sizes: tuple[str, ...] = ()
    """Only garments of these sizes carry it; all when empty."""

    @property
    def box(self) -> str:
        """Width and height in words."""
        return f"{self.width_mm:.0f} x {self.height_mm:.0f} mm"


def fit_findings(
    item: FitItem,
    wearers: Sequence[tuple[GarmentLine, Garment]],
    *,
    press: Press,
    screens: Sequence[Screen],
    rules: GangRules,
) -> list[Finding]:
    """Return what stands in the way of a print of a job: an error where it cannot be made."""
    out = _screen_findings(item, screens, rules)
    item = _as_worn(item)
    out += _platen_findings(item, press)
    for line, garment in wearers:
        worn = [size for size in line.sizes if not item.sizes or size in item.sizes] or list(garment.half_chest_mm)[:1]
        out += _garment_findings(item, garment, worn)
        out += _line_findings(item, line, garment)
    return list(dict.fromkeys(out))


def print_findings(item: FitItem, garment: Garment, press: Press) -> list[Finding]:
    """Return the same for a print of which nobody has said who carries it: each size counts, and none is an error."""
    item = _as_worn(replace(item, may_turn_90=True))
    sizes = [size for size in garment.half_chest_mm if not item.sizes or size in item.sizes]
    found = [*_platen_findings(item, press), *_garment_findings(item, garment, sizes)]
    return [replace(finding, level="warn") if finding.level == "error" else finding for finding in found]


def platen_findings(press: Press, wearers: Iterable[tuple[GarmentLine, Garment]]) -> list[Finding]:
    """Return whether the platen loads the smallest garments."""
    short: dict[tuple[str, float], list[str]] = {}
    for line, garment in wearers:
        for size in line.sizes:
            chest = garment.half_chest_mm.get(size)
            if chest is not None and press.platen_width_mm > chest - PLATEN_IN_GARMENT_MM + 1e-9:
                short.setdefault((size, chest), []).append(garment.name)
                break
    return [
        Finding(
            "platen-too-wide",
            "warn",
            f"the platen, {press.platen_width_mm:g} mm, does not go into size {size}, {chest:g} mm",
            f"use a platen of {chest - PLATEN_IN_GARMENT_MM:g} mm or less for that size",
            more=f"{', '.join(names)}, measured flat",
        )
        for (size, chest), names in short.items()
    ]


def _as_worn(item: FitItem) -> FitItem:
    """Return the print as it lies on the garment: down the arm where it is loaded sideways for that."""
    if item.may_turn_90 and runs_down(item.place, item.width_mm, item.height_mm):
        return replace(item, width_mm=item.height_mm, height_mm=item.width_mm)
    return item


def _screen_findings(item: FitItem, screens: Sequence[Screen], rules: GangRules) -> list[Finding]:
    def room(screen: Screen) -> tuple[float, float]:
        return screen.inside_width_mm - 2 * rules.edge_mm, screen.inside_height_mm - 2 * rules.ends_mm

    ways = [(item.width_mm, item.height_mm)]
    if item.may_turn_90:
        ways.append((item.height_mm, item.width_mm))
    if any(w <= room(s)[0] + 1e-6 and h <= room(s)[1] + 1e-6 for s in screens for w, h in ways):
        return []
    largest = max(screens, key=lambda s: room(s)[0] * room(s)[1], default=None)
    if largest is None:
        return []
    width, height = room(largest)
    return [
        Finding(
            "larger-than-every-screen",
            "error",
            f"{item.name}: {item.box} fits on no screen; {largest.name} leaves {width:.0f} x {height:.0f} mm",
            "make the print smaller, or get a larger frame",
        )
    ]


def _platen_findings(item: FitItem, press: Press) -> list[Finding]:
    plate, edge = platen_mm(item.place, press)
    width, height = plate[0] - 2 * edge, plate[1] - 2 * edge
    if item.width_mm <= width + 1e-6 and item.height_mm <= height + 1e-6:
        return []
    over = item.width_mm > plate[0] + 1e-6 or item.height_mm > plate[1] + 1e-6
    what = "larger than" if over else f"closer to the edge than {edge:g} mm on"
    return [
        Finding(
            "larger-than-platen" if over else "close-to-platen-edge",
            "error" if over else "warn",
            f"{item.name}: {item.box} is {what} the platen, {plate[0]:g} x {plate[1]:g} mm",
            f"stay within {width:g} x {height:g} mm, or use a larger platen",
        )
    ]


def _garment_findings(item: FitItem, garment: Garment, worn: Sequence[str]) -> list[Finding]:
    """Return what the garment itself says: its sizes, its hood, its sleeves."""
    place = item.place
    if not is_on(place, garment):
        return [Finding("no-hood", "error", f"{item.name}: {garment.name} has no hood", "choose another placement")]
    most = most_mm(place, garment)
    out = _body_findings(item, garment, worn)
    if place.part == "hood":
        out.append(Finding("fleece-edges", "info", f"{item.name}: stay 20 mm off the hood's seams"))
    if place.part == "sleeve" and not CUTS[garment.shape].long_sleeves and item.height_mm > most[1] + SLACK_MM:
        out.append(
            Finding(
                "sleeve-too-short",
                "error",
                f"{item.name}: {item.box} is longer than the sleeve of {garment.name}",
                f"stay within {most[0]:g} x {most[1]:g} mm on a short sleeve",
            )
        )
    elif item.width_mm > most[0] + SLACK_MM or item.height_mm > most[1] + SLACK_MM:
        out.append(
            Finding(
                "large-for-placement",
                "warn",
                f"{item.name}: {item.box} is larger than usual for {place.name}, {most[0]:g} x {most[1]:g} mm",
                "make it smaller, or mark it out on a garment first",
            )
        )
    return out


def _line_findings(item: FitItem, line: GarmentLine, garment: Garment) -> list[Finding]:
    """Return what the job says of the garment: children's wear, and what is on its front."""
    out: list[Finding] = []
    front = item.place.part == "front"
    if line.children and (item.width_mm > CHILD_MOST_MM[0] or item.height_mm > CHILD_MOST_MM[1]):
        out.append(
            Finding(
                "large-for-children",
                "warn",
                f"{item.name}: {item.box} is large for children's {garment.name}",
                f"stay within {CHILD_MOST_MM[0]:g} x {CHILD_MOST_MM[1]:g} mm",
            )
        )
    if front and line.opening == "zip":
        out += _zip(item, garment)
    if line.opening == "pocket" and item.place.part in ("front", "hem"):
        out += _pocket(item, garment)
    return out


def _body_findings(item: FitItem, garment: Garment, worn: Sequence[str]) -> list[Finding]:
    """Tell the smallest size that a print is too wide for, or too long, and which other sizes it is."""
    narrow: dict[str, float] = {}
    short: dict[str, float] = {}
    for size in worn:
        width, height = room_mm(item.place, garment, size)
        if width is not None and item.width_mm > width + 1e-6:
            narrow[size] = width
        elif height is not None and item.height_mm > height + 1e-6:
            short[size] = height
    if narrow:
        size, width = next(iter(narrow.items()))
        return [
            Finding(
                "wider-than-garment",
                "error",
                f"{item.name}: {item.width_mm:.0f} mm is too wide for {garment.name} size {size}",
                f"at most {width:g} mm for size {size}, or a second, smaller screen",
                more=f"too wide for {_all_of(narrow)}: {garment.half_chest_mm[size]:g} mm flat, less {SEAM_MM:g} mm to "
                "each side",
            )
        ]
    if not short:
        return []
    size, height = next(iter(short.items()))
    return [
        Finding(
            "longer-than-garment",
            "error",
            f"{item.name}: {item.height_mm:.0f} mm is too long for {garment.name} size {size}",
            f"at most {height:.0f} mm for size {size}",
            more=f"too long for {_all_of(short)}: {garment.body_length_mm[size]:g} mm long, of which "
            f"{hang_of(item.place, garment).mm:g} mm lie above the print",
        )
    ]


def _all_of(sizes: dict[str, float]) -> str:
    """Return ``S``, or ``S (and M, L)``."""
    first, *more = sizes
    return f"{first} (and {', '.join(more)})" if more else first


def _zip(item: FitItem, garment: Garment) -> list[Finding]:
    clear_mm = item.place.off_centre_mm - item.width_mm / 2
    if clear_mm >= ZIP_MM:
        return []
    what = f"a zip {clear_mm:.0f} mm beside the print" if clear_mm > 0 else "a zip under the print"
    return [
        Finding(
            "zip-in-the-way",
            "warn" if clear_mm > 0 else "error",
            f"{item.name}: {garment.name} has {what}",
            f"leave {ZIP_MM:g} mm free at the zip: it can tear the mesh",
            more="print halves on both sides of it, or move the print",
        )
    ]


def _pocket(item: FitItem, garment: Garment) -> list[Finding]:
    if item.place.part == "hem":
        if not CUTS[garment.shape].pouch:
            return []
        return [
            Finding(
                "pocket-in-the-way",
                "warn",
                f"{item.name}: the pocket of {garment.name} comes close",
                f"keep {RIDGE_MM:g} mm off its edge, or print the back's hem",
            )
        ]
    if not CUTS[garment.shape].pouch:
        if item.place.name != "left chest":
            return []
        return [
            Finding(
                "pocket-in-the-way",
                "error",
                f"{item.name}: {garment.name} has a chest pocket under the print",
                f"print the right chest, or the pocket: at most {POCKET_PRINT_MM:g} mm square",
                more="a pocket is printed on a pocket platen",
            )
        ]
    if item.height_mm <= POCKET_ROOM_MM + 1e-6:
        return []
    return [
        Finding(
            "pocket-in-the-way",
            "error",
            f"{item.name}: {item.height_mm:.0f} mm runs into the pocket of {garment.name}",
            f"at most {POCKET_ROOM_MM:g} mm, ending {RIDGE_MM:g} mm above the pocket",
        )
    ]
