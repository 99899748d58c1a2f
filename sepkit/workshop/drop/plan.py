"""From prints and orders to a plan: screens, order at the press, ink, blanks, minutes and money.

In: a Job and the facts of its prints. Out: JobPlan; nothing is written.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from sepkit.errors import ChecksFailedError
from sepkit.places import PLACES, platen_of
from sepkit.press.carryover import carryover_table
from sepkit.press.gang.plan import GangPlan, gang_screens
from sepkit.press.jobs import GangItem, GangRules, PlacedItem, ScreenPlan
from sepkit.press.minutes import (
    FILM_MIN,
    PACK_MIN,
    SCREEN_MIN,
    Costs,
    Part,
    PieceWork,
    Spent,
    costs,
    minutes_per_piece,
)
from sepkit.press.quantities import TEST_PULLS, Hits, InkNeed, Loading, Staging, ink_needs, presses_needed
from sepkit.press.runs import Pull, Run
from sepkit.press.sequence import Order, press_order
from sepkit.press.spares import BlankLine, chance_filled, compounded_loss, spares_needed
from sepkit.sheets.words import counted
from sepkit.workshop.drop.facts import ImageFacts, PrintFacts, ink_family
from sepkit.workshop.drop.findings import heat_findings, order_findings, time_findings

if TYPE_CHECKING:
    from sepkit.jobs import GarmentLine, Job, Print
    from sepkit.model import Finding, Garment, Ink

TEST_PULL_MIN = 0.5
"""One first pull on test cloth, with a look at it (from memory)."""
Place = dict[str, tuple[ScreenPlan, PlacedItem]]


@dataclass(frozen=True, slots=True, eq=False)
class JobPlan:
    """Everything about a job but its files."""

    job: Job
    prints: tuple[PrintFacts, ...]
    gang: GangPlan
    order: Order
    needs: tuple[InkNeed, ...]
    inks: dict[str, Ink]
    blanks: tuple[BlankLine, ...]
    minutes: tuple[Part, ...]
    costs: Costs
    presses: int
    """Closings of the heat press for the largest print."""
    findings: tuple[Finding, ...]

    @property
    def minutes_sum(self) -> float:
        """Return all attended minutes."""
        return sum(part.amount for part in self.minutes)

    @property
    def pieces(self) -> int:
        """Return garments ordered."""
        return sum(line.ordered for line in self.blanks)


def plan_job(job: Job, prints: Sequence[PrintFacts]) -> JobPlan:
    """Return the plan. Raises ChecksFailedError when an image fits no screen that is owned."""
    images = {image.name: (facts, image) for facts in prints for image in facts.images}
    inks = {image.plate.ink.name: image.plate.ink for _, image in images.values()}
    gang = _ganged(job, [_item(facts, image) for facts, image in images.values()])
    place: Place = {placed.item.name: (screen, placed) for screen in gang.screens for placed in screen.placed}
    blanks = blank_lines(job)
    runs = job_runs(job, prints, place, blanks)
    order = press_order(runs, heads=job.press.heads, trace=carryover_table(list(inks.values())))
    needs = _ink_needs(job, prints, place, inks, blanks)
    closings = [(facts, _presses(job, facts)) for facts in prints]
    setup, printing = _setup_minutes(runs, order, len(gang.screens)), _printing_minutes(runs, blanks)
    findings = (
        *gang.findings,
        *order_findings(order),
        *time_findings(printing[0].amount),
        *heat_findings(closings),
    )
    return JobPlan(
        job,
        tuple(prints),
        gang,
        order,
        needs,
        inks,
        blanks,
        (*setup, *printing),
        _costs(job, gang, needs, blanks, setup, printing),
        max((count for _, count in closings), default=1),
        findings,
    )


def gang_rules(job: Job) -> GangRules:
    """Return the clearances for this job's press and blades."""
    return replace(
        GangRules(), blades=job.blades, platen_reach_mm=job.platen_reach_mm, platen_width_mm=job.press.platen_width_mm
    )


def placements_of(job: Job, garment: str, size: str) -> list[Print]:
    """Return the prints that a garment of this size carries."""
    return [one for one in job.prints if garment in one.garments and (not one.sizes or size in one.sizes)]


def loss_of(job: Job, placement: str) -> float:
    """Return the share of garments lost at a placement."""
    return job.spoilage.loss_by_placement.get(placement, job.spoilage.loss)


def blank_lines(job: Job) -> tuple[BlankLine, ...]:
    """Return what to buy of each garment and size: orders, spares, and garments for tests in the size ordered most."""
    out: list[BlankLine] = []
    for line in job.garments:
        most = max(line.sizes, key=lambda size: line.sizes[size], default="")
        for size, ordered in line.sizes.items():
            loss = compounded_loss(loss_of(job, one.placement) for one in placements_of(job, line.garment, size))
            spares = spares_needed(ordered, loss, job.spoilage.certainty)
            tests = job.spoilage.test_garments + job.spoilage.wash_tests if size == most else 0
            out.append(
                BlankLine(line.garment, size, ordered, spares, tests, loss, chance_filled(ordered, spares, loss))
            )
    return tuple(out)


def job_runs(job: Job, prints: Sequence[PrintFacts], place: Place, blanks: Sequence[BlankLine]) -> list[Run]:
    """Return one run for each print on each garment, in the order of the job file."""
    runs = []
    for facts in prints:
        one = facts.print.print
        where = PLACES[one.placement]
        for line, garment in facts.print.wearers:
            pieces = _pieces(one, line, blanks)
            if not pieces:
                continue
            minutes = minutes_per_piece(_work(job, facts, garment))
            pulls = tuple(_pull(job, image, place) for image in facts.images)
            runs.append(
                Run(
                    one.name,
                    one.placement,
                    line.garment,
                    garment.lab[0],
                    pieces,
                    platen_of(where),
                    pulls,
                    risk=loss_of(job, one.placement) * where.risk / minutes,
                    minutes_per_piece=minutes,
                )
            )
    return runs


def _ganged(job: Job, items: Sequence[GangItem]) -> GangPlan:
    gang = gang_screens(items, job.screens, rules=gang_rules(job))
    if gang.left_out:
        worst = next(f for f in gang.findings if f.level == "error")
        raise ChecksFailedError(worst.text, where="screens", hint=worst.hint)
    return gang


def _item(facts: PrintFacts, image: ImageFacts) -> GangItem:
    return GangItem(
        image.name,
        facts.width_mm,
        facts.height_mm,
        ink_family(image.plate.ink.srgb),
        image.mesh,
        may_turn_90=facts.print.print.may_turn_90,
        ink=image.plate.ink.name,
        load=facts.print.label,
    )


def _pull(job: Job, image: ImageFacts, place: Place) -> Pull:
    screen, placed = place[image.name]
    taped = tuple(other.item.name for other in screen.placed if other.item.name != image.name)
    blade = placed.blade_mm or placed.width_mm + 26.0
    owned = sum(b.count for b in job.blades if b.width_mm == blade)
    return Pull(
        screen.number,
        placed.end,
        image.name,
        image.plate.ink.name,
        blade,
        image.plate.coats,
        image.plate.flash_after,
        taped,
        max(owned, 1),
    )


def _pieces(one: Print, line: GarmentLine, blanks: Sequence[BlankLine]) -> int:
    """Return how many garments of a line carry a print, spares and tests with them."""
    return sum(
        blank.buy for blank in blanks if blank.garment == line.garment and (not one.sizes or blank.size in one.sizes)
    )


def _work(job: Job, facts: PrintFacts, garment: Garment) -> PieceWork:
    coats = sum(image.plate.coats for image in facts.images)
    between = sum(image.plate.coats - 1 for image in facts.images)
    after = sum(image.plate.flash_after for image in facts.images)
    return PieceWork(
        pulls=coats,
        flashes=between + after,
        box_cm2=facts.width_mm * facts.height_mm / 100.0,
        fleece=garment.fleece,
        presses=_presses(job, facts),
        press_s=job.heat_press.seconds,
        factor=PLACES[facts.print.print.placement].effort,
    )


def _presses(job: Job, facts: PrintFacts) -> int:
    heat = job.heat_press
    return presses_needed(
        (facts.width_mm, facts.height_mm), (heat.plate_width_mm, heat.plate_height_mm), heat.overlap_mm
    )


def _ink_needs(
    job: Job, prints: Sequence[PrintFacts], place: Place, inks: dict[str, Ink], blanks: Sequence[BlankLine]
) -> tuple[InkNeed, ...]:
    hits: list[Hits] = []
    loadings: dict[tuple[str, str], Loading] = {}
    for facts in prints:
        for image in facts.images:
            ink, pull = image.plate.ink, _pull(job, image, place)
            loadings.setdefault((image.name, ink.name), Loading(image.name, ink.name, ink.density_g_ml, pull.blade_mm))
            hits += [
                Hits(
                    image.name,
                    ink.name,
                    ink.density_g_ml,
                    image.mesh,
                    image.inked_cm2,
                    image.plate.coats,
                    pieces,
                    fleece=garment.fleece,
                )
                for line, garment in facts.print.wearers
                if (pieces := _pieces(facts.print.print, line, blanks))
            ]
    custom = frozenset(name for name in inks if name.startswith("#"))
    shelf: dict[str, float] = {}
    for left in job.leftovers:
        shelf[left.ink] = shelf.get(left.ink, 0.0) + left.mass_g
    return ink_needs(hits, loadings.values(), Staging(job.ink_kind, job.ink_factor, custom, shelf))


def _setup_minutes(runs: Sequence[Run], order: Order, screens: int) -> tuple[Part, ...]:
    tests = sum(len({pull.image for pull in run.pulls}) for run in runs) * TEST_PULLS * TEST_PULL_MIN
    return (
        Part(f"{counted(screens, 'screen')}: coat, expose, wash out, strip", screens * SCREEN_MIN),
        Part("films: print, check, register", screens * FILM_MIN),
        Part("hang, turn, tape, wash between runs", order.tally.minutes),
        Part("first pulls", tests),
    )


def _printing_minutes(runs: Sequence[Run], blanks: Sequence[BlankLine]) -> tuple[Part, ...]:
    return (
        Part("print, flash and cure", sum(run.pieces * run.minutes_per_piece for run in runs)),
        Part("trim, fold, pack", PACK_MIN * sum(blank.ordered for blank in blanks)),
    )


def _costs(
    job: Job,
    gang: GangPlan,
    needs: Sequence[InkNeed],
    blanks: Sequence[BlankLine],
    setup: Sequence[Part],
    printing: Sequence[Part],
) -> Costs:
    pieces = sum(blank.ordered for blank in blanks)
    price = {line.garment: line.price for line in job.garments}
    paid = sum(price[blank.garment] * blank.ordered for blank in blanks)
    film_mm2 = sum(screen.screen.inside_width_mm * screen.screen.inside_height_mm for screen in gang.screens)
    spent = Spent(
        screens=len(gang.screens),
        film_m2=film_mm2 / 1e6,
        setup_min=sum(part.amount for part in setup),
        piece_min=sum(part.amount for part in printing),
        ink_g=sum(need.used_g for need in needs),
        lost_garments=sum(blank.spares + blank.tests for blank in blanks),
        blank_price=paid / pieces if pieces else 0.0,
        pieces=pieces,
    )
    return costs(spent, job.money)
