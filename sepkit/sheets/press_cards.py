"""What hangs at the press: one page for the whole day, then one card for each round.

In: what was planned for the job. Out: a Sheet, each section one A4 page. Type is as large as the page allows: sections
with many lines are marked full, and ``style`` sets them smaller.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from sepkit.colorimetry.names import colours_called
from sepkit.press.curing import CURES
from sepkit.press.tape import tape_steps
from sepkit.sheets.blocks import (
    Cell,
    Column,
    Gate,
    Heading,
    Notes,
    Paragraph,
    Picture,
    Pictures,
    Section,
    Sheet,
    Table,
)
from sepkit.sheets.words import amounts, blade_words, clock, counted, tape_words

if TYPE_CHECKING:
    from sepkit.model import Finding
    from sepkit.press.runs import Pull
    from sepkit.press.sequence import Step
    from sepkit.press.tape import TapeStep
    from sepkit.sheets.blocks import Block, Page, Row
    from sepkit.sheets.job_sheet import JobContent, RoundFacts

MOST_NOTES = 5
"""Warnings on the page of the day; the others stand in the appendix."""
LONG_NOTE = 160
"""Characters of a warning that the day shows whole."""
FILMS_SHOWN = 3
"""Pulls up to which a card shows films beside the screens."""
CARE = (
    "Heat press and flash burn: hands clear, never left alone, solvents away, fresh air. The data sheets of ink and "
    "machines decide; the other cautions stand in the appendix."
)


def press_sheet(content: JobContent) -> Sheet:
    """Return the page of the day and the cards of the rounds."""
    tapes = {(screen.number, t.open.item.name): t for screen in content.gang.screens for t in tape_steps(screen)}
    cards = [_card(content, step, tapes) for step in content.order.steps]
    return Sheet(content.job.title, _sub(content), (_day(content), *cards))


def _sub(content: JobContent) -> str:
    money, costs = content.job.money.currency, content.costs
    counts = (
        counted(content.pieces, "garment"),
        counted(len(content.order.steps), "round"),
        counted(len(content.gang.screens), "screen"),
    )
    total = costs.per_garment * max(costs.pieces, 1)
    return f"{', '.join(counts)}; {clock(content.minutes_sum)} of work alone; {total:.0f} {money}"


def _day(content: JobContent) -> Section:
    parts: list[tuple[str, Table]] = [
        ("Screens to burn", _screens(content)),
        ("Inks to mix", _inks(content)),
        ("Blanks to buy", _blanks(content)),
        ("Rounds", _rounds(content)),
        ("Minutes and money", _sums(content)),
    ]
    blocks: list[Block] = [
        Gate("Before the run", ("A test garment printed, cured, washed and dried: nothing cracks, nothing rubs off.",))
    ]
    if content.lacking:
        blocks.append(Gate("Still to get", content.lacking))
    for title, table in parts:
        blocks += [Heading(title), table]
    serious = sorted((one for one in content.findings if one.level != "info"), key=lambda one: one.rank)
    if serious:
        more = len(serious) - MOST_NOTES
        words = f"To know first{f' ({more} more in the appendix)' if more > 0 else ''}"
        blocks += [Heading(words), Notes(tuple(_short(one) for one in serious[:MOST_NOTES]))]
    blocks.append(Paragraph(CARE, small=True))
    return Section("", tuple(blocks), page=_page(blocks, DAY_SIZES))


def _short(finding: Finding) -> Finding:
    """Return a finding without its hint, up to its first stop where it is long: the appendix has all of it."""
    text = finding.text if len(finding.text) <= LONG_NOTE else finding.text.split(";")[0]
    return replace(finding, text=text, hint="")


def _screens(content: JobContent) -> Table:
    rows: list[Row] = []
    for screen in content.gang.screens:
        images = "; ".join(f"{placed.item.name}{'' if placed.end == 'A' else ' (end B)'}" for placed in screen.placed)
        rows.append((Cell(f"{screen.number}", tick=True), f"{screen.screen.name}, {screen.mesh}", images))
    return Table((Column("screen", "whole"), "frame, mesh", "images"), tuple(rows))


def _inks(content: JobContent) -> Table:
    rows: tuple[Row, ...] = tuple(
        (
            Cell(colours_called(need.ink), swatch=content.ink_srgb[need.ink], tick=True),
            f"{need.stage_g:.0f}",
            f"{need.to_mix_g:.0f}",
            amounts(content.recipes[need.ink]) if need.ink in content.recipes else "as it is",
        )
        for need in content.needs
    )
    return Table(("ink", Column("ready, g", "number"), Column("new, g", "number"), "recipe"), rows)


def _blanks(content: JobContent) -> Table:
    rows: list[Row] = []
    for name in dict.fromkeys(line.garment for line in content.blanks):
        lines = [line for line in content.blanks if line.garment == name]
        sizes = ", ".join(f"{line.size} {line.buy}" for line in lines)
        extra = sum(line.spares + line.tests for line in lines)
        rows.append((Cell(name, tick=True), sizes, f"{sum(line.buy for line in lines)}", f"{extra}"))
    rows.append(
        (
            "all",
            "",
            f"{sum(line.buy for line in content.blanks)}",
            f"{sum(line.spares + line.tests for line in content.blanks)}",
        )
    )
    heads = ("garment", "sizes", Column("buy", "number"), Column("of it spares, tests", "number"))
    return Table(heads, tuple(rows), sums=1)


def _rounds(content: JobContent) -> Table:
    rows: tuple[Row, ...] = tuple(
        (
            Cell(f"{step.number}", tick=True),
            _round_name(step),
            f"{step.run.pieces}",
            f"{step.tally.minutes:.0f}",
            f"{step.run.pieces * step.run.minutes_per_piece:.0f}",
        )
        for step in content.order.steps
    )
    heads = (Column("round", "whole"), "print", Column("pieces", "number"))
    return Table((*heads, Column("set up, min", "number"), Column("print, min", "number")), rows)


def _round_name(step: Step) -> str:
    run = step.run
    stage = f", stage {run.stage} of {run.stages}" if run.stages > 1 else ""
    batch = f", {run.batches} batches of {run.batch}" if run.batch else ""
    return f"{run.print_name} on {run.garment}{stage}{batch}"


def _sums(content: JobContent) -> Table:
    costs, currency = content.costs, content.job.money.currency
    rows: list[Row] = [(part.what, f"{part.amount:.0f} min") for part in content.minutes]
    rows.append(("changing over as written would take", clock(content.order.as_written.minutes)))
    level = content.buying.get(content.chosen)
    if level is not None:
        short = f"{1 - level.chance:.0%} of runs, {level.missing:.1f} pieces on average"
        rows.append((f"{counted(level.count, 'spare')}; short of a piece or more in", short))
        safe = content.buying.get("safe")
        if safe is not None and safe.count > level.count:
            words = f"{safe.count - level.count} more spares, {safe.paid - level.paid:.0f} {currency}: short in"
            rows.append((words, f"{1 - safe.chance:.0%} of runs"))
    rows.append(("each garment costs", f"{costs.per_garment:.2f} {currency}"))
    if costs.break_even is not None:
        rows.append(("pays from", counted(costs.break_even, "garment")))
    rows.append((Cell("all, alone", strong=True), Cell(clock(content.minutes_sum), strong=True)))
    return Table(("", Column("", "number")), tuple(rows))


def _card(content: JobContent, step: Step, tapes: dict[tuple[int, str], TapeStep]) -> Section:
    run = step.run
    facts = content.rounds.get((run.print_name, run.garment))
    blocks: list[Block] = [Paragraph(_about(step, facts))]
    if run.pause:
        blocks.append(Gate("", (f"Between the stages: {run.pause}.",)))
    changes = tuple(colours_called(change) for change in step.changes) or ("nothing to change: go on as it stands",)
    blocks.append(Gate("First", changes))
    pictures = _pictures(content, step, facts)
    if pictures:
        blocks.append(Pictures(pictures, "strip"))
    blocks.append(_pulls(content, step, facts, tapes))
    blocks += _between(step)
    blocks.append(_counts(content, step))
    blocks.append(Paragraph(_cure(content, facts, last=run.stage == run.stages or "cure" in run.pause)))
    left = ", ".join(f"{colours_called(ink)} ____ g" for ink in dict.fromkeys(pull.ink for pull in run.pulls))
    blocks.append(Paragraph(f"Minutes ______   left in the pots: {left}", small=True))
    blocks.append(Paragraph(CARE, small=True))
    title = f"Round {step.number} of {len(content.order.steps)}: {run.print_name} on {run.garment}"
    return Section(title, tuple(blocks), page=_page(blocks, SIZES))


@dataclass(frozen=True, slots=True)
class TypeSize:
    """How a page is set: characters to a line; heights of a line, of its pictures, of the padding of a row, in mm.

    ``column`` is the share of the width that a column of words gets in a table; ``room_mm`` is what the page holds by
    this rough reckoning, both columns of a day together.
    """

    page: Page
    line_chars: int
    line_mm: float
    pictures_mm: float = 0.0
    padding_mm: float = 1.8
    column: float = 0.2
    room_mm: float = 250.0


SIZES = (
    TypeSize("card", 78, 6.2, 52.0),
    TypeSize("card full", 96, 5.0, 36.0),
    TypeSize("card fuller", 112, 4.0, 30.0),
    TypeSize("card fullest", 130, 3.4, 22.0),
)
DAY_SIZES = (
    TypeSize("day", 50, 4.3, padding_mm=1.6, column=0.4, room_mm=400.0),
    TypeSize("day full", 60, 3.2, padding_mm=0.8, column=0.4, room_mm=400.0),
    TypeSize("day fuller", 72, 2.6, padding_mm=0.5, column=0.4, room_mm=400.0),
)


def _page(blocks: Sequence[Block], sizes: Sequence[TypeSize]) -> Page:
    """Return the largest type in which blocks fit their page, else the smallest there is."""
    fitting = (size.page for size in sizes[:-1] if _height_mm(blocks, size) < size.room_mm)
    return next(fitting, sizes[-1].page)


def _height_mm(blocks: Sequence[Block], size: TypeSize) -> float:
    """Return about how high blocks are, all in one column."""

    def lines(text: str, share: float = 1.0) -> int:
        return max(1, -(-len(text) // max(1, int(size.line_chars * share))))

    total = 14.0
    for block in blocks:
        if isinstance(block, Paragraph):
            total += lines(block.text) * size.line_mm + 1.0
        elif isinstance(block, Gate):
            total += (bool(block.title) + sum(lines(line) for line in block.lines)) * (size.line_mm + 0.8) + 8.0
        elif isinstance(block, Pictures):
            total += size.pictures_mm + 14.0
        elif isinstance(block, Table):
            for row in block.rows:
                words = [cell.text if isinstance(cell, Cell) else cell for cell in row]
                total += max(lines(word, size.column) for word in words) * size.line_mm + size.padding_mm
            total += 2 * size.line_mm
        elif isinstance(block, Notes):
            total += sum(lines(finding.text) for finding in block.findings) * size.line_mm
        elif isinstance(block, Heading):
            total += 6.0
    return total


def _about(step: Step, facts: RoundFacts | None) -> str:
    run = step.run
    where = facts.where if facts is not None else run.placement
    words = f"{where}. {counted(run.pieces, 'garment')}, about {clock(run.pieces * run.minutes_per_piece)}."
    if run.stages > 1:
        words += f" Stage {run.stage} of {run.stages}."
    if run.batch:
        words += (
            f" {counted(run.batches, 'batch') if run.batches == 1 else f'{run.batches} batches'} of {run.batch}: each "
            f"garment stays on its platen until all {len(run.pulls)} screens are on it."
        )
    return words


def _pictures(content: JobContent, step: Step, facts: RoundFacts | None) -> tuple[Picture, ...]:
    out = [] if facts is None else [facts.picture]
    pulls = step.run.pulls
    for number, pull in enumerate(pulls, 1):
        screen = content.screen_pictures.get((pull.screen, pull.image))
        film = content.film_pictures.get(pull.image)
        if screen is not None:
            out.append(Picture(screen, f"{number}: screen {pull.screen}, end {pull.end} to the clamp"))
        if film is not None and len(pulls) < FILMS_SHOWN:
            out.append(Picture(film, f"film: {pull.image}"))
    return tuple(out)


def _pulls(content: JobContent, step: Step, facts: RoundFacts | None, tapes: dict[tuple[int, str], TapeStep]) -> Table:
    meshes = {screen.number: screen.mesh for screen in content.gang.screens}
    rows: list[Row] = []
    for number, pull in enumerate(step.run.pulls, 1):
        load_g, used_g = (0.0, 0.0) if facts is None else facts.grams.get(pull.image, (0.0, 0.0))
        rows.append(
            (
                Cell(f"{number}", tick=True),
                f"screen {pull.screen}, {meshes[pull.screen]}{_taped(pull, tapes)}",
                Cell(colours_called(pull.ink), swatch=content.ink_srgb.get(pull.ink), strong=True),
                f"{load_g:.0f} + {used_g:.0f}",
                blade_words(pull.blade_mm),
                _coats(pull),
            )
        )
    heads: tuple[Column | str, ...] = (Column("pull", "whole"), "screen, mesh", "ink")
    masses, blade = Column("g: in screen + on cloth", "number"), Column("blade", "whole")
    return Table((*heads, masses, blade, "how"), tuple(rows))


def _coats(pull: Pull) -> str:
    coats = "1 coat" if pull.coats == 1 else f"{pull.coats} coats, flash between"
    return f"{coats}{', flash after' if pull.flash_after else ''}"


def _taped(pull: Pull, tapes: dict[tuple[int, str], TapeStep]) -> str:
    return tape_words(tapes[pull.screen, pull.image])


def _between(step: Step) -> list[Block]:
    """Return what changes while the run goes on."""
    pulls = dict.fromkeys(at for at, _ in step.tally.within)
    lines = [f"Before pull {at + 1}: {colours_called('; '.join(step.before_pull(at)))}." for at in pulls]
    if step.tally.changes:
        lines.append(
            "Each further batch from pull 1 on: a screen that does not hang takes the head of the one pulled last, and "
            f"is registered on the batch's first garment. {counted(step.tally.changes, 'screen')} hung again in all."
        )
    return [Gate("While it runs", tuple(lines))] if lines else []


def _counts(content: JobContent, step: Step) -> Table:
    """Return how many of each size are printed, with room for what came of them."""
    run = step.run
    wanted = next((one.sizes for one in content.job.prints if one.name == run.print_name), ())
    lines = [line for line in content.blanks if line.garment == run.garment and (not wanted or line.size in wanted)]
    heads: tuple[Column | str, ...] = ("", *(Column(line.size, "number") for line in lines), Column("all", "number"))
    rows: tuple[Row, ...] = (
        ("to print", *(Cell(f"{line.buy}", strong=True) for line in lines), Cell(f"{run.pieces}", strong=True)),
        ("misprints", *("____" for _ in lines), "____"),
    )
    return Table(heads, rows)


def _cure(content: JobContent, facts: RoundFacts | None, *, last: bool) -> str:
    heat, cure = content.job.heat_press, CURES[content.job.ink_kind]
    if not last:
        return "Flash until touch-dry before the garment comes off; it is cured after its last stage."
    closings = 1 if facts is None else facts.presses
    times = "" if closings == 1 else f", {closings} closings that overlap"
    return (
        f"Cure: heat press {heat.set_c:g} °C, {heat.seconds:g} s{times}; the whole film {cure.film_c[0]}-"
        f"{cure.film_c[1]} °C by its data sheet."
    )
