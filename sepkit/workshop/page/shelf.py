"""What the page may choose from: garments, inks and presses of the shelf, by name and colour."""

from __future__ import annotations

from dataclasses import dataclass

from sepkit.files.shelf.shelf import Shelf
from sepkit.places import PLACES
from sepkit.units import to_hex
from sepkit.workshop.print.options import PrintOptions, bench_of


@dataclass(frozen=True, slots=True)
class Named:
    """A thing of the shelf."""

    name: str
    srgb: str
    """As #rrggbb; empty where it has no colour."""


@dataclass(frozen=True, slots=True)
class ShelfNames:
    """All of them."""

    garments: tuple[Named, ...]
    inks: tuple[Named, ...]
    presses: tuple[Named, ...]
    places: tuple[str, ...]
    """Of prints on garments."""


def check_names(options: PrintOptions) -> None:
    """See that the shelf holds what a print names, before it is laid. Raises as ``bench_of`` does."""
    bench_of(options, Shelf())


def shelf_names() -> ShelfNames:
    """Return what lies on the shelf. Raises DataFileError for a broken file."""
    shelf = Shelf()
    garments = (shelf.garment(name) for name in shelf.garment_names())
    inks = (shelf.ink(name) for name in shelf.ink_names())
    return ShelfNames(
        tuple(Named(one.name, to_hex(one.srgb)) for one in garments),
        tuple(Named(one.name, to_hex(one.srgb)) for one in inks),
        tuple(Named(name, "") for name in shelf.press_names()),
        tuple(PLACES),
    )
