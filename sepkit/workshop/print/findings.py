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
    from sepkit.model import U32, Artwork, Garment, Level, Plate, Press
    from sepkit.plates.bench import Bench
    from sepkit.plates.decide import Plan
    from sepkit.preview.stress import StressResult

SHIFT_WORTH_SAYING = 1.5
"""Colours are a warning from this multiple of the tolerance on: white on black always falls a little short."""

LOW_DPI = 200.0
"""Raster art below this at print size shows soft or stepped edges; 300 is the usual request (common practice)."""

OFF_DE00 = 6.0
"""From here on a colour is seen to be off without anything beside it (common practice)."""

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
                f"print it smaller, or ask for one {300 / art.dpi:.1f} times as wide",
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
    found += _tones(plates)
    found += mesh_findings(art, plates, bench.measured)
    found += ink_findings(inks_of(plates), art, garment)
    found += plan.findings
    return tuple(found)


def stress_finding(plates: Sequence[Plate], result: StressResult) -> Finding | None:
    """Return a finding when much base or garment shows in spite of trap and choke; None when little does."""
    after = result.after
    if max(after.peek_mm2, after.gap_mm2) < SHOWS_MM2:
        return None
    parts, worst = [], []
    if after.peek_mm2 >= SHOWS_MM2 and after.peek_shift is not None:
        parts.append(f"{after.peek_mm2:.0f} mm² of base peek out")
        worst.append(f"base shows most when {plates[after.peek_shift.plate].name} is off")
    if after.gap_mm2 >= SHOWS_MM2 and after.gap_shift is not None:
        parts.append(f"{after.gap_mm2:.0f} mm² of gaps")
        worst.append(f"gaps are widest when {plates[after.gap_shift.plate].name} is off")
    return Finding(
        "register-shows",
        "warn",
        f"{result.error_mm:g} mm out of register: {' and '.join(parts)}",
        "look at stress.png; widen --trap and --choke, or thicken thin parts",
        more=f"{'; '.join(worst)}; without trap and choke {result.before.peek_mm2:.0f} and "
        f"{result.before.gap_mm2:.0f} mm²",
    )


def _rounds(plates: Sequence[Plate], rounds: Rounds, press: Press) -> Finding:
    """Tell how more screens than heads can print, and what a reload would part."""
    words = "; ".join(
        f"round {number}: {', '.join(plates[i].name for i in screens)}"
        for number, screens in enumerate(rounds.rounds, 1)
    )
    text = f"{len(plates)} screens on {press.heads} heads: {len(rounds.rounds)} rounds"
    if not rounds.parted:
        return Finding(
            "more-screens-than-heads",
            "info",
            text,
            "between rounds the garment may be taken off: nothing touches",
            more=f"{words}; nothing of one round comes within 4 mm of another",
        )
    pairs = [f"{plates[a].name} and {plates[b].name}" for a, b, _ in rounds.parted[:3]]
    more = "" if len(rounds.parted) <= 3 else f" and {len(rounds.parted) - 3} more"
    return Finding(
        "more-screens-than-heads",
        "warn",
        text,
        "leave each garment on its platen while screens change",
        more=f"{words}; {', '.join(pairs)}{more} touch across rounds, and a reload falls 2 to 4 mm off",
    )


def _tones(plates: Sequence[Plate]) -> list[Finding]:
    """Tell which screens are halftoned."""
    toned = [plate.name for plate in plates if plate.halftone is not None]
    if not toned:
        return []
    names = ", ".join(toned) if len(toned) < 4 else f"{len(toned)} screens"
    more = ", ".join(toned) if len(toned) > 3 else ""
    return [Finding("tones", "info", f"halftone dots in {names}", "lines and what is one ink stay solid", more=more)]


def _shift(name: str, garment: Garment, plan: Plan, tolerance_de00: float) -> Finding:
    choice = plan.choices[name]
    chosen = choice.chosen
    level: Level = "warn" if chosen.de00 > SHIFT_WORTH_SAYING * tolerance_de00 else "info"
    best = min(choice.options, key=lambda o: o.de00)
    more = f"ΔE00 {chosen.de00:.1f} from its own colour, {chosen.label}"
    if best.de00 > tolerance_de00:
        more += f"; the best way is {best.label} with {best.de00:.1f}, none is within {tolerance_de00:g}"
    helped = plan.helps.get(name)
    hint = "no base helps: mix it a step lighter, or accept it"
    if helped is not None:
        hint = f"{helped.words} would help"
        within = "" if helped.de00 <= tolerance_de00 else ", still out of tolerance"
        more += f"; with {helped.words} ΔE00 {helped.de00:.1f}{within}"
    return Finding(
        "colour-shifts", level, f"{name} comes out {_how_far(chosen.de00)} on {garment.name}", hint, more=more
    )


def _how_far(de00: float) -> str:
    """Return a ΔE00 in words of a shop: what is seen beside the pot."""
    return "a little off its colour" if de00 < OFF_DE00 else "clearly off its colour"


def _thin_base(art: Artwork, base_thin: U32 | None) -> list[Finding]:
    """Tell of fine art whose base keeps no full choke; a few pixels of tips and corners are not worth a word."""
    if base_thin is None or len(base_thin) * px_to_mm(1, art.dpi) ** 2 < THIN_BASE_MM2:
        return []
    row, column = divmod(int(base_thin[len(base_thin) // 2]), art.alpha.shape[1])
    place = (px_to_mm(float(column), art.dpi), px_to_mm(float(row), art.dpi))
    area_mm2 = px_to_mm(1, art.dpi) ** 2 * len(base_thin)
    return [
        Finding(
            "base-too-thin-to-choke",
            "warn",
            f"base may show beside fine strokes, at {place[0]:.0f}, {place[1]:.0f} mm",
            "thicken those strokes, or print them without a base",
            place,
            f"{area_mm2:.1f} mm² keep their base without the full choke, which would eat it",
        )
    ]
