"""Joins of inks without the line that their overlap would draw: a trap is for the press, not for the picture.

In: plates, and planes of some of their rows. Out: planes whose traps end where another ink's own area begins. Two
films over each other are darker by prediction, but how much of a trap is seen depends on which ink ran on and on the
squeeze of the screen: nobody measured it, and on cloth no line is seen (common practice). Tones keep their overlaps.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Sequence
from typing import TYPE_CHECKING

import numpy as np

if TYPE_CHECKING:
    from sepkit.model import U8, Plate


def joins_eased(
    plates: Sequence[Plate], only: Collection[int] | None = None
) -> Callable[[slice | tuple[slice, slice], list[U8]], list[U8]] | None:
    """Return what takes the traps out of some rows of the plates' printed planes; None where there is no trap.

    ``only`` names the plates whose traps are taken out; None: all.
    """
    colours = [k for k, plate in enumerate(plates) if plate.role == "colour"]
    trapped = [k for k in colours if plates[k].trap_mm > 0 and plates[k].tone is None and (only is None or k in only)]
    if not trapped or len(colours) < 2:
        return None

    def eased(rows: slice | tuple[slice, slice], planes: list[U8]) -> list[U8]:
        asked = {k: plates[k].coverage[rows] for k in colours}
        out = list(planes)
        for k in trapped:
            base = plates[k].also_base  # what lies under other inks on purpose is no trap
            over = np.flatnonzero(planes[k] > (asked[k] if base is None else np.maximum(asked[k], base[rows])))
            if over.size:
                others = np.zeros(over.size, np.uint16)
                for other in colours:
                    if other != k:
                        others += asked[other].reshape(-1)[over]
                room = 255 - np.minimum(others, 255).astype(np.uint8)
                own, grown = asked[k].reshape(-1)[over], planes[k].reshape(-1)[over]
                out[k] = planes[k].copy()
                out[k].reshape(-1)[over] = np.maximum(own, np.minimum(grown, room))
        return out

    return eased
