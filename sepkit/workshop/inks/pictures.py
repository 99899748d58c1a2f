"""Pictures of inks as PNG: a swatch card, a tint strip, the curve of a neck label. Each is written whole or not at all.

Every function raises WriteError when the file exists and ``force`` is False, or cannot be written.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING

from sepkit.errors import UsageError
from sepkit.files.ink_pictures import Curve, PlotWords, Swatch, Zone, curve_plot, save_png, swatch_rows
from sepkit.inks.label import HIDDEN_DE00, PLAIN_DE00
from sepkit.inks.looks import look_of_lab
from sepkit.units import to_hex

if TYPE_CHECKING:
    from sepkit.inks.label import LabelAdvice
    from sepkit.inks.looks import Look
    from sepkit.inks.match import Target
    from sepkit.model import RGB8, Garment

FAINT_GREY: RGB8 = (236, 236, 238)
ADVISED_GREEN: RGB8 = (206, 232, 204)
STEPS_IN_A_ROW = 6
MOST_OUTSIDE_DE00 = 6.0
"""Top of the label's curve; what is above is plain anyway."""


@dataclass(frozen=True, slots=True)
class Patch:
    """A look, its label, the ground that frames it, and a note below; without one its ``#rrggbb``."""

    look: Look
    label: str
    ground: RGB8 | None = None
    note: str = ""


def write_card(title: str, rows: Sequence[tuple[str, Sequence[Patch]]], path: Path, *, force: bool) -> None:
    """Write a swatch card: rows of patches, each with its heading."""
    drawn = [(heading, [_swatch(patch) for patch in patches]) for heading, patches in rows]
    save_png(swatch_rows(title, drawn), path, force=force)


def write_strip(heading: str, steps: Sequence[Patch], targets: Sequence[Target], path: Path, *, force: bool) -> None:
    """Write a tint strip, and the targets below. Raises UsageError when there is no step."""
    if not steps:
        raise UsageError("a strip needs two inks", where="--out", hint="such as white:95 black:5")
    rows = [
        ("" if first else heading, steps[first : first + STEPS_IN_A_ROW])
        for first in range(0, len(steps), STEPS_IN_A_ROW)
    ]
    if targets:
        rows.append(("targets", [Patch(look_of_lab(target.lab), target.name) for target in targets]))
    write_card("tint strip, opaque film", rows, path, force=force)


def write_label_curve(advice: LabelAdvice, garment: Garment, tint: str, path: Path, *, force: bool) -> None:
    """Write what is seen outside over the tint; where it cannot be read inside is grey, what is advised green."""
    faint = [point.percent for point in advice.points if not point.reads]
    zones = [Zone(min(faint), max(faint), "too faint to read", FAINT_GREY)] if len(faint) > 1 else []
    if advice.range_percent is not None:
        zones.append(Zone(*advice.range_percent, "use this", ADVISED_GREEN))
    weak = tuple((point.percent, point.outside_high_de00) for point in advice.points)
    plot = curve_plot(
        PlotWords(
            f"Neck label on {garment.name}, {garment.weight_g_m2:g} g/m²: what shows outside",
            across=f"% {tint} by weight, and the label's colour",
            up="ΔE00",
        ),
        [
            Curve("flat or worn, the worse", tuple((point.percent, point.outside_de00) for point in advice.points)),
            Curve("if the cloth hides less than assumed", weak, dashed=True),
        ],
        levels=[(HIDDEN_DE00, "hidden below"), (PLAIN_DE00, "plain above")],
        zones=zones,
        chips=[(point.percent, look_of_lab(point.lab).srgb) for point in advice.points],
        most_up=MOST_OUTSIDE_DE00,
    )
    save_png(plot, path, force=force)


def _swatch(patch: Patch) -> Swatch:
    return Swatch(patch.look.srgb, patch.label, patch.note or to_hex(patch.look.srgb), patch.ground)
