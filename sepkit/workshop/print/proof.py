"""What is looked at before a screen is burned: out of register, with fewer inks, on the run's sizes.

In: a planned print and its predicted picture. Out: pictures by file name, keys for separation.json, findings.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any

from sepkit.preview.garment import draw_sizes, measures
from sepkit.preview.ladder import Step, ladder_sheet
from sepkit.threads import start
from sepkit.units import to_hex
from sepkit.workshop.print.film_proof import FilmProof, film_proof, films_seen_finding
from sepkit.workshop.print.findings import stress_finding
from sepkit.workshop.print.ladder import Ladder, Rung, ladder_finding, ladder_of
from sepkit.workshop.print.picture import stress_picture, worn_print

if TYPE_CHECKING:
    from sepkit.model import U8, Finding
    from sepkit.preview.stress import Exposed, StressResult
    from sepkit.workshop.print.plan import PlannedPrint

CHOICE_PX = 420
MOST_LOST = 5
"""Colours that are named as lost below a choice."""


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
    beside = start(lambda: stress_picture(planned, error_mm=planned.bench.register_error_mm))
    ladder = ladder_of(planned) if planned.options.ladder else None
    picture, result = beside.result()
    pictures = {"stress.png": picture}
    record: dict[str, Any] = {"stress": _stress_record(result, planned)}
    findings: list[Finding | None] = [stress_finding(separation.plates, result)]
    if ladder is not None:
        pictures["choices.png"] = choices_picture(ladder, planned)
        pictures["ladder.png"] = ladder_picture(ladder, planned)
        record["ladder"] = [_rung_record(rung) for rung in ladder.rungs]
        if not planned.bench.wishes.solved:  # of tonal art that is told when its screens are chosen
            findings.append(ladder_finding(ladder))
    if planned.bench.wishes.solved:
        seen = _films_seen(planned)
        findings.append(films_seen_finding(seen, planned.bench.register_error_mm))
        record["films_seen"] = seen.record
    if planned.options.sizes:
        pictures["sizes.png"] = sizes_picture(planned)
    told = tuple(finding for finding in findings if finding is not None)
    return planned.telling(told), Proof(pictures, record, ladder)


def _films_seen(planned: PlannedPrint) -> FilmProof:
    """Return how the films of tonal art print, as they are seen from a metre."""
    separation = planned.separation
    return film_proof(
        separation.plates,
        separation.garment,
        separation.artwork,
        making=planned.making,
        register_error_mm=planned.bench.register_error_mm,
    )


def sizes_picture(planned: PlannedPrint) -> U8:
    """Return the print on the smallest and the largest garment of the run, at one scale."""
    garment = planned.separation.garment
    by_width = sorted(dict.fromkeys(planned.options.sizes), key=lambda size: measures(garment, size)[0])
    ends = [by_width[0]] if len(by_width) == 1 else [by_width[0], by_width[-1]]
    return draw_sizes(garment, worn_print(planned), sizes=ends)


def ladder_picture(ladder: Ladder, planned: PlannedPrint) -> U8:
    """Return ladder.png: the art and each rung with its figures; the marked one is the print as planned."""
    steps = [Step(ladder.art, "Artwork on the garment", ("what the prints are held against",))]
    for rung in ladder.rungs:
        title = "1 ink" if rung.inks == 1 else f"{rung.inks} inks"
        lines = (rung.effort(), *rung.lost[:3])
        steps.append(Step(rung.picture, title, lines, rung.colours, marked=rung is ladder.printed))
    return ladder_sheet(steps, title=f"{_title(planned)}: what fewer inks cost")


def choices_picture(ladder: Ladder, planned: PlannedPrint) -> U8:
    """Return choices.png: what fits one load of the press, what is worth its screens, all inks; the made one marked."""
    steps = [Step(ladder.art, "Artwork on the garment", ("what the prints are held against",))]
    for words_of, rung in ladder.named():
        title, marked = ", ".join(words_of), rung is ladder.printed
        steps.append(Step(rung.picture, title, (rung.effort(), *_lost_lines(rung)), rung.colours, marked=marked))
    return ladder_sheet(steps, title=f"{_title(planned)}: how many screens", panel_px=CHOICE_PX)


def _lost_lines(rung: Rung) -> tuple[str, ...]:
    if not rung.lost:
        return ("nothing is lost",)
    more = len(rung.lost) - MOST_LOST
    return (*rung.lost[:MOST_LOST], *([f"and {more} more"] if more > 0 else []))


def _title(planned: PlannedPrint) -> str:
    return f"{planned.separation.artwork.source} on {planned.separation.garment.name}"


def _rung_record(rung: Rung) -> dict[str, Any]:
    time = rung.choice.time
    return {
        "inks": rung.inks,
        "screens": rung.screens,
        "rounds": rung.rounds,
        "setup_min": round(time.setup_min),
        "each_min": round(time.each_min, 2),
        "mean_de00": round(rung.difference.mean_de00, 3),
        "p95_de00": round(rung.difference.p95_de00, 3),
        "share_above_5": round(rung.difference.far_share, 4),
        "seen_loss_de00": round(rung.choice.reduction.lost, 3),
        "colours": [to_hex(colour) for colour in rung.colours],
        "lost": list(rung.lost),
    }


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
