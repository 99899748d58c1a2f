"""The runs of a job: each print on each garment, in stages where its screens do not fit the heads, with its blades.

In: a Job, the facts of its prints, where each image lies, blanks. Out: Runs in the order of the job file, and the
blades that lack.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import TYPE_CHECKING

from sepkit.places import PLACES, platen_of
from sepkit.press.gang.layout import BLADE_TO_FRAME_MM
from sepkit.press.minutes import PieceWork, minutes_per_piece
from sepkit.press.quantities import presses_needed
from sepkit.press.runs import PLATEN_OFF_MIN, Pull, Run

if TYPE_CHECKING:
    from sepkit.jobs import GarmentLine, Job, Print
    from sepkit.model import Garment
    from sepkit.press.gang.plan import GangPlan
    from sepkit.press.jobs import PlacedItem, ScreenPlan
    from sepkit.press.spares import BlankLine
    from sepkit.press.staging import Staged
    from sepkit.workshop.drop.facts import ImageFacts, PrintFacts

BLADE_OVER_MM = 26.0
"""What a blade stands over the image, both sides together, where none is owned."""


@dataclass(frozen=True, slots=True)
class ShortBlades:
    """Blades that a print needs at once beyond those owned."""

    print_name: str
    width_mm: float
    owned: int
    needed: int


def pieces_of(one: Print, line: GarmentLine, blanks: Sequence[BlankLine]) -> int:
    """Return how many garments of a line carry a print, spares and tests with them."""
    return sum(
        blank.buy for blank in blanks if blank.garment == line.garment and (not one.sizes or blank.size in one.sizes)
    )


def loss_of(job: Job, placement: str) -> float:
    """Return the share of garments lost at a placement."""
    return job.spoilage.loss_by_placement.get(placement, job.spoilage.loss)


def presses_of(job: Job, facts: PrintFacts) -> int:
    """Return how many closings of the heat press cover a print."""
    heat = job.heat_press
    return presses_needed(
        (facts.width_mm, facts.height_mm), (heat.plate_width_mm, heat.plate_height_mm), heat.overlap_mm
    )


def pulls_of(job: Job, facts: PrintFacts, gang: GangPlan) -> tuple[tuple[Pull, ...], tuple[ShortBlades, ...]]:
    """Return the pulls of a print in print order, each ink with a blade of its own, and the blades that lack.

    The narrowest owned blade that covers an image and fits its frame is taken, then wider ones; where there is none
    left, one more of the first kind is counted as bought.
    """
    place = {placed.item.name: (screen, placed) for screen in gang.screens for placed in screen.placed}
    owned = Counter[float]()
    for blade in job.blades:
        owned[blade.width_mm] += blade.count
    used: dict[tuple[float, str], None] = {}
    pulls: list[Pull] = []
    bought = Counter[float]()
    for image in facts.images:
        screen, placed = place[image.name]
        ink = image.plate.ink.name
        width = _blade(screen, placed, ink, owned, used)
        used[width, ink] = None
        at_once = sum(w == width for w, _ in used)
        if job.blades and at_once > owned[width]:
            bought[width] = at_once
        pulls.append(_pull(image, screen, placed, width))
    pulls = [replace(pull, blades=max(owned[pull.blade_mm], bought[pull.blade_mm], 1)) for pull in pulls]
    short = tuple(
        ShortBlades(facts.print.print.name, width, owned[width], needed) for width, needed in sorted(bought.items())
    )
    return tuple(pulls), short


def job_runs(
    job: Job,
    prints: Sequence[PrintFacts],
    ways: Mapping[str, Staged],
    gang: GangPlan,
    blanks: Sequence[BlankLine],
) -> list[Run]:
    """Return the runs in the order of the job file; a print without a way is left out."""
    runs: list[Run] = []
    for facts in prints:
        way = ways.get(facts.print.label)
        if way is None:
            continue
        pulls, _ = pulls_of(job, facts, gang)
        for line, garment in facts.print.wearers:
            pieces = pieces_of(facts.print.print, line, blanks)
            if pieces:
                runs += _stages(job, facts, (line.garment, garment), way, pulls, pieces)
    return _enough_blades(runs)


def _stages(
    job: Job,
    facts: PrintFacts,
    wearer: tuple[str, Garment],
    way: Staged,
    pulls: Sequence[Pull],
    pieces: int,
) -> list[Run]:
    one, (name, garment) = facts.print.print, wearer
    where = PLACES[one.placement]
    out = []
    for number, stage in enumerate(way.stages, 1):
        mine = tuple(pulls[k] for k in stage)
        cured = number == len(way.stages) or way.way == "two days"
        minutes = minutes_per_piece(_work(job, facts, garment, [facts.images[k] for k in stage], cured=cured))
        if way.batch and job.press.platens_come_off:
            minutes += PLATEN_OFF_MIN * (-(-len(mine) // job.press.heads) - 1)
        out.append(
            Run(
                one.name,
                one.placement,
                name,
                garment.lab[0],
                pieces,
                platen_of(where),
                mine,
                risk=loss_of(job, one.placement) * where.risk / minutes,
                minutes_per_piece=minutes,
                stage=number,
                stages=len(way.stages),
                batch=min(way.batch, pieces),
                pause=way.pause if number > 1 else "",
            )
        )
    return out


def _enough_blades(runs: Sequence[Run]) -> list[Run]:
    """Return the runs with as many blades of each width everywhere as any of them needs."""
    most: dict[float, int] = {}
    for run in runs:
        for pull in run.pulls:
            most[pull.blade_mm] = max(most.get(pull.blade_mm, 1), pull.blades)
    return [replace(run, pulls=tuple(replace(pull, blades=most[pull.blade_mm]) for pull in run.pulls)) for run in runs]


def _blade(
    screen: ScreenPlan, placed: PlacedItem, ink: str, owned: Counter[float], used: Mapping[tuple[float, str], None]
) -> float:
    """Return the width of the blade for an image: one with this ink on it, a clean one, or the first kind again."""
    first = placed.blade_mm or placed.width_mm + BLADE_OVER_MM
    most = screen.screen.inside_width_mm - 2 * BLADE_TO_FRAME_MM
    fitting = [width for width in sorted(owned) if first <= width <= most]
    for width in fitting:
        if (width, ink) in used:
            return width
    for width in fitting:
        if sum(w == width for w, _ in used) < owned[width]:
            return width
    return first


def _pull(image: ImageFacts, screen: ScreenPlan, placed: PlacedItem, blade_mm: float) -> Pull:
    taped = tuple(other.item.name for other in screen.placed if other.item.name != image.name)
    plate = image.plate
    return Pull(screen.number, placed.end, image.name, plate.ink.name, blade_mm, plate.coats, plate.flash_after, taped)


def _work(job: Job, facts: PrintFacts, garment: Garment, images: Sequence[ImageFacts], *, cured: bool) -> PieceWork:
    coats = sum(image.plate.coats for image in images)
    between = sum(image.plate.coats - 1 for image in images)
    after = sum(image.plate.flash_after for image in images)
    return PieceWork(
        pulls=coats,
        flashes=between + after,
        box_cm2=facts.width_mm * facts.height_mm / 100.0,
        fleece=garment.fleece,
        presses=presses_of(job, facts) if cured else 0,
        press_s=job.heat_press.seconds,
        factor=PLACES[facts.print.print.placement].effort,
    )
