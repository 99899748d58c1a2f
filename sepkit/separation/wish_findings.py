"""What named inks print of the art: which of its colours fall to which, and wishes that nothing in the art is near to.

In: the inks with the art's flat colours that go to them, and the request. Out: findings. Nothing is swapped in silence.
"""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

import numpy as np

from sepkit.colorimetry.difference import delta_e_2000
from sepkit.colorimetry.srgb import srgb8_to_lab
from sepkit.model import Finding
from sepkit.units import to_hex

if TYPE_CHECKING:
    from sepkit.model import RGB8, InkRequest
    from sepkit.separation.wishes import InkList

    Array = np.ndarray[Any, np.dtype[Any]]

FAR_DE00 = 20.0
"""A colour of the art this far from the ink that prints it is another colour by any name (common practice)."""
MOST_TOLD = 4
"""Colours told for one ink; more are counted."""


def wish_findings(inks: InkList, colours: Array, pixels: Array, request: InkRequest) -> list[Finding]:
    """Return what falls to each named ink, for (m, 3) colours of (m,) pixels, and wishes far from all."""
    found: list[Finding] = []
    lines = []
    for number, (label, wished) in enumerate(request.named):
        mine = [k for k, ink in enumerate(inks.ink_of) if ink == number]
        if not mine:
            continue
        mine.sort(key=lambda k: -int(pixels[k]))
        rows = [_rgb(colours[k]) for k in mine]
        words = ", ".join(to_hex(rgb) for rgb in rows[:MOST_TOLD])
        words += f" and {len(rows) - MOST_TOLD} more" if len(rows) > MOST_TOLD else ""
        away = delta_e_2000(srgb8_to_lab(np.array(rows, np.uint8)), srgb8_to_lab(np.array(wished, np.uint8)))
        lines.append(f'"{label}" prints {words}')
        if float(away.min()) > FAR_DE00:
            found.append(
                Finding(
                    "far-wish",
                    "warn",
                    f'"{label}" is far from anything in the art',
                    "right for another colour; else name inks that the art has",
                    more=f"it prints {words} there (ΔE00 {away.min():.0f})",
                )
            )
    if lines:
        text = f"the art's colours fall to the {len(lines)} inks named"
        found.append(Finding("falls-to", "info", text, "look at the preview", more="; ".join(lines)))
    return found


def _rgb(row: Array) -> RGB8:
    r, g, b = (int(v) for v in row)
    return r, g, b
