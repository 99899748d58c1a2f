"""A window of the plates with another trap or choke, while a person still slides: the same pixels as the whole.

In: a planned print of flat art, a window in pixels of the art. Out: planes (h, w) uint8 in print order. A halo around
the window holds all that reaches into it; it starts on a multiple of the choke, for worn art is judged in blocks of
that size.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

import numpy as np

from sepkit.errors import UsageError
from sepkit.model import Size
from sepkit.plates.drafts import drafts_of
from sepkit.plates.grounds import base_under, with_coats
from sepkit.plates.joints import in_print_order, with_traps
from sepkit.plates.whites import settle_whites
from sepkit.units import MM_PER_INCH, mm_to_px

if TYPE_CHECKING:
    from sepkit.model import U8, InkArea, Plate
    from sepkit.plates.drafts import PlateDraft
    from sepkit.workshop.print.plan import PlannedPrint

REACHES, MORE_PX = 4.0, 8
"""The halo: so many times the farther of trap and choke, and some pixels. Fine art is judged over five chokes, of which
half lie to each side; a trap ends half way through what it runs under."""


@dataclass(frozen=True, slots=True)
class Window:
    """A part of the art in pixels."""

    x: int
    y: int
    width: int
    height: int


def planes_in(
    planned: PlannedPrint, window: Window, *, trap_mm: float | None = None, choke_mm: float | None = None
) -> tuple[U8, ...]:
    """Return what each plate prints in a window with this trap and choke; None leaves what is planned.

    Raises UsageError for a window beside the art, and for prints whose plates are decided together: tones, plates that
    the art brings, colours that two inks stand for.
    """
    bench, plates = planned.bench, planned.separation.plates
    areas = _printed_areas(planned)
    height, width = areas[0].coverage.shape
    x0, y0 = max(0, window.x), max(0, window.y)
    x1, y1 = min(width, window.x + window.width), min(height, window.y + window.height)
    if x1 <= x0 or y1 <= y0:
        raise UsageError("that is beside the art", where="window", hint=f"it has {width} x {height} pixels")
    order = tuple(plate.art_srgb for plate in plates if plate.art_srgb is not None and plate.role == "colour")
    wishes = replace(bench.wishes, order=order)
    if trap_mm is not None:
        wishes = replace(wishes, trap_mm=trap_mm)
    if choke_mm is not None:
        wishes = replace(wishes, choke_mm=choke_mm)
    bench = replace(bench, wishes=wishes)
    dpi = width * MM_PER_INCH / planned.separation.artwork.width_mm
    reach = max(mm_to_px(bench.trap_mm, dpi), mm_to_px(bench.choke_mm, dpi))
    halo, step = math.ceil(REACHES * reach) + MORE_PX, max(1, round(mm_to_px(bench.choke_mm, dpi)))
    left, top = max(0, x0 - halo) // step * step, max(0, y0 - halo) // step * step
    around = (slice(top, min(height, y1 + halo)), slice(left, min(width, x1 + halo)))
    cut = [replace(area, coverage=_read_only(area.coverage[around])) for area in areas]
    size = Size(cut[0].coverage.shape[1] * MM_PER_INCH / dpi, cut[0].coverage.shape[0] * MM_PER_INCH / dpi)
    rows = with_traps(with_coats(drafts_of(cut, bench), bench), bench, dpi=dpi)
    ordered = in_print_order(rows, bench.wishes.order, dpi=cut[0].coverage.shape[1] * MM_PER_INCH / size.width_mm)
    under = base_under(ordered.rows, bench, dpi=dpi)
    settled = settle_whites(([] if under.row is None else [under.row]) + ordered.rows, bench)
    inside = (slice(y0 - top, y1 - top), slice(x0 - left, x1 - left))
    return tuple(np.ascontiguousarray(_row_of(plate, settled.rows).printed[inside]) for plate in plates)


def _printed_areas(planned: PlannedPrint) -> Sequence[InkArea]:
    areas = planned.areas
    wishes = planned.bench.wishes
    together = wishes.as_brought or wishes.solved or wishes.overprint_colours or wishes.light_base
    if together or any(area.tone is not None for area in areas):
        raise UsageError(
            "plates of this print are decided together",
            where="window",
            hint="set the trap or choke for the whole print",
        )
    return areas


def _row_of(plate: Plate, rows: Sequence[PlateDraft]) -> PlateDraft:
    for row in rows:
        srgb = None if row.area is None else row.area.srgb
        if row.role == plate.role and srgb == plate.art_srgb:
            return row
    raise UsageError("the window holds other plates than the print", where="window", hint="set it for the whole print")


def _read_only(plane: U8) -> U8:
    out = np.ascontiguousarray(plane)
    out.flags.writeable = False
    return out
