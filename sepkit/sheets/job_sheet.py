"""The sheet of a whole job: what to buy and mix, screens and films, the steps at the press, time and money.

In: what was planned for the job. Out: a Sheet of blocks.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from sepkit.colorimetry.names import colours_called
from sepkit.press.cautions import job_cautions
from sepkit.press.curing import cure_lines
from sepkit.press.minutes import setup_share
from sepkit.press.tape import tape_steps
from sepkit.sheets.blocks import (
    Bullets,
    Cautions,
    Cell,
    Column,
    Gate,
    Notes,
    Paragraph,
    Picture,
    Pictures,
    PressStep,
    Section,
    Sheet,
    Steps,
    Table,
)
from sepkit.sheets.words import amounts, blade_words, clock, coats_words, counted, mesh_words, tape_words

if TYPE_CHECKING:
    from sepkit.jobs import Job
    from sepkit.model import RGB8, Finding
    from sepkit.press.gang.plan import GangPlan
    from sepkit.press.minutes import Costs, Part
    from sepkit.press.quantities import InkNeed
    from sepkit.press.sequence import Order, Step
    from sepkit.press.spares import BlankLine
    from sepkit.press.tape import TapeStep
    from sepkit.sheets.blocks import Row

Tapes = dict[tuple[int, str], "TapeStep"]
"""What is taped, by screen number and open image."""


@dataclass(frozen=True, slots=True, eq=False)
class JobContent:
    """What a job sheet tells."""

    job: Job
    gang: GangPlan
    order: Order
    needs: tuple[InkNeed, ...]
    blanks: tuple[BlankLine, ...]
    minutes: tuple[Part, ...]
    costs: Costs
    findings: tuple[Finding, ...]
    ink_srgb: Mapping[str, RGB8]
    """Ink name to its colour."""
    recipes: Mapping[str, Sequence[tuple[str, float]]]
    """Ink name to shelf inks in g, for inks that are mixed."""
    prints: tuple[Picture, ...]
    screens: tuple[Picture, ...]
    films: tuple[tuple[str, str], ...]
    """(file, what it holds)."""
    presses: int
    """Closings of the heat press for the largest print."""
    flashes: bool
    fleece: bool

    @property
    def minutes_sum(self) -> float:
        """All attended minutes."""
        return sum(part.amount for part in self.minutes)

    @property
    def pieces(self) -> int:
        """Garments ordered."""
        return sum(line.ordered for line in self.blanks)


def job_sheet(content: JobContent) -> Sheet:
    """Return the sheet of a job."""
    job = content.job
    steps = Steps(_steps(content))
    cure = cure_lines(job.ink_kind, job.heat_press, presses=content.presses, fleece=content.fleece)
    return Sheet(
        job.title,
        _sub(content),
        (
            Section("At a glance", (_glance(content),)),
            Section("Prints", (Pictures(content.prints),)),
            Section("To know first", _notes(content.findings)),
            Section("To buy", _blanks(content)),
            Section("Screens", _screens(content)),
            Section("Films", _films(content.films)),
            Section("Ink cups", _cups(content)),
            Section("Before the run", (_gate(job),), at_press=True),
            Section("At the press", (_order_words(content.order), steps), at_press=True),
            Section("Flash and cure", (Bullets(tuple(cure)),), at_press=True),
            Section("Take care", (_cautions(content),), at_press=True),
            Section("Time and money", (*_time(content), *_money(content))),
            Section("How the ink adds up", tuple(_parts(need) for need in content.needs)),
        ),
    )


def _sub(content: JobContent) -> str:
    counts = (
        counted(content.pieces, "garment"),
        counted(len(content.job.prints), "print"),
        counted(len(content.gang.screens), "screen"),
    )
    return f"{', '.join(counts)}, {clock(content.minutes_sum)} of work alone, on {content.job.press.name}"


def _glance(content: JobContent) -> Table:
    screens, needs = content.gang.screens, content.needs
    now, written = content.order.tally, content.order.as_written
    buy = sum(line.buy for line in content.blanks)
    stage_g, back_g = sum(need.stage_g for need in needs), sum(need.back_g for need in needs)
    rows = (
        ("screens", f"{len(screens)}", f"{sum(len(screen.placed) for screen in screens)} with one for each film"),
        ("screens washed for another ink", f"{now.washups}", f"{written.washups} in the order as written"),
        ("blades washed", f"{now.blade_washes}", f"{written.blade_washes} as written"),
        ("frames hung or turned", f"{now.mounts + now.turns}", f"{written.mounts + written.turns} as written"),
        ("changing over", clock(now.minutes), f"{clock(written.minutes)} as written"),
        ("blanks to buy", f"{buy}", f"{content.pieces} ordered; the rest is spares and tests"),
        ("ink to stage", f"{stage_g:.0f} g", f"{back_g:.0f} g of it comes back"),
    )
    return Table(("", "this plan", "against"), rows)


def _notes(findings: Sequence[Finding]) -> tuple[Notes, ...]:
    return (Notes(tuple(sorted(findings, key=lambda finding: finding.rank))),) if findings else ()


def _blanks(content: JobContent) -> tuple[Table | Paragraph, ...]:
    rows: list[Row] = [
        (
            Cell(line.garment, tick=True),
            line.size,
            f"{line.ordered}",
            f"{line.spares}",
            f"{line.tests}",
            f"{line.buy}",
            f"{line.loss:.1%}",
            f"{line.chance:.0%}",
        )
        for line in content.blanks
    ]
    sums = [sum(getattr(line, name) for line in content.blanks) for name in ("ordered", "spares", "tests", "buy")]
    rows.append(("all", "", *(f"{total}" for total in sums), "", ""))
    numbers = ("ordered", "spares", "tests", "buy", "lost on the way", "chance filled")
    spoil = content.job.spoilage
    words = (
        f"Spares fill each line with a chance of at least {spoil.certainty:.0%} when {spoil.loss:.0%} are lost at "
        "each placement. A spoiled M cannot go out as an L: buy in the right size."
    )
    return Table(("garment", "size", *_numbers(*numbers)), tuple(rows), sums=1), Paragraph(words)


def _screens(content: JobContent) -> tuple[Table | Pictures | Paragraph, ...]:
    rows = tuple(
        (
            Cell(f"{screen.number}", tick=True),
            screen.screen.name,
            mesh_words(screen.mesh),
            placed.item.name,
            f"{placed.x_mm:.0f}, {placed.y_mm:.0f}",
            f"{placed.width_mm:.0f} x {placed.height_mm:.0f}",
            f"{placed.rotation}°",
            f"end {placed.end}",
            blade_words(placed.blade_mm),
        )
        for screen in content.gang.screens
        for placed in screen.placed
    )
    heads = ("screen", "frame", "mesh", "image", "from left, end A, mm", "size, mm", "on film", "at the clamp", "blade")
    whole = {"screen", "frame", "mesh", "from left, end A, mm", "size, mm", "at the clamp", "blade"}
    proven = "No plan has fewer screens." if content.gang.proven else "Fewer screens may be possible: not proven."
    words = (
        f"{proven} Seen from the squeegee side. An image at 180° is printed with the frame turned, so that end B "
        "is at the clamp; it is turned on the film, never mirrored."
    )
    table = Table(tuple(Column(head, "whole" if head in whole else "text") for head in heads), rows)
    drawings = (Pictures(content.screens, "full"),) if content.screens else ()
    return (table, Paragraph(words), *drawings)


def _films(films: Sequence[tuple[str, str]]) -> tuple[Table, ...]:
    if not films:
        return ()
    return (Table(("file", "holds"), tuple((Cell(name, tick=True), text) for name, text in films)),)


def _cups(content: JobContent) -> tuple[Table, Paragraph]:
    rows: tuple[Row, ...] = tuple(
        (
            Cell(colours_called(need.ink), swatch=content.ink_srgb[need.ink], tick=True),
            *(f"{g:.0f}" for g in (need.stage_g, need.on_shelf_g, need.to_mix_g)),
            *(f"{g:.0f}" for g in (need.printed_g + need.tests_g, need.lost_g, need.back_g)),
            amounts(content.recipes[need.ink]) if need.ink in content.recipes else "as it is",
        )
        for need in content.needs
    )
    masses = _numbers("stage, g", "from the shelf, g", "new, g", "on cloth, g", "lost, g", "comes back, g")
    words = (
        "A screen prints only with a bead of ink along the whole blade; most of it is carded back. Weigh five garments "
        "before and after and set ink_factor in the job file. Mixed colours start as predicted: make a draw-down, cure "
        "it, judge it cold."
    )
    return Table(("ink", *masses, "recipe"), rows), Paragraph(words)


def _parts(need: InkNeed) -> Table:
    rows = [(part.what, part.formula, f"{part.mass_g:.1f}") for part in need.parts]
    rows.append(("to stage", "", f"{need.stage_g:.1f}"))
    return Table((colours_called(need.ink), "", *_numbers("g")), tuple(rows), sums=1)


def _gate(job: Job) -> Gate:
    kinds = ", ".join(line.garment for line in job.garments)
    lines = (
        f"Print and cure a test garment of each kind ({kinds}), all placements.",
        "Colour, register and edges judged cold, in daylight, beside the picture above.",
        "Platen level, off-contact about 2 mm, more on fleece (common practice); screens taped after registering.",
        "Ink temperature measured in the film: ________ °C.",
        "Washed and dried once at the temperature of the care label, better five times: no cracks, nothing rubs off.",
        "Result: ______________________________   date: ______________   No run before this is ticked.",
    )
    return Gate("Wash test before the run", lines)


def _order_words(order: Order) -> Paragraph:
    proven = "no order takes less time" if order.exact else "a better one may exist"
    return Paragraph(
        "On each garment the placement that loses most for the time it takes comes first, so that a spoiled piece has "
        f"cost little. Among such orders this one changes over in {clock(order.tally.minutes)}; {proven}. Keep a "
        "spare of each size until its last placement."
    )


def _steps(content: JobContent) -> tuple[PressStep, ...]:
    tapes = {(screen.number, t.open.item.name): t for screen in content.gang.screens for t in tape_steps(screen)}
    return tuple(_step(content, step, tapes) for step in content.order.steps)


def _step(content: JobContent, step: Step, tapes: Tapes) -> PressStep:
    run = step.run
    lines = []
    for nth, pull in enumerate(run.pulls):
        if now := step.before_pull(nth):
            lines.append(f"Then {colours_called('; '.join(now))}.")
        taped = tape_words(tapes[pull.screen, pull.image])
        coats = coats_words(pull.coats, flash_after=pull.flash_after)
        lines.append(
            f"Screen {pull.screen}, end {pull.end} to the clamp; open: {pull.image}{taped}. "
            f"Ink {colours_called(pull.ink)}, {blade_words(pull.blade_mm)} blade, {coats}."
        )
    lines.append(f"Cure before the garment is turned. Printed: {_size_counts(content, run.print_name, run.garment)}.")
    lines.append(f"Good ____  spoiled ____  ({run.pieces} pieces, about {clock(run.pieces * run.minutes_per_piece)})")
    before = tuple(map(colours_called, step.changes))
    return PressStep(f"{run.print_name}: {run.placement} of {run.garment}", tuple(lines), before)


def _size_counts(content: JobContent, print_name: str, garment: str) -> str:
    """Return how many of each size are printed, spares and tests with them."""
    wanted = next(one.sizes for one in content.job.prints if one.name == print_name)
    lines = [line for line in content.blanks if line.garment == garment and (not wanted or line.size in wanted)]
    return ", ".join(f"{line.size} {line.buy}" for line in lines)


def _cautions(content: JobContent) -> Cautions:
    job = content.job
    return Cautions(
        tuple(
            job_cautions(
                flashes=content.flashes,
                discharge=job.ink_kind == "discharge",
                children=any(line.children for line in job.garments),
                labels=any(one.placement == "neck label" for one in job.prints),
            )
        )
    )


def _time(content: JobContent) -> tuple[Table]:
    rows = [(part.what, f"{part.amount:.0f}") for part in content.minutes]
    rows.append(("all, alone", f"{content.minutes_sum:.0f}"))
    return (Table(("work", *_numbers("minutes")), tuple(rows), sums=1),)


def _money(content: JobContent) -> tuple[Table, Paragraph]:
    costs, currency = content.costs, content.job.money.currency
    sums = [(part.what, part.amount, part.amount / max(costs.pieces, 1)) for part in costs.fixed]
    sums += [(part.what, part.amount * costs.pieces, part.amount) for part in costs.each]
    sums.append(("all", costs.per_garment * costs.pieces, costs.per_garment))
    rows = tuple((what, f"{job:.2f}", f"{garment:.2f}") for what, job, garment in sums)
    shares = ", ".join(f"{share:.2f} at {count}" for count, share in setup_share(costs))
    even = (
        f"At {costs.price:.2f} it pays from {costs.break_even} garments on."
        if costs.break_even is not None
        else "No price is told, or a garment costs more than it sells for: no break-even."
    )
    words = f"{even} What does not depend on the number comes to, per garment: {shares}."
    return Table((f"cost, {currency}", *_numbers("job", "garment")), rows, sums=1), Paragraph(words)


def _numbers(*heads: str) -> tuple[Column, ...]:
    return tuple(Column(head, "number") for head in heads)
