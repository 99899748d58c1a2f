"""Does a print fit: screens, platen, and the smallest garment that carries it; pockets, zips and hoods in the way.

In: a print's size and place, garments with their size charts, the press and the screens owned. Out: findings that name
the size which breaks. Clearances are common practice (placements.py).
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from sepkit.model import Finding
from sepkit.press.placements import (
    CHILD_MOST_MM,
    HEM_MM,
    LABEL_PLATEN_MM,
    PLACEMENTS,
    PLATEN_EDGE_MM,
    PLATEN_IN_GARMENT_MM,
    POCKET_HEIGHT_MM,
    SEAM_MM,
    SLEEVE_PLATEN_MM,
    ZIP_CLEAR_MM,
    Placement,
    collar_mm,
)

if TYPE_CHECKING:
    from sepkit.jobs import GarmentLine, Screen
    from sepkit.model import Garment, Press

SHIRT_SHAPES = ("tee", "long sleeve")


@dataclass(frozen=True, slots=True)
class FitItem:
    """A print as it lies on its garments."""

    name: str
    placement: str
    width_mm: float
    height_mm: float
    may_turn_90: bool = False


def fit_findings(
    item: FitItem,
    wearers: Sequence[tuple[GarmentLine, Garment]],
    *,
    press: Press,
    screens: Sequence[Screen],
    edge_mm: float,
    ends_mm: float,
    sizes: Sequence[str] = (),
) -> list[Finding]:
    """Return what stands in the way of a print. ``sizes`` limits the garment sizes that carry it."""
    place = PLACEMENTS[item.placement]
    out = _screen_findings(item, screens, edge_mm, ends_mm)
    if item.may_turn_90 and place.place == "sleeve" and item.width_mm > item.height_mm:
        # It runs down the arm: its width lies along the sleeve.
        item = replace(item, width_mm=item.height_mm, height_mm=item.width_mm)
    out += _platen_findings(item, place, press)
    if item.width_mm > place.most_width_mm + 0.5 or item.height_mm > place.most_height_mm + 0.5:
        out.append(
            Finding(
                "large-for-placement",
                "warn",
                f"{item.name}: {_size(item)} is larger than usual for {place.name}, "
                f"{place.most_width_mm:g} x {place.most_height_mm:g} mm",
                "make it smaller, or mark it out on a garment first",
            )
        )
    for line, garment in wearers:
        worn = [size for size in line.sizes if not sizes or size in sizes] or list(garment.half_chest_mm)[:1]
        out += _garment_findings(item, place, line, garment, worn)
    return out


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
            f"the platen of {press.platen_width_mm:g} mm does not go into size {size}, {chest:g} mm flat: "
            + ", ".join(names),
            f"use a platen of {chest - PLATEN_IN_GARMENT_MM:g} mm or less for that size",
        )
        for (size, chest), names in short.items()
    ]


def _screen_findings(item: FitItem, screens: Sequence[Screen], edge_mm: float, ends_mm: float) -> list[Finding]:
    def room(screen: Screen) -> tuple[float, float]:
        return screen.inside_width_mm - 2 * edge_mm, screen.inside_height_mm - 2 * ends_mm

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
            f"{item.name}: {_size(item)} fits on no screen; {largest.name} leaves {width:.0f} x {height:.0f} mm",
            "make the print smaller, or get a larger frame",
        )
    ]


def _platen_findings(item: FitItem, place: Placement, press: Press) -> list[Finding]:
    plate = {
        "sleeve": SLEEVE_PLATEN_MM,
        "inside": LABEL_PLATEN_MM,
        "hood": LABEL_PLATEN_MM,
    }.get(place.place, (press.platen_width_mm, press.platen_height_mm))
    edge = PLATEN_EDGE_MM if place.place in ("front", "back") else 5.0
    width, height = plate[0] - 2 * edge, plate[1] - 2 * edge
    if item.width_mm <= width + 1e-6 and item.height_mm <= height + 1e-6:
        return []
    over = item.width_mm > plate[0] + 1e-6 or item.height_mm > plate[1] + 1e-6
    what = "larger than" if over else "closer to the edge than 25 mm on"
    return [
        Finding(
            "larger-than-platen" if over else "close-to-platen-edge",
            "error" if over else "warn",
            f"{item.name}: {_size(item)} is {what} the platen, {plate[0]:g} x {plate[1]:g} mm",
            f"stay within {width:g} x {height:g} mm, or use a larger platen",
        )
    ]


def _garment_findings(
    item: FitItem, place: Placement, line: GarmentLine, garment: Garment, worn: Sequence[str]
) -> list[Finding]:
    out: list[Finding] = []
    if place.place in ("front", "back"):
        out += _body_findings(item, place, garment, worn)
    if line.children and (item.width_mm > CHILD_MOST_MM[0] or item.height_mm > CHILD_MOST_MM[1]):
        out.append(
            Finding(
                "large-for-children",
                "warn",
                f"{item.name}: {_size(item)} is large for children's {garment.name}",
                f"stay within {CHILD_MOST_MM[0]:g} x {CHILD_MOST_MM[1]:g} mm",
            )
        )
    if place.place == "front" and line.opening == "zip":
        out.append(
            Finding(
                "zip-in-the-way",
                "error" if item.width_mm > 150 or "chest" not in place.name else "warn",
                f"{item.name}: {garment.name} has a zip under the print",
                f"print halves that leave {ZIP_CLEAR_MM:g} mm free at the zip, or move it: a pull can tear the mesh",
            )
        )
    if place.place == "front" and line.opening == "pocket":
        out += _pocket(item, place, garment)
    if place.place == "hood" and not garment.hood:
        out.append(Finding("no-hood", "error", f"{item.name}: {garment.name} has no hood", "choose another placement"))
    if place.place == "sleeve" and garment.shape == "tee" and item.height_mm > 100.5:
        out.append(
            Finding(
                "sleeve-too-short",
                "error",
                f"{item.name}: {_size(item)} is longer than the sleeve of {garment.name}",
                "stay within 100 x 100 mm on a short sleeve",
            )
        )
    if place.place == "hood":
        out.append(Finding("fleece-edges", "info", f"{item.name}: stay 20 mm off the hood's seams"))
    return out


def _body_findings(item: FitItem, place: Placement, garment: Garment, worn: Sequence[str]) -> list[Finding]:
    drop = collar_mm(place, garment.shape)
    for size in worn:
        chest, length = garment.half_chest_mm.get(size), garment.body_length_mm.get(size)
        if chest is not None and item.width_mm > chest - 2 * SEAM_MM + 1e-6:
            return [
                Finding(
                    "wider-than-garment",
                    "error",
                    f"{item.name}: {item.width_mm:.0f} mm is too wide for {garment.name} size {size}, "
                    f"{chest:g} mm flat",
                    f"at most {chest - 2 * SEAM_MM:g} mm for size {size}, or a second, smaller screen",
                )
            ]
        if length is not None and item.height_mm > length - drop - HEM_MM + 1e-6:
            return [
                Finding(
                    "longer-than-garment",
                    "error",
                    f"{item.name}: {item.height_mm:.0f} mm is too long for {garment.name} size {size}, "
                    f"{length:g} mm long",
                    f"at most {length - drop - HEM_MM:g} mm for size {size}",
                )
            ]
    return []


def _pocket(item: FitItem, place: Placement, garment: Garment) -> list[Finding]:
    if garment.shape in SHIRT_SHAPES:
        if "left chest" not in place.name:
            return []
        return [
            Finding(
                "pocket-in-the-way",
                "error",
                f"{item.name}: {garment.name} has a chest pocket under the print",
                "print the right chest, or on the pocket with a pocket platen, at most 89 mm square",
            )
        ]
    if item.height_mm <= POCKET_HEIGHT_MM + 1e-6:
        return []
    return [
        Finding(
            "pocket-in-the-way",
            "error",
            f"{item.name}: {item.height_mm:.0f} mm runs into the pocket of {garment.name}",
            f"at most {POCKET_HEIGHT_MM:g} mm above a pocket, ending 25 mm above its top",
        )
    ]


def _size(item: FitItem) -> str:
    return f"{item.width_mm:.0f} x {item.height_mm:.0f} mm"
