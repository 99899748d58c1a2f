"""Check discs of a print: which screens stand on a base, and where the rows have room.

In: the planes of a print, or its folder. Out: discs for the record, and a finding where there is no room for them.
"""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING

import numpy as np

from sepkit.colorimetry.difference import delta_e_2000
from sepkit.colorimetry.spectral import reflectance_to_lab
from sepkit.files.folders.planes import load_plane
from sepkit.film.check_discs import LEAST_SIDE_MM, CheckDisc, check_discs
from sepkit.inks.layers import printed_reflectance
from sepkit.model import Finding

if TYPE_CHECKING:
    from sepkit.files.folders.entries import PlateEntry
    from sepkit.files.folders.record import PrintRecord
    from sepkit.model import U8, Garment, Plate
    from sepkit.press.sheet import Sheet

    Screen = Plate | PlateEntry

CARRIED = 0.5
"""A base carries an ink when at least this share of the ink lies on it."""
HARDLY_DE00 = 12.0
"""An ink that changes what it prints on by less hardly shows there under a lamp: white on a white base (our own
limit)."""


def discs_of_plates(
    plates: Sequence[Plate], garment: Garment, width_mm: float, height_mm: float
) -> tuple[CheckDisc, ...]:
    """Return the discs of a print; none where the art is too small."""
    bases = [k for k, plate in enumerate(plates) if plate.is_base]
    on, frame = _standing(plates, garment, [plate.printed for plate in plates], bases)
    return check_discs(width_mm, height_mm, on, frame=frame)


def discs_of_folder(folder: Path, record: PrintRecord, sheet: Sheet | None) -> tuple[CheckDisc, ...]:
    """Return the discs for a print folder's films on a sheet. Raises WriteError for planes that cannot be read."""
    art = record.artwork
    planes = [load_plane(folder, plate.printed_file, art.shape) for plate in record.plates]
    bases = [k for k, plate in enumerate(record.plates) if plate.role == "underbase" or plate.base_file is not None]
    margin = LEAST_SIDE_MM if sheet is None else (sheet.width_mm - min(art.width_mm, sheet.art_mm[0])) / 2
    on, frame = _standing(record.plates, record.garment, planes, bases)
    return check_discs(art.width_mm, art.height_mm, on, frame=frame, sides=margin >= LEAST_SIDE_MM)


def no_room(width_mm: float, height_mm: float) -> Finding:
    """Return the finding of art too small for check discs."""
    return Finding(
        "no-check-discs",
        "warn",
        f"{width_mm:.0f} x {height_mm:.0f} mm leaves no room for rows of check discs",
        "line these screens up by the targets",
    )


def _standing(
    plates: Sequence[Screen], garment: Garment, planes: Sequence[U8], bases: Sequence[int]
) -> tuple[list[int | None], int]:
    """Return the base that each screen's discs stand on, None for cloth, and the screen that frames those on cloth."""
    return _shown(plates, garment, _carriers(planes, bases)), _framing(plates, garment, bases)


def _framing(plates: Sequence[Screen], garment: Garment, bases: Sequence[int]) -> int:
    """Return the screen that frames discs on cloth: a base, else the one that shows best on the cloth."""
    return bases[0] if bases else int(np.argmax([_step_de00(garment, plate) for plate in plates]))


def _shown(plates: Sequence[Screen], garment: Garment, on: Sequence[int | None]) -> list[int | None]:
    """Return what discs stand on: cloth where that shows an ink which its base does not, white on white."""
    out = list(on)
    for k, base in enumerate(on):
        if base is not None:
            step = _step_de00(garment, plates[k], plates[base])
            if step < HARDLY_DE00 and step < _step_de00(garment, plates[k]):
                out[k] = None
    return out


def _step_de00(garment: Garment, plate: Screen, base: Screen | None = None) -> float:
    """Return ΔE00 between what a screen prints on (its cloth, or a base on it) and its ink on that."""
    under = [] if base is None else [(base.ink, float(base.coats))]
    cloth = np.asarray(garment.reflectance, np.float64)
    two = [printed_reflectance(layers, cloth) for layers in (under, [*under, (plate.ink, float(plate.coats))])]
    bare, inked = reflectance_to_lab(np.array(two))
    return float(delta_e_2000(bare, inked))


def _carriers(planes: Sequence[U8], bases: Sequence[int]) -> list[int | None]:
    """Return, for each screen, the base before it that most of its ink lies on."""
    out: list[int | None] = []
    for k, plane in enumerate(planes):
        ink = plane > 127
        area = int(np.count_nonzero(ink))
        under = [(int(np.count_nonzero(ink & (planes[b] > 127))), b) for b in bases if b < k]
        most, base = max(under, default=(0, 0))
        out.append(base if area and most >= CARRIED * area else None)
    return out
