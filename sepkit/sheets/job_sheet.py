"""The appendix of a job: what to buy and mix, screens and films, time and money, and how each was come to.

In: what was planned for the job. Out: a Sheet of blocks.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, field
from typing import TYPE_CHECKING

from sepkit.colorimetry.names import colours_called
from sepkit.press.cautions import job_cautions
from sepkit.press.curing import cure_lines
from sepkit.press.minutes import setup_share
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
    Section,
    Sheet,
    Table,
)
from sepkit.sheets.words import amounts, blade_words, clock, counted, mesh_words

if TYPE_CHECKING:
    from sepkit.jobs import Job
    from sepkit.model import RGB8, Finding
    from sepkit.press.blanks import Level, Spares
    from sepkit.press.gang.plan import GangPlan
    from sepkit.press.minutes import Costs, Part
    from sepkit.press.quantities import InkNeed
    from sepkit.press.sequence import Order
    from sepkit.press.spares import BlankLine
    from sepkit.sheets.blocks import Row


@dataclass(frozen=True, slots=True)
class RoundFacts:
    """What a card tells of one print on one garment."""

    picture: Picture
    where: str
    """Distances from the garment's edges."""
    grams: Mapping[str, tuple[float, float]]
    """Image to the ink that lies in its screen, and to what goes on cloth, in g."""
    presses: int = 1


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
    buying: Mapping[Level, Spares] = field(default_factory=dict)
    """Three levels of spares."""
    chosen: Level = "least cost"
    proven: bool = False
    """No other screens in any order take less time."""
    lacking: tuple[str, ...] = ()
    """What is to be bought or borrowed beside blanks."""
    rounds: Mapping[tuple[str, str], RoundFacts] = field(default_factory=dict)
    """What the card of a round tells, by print and garment."""
    screen_pictures: Mapping[tuple[int, str], bytes] = field(default_factory=dict)
    """PNG of the frame at the press, by screen and open image."""
    film_pictures: Mapping[str, bytes] = field(default_factory=dict)
    """PNG of each film's image."""

    @property
    def minutes_sum(self) -> float:
        """All attended minutes."""
        return sum(part.amount for part in self.minutes)

    @property
    def pieces(self) -> int:
        """Garments ordered."""
        return sum(line.ordered for line in self.blanks)


def job_sheet(content: JobContent) -> Sheet:
    """Return what is not needed at the press: how everything was come to."""
    job = content.job
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
            Section("Before the run", (_gate(job),)),
            Section("The order", (_order_words(content.order),)),
            Section("Flash and cure", (Bullets(tuple(cure)),)),
            Section("Take care", (_cautions(content),)),
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
    table = Table(("garment", "size", *_numbers(*numbers)), tuple(rows), sums=1)
    words = (
        "Losses at each placement multiply. A spoiled M cannot go out as an L: buy in the right size. What the first "
        "pulls of one print spoil serves for those of the next."
    )
    return table, Paragraph(words), *_levels(content)


def _levels(content: JobContent) -> tuple[Table, ...]:
    """Return what three levels of spares come to."""
    if not content.buying:
        return ()
    currency = content.job.money.currency
    ordered = max(content.pieces, 1)
    rows = tuple(
        (
            Cell(level, strong=level == content.chosen),
            f"{one.count}",
            f"{one.count / ordered:.0%}",
            f"{1 - one.chance:.0%}",
            f"{one.missing:.1f}",
            f"{one.paid:.0f}",
            f"{one.money:.0f}",
        )
        for level, one in content.buying.items()
    )
    heads = ("spares", "of orders", "chance to be short", "pieces short", f"paid, {currency}", f"expected, {currency}")
    return (Table(("level (planned in bold)", *_numbers(*heads)), rows),)


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
    proven = (
        "no order takes less time"
        if order.exact
        else f"no order takes less than {clock(order.least_min)}, and a better one may exist"
    )
    return Paragraph(
        f"Changing over takes {clock(order.tally.minutes)} in the order of the cards, "
        f"{clock(order.as_written.minutes)} as the job is written; {proven}. Of equal orders the placement that loses "
        "most for its time comes first, so that a spoiled piece has cost little. Keep a spare of each size until its "
        "last placement."
    )


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
