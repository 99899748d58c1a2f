"""The job sheet's content from a job's plan: what stands in which section, in words.

In: JobPlan, recipes, pictures. Out: sections for files.jobsheet.
"""

from __future__ import annotations

import io
from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING

from sepkit.colorimetry.names import colours_called
from sepkit.places import PLACES
from sepkit.press.cautions import job_cautions
from sepkit.press.curing import cure_lines
from sepkit.press.minutes import setup_share
from sepkit.press.tape import tape_steps
from sepkit.sheets.job_sheet import Cell, Lines, Notes, Picture, Pictures, PressStep, Section, Steps, Table
from sepkit.units import threads_per_cm_to_tpi, to_hex
from sepkit.workshop.drop.words import (
    amounts,
    blade_words,
    clock,
    coats_words,
    counted,
    size_counts,
    tape_words,
    where_words,
)

if TYPE_CHECKING:
    from sepkit.model import Finding, Mesh
    from sepkit.press.quantities import InkNeed
    from sepkit.press.sequence import Step
    from sepkit.workshop.drop.facts import PrintFacts
    from sepkit.workshop.drop.plan import JobPlan
    from sepkit.workshop.drop.recipes import CupRecipe

PICTURE_PX = 640


def sheet_sections(
    plan: JobPlan,
    *,
    recipes: Mapping[str, CupRecipe],
    screens: Sequence[tuple[bytes, str]],
    films: Sequence[tuple[str, str]],
    findings: Sequence[Finding],
) -> list[Section]:
    """Return the sections of the sheet.

    ``screens`` are PNG drawings of the screens with captions; ``films`` are (file, what it holds).
    """
    return [
        Section("At a glance", (_glance(plan),)),
        Section("Prints", (Pictures(tuple(_print_picture(facts) for facts in plan.prints)),)),
        Section("To know first", (Notes(tuple(_notes(findings))),) if findings else ()),
        Section("To buy", _blanks(plan)),
        Section("Screens", _screens(plan, screens)),
        Section("Films", _films(films)),
        Section("Ink cups", _cups(plan, recipes)),
        Section("Before the run", (_gate(plan),)),
        Section("At the press", (_order_words(plan), Steps(tuple(_step(plan, step) for step in plan.order.steps)))),
        Section("Flash and cure", (Lines(tuple(_cure(plan))),)),
        Section("Time and money", _money(plan)),
        Section("How the ink adds up", tuple(_parts(need) for need in plan.needs)),
        Section("Take care", (Lines(tuple(_cautions(plan))),)),
    ]


def sheet_sub(plan: JobPlan) -> str:
    """Return the line below the title."""
    sold = plan.pieces
    return (
        f"{counted(sold, 'garment')}, {counted(len(plan.job.prints), 'print')}, "
        f"{counted(len(plan.gang.screens), 'screen')}, "
        f"{clock(plan.minutes_sum)} of work alone, on {plan.job.press.name}"
    )


def _glance(plan: JobPlan) -> Table:
    single = sum(len(screen.placed) for screen in plan.gang.screens)
    now, written = plan.order.tally, plan.order.as_written
    rows = (
        ("screens", f"{len(plan.gang.screens)}", f"{single} with one for each film"),
        ("screens washed for another ink", f"{now.washups}", f"{written.washups} in the order as written"),
        ("blades washed", f"{now.blade_washes}", f"{written.blade_washes} as written"),
        ("frames hung or turned", f"{now.mounts + now.turns}", f"{written.mounts + written.turns} as written"),
        ("changing over", clock(now.minutes), f"{clock(written.minutes)} as written"),
        ("blanks to buy", f"{sum(b.buy for b in plan.blanks)}", f"{plan.pieces} ordered; the rest is spares and tests"),
        (
            "ink to stage",
            f"{sum(n.stage_g for n in plan.needs):.0f} g",
            f"{sum(n.back_g for n in plan.needs):.0f} g of it comes back",
        ),
    )
    return Table(("", "this plan", "against"), rows)


def _print_picture(facts: PrintFacts) -> Picture:
    from PIL import Image

    with Image.open(facts.folder / "preview.png") as image:
        small = image.convert("RGB")
    small.thumbnail((PICTURE_PX, PICTURE_PX))
    data = io.BytesIO()
    small.save(data, "JPEG", quality=85)
    one = facts.print
    words = where_words(PLACES[one.print.placement], [garment for _, garment in one.wearers])
    return Picture(
        data.getvalue(), f"{one.label}: {facts.width_mm:.0f} x {facts.height_mm:.0f} mm, {words}", "image/jpeg"
    )


def _notes(findings: Sequence[Finding]) -> list[tuple[str, str, str]]:
    return [(f.word, f.text, f.hint) for f in sorted(findings, key=lambda f: f.rank)]


def _blanks(plan: JobPlan) -> tuple[Table | str, ...]:
    rows: list[tuple[Cell | str, ...]] = [
        (
            Cell(b.garment, tick=True),
            b.size,
            _n(b.ordered),
            _n(b.spares),
            _n(b.tests),
            _n(b.buy),
            Cell(f"{b.loss:.1%}", number=True),
            Cell(f"{b.chance:.0%}", number=True),
        )
        for b in plan.blanks
    ]
    total = [sum(getattr(b, name) for b in plan.blanks) for name in ("ordered", "spares", "tests", "buy")]
    rows.append(("all", "", *(_n(v) for v in total), "", ""))
    spoil = plan.job.spoilage
    heads = ("garment", "size", "ordered", "spares", "tests", "buy", "lost on the way", "chance filled")
    return (
        Table(heads, tuple(rows), sums=1),
        (
            f"Spares fill each line with a chance of at least {spoil.certainty:.0%} when {spoil.loss:.0%} are lost at "
            "each placement. A spoiled M cannot go out as an L: buy in the right size."
        ),
    )


def _screens(plan: JobPlan, drawings: Sequence[tuple[bytes, str]]) -> tuple[Table | Pictures | str, ...]:
    rows = [
        (
            Cell(f"{screen.number}", tick=True),
            screen.screen.name,
            _mesh(screen.mesh),
            placed.item.name,
            f"{placed.x_mm:.0f}, {placed.y_mm:.0f}",
            f"{placed.width_mm:.0f} x {placed.height_mm:.0f}",
            f"{placed.rotation}°",
            f"end {placed.end}",
            blade_words(placed.blade_mm),
        )
        for screen in plan.gang.screens
        for placed in screen.placed
    ]
    heads = ("screen", "frame", "mesh", "image", "from left, end A, mm", "size, mm", "on film", "at the clamp", "blade")
    proven = "No plan has fewer screens." if plan.gang.proven else "Fewer screens may be possible: not proven."
    blocks: list[Table | Pictures | str] = [
        Table(heads, tuple(rows)),
        (
            f"{proven} Seen from the squeegee side. An image at 180° is printed with the frame turned, so that end B "
            "is at the clamp; it is turned on the film, never mirrored."
        ),
    ]
    if drawings:
        blocks.append(Pictures(tuple(Picture(data, caption) for data, caption in drawings), wide=True))
    return tuple(blocks)


def _films(films: Sequence[tuple[str, str]]) -> tuple[Table, ...]:
    if not films:
        return ()
    return (Table(("file", "holds"), tuple((Cell(name, tick=True), text) for name, text in films)),)


def _cups(plan: JobPlan, recipes: Mapping[str, CupRecipe]) -> tuple[Table | str, ...]:
    rows = []
    for need in plan.needs:
        recipe = recipes.get(need.ink)
        rows.append(
            (
                Cell(colours_called(need.ink), chip=to_hex(plan.inks[need.ink].srgb), tick=True),
                _g(need.stage_g),
                _g(need.on_shelf_g),
                _g(need.to_mix_g),
                _g(need.printed_g + need.tests_g),
                _g(need.lost_g),
                _g(need.back_g),
                amounts(recipe.parts) if recipe else "as it is",
            )
        )
    heads = ("ink", "stage", "from the shelf", "new", "on cloth", "lost", "comes back", "recipe")
    blocks: list[Table | str] = [Table(heads, tuple(rows))]
    blocks.append(
        "A screen prints only with a bead of ink along the whole blade; most of it is carded back. Weigh five garments "
        "before and after and set ink_factor in the job file. Mixed colours start as predicted: make a draw-down, cure "
        "it, judge it cold."
    )
    return tuple(blocks)


def _parts(need: InkNeed) -> Table:
    rows: list[tuple[Cell | str, ...]] = [(part.what, part.formula, _g(part.mass_g, 1)) for part in need.parts]
    rows.append(("to stage", "", _g(need.stage_g, 1)))
    return Table((colours_called(need.ink), "", "g"), tuple(rows), sums=1)


def _gate(plan: JobPlan) -> Lines:
    kinds = ", ".join(line.garment for line in plan.job.garments)
    lines = (
        f"Print and cure a test garment of each kind ({kinds}), all placements.",
        "Colour, register and edges judged cold, in daylight, beside the picture above.",
        "Platen level, off-contact about 2 mm, more on fleece (common practice); screens taped after registering.",
        "Ink temperature measured in the film: ________ °C.",
        "Washed and dried once at the temperature of the care label, better five times: no cracks, nothing rubs off.",
        "Result: ______________________________   date: ______________   No run before this is ticked.",
    )
    return Lines(lines, gate="Wash test before the run")


def _order_words(plan: JobPlan) -> str:
    proven = "no order takes less time" if plan.order.exact else "a better one may exist"
    return (
        "On each garment the placement that loses most for the time it takes comes first, so that a spoiled piece has "
        f"cost little. Among such orders this one changes over in {clock(plan.order.tally.minutes)}; {proven}. Keep a "
        "spare of each size until its last placement."
    )


def _step(plan: JobPlan, step: Step) -> PressStep:
    run = step.run
    tape = {(screen.number, t.open.item.name): t for screen in plan.gang.screens for t in tape_steps(screen)}
    sizes = size_counts(plan, run.print_name, run.garment)
    lines = []
    for nth, pull in enumerate(run.pulls):
        if now := step.before_pull(nth):
            lines.append(f"Then {colours_called('; '.join(now))}.")
        taped = tape_words(tape[pull.screen, pull.image])
        lines.append(
            f"Screen {pull.screen}, end {pull.end} to the clamp; open: {pull.image}{taped}. "
            f"{colours_called(pull.ink)} ink, "
            f"{blade_words(pull.blade_mm)} blade, {coats_words(pull.coats, flash_after=pull.flash_after)}."
        )
    lines.append(f"Cure before the garment is turned. Printed: {sizes}.")
    lines.append(f"Good ____  spoiled ____  ({run.pieces} pieces, about {clock(run.pieces * run.minutes_per_piece)})")
    return PressStep(
        f"{run.print_name}: {run.placement} of {run.garment}", tuple(map(colours_called, step.changes)), tuple(lines)
    )


def _cure(plan: JobPlan) -> list[str]:
    hoodie = any(garment.fleece for facts in plan.prints for _, garment in facts.print.wearers)
    return cure_lines(plan.job.ink_kind, plan.job.heat_press, presses=plan.presses, hoodie=hoodie)


def _money(plan: JobPlan) -> tuple[Table | str, ...]:
    time = [(part.what, _n(part.amount)) for part in plan.minutes]
    time.append(("all, alone", Cell(f"{plan.minutes_sum:.0f}", number=True)))
    blocks: list[Table | str] = [Table(("work", "minutes"), tuple(time), sums=1)]
    money, costs = plan.job.money, plan.costs
    rows: list[tuple[Cell | str, ...]] = [
        (p.what, _m(p.amount), _m(p.amount / max(costs.pieces, 1))) for p in costs.fixed
    ]
    rows += [(p.what, _m(p.amount * costs.pieces), _m(p.amount)) for p in costs.each]
    rows.append(("all", _m(costs.per_garment * costs.pieces), _m(costs.per_garment)))
    blocks.append(Table((f"cost, {money.currency}", "job", "garment"), tuple(rows), sums=1))
    shares = ", ".join(f"{share:.2f} at {count}" for count, share in setup_share(costs))
    even = (
        f"At {costs.price:.2f} it pays from {costs.break_even} garments on."
        if costs.break_even is not None
        else "No price is told, or a garment costs more than it sells for: no break-even."
    )
    blocks.append(f"{even} What does not depend on the number comes to, per garment: {shares}.")
    return tuple(blocks)


def _cautions(plan: JobPlan) -> list[str]:
    plates = [image.plate for facts in plan.prints for image in facts.images]
    return job_cautions(
        flashes=any(p.flash_after or p.coats > 1 for p in plates),
        discharge=plan.job.ink_kind == "discharge",
        children=any(line.children for line in plan.job.garments),
        labels=any(one.placement == "neck label" for one in plan.job.prints),
    )


def _mesh(mesh: Mesh) -> str:
    return f"{mesh.threads_per_cm:g}-{mesh.thread_um:g} ({threads_per_cm_to_tpi(mesh.threads_per_cm):.0f} tpi)"


def _n(value: float) -> Cell:
    return Cell(f"{value:.0f}", number=True)


def _g(value: float, digits: int = 0) -> Cell:
    return Cell(f"{value:.{digits}f}", number=True)


def _m(value: float) -> Cell:
    return Cell(f"{value:.2f}", number=True)
