"""From prints and orders to a plan: screens, order at the press, ink, blanks, minutes and money.

In: a Job and the facts of its prints. Out: JobPlan; nothing is written.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from sepkit.errors import ChecksFailedError
from sepkit.press.carryover import carryover_table
from sepkit.press.gang.plan import GangPlan
from sepkit.press.jobs import GangItem, GangRules
from sepkit.press.minutes import FILM_MIN, PACK_MIN, SCREEN_MIN, Costs, Part, Spent, costs
from sepkit.press.quantities import TEST_PULLS, Hits, InkNeed, Loading, Staging, ink_needs
from sepkit.press.sequence import Order
from sepkit.sheets.words import counted
from sepkit.workshop.drop.blanks import BlankPlan, blank_plan
from sepkit.workshop.drop.facts import ImageFacts, PrintFacts, ink_family, named_films
from sepkit.workshop.drop.findings import (
    blade_findings,
    heat_findings,
    order_findings,
    sharing_findings,
    time_findings,
    way_findings,
)
from sepkit.workshop.drop.gang_order import gang_order
from sepkit.workshop.drop.runs import ShortBlades, job_runs, pieces_of, presses_of, pulls_of
from sepkit.workshop.drop.sharing import SharedFilm, with_shared_films
from sepkit.workshop.drop.ways import WaysOut, staged_print, ways_out

if TYPE_CHECKING:
    from sepkit.jobs import Job
    from sepkit.model import Finding, Ink
    from sepkit.press.runs import Run
    from sepkit.press.spares import BlankLine
    from sepkit.press.staging import Staged

TEST_PULL_MIN = 0.5
"""One first pull on test cloth, with a look at it (from memory)."""


@dataclass(frozen=True, slots=True, eq=False)
class JobPlan:
    """Everything about a job but its files."""

    job: Job
    prints: tuple[PrintFacts, ...]
    gang: GangPlan
    order: Order
    proven: bool
    """No other screens, in any order, take less time."""
    needs: tuple[InkNeed, ...]
    inks: dict[str, Ink]
    buying: BlankPlan
    minutes: tuple[Part, ...]
    costs: Costs
    presses: int
    """Closings of the heat press for the largest print."""
    shared: tuple[SharedFilm, ...]
    ways: tuple[WaysOut, ...]
    blades: tuple[ShortBlades, ...]
    findings: tuple[Finding, ...]

    @property
    def blanks(self) -> tuple[BlankLine, ...]:
        """Return the lines to buy."""
        return self.buying.lines

    @property
    def minutes_sum(self) -> float:
        """Return all attended minutes."""
        return sum(part.amount for part in self.minutes)

    @property
    def pieces(self) -> int:
        """Return garments ordered."""
        return sum(line.ordered for line in self.blanks)


def plan_job(job: Job, prints: Sequence[PrintFacts], *, ways: Sequence[WaysOut] = ()) -> JobPlan:
    """Return the plan; ``ways`` are the ways out of prints that were made anew for the heads.

    Raises ChecksFailedError when an image fits no screen that is owned.
    """
    shared: tuple[SharedFilm, ...] = ()
    if not job.screens_apart:
        prints, shared = with_shared_films(prints)
    prints = named_films(prints)
    buying = blank_plan(job)
    staged, blocked = _staged(job, prints, buying.lines)
    ways = (*ways, *(way for way in blocked if all(way.label != known.label for known in ways)))
    images = {image.name: (facts, image) for facts in prints for image in facts.images}
    inks = {image.plate.ink.name: image.plate.ink for _, image in images.values()}

    def runs_of(gang: GangPlan) -> list[Run]:
        return job_runs(job, prints, staged, gang, buying.lines)

    loads = _loads(prints)
    found = gang_order(
        [_item(facts, image, loads[image.name]) for facts, image in images.values()],
        job.screens,
        gang_rules(job),
        runs_of,
        heads=job.press.heads,
        trace=carryover_table(list(inks.values())),
    )
    gang, order = found.gang, found.order
    if gang.left_out:
        worst = next(f for f in gang.findings if f.level == "error")
        raise ChecksFailedError(worst.text, where="screens", hint=worst.hint)
    runs = runs_of(gang)
    needs = _ink_needs(job, prints, gang, inks, buying.lines)
    closings = [(facts, presses_of(job, facts)) for facts in prints]
    blades = tuple(short for facts in prints for short in pulls_of(job, facts, gang)[1])
    setup, printing = _setup_minutes(runs, order, len(gang.screens)), _printing_minutes(runs, buying.lines)
    findings = (
        *gang.findings,
        *way_findings(ways),
        *blade_findings(blades),
        *order_findings(order),
        *sharing_findings(shared),
        *time_findings(printing[0].amount),
        *heat_findings(closings),
    )
    return JobPlan(
        job,
        tuple(prints),
        gang,
        order,
        found.proven,
        needs,
        inks,
        buying,
        (*setup, *printing),
        _costs(job, gang, needs, buying.lines, setup, printing),
        max((count for _, count in closings), default=1),
        shared,
        tuple(ways),
        blades,
        findings,
    )


def gang_rules(job: Job) -> GangRules:
    """Return the clearances for this job's press and blades."""
    return replace(
        GangRules(), blades=job.blades, platen_reach_mm=job.platen_reach_mm, platen_width_mm=job.press.platen_width_mm
    )


def pieces_printed(facts: PrintFacts, blanks: Sequence[BlankLine]) -> int:
    """Return how many garments carry a print, over all that take it."""
    return sum(pieces_of(facts.print.print, line, blanks) for line, _ in facts.print.wearers)


def _staged(
    job: Job, prints: Sequence[PrintFacts], blanks: Sequence[BlankLine]
) -> tuple[dict[str, Staged], list[WaysOut]]:
    """Return how each print is carried out, and the ways out of those that the heads do not hold."""
    out: dict[str, Staged] = {}
    blocked: list[WaysOut] = []
    for facts in prints:
        pieces = pieces_printed(facts, blanks)
        way = staged_print(job, facts, pieces) if pieces else None
        if way is not None:
            out[facts.print.label] = way
        told = ways_out(job, facts, pieces) if pieces else None
        if told is not None:
            blocked.append(replace(told, taken="" if way is None else told.taken))
    return out, blocked


def _loads(prints: Sequence[PrintFacts]) -> dict[str, str]:
    """Return for each image a name for all images that print with it somewhere: they need screens of their own."""
    leader: dict[str, str] = {}

    def lead(name: str) -> str:
        while leader[name] != name:
            name = leader[name]
        return name

    for facts in prints:
        for image in facts.images:
            leader.setdefault(image.name, image.name)
            leader[lead(image.name)] = lead(facts.images[0].name)
    sizes: dict[str, int] = {}
    for name in leader:
        sizes[lead(name)] = sizes.get(lead(name), 0) + 1
    return {name: lead(name) if sizes[lead(name)] > 1 else "" for name in leader}


def _item(facts: PrintFacts, image: ImageFacts, load: str) -> GangItem:
    return GangItem(
        image.name,
        facts.width_mm,
        facts.height_mm,
        ink_family(image.plate.ink.srgb),
        image.mesh,
        may_turn_90=facts.print.print.may_turn_90,
        ink=image.plate.ink.name,
        load=load,
    )


def _ink_needs(
    job: Job, prints: Sequence[PrintFacts], gang: GangPlan, inks: Mapping[str, Ink], blanks: Sequence[BlankLine]
) -> tuple[InkNeed, ...]:
    hits: list[Hits] = []
    loadings: dict[tuple[str, str], Loading] = {}
    for facts in prints:
        pulls, _ = pulls_of(job, facts, gang)
        for image, pull in zip(facts.images, pulls, strict=True):
            ink = image.plate.ink
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
                if (pieces := pieces_of(facts.print.print, line, blanks))
            ]
    custom = frozenset(name for name in inks if name.startswith("#"))
    shelf: dict[str, float] = {}
    for left in job.leftovers:
        shelf[left.ink] = shelf.get(left.ink, 0.0) + left.mass_g
    return ink_needs(hits, loadings.values(), Staging(job.ink_kind, job.ink_factor, custom, shelf))


def _setup_minutes(runs: Sequence[Run], order: Order, screens: int) -> tuple[Part, ...]:
    images = {pull.image for run in runs for pull in run.pulls}
    return (
        Part(f"{counted(screens, 'screen')}: coat, expose, wash out, strip", screens * SCREEN_MIN),
        Part("films: print, check, register", screens * FILM_MIN),
        Part("hang, turn, tape, wash", order.tally.minutes),
        Part("first pulls", len(images) * TEST_PULLS * TEST_PULL_MIN),
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
    lost = sum(price[blank.garment] * (blank.spares + blank.tests) for blank in blanks)
    film_mm2 = sum(screen.screen.inside_width_mm * screen.screen.inside_height_mm for screen in gang.screens)
    spent = Spent(
        screens=len(gang.screens),
        film_m2=film_mm2 / 1e6,
        setup_min=sum(part.amount for part in setup),
        piece_min=sum(part.amount for part in printing),
        ink_g=sum(need.used_g for need in needs),
        lost_paid=lost,
        blank_price=paid / pieces if pieces else 0.0,
        pieces=pieces,
    )
    return costs(spent, job.money)
