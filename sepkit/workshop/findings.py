"""What a plan tells the person: resolution, heads, thin base, colours out of tolerance. Pure: plan in, findings out."""

from __future__ import annotations

from typing import TYPE_CHECKING

from sepkit.model import Finding
from sepkit.units import px_to_mm

if TYPE_CHECKING:
    from collections.abc import Mapping, Sequence

    from sepkit.model import U8, Artwork, Garment, Plate, Press
    from sepkit.separation.coats import CoatChoice

SHIFT_WORTH_SAYING = 1.5
"""Colours are reported from this multiple of the tolerance on: white on black always falls a little short."""

LOW_DPI = 200.0
"""Raster art below this at print size shows soft or stepped edges; 300 is the usual request (common practice)."""


def art_findings(art: Artwork) -> tuple[Finding, ...]:
    """Return the reader's findings, and one when raster art is coarse at its print size."""
    found = list(art.findings)
    if not art.vector and art.dpi < LOW_DPI:
        found.append(
            Finding(
                "low-resolution", "warn",
                f"the picture has {art.dpi:.0f} pixels per inch at {art.width_mm:.0f} mm wide",
                f"ask for vector art, or a picture {300 / art.dpi:.1f} times as wide, or print it smaller",
            )
        )  # fmt: skip
    return tuple(found)


def plan_findings(
    art: Artwork,
    garment: Garment,
    press: Press,
    plates: Sequence[Plate],
    choices: Mapping[str, CoatChoice],
    base_thin: U8 | None,
    *,
    tolerance_de00: float,
) -> tuple[Finding, ...]:
    """Return findings about the plan."""
    found: list[Finding] = []
    if len(plates) > press.heads:
        found.append(
            Finding(
                "more-screens-than-heads", "warn",
                f"{len(plates)} screens, and the press has {press.heads} heads",
                "print in rounds with the garment left on the platen, or use fewer inks (--inks "
                f"{max(1, press.heads - sum(p.role == 'underbase' for p in plates))})",
            )
        )  # fmt: skip
    for name, choice in choices.items():
        if choice.chosen.de00 > SHIFT_WORTH_SAYING * tolerance_de00:
            found.append(
                Finding(
                    "colour-shifts", "warn",
                    f"{name} on {garment.name} comes out ΔE00 {choice.chosen.de00:.1f} from the ink on white cloth",
                    "mix it a step lighter, choose a more opaque ink, or accept the shift after a test print",
                )
            )  # fmt: skip
    if base_thin is not None and base_thin.any():
        found.append(_thin_base(art, base_thin))
    return tuple(found)


def _thin_base(art: Artwork, base_thin: U8) -> Finding:
    import numpy as np

    rows, columns = np.nonzero(base_thin)
    middle = len(rows) // 2
    place = (px_to_mm(float(columns[middle]), art.dpi), px_to_mm(float(rows[middle]), art.dpi))
    area_mm2 = px_to_mm(1, art.dpi) ** 2 * len(rows)
    return Finding(
        "base-too-thin-to-choke", "warn",
        f"{area_mm2:.1f} mm² of fine strokes keep their base without the full choke, for instance at "
        f"{place[0]:.0f}, {place[1]:.0f} mm from the top left",
        "white may show beside them when the press is off: thicken the strokes, or print them without a base",
        place,
    )  # fmt: skip
