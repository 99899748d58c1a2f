"""A small print folder with check discs, drawn here: quick to photograph and to read."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path

import numpy as np

from sepkit.files.folders.record import read_record, record_json, write_record
from sepkit.files.shelf.shelf import Shelf
from sepkit.model import Artwork, Mesh, Plate, Separation
from sepkit.workshop.print.discs import discs_of_plates
from tests.helpers.print_folders import write_folder

SIZE_MM = (62.0, 54.0)
PX_PER_MM = 12


def small_folder(folder: Path, *, discs: bool = True, garment: str = "black tee", turned: bool = False) -> Path:
    """A white base, a red shape on it and a yellow bar beside it; ``turned`` draws another picture of the same inks."""
    shelf = Shelf()
    w, h = (round(side * PX_PER_MM) for side in SIZE_MM)
    y, x = np.mgrid[:h, :w] / PX_PER_MM
    if turned:
        x, y = x[:, ::-1] * 0.7 + 9, y * 1.2 - 3
    disc = np.hypot(x - 24, y - 27) < 17
    wedge = (x - 24 > -10) & (x - 24 < 9) & (np.abs(y - 27) < (x - 13) * 0.55)
    bar = (x > 45) & (x < 57) & (y > 8) & (y < 46)
    thin = (x > 6) & (x < 57) & (np.abs(y - 50) < 0.4)
    inks = {
        "white": disc | bar,
        "red": (disc & ~wedge),
        "yellow": bar | wedge | thin,
    }
    plates = []
    for k, (name, shape) in enumerate(inks.items()):
        plane = np.where(shape, np.uint8(255), np.uint8(0))
        ink = shelf.ink(name)
        role = "underbase" if k == 0 else "colour"
        plates.append(
            Plate(k + 1, name, role, ink, ink.srgb, ink.srgb, plane, plane, None, 1, k == 0, None, Mesh(55, 64), 0.2)
        )
    art = Artwork(np.zeros((h, w, 3), np.uint8), np.full((h, w), 255, np.uint8), *SIZE_MM, "lantern.png")
    write_folder(folder, Separation(art, shelf.garment(garment), tuple(plates), 1.0, 2.0))
    if discs:
        record = read_record(folder)
        found = discs_of_plates(plates, shelf.garment(garment), *SIZE_MM)
        write_record(folder, record_json(replace(record, film=replace(record.film, discs=found))))
    return folder
