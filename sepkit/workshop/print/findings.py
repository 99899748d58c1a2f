"""What a plan tells the person: resolution, rounds, thin base, colours out of tolerance.

Pure: plan in, findings out.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from sepkit.model import Finding
from sepkit.units import px_to_mm
from sepkit.workshop.print.ink_findings import ink_findings, inks_of
from sepkit.workshop.print.mesh_findings import mesh_findings

if TYPE_CHECKING:
    from collections.abc import Sequence

    from sepkit.decisions import Rounds
    from sepkit.model import U8, Artwork, Garment, Level, Plate, Press
    from sepkit.plates.bench import Bench
    from sepkit.plates.decide import Plan
    from sepkit.preview.stress import StressResult

SHIFT_WORTH_SAYING = 1.5
"""Colours are a warning from this multiple of the tolerance on: white on black always falls a little short."""

LOW_DPI = 200.0
"""Raster art below this at print size shows soft or stepped edges; 300 is the usual request (common practice)."""

THIN_BASE_MM2 = 1.0
"""Less base than this without its full choke is not seen: a stroke of 0.5 mm by 2 mm."""

SHOWS_MM2 = 3.0
"""Base or garment that shows in the worst case: a line of 0.3 mm by a centimetre is seen at arm's length."""


def art_findings(art: Artwork) -> tuple[Finding, ...]:
    """Return the reader's findings, and one when raster art is coarse at its print size."""
    found = list(art.findings)
    if not art.vector and art.dpi < LOW_DPI:
        found.append(
            Finding(
                "low-resolution",
                "warn",
                f"the picture has {art.dpi:.0f} pixels per inch at {art.width_mm:.0f} mm wide",
                f"ask for vector art, or a picture {300 / art.dpi:.1f} times as wide, or print it smaller",
            )
        )
    return tuple(found)


def plan_findings(art: Artwork, plan: Plan, bench: Bench) -> tuple[Finding, ...]:
    """Return findings about the plan."""
    plates, garment, press = plan.plates, bench.garment, bench.press
    tolerance_de00 = bench.wishes.tolerance_de00
    found: list[Finding] = []
    if len(plates) > press.heads:
        found.append(_rounds(plates, plan.rounds, press))
    found += [
        _shift(plate.name, garment, plan, tolerance_de00)
        for plate in plates
        if plate.name in plan.choices and plan.choices[plate.name].chosen.de00 > tolerance_de00
    ]
    found += _thin_base(art, plan.base_thin)
    found += mesh_findings(art, plates, bench.measured)
    found += ink_findings(inks_of(plates), art, garment)
    found += plan.findings
    return tuple(found)


def stress_finding(plates: Sequence[Plate], result: StressResult) -> Finding | None:
    """Return a finding when much base or garment shows in spite of trap and choke; None when little does."""
    after = result.after
    if max(after.peek_mm2, after.gap_mm2) < SHOWS_MM2:
        return None
    parts = []
    if after.peek_mm2 >= SHOWS_MM2 and after.peek_shift is not None:
        parts.append(f"{after.peek_mm2:.0f} mm² of base peek out ({plates[after.peek_shift.plate].name} off)")
    if after.gap_mm2 >= SHOWS_MM2 and after.gap_shift is not None:
        parts.append(f"{after.gap_mm2:.0f} mm² of garment show in gaps ({plates[after.gap_shift.plate].name} off)")
    return Finding(
        "register-shows",
        "warn",
        f"out of register by {result.error_mm:g} mm, {' and '.join(parts)}",
        f"without trap and choke: {result.before.peek_mm2:.0f} and {result.before.gap_mm2:.0f} mm²; look at "
        "stress.png, widen --trap and --choke, or thicken what is thinner than twice the error",
    )


def _rounds(plates: Sequence[Plate], rounds: Rounds, press: Press) -> Finding:
    """Tell how more screens than heads can print, and what a reload would part."""
    words = "; ".join(
        f"round {number}: {', '.join(plates[i].name for i in screens)}"
        for number, screens in enumerate(rounds.rounds, 1)
    )
    text = f"{len(plates)} screens, and the press has {press.heads} heads: {len(rounds.rounds)} rounds ({words})"
    if not rounds.parted:
        return Finding(
            "more-screens-than-heads",
            "info",
            text,
            "nothing of one round comes within 4 mm of another: the garment may be taken off and loaded again between",
        )
    pairs = [f"{plates[a].name} and {plates[b].name}" for a, b, _ in rounds.parted[:3]]
    more = "" if len(rounds.parted) <= 3 else f" and {len(rounds.parted) - 3} more"
    return Finding(
        "more-screens-than-heads",
        "warn",
        text,
        f"{', '.join(pairs)}{more} touch across rounds, and a reload falls 2 to 4 mm off: leave each garment on its "
        "platen while the screens change, or use fewer inks",
    )


def _shift(name: str, garment: Garment, plan: Plan, tolerance_de00: float) -> Finding:
    choice = plan.choices[name]
    chosen = choice.chosen
    level: Level = "warn" if chosen.de00 > SHIFT_WORTH_SAYING * tolerance_de00 else "info"
    best = min(choice.options, key=lambda o: o.de00)
    text = f"{name} on {garment.name} comes out ΔE00 {chosen.de00:.1f} from its own colour, {chosen.label}"
    if best.de00 > tolerance_de00:
        text += f"; the best way is {best.label} with {best.de00:.1f}, none is within {tolerance_de00:g}"
    helped = plan.helps.get(name)
    hint = "no base, coat or more opaque ink helps: mix it a step lighter, or accept the shift after a test print"
    if helped is not None:
        within = "" if helped.de00 <= tolerance_de00 else ", still out of tolerance"
        hint = f"what would help: {helped.words}, ΔE00 {helped.de00:.1f}{within}"
    return Finding("colour-shifts", level, text, hint)


def _thin_base(art: Artwork, base_thin: U8 | None) -> list[Finding]:
    """Tell of fine art whose base keeps no full choke; a few pixels of tips and corners are not worth a word."""
    import numpy as np

    if base_thin is None or np.count_nonzero(base_thin) * px_to_mm(1, art.dpi) ** 2 < THIN_BASE_MM2:
        return []
    rows, columns = np.nonzero(base_thin)
    middle = len(rows) // 2
    place = (px_to_mm(float(columns[middle]), art.dpi), px_to_mm(float(rows[middle]), art.dpi))
    area_mm2 = px_to_mm(1, art.dpi) ** 2 * len(rows)
    return [
        Finding(
            "base-too-thin-to-choke",
            "warn",
            f"{area_mm2:.1f} mm² of fine strokes and texture keep their base without the full choke, for instance at "
            f"{place[0]:.0f}, {place[1]:.0f} mm from the top left",
            "white may show beside them when the press is off: thicken the strokes, or print them without a base",
            place,
        )
    ]
