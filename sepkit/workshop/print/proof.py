"""What is looked at before a screen is burned: out of register, with fewer inks, on the run's sizes.

In: a planned print and its predicted picture. Out: pictures by file name, keys for separation.json, findings.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from sepkit.preview.garment import draw_sizes, measures
from sepkit.preview.ladder import Step, ladder_sheet
from sepkit.units import to_hex
from sepkit.workshop.print.findings import stress_finding
from sepkit.workshop.print.ladder import Ladder, ladder_finding, ladder_of
from sepkit.workshop.print.picture import stress_picture, worn_print

if TYPE_CHECKING:
    from sepkit.model import U8, Finding
    from sepkit.preview.stress import Exposed, StressResult
    from sepkit.workshop.print.plan import PlannedPrint


@dataclass(frozen=True, slots=True, eq=False)
class Proof:
    """Pictures by file name, and what goes into separation.json."""

    pictures: dict[str, U8]
    record: dict[str, Any]
    """Reports by their key."""
    ladder: Ladder | None


def proofed(planned: PlannedPrint) -> tuple[PlannedPrint, Proof]:
    """Return the plan with the proof's findings, and the proof.

    Raises UsageError for a size that the garment does not come in.
    """
    separation = planned.separation
    picture, result = stress_picture(planned, error_mm=planned.bench.register_error_mm)
    pictures = {"stress.png": picture}
    record: dict[str, Any] = {"stress": _stress_record(result, planned)}
    findings: list[Finding | None] = [stress_finding(separation.plates, result)]
    beyond = planned.options.fewer and len(separation.plates) > planned.bench.press.heads
    ladder = ladder_of(planned, named=beyond) if planned.options.ladder else None
    if ladder is not None:
        pictures["ladder.png"] = ladder_picture(ladder, planned)
        record["ladder"] = [
            {
                "inks": r.inks,
                "screens": r.screens,
                "rounds": r.rounds,
                "mean_de00": round(r.difference.mean_de00, 3),
                "p95_de00": round(r.difference.p95_de00, 3),
                "share_above_5": round(r.difference.far_share, 4),
                "colours": [to_hex(c) for c in r.colours],
                "lost": list(r.lost),
            }
            for r in ladder.rungs
        ]
        findings.append(ladder_finding(ladder))
    if planned.options.sizes:
        pictures["sizes.png"] = sizes_picture(planned)
    told = tuple(finding for finding in findings if finding is not None)
    return planned.telling(told), Proof(pictures, record, ladder)


def sizes_picture(planned: PlannedPrint) -> U8:
    """Return the print on the smallest and the largest garment of the run, at one scale."""
    garment = planned.separation.garment
    by_width = sorted(dict.fromkeys(planned.options.sizes), key=lambda size: measures(garment, size)[0])
    ends = [by_width[0]] if len(by_width) == 1 else [by_width[0], by_width[-1]]
    return draw_sizes(garment, worn_print(planned), sizes=ends)


def ladder_picture(ladder: Ladder, planned: PlannedPrint) -> U8:
    """Return ladder.png: the art and each rung with its figures; the marked one is the knee within the heads."""
    within = ladder.within_heads
    steps = [Step(ladder.art, "Artwork on the garment", ("what the prints are held against",))]
    for rung in ladder.rungs:
        d = rung.difference
        screens = "1 screen" if rung.screens == 1 else f"{rung.screens} screens"
        fits = "fits" if rung.screens <= ladder.heads else f"{rung.rounds} rounds on"
        heads = "1 head" if ladder.heads == 1 else f"{ladder.heads} heads"
        lines = (
            f"dE00 {d.mean_de00:.1f} on average, 95 % within {d.p95_de00:.1f}, {100 * d.far_share:.0f} % above 5",
            f"{screens}, {fits} {heads}",
            *rung.lost[:3],
        )
        title = "1 ink" if rung.inks == 1 else f"{rung.inks} inks"
        steps.append(Step(rung.picture, title, lines, rung.colours, marked=rung is within))
    return ladder_sheet(
        steps, title=f"{planned.separation.artwork.source} on {planned.separation.garment.name}: what fewer inks cost"
    )


def _stress_record(result: StressResult, planned: PlannedPrint) -> dict[str, Any]:
    plates = planned.separation.plates

    def worst(found: Exposed) -> dict[str, Any]:
        return {
            "base_peeking_mm2": round(found.peek_mm2, 2),
            "garment_gaps_mm2": round(found.gap_mm2, 2),
            "worst_for_base": None if found.peek_shift is None else plates[found.peek_shift.plate].name,
            "worst_for_gaps": None if found.gap_shift is None else plates[found.gap_shift.plate].name,
        }

    return {
        "register_error_mm": result.error_mm,
        "without_trap_and_choke": worst(result.before),
        "as_printed": worst(result.after),
    }
